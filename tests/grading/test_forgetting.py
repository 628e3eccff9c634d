"""Forgetting somebody: nothing names them any more, nothing brings them back, and what was earned still counts."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sqlalchemy import select

from trainkit_grading.course.folder import Course
from trainkit_grading.errors import CourseError, LedgerError
from trainkit_grading.intake.collect import collect
from trainkit_grading.keeping import verify
from trainkit_grading.keeping.forget.forget import forget, survey
from trainkit_grading.keeping.forget.traces import Traces
from trainkit_grading.ledger.tables import PERSON
from trainkit_grading.marking.mark import mark
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.record.sessions import Session, watch
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import build
from trainkit_grading.reports.feedback import feedback
from trainkit_grading.reports.instructor.overview import instructors_view
from trainkit_grading.reports.status import status
from trainkit_grading.results import agreement
from trainkit_grading.support.files import held

from .makers import COMMAND, MODULE, ON_BOTH, Run, ledger_of, move_to, refused, tree
from .packed import zipped
from .used import GONE, NAME, STAYS, TIMES, clock, columns_naming, made, naming, sheet_of, spellings, written

WHY = "They asked for it."
# Free words of theirs, too: no piece of them may stay.
NAMES = spellings(GONE, NAME)
EVERYTHING = NAMES | spellings("unmistakably", "read it otherwise")
pytestmark = pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning:nbgrader")  # of nbgrader's own relations


@pytest.fixture(scope="module")
def _used(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory.mktemp("used")).folder


@pytest.fixture(scope="module")
def _used_there(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    postgres = request.getfixturevalue("postgres")
    database = postgres.new_database()
    return made(tmp_path_factory.mktemp("used there"), postgres.address(database)).folder, database


def copied(folder: Path, into: Path) -> Course:
    shutil.copytree(folder.parent / "disk", into / "disk")
    return Course.load(shutil.copytree(folder, into / "course"))


@pytest.fixture
def used(where: str, request: pytest.FixtureRequest, tmp_path: Path) -> Course:
    """A copy of the course in which everything was used."""
    if where == "sqlite":
        return copied(request.getfixturevalue("_used"), tmp_path)
    folder, database = request.getfixturevalue("_used_there")
    postgres = request.getfixturevalue("postgres")
    return move_to(copied(folder, tmp_path), postgres.address(postgres.new_database(like=database)))


HERE = pytest.mark.parametrize("where", ["sqlite"])


def disk(course: Course) -> Path:
    assert course.exchange_root is not None
    return course.exchange_root


def left(course: Course, words: set[bytes] = EVERYTHING) -> list[str]:
    return [*naming(course.folder, words), *naming(disk(course), words), *columns_naming(course, words)]


@ON_BOTH
def test_nothing_names_them_and_everything_goes_on(used: Course) -> None:
    places = left(used)
    for needed in (
        "roster.csv", "arrivals/", "arrivals.jsonl", "submitted/", "autograded/", "feedback/", "zips/",
        "zips/_feedback", "keys/bench-order/attempt-1", "keys/answers", "checklists/", "report/readiness.xlsx",
        "export/", "inbox/",
        "second/", "entered/", "sheets/", ".nbgrader.log", "saltmere/inbound", "saltmere/feedback", "trainkit_person",
        "trainkit_note.text", "trainkit_mark.response", "student.id", "comment.manual_comment",
    ):  # fmt: skip
        assert any(needed in place for place in places), f"the course does not name them in {needed}"
    before, view = sheet_of(used), instructors_view(used, clock=clock)
    done = forget(used, GONE, WHY)
    assert done.ok, done.findings
    assert left(used) == []
    assert not [finding for finding in done.findings if finding.severity != "note"]
    # What was earned is all there, with the points that people gave, and nobody's.
    after = sheet_of(used)
    assert sorted(after.people) == ["", STAYS]
    assert (after.entries, after.codes) == (before.entries, before.codes)
    for field in ("points", "answered", "critical", "shown"):
        np.testing.assert_array_equal(getattr(after, field), getattr(before, field))
    now = instructors_view(used, clock=clock)
    # Whose they are decides nothing but which stands first.
    assert {m.code: (m.shown, m.people) for m in now.mistakes} == {m.code: (m.shown, m.people) for m in view.mistakes}
    assert now.working == view.working
    assert all(GONE not in mistake.who for mistake in now.mistakes)
    # The ledger is proven, says that somebody was forgotten, when and why, and the gradebook agrees.
    proven = verify.prove(used)
    assert proven.ok, proven.findings
    assert proven.data["forgotten"] > 3
    assert agreement.compare(used) == ()
    assert WHY in verify.tell(used).done[-1]
    # Again there is nothing to do.
    entries = proven.data["entries"]
    assert forget(used, GONE, WHY).ok
    assert verify.prove(used).data["entries"] == entries
    _goes_on(used)


def _goes_on(course: Course) -> None:
    """Every command works afterwards, and none of them brings the name back."""
    assert build(course, clock=clock).ok
    assert assign(course, clock=clock).ok
    assert collect(course, clock=clock).ok
    assert mark(course).ok
    assert feedback(course, zipped=True, clock=clock).ok
    span = (TIMES[1], TIMES[1].replace(hour=5))
    assert watch(course, Session(MODULE, "P. Tidewell", "Bay 3", *span)).ok
    written(course)
    assert status(course, MODULE).ok
    assert verify.prove(course).ok
    assert left(course) == []


@HERE
def test_a_folder_that_comes_later_is_a_strangers(used: Course) -> None:
    kept = shutil.copytree(used.submitted / GONE, used.folder.parent / "kept")
    assert forget(used, GONE, WHY).ok
    shutil.copytree(kept, used.submitted / GONE)
    done = mark(used)
    assert [f.place for f in done.findings if f.severity == "refused"] == [f"submitted/{GONE}/{MODULE}"]
    assert not list(columns_naming(used, NAMES))
    # Nor does the identifier get anybody else the old form and the old marks.
    with used.roster_file.open("a", encoding="utf-8") as stream:
        stream.write(f'"{GONE}",Somebody Else,\n')
    assert "was forgotten" in refused(build(used, clock=clock))
    done = mark(used)
    assert "They were forgotten" in " ".join(finding.text for finding in done.findings)
    assert not list(columns_naming(used, NAMES))


@ON_BOTH
def test_another_instructors_folder_does_not_bring_them_back(used: Course, where: str, tmp_path: Path) -> None:
    theirs = Course.load(shutil.copytree(used.folder, tmp_path / "theirs"))
    if where == "sqlite":
        config = f'\nc.CourseDirectory.db_url = "sqlite:///{used.gradebook}"\n'
        with theirs.nbgrader_config.open("a", encoding="utf-8") as stream:
            stream.write(config)
    assert forget(used, GONE, WHY).ok
    entries = verify.prove(used).data["entries"]
    done = mark(theirs)
    assert [f.place for f in done.findings if f.severity == "refused"] == [f"submitted/{GONE}/{MODULE}"]
    assert not list(columns_naming(theirs, NAMES))
    # In their folder it is done once more, and says nothing twice.
    again = forget(theirs, GONE, WHY)
    assert again.ok, again.findings
    if where == "sqlite":
        # A database that the course does not use is a copy, and copies are looked at by a person.
        assert [f.place for f in again.findings if f.severity == "warning"] == ["gradebook.db"]
        theirs.gradebook.unlink()
    assert not list(naming(theirs.folder, EVERYTHING))
    assert verify.prove(theirs).data["entries"] == entries


@HERE
def test_killed_anywhere_it_is_finished_by_the_next(used: Course, monkeypatch: pytest.MonkeyPatch) -> None:
    from trainkit_grading.keeping.forget import places, strike

    class Killed(BaseException):
        pass

    moments = 0
    for stop in (0, 1, 2, 3, 5, 8, 13, 21):
        count = iter(range(10_000))

        def tick(stop: int = stop, count: Any = count) -> None:
            if next(count) == stop:
                raise Killed

        real_strike, real_compact, real_find = strike.strike, strike.compact, places.find_mentions
        with monkeypatch.context() as patch:

            def found(*a: Any, tick: Callable[[], None] = tick, real: Any = real_find) -> Any:
                for place in real(*a):
                    yield place if place.do is None else _ticking(place, tick)

            patch.setattr(strike, "strike", lambda *a, real=real_strike, tick=tick: (real(*a), tick())[0])
            patch.setattr(strike, "compact", lambda *a, real=real_compact, tick=tick: (tick(), real(*a))[1])
            patch.setattr(places, "find_mentions", found)
            try:
                forget(used, GONE, WHY)
                break
            except Killed:
                moments += 1
        assert verify.prove(used).data["entries"]
    assert moments >= 4
    done = forget(used, GONE, WHY)
    assert done.ok
    assert left(used) == []
    assert verify.prove(used).ok
    assert sum("somebody was forgotten" in line for line in verify.tell(used).done) == 1


def _ticking(place: Any, tick: Callable[[], None]) -> Any:
    from dataclasses import replace

    def do() -> None:
        place.do()
        tick()

    return replace(place, do=do)


@HERE
def test_what_a_person_has_to_look_at_is_told(used: Course) -> None:
    (used.folder / "notes.txt").write_text(f"{NAME} has a sore knee\n", "utf-8")
    (used.folder / "link").symlink_to(used.folder / "submitted" / GONE)
    stranger = json.dumps({"apprentice": STAYS, "words": NAME})
    journal = next(path for path in used.arrivals.joinpath(STAYS).rglob("answers.jsonl"))
    before = journal.read_bytes()
    journal.write_bytes(before + stranger.encode())
    (used.report / "questions.ipynb").write_text(json.dumps({"outputs": [NAME]}), "utf-8")
    done = forget(used, GONE, WHY)
    told = {finding.place for finding in done.findings if finding.severity == "warning"}
    assert told == {"link", "notes.txt", "report/questions.ipynb", journal.relative_to(used.folder).as_posix()}
    assert journal.read_bytes().startswith(before)
    assert any("backups" in finding.text for finding in done.findings)


@HERE
def test_looking_changes_nothing_and_asking_back(used: Course, command: Run) -> None:
    # Opening the file of a database may touch its empty companions, never what it holds.
    before = tree(used.folder)
    said = survey(used, GONE, WHY)
    assert tree(used.folder) == before
    words = "\n".join(said.words)
    for place in ("roster.csv", f"submitted/{GONE}", "arrivals.jsonl", "ledger:", "gradebook:"):
        assert place in words
    said_no = command("forget", GONE, "--why", WHY, "--json", "--course", used.folder, status=1)
    assert "asked for twice" in said_no.stdout
    run = [*COMMAND, "forget", GONE, "--why", WHY]
    no = subprocess.run(run, cwd=used.folder, input="n\n", capture_output=True, text=True, check=False)
    assert no.returncode == 1
    assert tree(used.folder) == before
    command("forget", GONE, "--why", WHY, "--yes", "--json", "--course", used.folder)
    assert left(used) == []


@HERE
def test_what_cannot_be_is_refused(used: Course) -> None:
    for why, rule in ((f"{NAME} asked.", "names nobody"), ("", "1 to 500"), ("x" * 501, "1 to 500")):
        with pytest.raises(CourseError, match=rule):
            forget(used, GONE, why)
    with pytest.raises(CourseError, match="Nothing in this course"):
        forget(used, "nobody-here", WHY)
    # Somebody else at work is waited for, and then said.
    with held(used.folder):
        run = [
            sys.executable, "-c",
            "import sys; from pathlib import Path; from trainkit_grading.support import files; real = files.held\n"
            "from trainkit_grading.keeping.forget import forget as f; f.held = lambda p: real(p, 0.2)\n"
            "from trainkit_grading.course.folder import Course\n"
            "try: f.forget(Course.load(Path(sys.argv[1])), sys.argv[2], 'x')\n"
            "except Exception as e: print(e)", str(used.folder), GONE,
        ]  # fmt: skip
        said = subprocess.run(run, capture_output=True, text=True, check=True)
    assert "Another command is working" in said.stdout
    assert any(GONE in name for name in (path.name for path in used.submitted.iterdir()))


@HERE
def test_a_bundle_with_others_in_it_is_collected_first(used: Course) -> None:
    first, second, *_ = inside = sorted(used.inbox.glob("*.zip"))
    bundle = zipped(used.inbox / "bundle.zip", {path.name: path.read_bytes() for path in inside})
    for path in inside:
        path.unlink()
    shutil.rmtree(used.arrivals / STAYS)
    done = forget(used, GONE, WHY)
    assert any("collect it first" in f.place for f in done.findings), (first, second)
    assert bundle.exists()


def test_others_with_a_name_that_holds_theirs() -> None:
    traces = Traces("ann", "Ann Low", ("ann.k", "joann", "Ann Lowell", "Joann Low"))
    for other in ("ann.k", "submitted/ann.k/x", "joann", "Ann Lowell came", "Joann Low", "annex", "Hann", "ann1"):
        assert not traces.named_in(other), other
    for same in ("ann", "dunlin-ann.json", "ann_1", "“ann”", r"\u201cann\u201d", "ANN LOW", "x%2Fann%2Fy", r"\nann\n"):
        assert traces.named_in(same), same
    assert Traces("søren", "Søren Å").named_in("s%C3%B8ren")
    assert Traces("さくら", "山本 さくら").named_in("さくらさん")


@HERE
def test_the_database_says_who_was_there_no_more(used: Course) -> None:
    with gradebook.opened(used) as engine, engine.begin() as connection:
        assert GONE in connection.execute(select(PERSON.c.apprentice)).scalars().all()
    begun = time.monotonic()
    assert forget(used, GONE, WHY).ok
    assert time.monotonic() - begun < 120
    # The file itself: neither a free page nor a companion of it holds a word.
    for path in used.folder.glob("gradebook.db*"):
        data = path.read_bytes()
        assert not [word for word in EVERYTHING if word in data]
    with ledger_of(used) as ledger, pytest.raises(LedgerError, match="was forgotten"):
        ledger.people([GONE])
