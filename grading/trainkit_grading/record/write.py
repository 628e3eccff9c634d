"""Writing marks: into the ledger, and from there into nbgrader's gradebook, in the caller's one transaction.

What is written is decided in :mod:`trainkit_grading.record.decide`; here it is looked up what stands, and written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from trainkit_grading.ledger import closing, extending, histories, likeness
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.extending import Extension
from trainkit_grading.ledger.kinds import Flagged, Marked
from trainkit_grading.nbgrader_bridge.gradebook_writer import GradebookWriter
from trainkit_grading.record import decide, moves
from trainkit_grading.record.decide import Due, Stands
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from trainkit_grading.course.roster import Roster
    from trainkit_grading.ledger.kinds import Moved
    from trainkit_grading.record.decide import ToWrite
    from trainkit_grading.record.manual_points import ManualPoints
    from trainkit_grading.record.to_mark import ModuleToMark


Continues = Callable[[str, str, str], bool]
"""From an apprentice and the digests of an earlier and a later journal to whether the later one continues it."""


class Recorder:
    """Records the marks of one module; everything happens in the caller's transaction.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the course's database, in a transaction.
    module : ModuleToMark
        The module, with what the course says of it.
    why : str, optional
        Why marks may change though the answers have not; without it such marks are left as they were.

    Raises
    ------
    CourseError
        If the gradebook does not have the module.
    """

    def __init__(self, connection: Connection, module: ModuleToMark, why: str = "") -> None:
        self._connection = connection
        self._why = why
        self._roster: Roster | None = None
        self.module = module
        self.ledger = Ledger(connection, module.seed)
        self.ledger.hold()
        self._gradebook = GradebookWriter(connection, module.name, module.late_rule)
        self.findings: list[Finding] = []

    @property
    def items(self) -> Mapping[str, float]:
        """The items of the module as they were given out, and the most points of each."""
        return self._gradebook.cells.out_of

    def take(self, attempts: Sequence[Sequence[Marked]], continues: Continues) -> dict[str, Marked]:
        """Record the attempts of some apprentices; return the marks that count, by apprentice."""
        scored = [entry for entries in attempts for entry in entries]
        if not scored:
            return {}
        stands = self._stands(entry.apprentice for entry in scored)
        later = self._later(stands, scored, continues)
        return self._write(decide.marks(later, scored, self._why))

    def give(self, points: Sequence[ManualPoints]) -> dict[str, Marked]:
        """Record points that people give, and show them; return the marks that count, by apprentice.

        Raises
        ------
        LedgerError
            If there are no marks of that attempt or item.
        """
        if not points:
            return {}
        return self._write(decide.given(self._stands(each.apprentice for each in points), points))

    def compare(self) -> None:
        """Flag whose answers share their history with somebody else's; what has been told is not told again."""
        files = likeness.files_in_common(self._connection, self.module.name)
        moments = likeness.moments_in_common(self._connection, self.module.name)
        shared = histories.shared(
            {
                name: histories.Trace(files.get(name, frozenset()), moments.get(name, frozenset()))
                for name in sorted({*files, *moments})
            }
        )
        if not shared:
            return
        numbers = self.ledger.shown(self.module.name)
        entries = self.ledger.read(Marked, [numbers[name] for name in shared], marks=False)
        told = self.ledger.entries(Flagged, module=self.module.name, marks=False)
        self.ledger.add(decide.flags(shared, {name: entries[numbers[name]] for name in shared}, told))
        self.findings += [
            Finding("warning", f"{self.module.name} {name}", flag.text)
            for name, flags in shared.items()
            for flag in flags
        ]

    def _write(self, made: ToWrite) -> dict[str, Marked]:
        added = self.ledger.add(made.entries)
        fresh = {(entry.apprentice, entry.attempt): entry for entry in added if isinstance(entry, Marked)}
        counted = {name: fresh.get((name, entry.attempt), entry) for name, entry in made.counted.items()}
        self._gradebook.write(made.submissions, made.extensions)
        self.ledger.show(self.module.name, {name: entry.number for name, entry in counted.items()})
        self.findings += made.findings
        return counted

    def _later(self, stands: Stands, scored: Sequence[Marked], continues: Continues) -> Stands:
        """Add what decides about other journals than those whose marks stand; mostly there are none."""
        known = stands.standing
        later = [
            entry
            for entry in scored
            if (of := known.get((entry.apprentice, entry.attempt))) is not None and of.journal != entry.journal
        ]
        if not later:
            return stands
        module = self.module.name
        names = list(dict.fromkeys(entry.apprentice for entry in later))
        held = [each for name in names for each in closing.held(self.ledger, module, name)]
        return replace(
            stands,
            closings=closing.closings(self.ledger, module, names),
            held={(of.entry.apprentice, of.entry.attempt, of.entry.journal): of.counted for of in held},
            continued={
                (entry.apprentice, entry.attempt)
                for entry in later
                if continues(entry.apprentice, known[entry.apprentice, entry.attempt].journal, entry.journal)
            },
        )

    def _stands(self, names: Iterable[str]) -> Stands:
        """Return what stands of some people; what is new in the roster is among it once."""
        people = list(dict.fromkeys(names))
        moved: tuple[Moved, ...] = ()
        told: list[Finding] = []
        if self._roster is None:
            self._roster = self.module.roster()
            moved, told = moves.news(self.ledger, self._roster)
        standing = self.ledger.standing(self.module.name, people)
        shown = self.ledger.shown(self.module.name, people)
        return Stands(
            self.module.name,
            self.module.attempts,
            standing,
            self.ledger.read(Marked, {*shown.values(), *(of.number for of in standing.values())}),
            shown,
            self.ledger.judged(self.module.name, people),
            self._gradebook.judged(people),
            self._due(people, self._roster),
            moved,
            tuple(told),
        )

    def _due(self, people: Sequence[str], roster: Roster) -> dict[str, Due]:
        there = self._gradebook.extensions(people)
        last = extending.last(self._connection, self.module.name, people)
        due = {}
        for name in people:
            person = roster.find(name)
            dates = self.module.extension(person, self._gradebook.cells.due) if person else None
            due[name] = Due(there.get(name), last.get(name, Extension()), dates, person is not None)
        return due
