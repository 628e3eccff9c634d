"""Taking written answers in: typed twice, settled where the two differ, then handed in like any other journal."""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainkit import journal
from trainkit.journal import JOURNAL_FILE, Journal
from trainkit.sentences import counted
from trainkit_grading.errors import PaperError
from trainkit_grading.intake import collect
from trainkit_grading.intake.readers import HandIn
from trainkit_grading.paper import answered, codes, pass_tables
from trainkit_grading.paper.keyboard import Ask, Stopped, type_pass
from trainkit_grading.paper.medium import Paper, paper_of, path_of
from trainkit_grading.paper.passes import Typing, folder, same_person
from trainkit_grading.support.files import held, scratch, write_atomically
from trainkit_grading.support.outcome import Finding, Outcome, refused
from trainkit_grading.support.sharing import private_folder

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.paper.answered import AnswerSheet


Files = Mapping[int, Path]
"""Tables by the number of their pass."""


def enter(
    course: Course,
    typed_code: str,
    ask: Ask | None = None,
    *,
    by: str = "",
    files: Files | None = None,
    why: str = "",
    clock: Callable[[], datetime] = journal.now,
) -> Outcome:
    """Take one sheet in.

    Parameters
    ----------
    course : Course
        The course folder.
    typed_code : str
        The form, with its check sign.
    ask : callable, optional
        Asks whoever sits there: gets what to say, returns what was typed.
    by : str, optional
        Who types; without it that is asked.
    files : mapping, optional
        Tables into which passes were typed, instead of asking.
    why : str, optional
        Why a sheet that was taken already is typed again.
    clock : callable, optional
        Returns the time with its time zone.

    Raises
    ------
    PaperError
        If the code is none that can be taken, or what was typed cannot be kept.
    """
    sheet = answered.find_sheet(course, typed_code, clock)
    home = folder(course)
    with held(course.folder):
        private_folder(home)
    typing = Typing(home, sheet.code)
    before = paper_of(course, sheet.code)
    if before is not None and before.passes == typing.digests:
        if not why.strip():
            return _known(course, sheet, before, clock)
        typing.anew(why.strip())
    findings: list[Finding] = []
    if files:
        findings = _from_files(sheet, typing, files)
        if any(finding.severity == "refused" for finding in findings):
            return Outcome("enter", (), tuple(findings), "Mend these, then give the command again. Nothing was taken.")
    elif ask is not None:
        with contextlib.suppress(Stopped):
            type_pass(sheet, typing, ask, by)
    return _settled(course, sheet, typing, findings, clock)


def unfinished(course: Course) -> tuple[str, ...]:
    """Return the codes of forms whose typing was begun and is not complete.

    Examples
    --------
    >>> import tempfile
    >>> from trainkit_grading.course.folder import Course
    >>> with tempfile.TemporaryDirectory() as home:
    ...     unfinished(Course(folder=Path(home), name="c", title="C", modules=()))
    ()
    """
    home = folder(course)
    begun = [path.stem for path in sorted(home.glob("*.jsonl")) if "." not in path.stem]
    return tuple(
        code
        for code in begun
        if (paper := paper_of(course, code)) is None or paper.passes != Typing(home, code).digests
    )


def _from_files(sheet: AnswerSheet, typing: Typing, files: Files) -> list[Finding]:
    """Take passes out of tables: the first two together or not at all, then what settles them."""
    findings: list[Finding] = []
    if 1 in files and 2 in files and _content(files[1]) == _content(files[2]):
        error = PaperError(
            files[2].name,
            rule="The second table is the first one, byte by byte.",
            remedy="The second pass is typed from the sheet, by somebody who does not see the first.",
        )
        return [refused(error)]
    for numbers in ((1, 2), (3,)):
        read: dict[int, pass_tables.TypedPass] = {}
        for number in sorted(set(numbers) & set(files)):
            if number < 3 and typing.passes[number].ended:
                text = f"Pass {number} of this sheet is complete already. Leave this table out."
                findings.append(Finding("refused", files[number].name, text))
                continue
            table, said = pass_tables.read_pass(
                files[number], sheet, sheet.asked if number < 3 else sheet.differing(typing)
            )
            findings += said
            if table is not None:
                read[number] = table
        if any(finding.severity == "refused" for finding in findings):
            return findings
        for number, table in read.items():
            typing.begin(number, table.by)
            for what, text in table.texts.items():
                typing.typed(number, what, text)
            typing.end(number)
    return findings


def _content(path: Path) -> bytes | None:
    try:
        with path.open("rb") as stream:
            return stream.read(pass_tables.LIMIT + 1)
    except OSError:
        return None  # told with the table itself


def _known(course: Course, sheet: AnswerSheet, before: Paper, clock: Callable[[], datetime]) -> Outcome:
    """Hand in again what was agreed, in case that was cut off."""
    taken = _hand_in(course, before, clock)
    if taken is not None:
        return _handed_in(sheet, before, taken, [])
    raise PaperError(
        codes.on_paper(sheet.code),
        rule=f"This sheet was typed by {before.typed[0]} and {before.typed[1]}, and taken.",
        remedy='If something was typed wrongly, type it again: the same command with --why "what was wrong"',
    )


def _settled(
    course: Course,
    sheet: AnswerSheet,
    typing: Typing,
    findings: list[Finding],
    clock: Callable[[], datetime],
) -> Outcome:
    """Say what is still missing, or make the journal and hand it in."""
    person = sheet.given.person
    command = f"trainkit-course enter {codes.to_type(sheet.code)}"
    first, second = typing.passes[1], typing.passes[2]
    for number in (1, 2):
        if not typing.passes[number].ended:
            count = len(typing.passes[number].texts)
            said = f"pass {number}: {count} of {len(sheet.asked)} typed" if count else f"pass {number} is not begun"
            return Outcome(
                "enter",
                (f"{person.name}, {sheet.given.entry.name}: {said}. All that was typed is kept; nothing counts yet.",),
                tuple(findings),
                f"{'Go on' if count else 'Let somebody else type it'}: {command}",
                {"form": sheet.code, "complete": [n for n in (1, 2) if typing.passes[n].ended], "differ": []},
            )
    open_ = sheet.differing(typing)
    if open_:
        told = [Finding("refused", f"{sheet.code} {what}", _both(typing, what)) for what in open_]
        return Outcome(
            "enter",
            (f"Both passes are complete. They differ in {len(open_)} of {len(sheet.asked)}; nothing counts yet.",),
            (*findings, *told),
            f"Look at the sheet and type these again: {command}",
            {"form": sheet.code, "complete": [1, 2], "differ": list(open_)},
        )
    agreed = sheet.agreed(typing)
    begin, end = sheet.sitting(agreed)
    content = _journal(course, sheet, agreed, begin, end)
    settled = [w for w in sheet.asked if not sheet.same(w, first.texts[w], second.texts[w])]
    record = Paper(
        form=sheet.code,
        module=sheet.given.entry.name,
        apprentice=person.id,
        attempt=sheet.given.attempt,
        begin=begin,
        end=end,
        typed=(first.by, second.by),
        passes=typing.digests,
        settled=tuple(settled),
        journal=hashlib.sha256(content).hexdigest(),
        why=typing.why,
    )
    with held(course.folder):
        write_atomically(folder(course) / f"{sheet.code}.answers.jsonl", content, 0o600)
        write_atomically(path_of(course, sheet.code), record.model_dump_json(indent=1) + "\n", 0o600)
    taken = _hand_in(course, record, clock)
    if taken is None:  # pragma: no cover - a journal that was made a moment ago is new, but for two at once
        raise PaperError(
            sheet.code, rule="Somebody has taken this sheet meanwhile.", remedy="See: trainkit-course status"
        )
    return _handed_in(sheet, record, taken, findings)


def _handed_in(sheet: AnswerSheet, record: Paper, taken: Outcome, findings: list[Finding]) -> Outcome:
    """Say what was taken, and what is to be known about it."""
    notes = list(findings)
    if same_person(*record.typed):
        text = f"Both passes were typed by {record.typed[0]}. It counts, and is flagged when it is marked."
        notes.append(Finding("warning", sheet.code, text))
    watched = [of.id for of in sheet.given.form.items if of.id not in sheet.items]
    if watched:
        text = f"{', '.join(watched)} is practical work: record its checklist with trainkit-course observe."
        notes.append(Finding("note", sheet.code, text))
    return Outcome(
        "enter",
        (f"{sheet.given.person.name}, {record.module}: taken, on paper, {counted(taken.data['answers'], 'answer')}.",),
        (*notes, *taken.findings),
        f"Mark it: trainkit-course mark {record.module}",
        {"form": sheet.code, "complete": [1, 2], "differ": [], "settled": list(record.settled), **taken.data},
    )


def _both(typing: Typing, what: str) -> str:
    return f"First pass: “{typing.passes[1].texts[what]}”. Second pass: “{typing.passes[2].texts[what]}”."


def _journal(course: Course, sheet: AnswerSheet, agreed: Mapping[str, str], begin: datetime, end: datetime) -> bytes:
    """Return the answers as a workbook would have written them.

    A sheet says when it was begun and ended, not when each answer was given. They are spread over that time, each at a
    moment of its own that hangs on form and question alone: those who sit together do not get the same times.
    """
    answers = [(what, given) for what in sheet.items if (given := sheet.response(what, agreed[what])) is not None]
    if not answers:
        raise PaperError(
            codes.on_paper(sheet.code),
            rule="Nothing is answered on this sheet.",
            remedy="Nothing is handed in then; the report says missing.",
        )
    share = (end - begin) / len(answers)
    moments = iter(begin + place * share + share * _part(sheet.code, what) for place, (what, _) in enumerate(answers))
    with held(course.folder), scratch(course.folder) as home:
        written = Journal(
            home / JOURNAL_FILE,
            course=course.name,
            module=sheet.given.entry.name,
            form=sheet.code,
            apprentice=sheet.given.person.id,
            clock=lambda: next(moments).astimezone(UTC),
        )
        for what, given in answers:
            written.append(what, given)
        return (home / JOURNAL_FILE).read_bytes()


def _part(code: str, what: str) -> float:
    number = int.from_bytes(hashlib.sha256(f"{code} {what}".encode()).digest()[:6])
    return number / 2**48


def _hand_in(course: Course, record: Paper, clock: Callable[[], datetime]) -> Outcome | None:
    """Hand in what was agreed; None where it has been before."""
    path = folder(course) / f"{record.form}.answers.jsonl"
    try:
        content = path.read_bytes()
    except OSError:
        content = b""
    if hashlib.sha256(content).hexdigest() != record.journal:
        raise PaperError(
            str(path),
            rule="What was agreed on is kept beside its record, and is not there as it was written.",
            remedy="Fetch it from your backup.",
        )
    given = HandIn(
        place=f"paper, form {record.form}",
        journal=content,
        identity=None,
        when=record.end.astimezone(UTC),
        how="paper",
        user=record.apprentice,
        module=record.module,
    )
    taken = collect.take((given,), course, clock=clock)
    refusals = [finding for finding in taken.findings if finding.severity == "refused" and given.place in finding.place]
    if refusals:
        raise PaperError(given.place, rule="It could not be handed in.", remedy=refusals[0].text)
    if not taken.data["taken"]:
        return None
    mine = [f for f in taken.findings if record.form in f.place or f.place.startswith(record.apprentice)]
    return Outcome("enter", (), tuple(mine), data={"answers": taken.data["taken"][0]["answers"]})
