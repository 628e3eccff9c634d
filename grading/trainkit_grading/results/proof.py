"""Proving what is printed: the ledger is what was written, and everything that reaches a score agrees with it.

Each run hashes every file and every row. What follows from them (seals, marks worked out again) is computed again only
for what is new since the last run; :mod:`trainkit_grading.ledger.watermark` says how that is known.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import select

from trainkit import journal
from trainkit.errors import TrainkitError
from trainkit.sentences import counted
from trainkit_grading.intake import chain, submissions
from trainkit_grading.ledger import details, versions, watermark
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.ledger.tables import ENTRY, PERSON, SHOWN
from trainkit_grading.ledger.verifying import verify
from trainkit_grading.ledger.watermark import Watermark
from trainkit_grading.marking.score import Scorer
from trainkit_grading.nbgrader_bridge import gradebook, steps
from trainkit_grading.nbgrader_bridge.tables import METADATA
from trainkit_grading.record.marked_entry import entry_of
from trainkit_grading.results import agreement, drawn
from trainkit_grading.results.drawn import MarkedForm
from trainkit_grading.support.bulk_sql import raw_rows
from trainkit_grading.support.outcome import Finding, Progress, quiet

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine

    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.seeds import Seed


_TOLD = 5  # so many faults stand in the bar of a page


@dataclass(frozen=True, slots=True)
class Proof:
    """What proving a course came to.

    Parameters
    ----------
    entries, seal : int, str
        Number and seal of the last entry.
    at : datetime
        When it was proven, with its zone.
    faults : tuple of Finding
        What is not as it was written.
    beyond : tuple of Finding
        What cannot be proven here, though nothing speaks against it.
    forgotten, unchained : int
        Entries of people who were forgotten; hand-ins that were taken before receipts were chained.
    sealed : bool
        Whether the seed is there; without it no seal can be proven.
    """

    entries: int
    seal: str
    at: datetime
    faults: tuple[Finding, ...] = ()
    beyond: tuple[Finding, ...] = ()
    forgotten: int = 0
    unchained: int = 0
    sealed: bool = True

    @property
    def proven(self) -> bool:
        """Whether everything is as it was written."""
        return self.sealed and not self.faults

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What a command that prints something tells of it: the page is written, and shows a red bar."""
        if not self.faults:
            return ()
        text = f"Not proven: {counted(len(self.faults), 'fault')}. The pages say so. See: trainkit-course verify"
        return (Finding("warning", "proof", text),)

    @property
    def sentence(self) -> str:
        """Say in one sentence how far the course is proven."""
        if self.proven:
            return f"Proven to entry {self.entries} at {self.at.astimezone(UTC):%Y-%m-%d %H:%M} UTC."
        if not self.faults:
            return "Not proven: this archive was packed without its seed, so no seal can be checked."
        return f"Not proven: {counted(len(self.faults), 'fault')}. Do not rely on this page yet."

    @property
    def told(self) -> tuple[Finding, ...]:
        """The first few faults, for a page."""
        return self.faults[:_TOLD]

    @property
    def more(self) -> int:
        """How many faults a page leaves out."""
        return max(0, len(self.faults) - _TOLD)

    def of(self, apprentice: str, module: str) -> bool:
        """Tell whether the marks of one person and module are proven; what is wrong with others' alone is not asked."""
        return self.sealed and all(
            owner is not None and owner != (apprentice, module) for owner in map(_owner, self.faults)
        )


def _owner(fault: Finding) -> tuple[str, str] | None:
    """Return whose marks in which module a fault is about; None where it is about everybody's."""
    top, _, rest = fault.place.partition("/")
    if top == "arrivals" and "/" in rest:
        apprentice, module = rest.split("/")[:2]
        return apprentice, module
    if top == "forms":
        return "", rest  # of a form that was marked its owner is told, too
    module, _, apprentice = fault.place.partition(" ")
    return (apprentice, module) if apprentice and not apprentice.startswith("attempt ") else None


def prove(
    course: Course,
    progress: Progress = quiet,
    clock: Callable[[], datetime] = journal.now,
) -> Proof:
    """Prove a course, and note how far.

    Parameters
    ----------
    course : Course
        The course folder.
    progress : callable, optional
        Told of each submission whose marks are worked out again.
    clock : callable, optional
        Returns the time with its time zone.

    Raises
    ------
    CourseError
        If the database or the seed cannot be used.
    """
    seed = course.seed()
    sealed = not course.without_seed.exists()
    before = watermark.read(course.proven_file, seed) if sealed else Watermark()
    files = drawn.files_digest(course)
    same_files = bool(before.files) and files == before.files
    with gradebook.opened(course) as engine:
        if not _begun(engine):
            held = _Held.of(course, seed, sealed=sealed)
            return Proof(0, "", clock(), (*held.faults(), *drawn.Drawn(course).released()), sealed=sealed)
        with engine.begin() as connection:
            Ledger(connection, seed)  # brings the tables of an earlier release up to date
            since = _since(connection, before)
            proof = verify(connection, seed, sealed=sealed, since=since)
            faults = [Finding("refused", "ledger", fault) for fault in proof.faults]
            gradebook_now = _gradebook(connection, course)
            if not (since[0] == proof.entries and gradebook_now == before.gradebook):
                faults += agreement.differences(connection, course)
            faults += _older(connection, before)
            marked = _marked(connection)
            anchors = _anchors(connection)
            same = since == (proof.entries, proof.seal)
            now = Watermark(
                entry=proof.entries,
                seal=proof.seal,
                rows=before.rows if same else watermark.rows_digest(connection, proof.entries),
                files=files,
                gradebook=gradebook_now,
                worked=proof.entries,
                worked_seal=proof.seal,
            )
            worked = before.worked if _seal(connection, before.worked) == before.worked_seal else 0
    held = _Held.of(course, seed, sealed=sealed)
    papers = drawn.Drawn(course)
    faults += papers.compare([each for each in marked if not same_files or each.number > since[0]])
    faults += () if same_files else papers.released()
    wrong, beyond = held.against(marked, anchors)
    faults += wrong
    if sealed and not faults:
        wrong, unsure = _worked_again(course, [each for each in marked if each.number > worked], progress)
        faults += wrong
        beyond += unsure
    if sealed and not faults:
        watermark.write(course.proven_file, seed, now)
    return Proof(
        proof.entries, proof.seal, clock(), tuple(faults), tuple(beyond), proof.forgotten, held.unchained, sealed
    )


def _begun(engine: Engine) -> bool:
    """Tell whether there is a ledger at all; looking must not make one."""
    if engine.dialect.name == "sqlite" and not Path(engine.url.database or "").is_file():
        return False
    with engine.connect() as connection:
        return bool(versions.version(connection))


def _seal(connection: Connection, number: int) -> str:
    return connection.execute(select(ENTRY.c.seal).where(ENTRY.c.number == number)).scalar() or ""


def _older(connection: Connection, before: Watermark) -> list[Finding]:
    """Tell where the ledger is not the one that was proven before: an older copy of it, or another one."""
    for number, seal in ((before.entry, before.seal), (before.worked, before.worked_seal)):
        if number and _seal(connection, number) != seal:
            text = (
                f"This ledger is not the one that was proven to entry {number} before: it is an older copy, or another"
            )
            text += " one. Restore the newest copy. If it is right as it is, remove keys/proven.json."
            return [Finding("refused", "ledger", text)]
    return []


def _since(connection: Connection, before: Watermark) -> tuple[int, str]:
    """Return up to which entry all rows are those whose seals were computed before."""
    there = before.entry and _seal(connection, before.entry) == before.seal
    if there and watermark.rows_digest(connection, before.entry) == before.rows:
        return before.entry, before.seal
    return 0, ""


def _gradebook(connection: Connection, course: Course) -> str:
    """Return the digest of all that the gradebook is compared with the ledger by."""
    settings = (path.read_bytes() if path.is_file() else b"" for path in (course.file, course.nbgrader_config))
    return watermark.tables_digest(connection, (SHOWN, PERSON, *METADATA.sorted_tables), *settings)


def _marked(connection: Connection) -> list[MarkedForm]:
    """Return the newest marks of each attempt of those who are known."""
    columns = ("attempt", "form", "journal", "outcome", "pack_hash", "module_hash", "form_hash", "keys_hash")
    query = (
        select(
            ENTRY.c.number,
            PERSON.c.apprentice,
            ENTRY.c.module,
            *(ENTRY.c[name] for name in columns),
            ENTRY.c.software_hash,
            SHOWN.c.entry,
        )
        .join(PERSON, PERSON.c.person == ENTRY.c.person)
        .join(SHOWN, SHOWN.c.entry == ENTRY.c.number, isouter=True)
        .where(ENTRY.c.kind == Marked.kind)
        .order_by(ENTRY.c.number)
    )
    newest = {(row[1], row[2], row[3]): row for some in raw_rows(connection, query) for row in some}
    names = [field.name for field in fields(MarkedForm)]
    return [
        MarkedForm(**dict(zip(names, (*values, entry is not None), strict=True))) for *values, entry in newest.values()
    ]


def _anchors(connection: Connection) -> list[str]:
    """Return the ends of chains of receipts that the ledger keeps, in its order, each once."""
    query = select(ENTRY.c.detail).where(ENTRY.c.kind == Marked.kind).order_by(ENTRY.c.number)
    found = (details.receipts(detail) for some in raw_rows(connection, query) for (detail,) in some)
    return [each for each in dict.fromkeys(found) if each]


class _Held:
    """What was handed in, as the course folder keeps it, held against the ledger."""

    def __init__(self, course: Course, kept: chain.Held) -> None:
        self._course = course
        self._kept = kept
        own = steps.address(course) == f"sqlite:///{course.gradebook.as_posix()}"
        # Where several folders share a database, what is not kept here may be kept in another one.
        self._shared = not own or (course.folder / "archived").is_dir()

    @classmethod
    def of(cls, course: Course, seed: Seed, *, sealed: bool) -> _Held:
        return cls(course, chain.look(course, seed, sealed=sealed))

    @property
    def unchained(self) -> int:
        """How many hand-ins were taken before receipts were chained."""
        return self._kept.unchained

    def faults(self) -> list[Finding]:
        """Return what is wrong with what was kept, whatever the ledger says."""
        return [Finding("refused", fault.place, fault.text) for fault in self._kept.faults]

    def against(self, marked: Sequence[MarkedForm], anchors: Sequence[str]) -> tuple[list[Finding], list[Finding]]:
        """Return what is wrong, and what cannot be proven here."""
        wrong = self.faults()
        beyond: list[Finding] = []
        told = {fault.place for fault in self._kept.faults}
        for text in dict.fromkeys(self._kept.fault_of(anchor) for anchor in anchors):
            if text:
                told.add("arrivals")
                (beyond if self._shared else wrong).append(self._lost("arrivals", text))
        with_receipts = {(apprentice, module) for apprentice, module, _ in self._kept.journals}
        for each in marked:
            place = f"arrivals/{each.apprentice}/{each.module}"
            if not each.journal or self._is_kept(each) or any(of.startswith(f"{place}/") for of in told):
                continue
            text = f"The answers that entry {each.number} marks (attempt {each.attempt}) are not kept here."
            lost = each.shown or (each.apprentice, each.module) in with_receipts
            (wrong if lost and not self._shared else beyond).append(self._lost(place, text))
        return wrong, beyond

    def _is_kept(self, each: MarkedForm) -> bool:
        if (each.apprentice, each.module, each.journal) in self._kept.journals:
            return True
        return submissions.journal_digest(self._course, each.module, each.apprentice) == each.journal

    def _lost(self, place: str, text: str) -> Finding:
        if self._shared:
            return Finding("warning", place, f"{text} Verify the other instructors' folders, too.")
        return Finding("refused", place, f"{text} Fetch the folder arrivals/ from your backup.")


def _worked_again(
    course: Course, marked: Sequence[MarkedForm], progress: Progress
) -> tuple[list[Finding], list[Finding]]:
    """Work marks out again from journals and keys; return what is wrong, and what cannot be worked out here."""
    wrong: list[Finding] = []
    beyond: list[Finding] = []
    by_person: dict[tuple[str, str], list[MarkedForm]] = {}
    for each in marked:
        by_person.setdefault((each.module, each.apprentice), []).append(each)
    scorers: dict[str, Scorer] = {}
    for number, ((module, apprentice), some) in enumerate(sorted(by_person.items()), start=1):
        progress(number, len(by_person), f"{module} {apprentice}")
        place = f"{module} {apprentice}"
        try:
            if module not in scorers:
                scorers[module] = Scorer(course, module)
            found = {(entry.attempt, entry.journal): entry for entry in _scored(scorers[module], apprentice)}
        except TrainkitError as error:
            beyond.append(Finding("note", place, f"The marks cannot be worked out again here. {error}"))
            continue
        for each in some:
            entry = found.get((each.attempt, each.journal))
            if entry is None or entry.outcome == each.outcome:
                continue
            if entry.provenance.software != each.software_hash:
                text = f"This version of the software would mark entry {each.number} otherwise than an earlier one did."
                beyond.append(Finding("note", place, text))
                continue
            text = f"Entry {each.number} is not what the answers earn: worked out again, they earn {entry.points:g} of "
            text += f"{counted(entry.out_of, 'point')}. "
            text += f'Look at it, then: trainkit-course mark {module} --why "what was wrong"'
            wrong.append(Finding("refused", place, text))
    return wrong, beyond


def _scored(scorer: Scorer, apprentice: str) -> tuple[Marked, ...]:
    return tuple(entry_of(scored) for scored in scorer.score_attempts(apprentice))
