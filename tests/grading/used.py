"""A course in which everything was used, and where in it somebody is named."""

from __future__ import annotations

import io
import json
import unicodedata
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from html import escape
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import MetaData, String, Text, select

from trainkit_grading.course.folder import Course
from trainkit_grading.decisions.appeals import appeal, decide
from trainkit_grading.decisions.double_marking.entering import sample
from trainkit_grading.intake.collect import collect
from trainkit_grading.marking.mark import mark
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.record.sessions import Session, watch
from trainkit_grading.reports.answer_key import answers
from trainkit_grading.reports.coordinator.report import write_coordinator_report as write_for_coordinator
from trainkit_grading.reports.exports.export import export
from trainkit_grading.reports.feedback import feedback
from trainkit_grading.reports.instructor.report import write_instructor_report as write_for_instructor
from trainkit_grading.reports.score_sheet import report
from trainkit_grading.results import marksheet
from trainkit_grading.signoff.making import make_checklists
from trainkit_grading.signoff.observing import observe

from .makers import MODULE, Bench, form_of, formgrader, found, give_out, ledger_of, move_to, set_to, still, writing
from .signing import item_sheet, watched

# Signs that are written in several ways: an accent, an apostrophe, a space.
GONE, NAME = "qvist'å", "Åsa Qvistgård-Ó"
STAYS, OTHER = "ruth", "Ruth Pellworth"
WORDS = "Åsa means: the flank bears it, unmistakably."
TIMES = (datetime(2027, 2, 1, tzinfo=UTC), datetime(2027, 2, 20, tzinfo=UTC))
LATER = datetime(2027, 6, 1, tzinfo=UTC)


def clock() -> datetime:
    return LATER


def made(folder: Path, address: str = "") -> Course:
    """Make the course: two attempts, texts, a shared disk, and everything that can be written about somebody."""
    templates = ("sequence/put-in-order", "sequence/why-before", "capstone/explain-why", "capstone/observed-work")
    bench = found(folder / "course", templates)
    bench.course.roster_file.write_text(
        f'apprentice,name,cohort\n# {GONE} comes later\n"{GONE}","{NAME}",\n{STAYS},{OTHER},\namir,Amir Shah,\n',
        "utf-8",
    )
    disk = folder / "disk"
    disk.mkdir(mode=0o777)
    disk.chmod(0o777)
    course = set_to(bench.course, root='"../disk"')
    course = move_to(course, address) if address else course
    for attempt, out in enumerate(TIMES, start=1):
        course = set_to(course, attempt=str(attempt))
        give_out(course, out)
        for person in (GONE, STAYS):
            how = writing(WORDS if person == GONE else "It bears.")
            Bench(course).hand_in(person, folder / f"{person} {attempt}", how=how, at=out + timedelta(days=1))
        assert collect(course, clock=still(out + timedelta(days=3))).ok
        assert mark(course).ok
    _disturb(course)
    return course


def _disturb(course: Course) -> None:
    """Do everything to the marks that can be done."""
    item = next(entry.id for entry in form_of(course, GONE, attempt=len(TIMES)).items if entry.item.kind == "text")
    with formgrader(course) as book:
        for person, words in ((GONE, f"Well put, {NAME}."), (STAYS, f"Compare with {NAME}.")):
            grade = book.find_grade(item, MODULE, MODULE, person)
            grade.manual_score, grade.needs_manual_grade = 1.5, False
            book.find_comment(item, MODULE, MODULE, person).manual_comment = words
        book.db.commit()
    make_checklists(course, MODULE, apprentices=[GONE, STAYS])
    make_checklists(course, pack="dunlin", apprentices=[GONE])
    for person in (GONE, STAYS):
        sheet, at = item_sheet(course, person), TIMES[1] + timedelta(days=4)
        assert observe(course, watched(sheet, apprentice=person, at=at, remark=f"{NAME}!"), clock=clock).ok
    assert sample(course, percent=100, seed=7).ok
    said = appeal(course, GONE, MODULE, item, f"I, {NAME}, read it otherwise.")
    assert decide(course, said.data["entry"], "upheld", 2.0, f"{NAME} is right.").ok
    span = (TIMES[1] + timedelta(hours=20), TIMES[1] + timedelta(hours=30))
    assert watch(course, Session(MODULE, "P. Tidewell", "Bay 2", *span, apprentices=(GONE, STAYS))).ok
    assert mark(course).ok
    answers(course, MODULE, GONE, html=True)
    assert feedback(course, zipped=True, clock=clock).ok
    written(course)
    for who in (GONE, STAYS):
        write_for_coordinator(course, who, clock=clock)
    assert course.exchange_root is not None
    home = course.exchange_root / course.name
    for person in (GONE, STAYS):
        folder = home / "inbound" / f"{person}+{MODULE}+2027-03-01 08:00:00 UTC+abc"
        folder.mkdir(parents=True)
        journal = course.submitted / person / MODULE / "answers.jsonl"
        folder.joinpath("answers.jsonl").write_bytes(journal.read_bytes())
    (home / "feedback").mkdir(exist_ok=True)
    (home / "feedback" / "0f.html").write_text(f"<p>{escape(NAME)}</p>", "utf-8")
    (course.folder / ".nbgrader.log").write_text(f"[I] {STAYS} copied\n[I] autograded {GONE}\n", "utf-8")
    (course.folder / "entered").mkdir(exist_ok=True)
    code = form_of(course, GONE, attempt=len(TIMES)).code
    (course.folder / "entered" / f"{code}.jsonl").write_text(json.dumps({"form": code, "words": WORDS}) + "\n", "utf-8")
    (course.folder / "sheets" / MODULE).mkdir(parents=True)
    for name in (f"{GONE}.html", "all.html"):
        (course.folder / "sheets" / MODULE / name).write_text(f"<h1>{quote(NAME)}</h1>", "utf-8")


def written(course: Course) -> None:
    """Write every report and every export."""
    for write in (report, write_for_coordinator, write_for_instructor):
        assert write(course, clock=clock).ok
    for kind in ("csv", "xlsx"):
        assert export(course, kind, clock=clock).ok
        assert export(course, kind, pseudonyms=True, clock=clock).ok


def spellings(*words: str) -> set[bytes]:
    """Every way in which words can stand in a file, worked out apart from the code that forgets."""
    plain = {unicodedata.normalize(form, word) for word in words for form in ("NFC", "NFD")}
    ways: tuple[Callable[[str], str], ...] = (
        lambda word: word,
        lambda word: word.encode("ascii", "backslashreplace").decode().replace("\\x", "\\u00"),
        lambda word: json.dumps(word)[1:-1],
        quote,
        lambda word: quote(word, safe=""),
        escape,
        lambda word: escape(word).replace("&#x27;", "&#39;"),
    )
    return {way(word).encode() for way in ways for word in plain}


def naming(folder: Path, words: set[bytes]) -> Iterator[str]:
    """Yield every path that holds one of these words: in its name, in its bytes, or in what is packed in it."""
    for path in sorted(folder.rglob("*")):
        inside = path.relative_to(folder).as_posix()
        if any(word in inside.encode() for word in words):
            yield f"{inside} (its name)"
        if path.is_file():
            yield from (f"{inside}{where}" for where in _inside(path.read_bytes(), words))


def _inside(data: bytes, words: set[bytes]) -> Iterator[str]:
    yield from (f": {word!r}" for word in sorted(words) if word in data)
    if data.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            for member in packed.infolist():
                if any(word in member.filename.encode() for word in words):
                    yield f"!{member.filename}"
                yield from (f"!{member.filename}{where}" for where in _inside(packed.read(member), words))


def columns_naming(course: Course, words: set[bytes]) -> Iterator[str]:
    """Yield every column of text in the database that holds one of these words."""
    with gradebook.opened(course) as engine, engine.connect() as connection:
        known = MetaData()
        known.reflect(bind=connection)
        for table in known.sorted_tables:
            columns = [column for column in table.columns if isinstance(column.type, String | Text)]
            for row in connection.execute(select(*columns)) if columns else ():
                for column, value in zip(columns, row, strict=True):
                    if isinstance(value, str) and any(word in value.encode() for word in words):
                        yield f"{table.name}.{column.name}: {value[:80]}"


def sheet_of(course: Course) -> marksheet.Marksheet:
    with ledger_of(course) as ledger:
        return marksheet.read_marksheet(ledger, ledger.connection, MODULE)
