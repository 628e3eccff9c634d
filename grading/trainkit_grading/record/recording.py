"""Recording marks: into the ledger, and from there into nbgrader's gradebook, in one transaction.

The ledger is the truth and the gradebook its projection: of several attempts at a module it shows the one that
counts, with the points that people have given for exactly these answers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property
from typing import TYPE_CHECKING

from trainkit_grading.course import cohorts
from trainkit_grading.errors import LedgerError
from trainkit_grading.ledger import extending, histories, likeness
from trainkit_grading.ledger.book import Judged, Ledger, Standing
from trainkit_grading.ledger.entries import Entry, MarkRow, Note, digest, printable
from trainkit_grading.nbgrader_bridge.gradebook_writer import GradebookWriter, Projected
from trainkit_grading.record import moves
from trainkit_grading.record.marked_submission import BY_PERSON
from trainkit_grading.signoff import filling
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.roster import Roster
    from trainkit_grading.course.seeds import Seed
    from trainkit_grading.course.settings import Attempts
    from trainkit_grading.record.manual_points import ManualPoints

__all__ = ["Recorder", "change", "counting", "total"]


@dataclass(frozen=True, slots=True)
class _Counted:
    """What the gradebook is to show of one apprentice."""

    entry: Entry
    before: Entry | None  # what it has shown so far


class Recorder:
    """Records the marks of one module; everything happens in the caller's transaction.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the course's database, in a transaction.
    course : Course
        The course folder.
    module : str
        The module.
    seed : Seed
        The course's secret.
    why : str, optional
        Why marks may change though the answers have not; without it such marks are left as they were.

    Raises
    ------
    CourseError
        If the gradebook does not have the module.
    """

    def __init__(self, connection: Connection, course: Course, module: str, seed: Seed, why: str = "") -> None:
        self._connection = connection
        self._course = course
        self._module = module
        self._why = why
        self._ledger = Ledger(connection, seed)
        self._ledger.hold()
        self._gradebook = GradebookWriter(connection, course, module)
        self.findings: list[Finding] = []

    @property
    def items(self) -> Mapping[str, float]:
        """The items of the module as they were given out, and the most points of each."""
        return self._gradebook.cells.out_of

    def forgotten(self, names: Iterable[str]) -> frozenset[str]:
        """Return which of these people were forgotten; nothing is recorded about them."""
        return self._ledger.forgotten(names)

    def take(self, attempts: Sequence[Sequence[Entry]]) -> dict[str, Entry]:
        """Record the attempts of some apprentices; return the entry that counts, by apprentice.

        What stands in the ledger already is not written again.
        """
        names = [entries[0].apprentice for entries in attempts if entries]
        if not names:
            return {}
        standing = self._ledger.standing(self._module, names)
        added = self._ledger.add([entry for entries in attempts for entry in self._news(entries, standing)])
        for entry in added:
            standing[entry.apprentice, entry.attempt] = _standing(entry)
        counted = self._project(names, standing, {entry.number: entry for entry in added})
        watched = [name for name, entry in counted.items() if any(row.kind == "observed" for row in entry.marks)]
        return counted | self.fill(watched) if watched else counted

    def fill(self, names: Sequence[str]) -> dict[str, Entry]:
        """Give points for observed items whose work is on record; return the entries that count of those concerned."""
        return self.give(filling.due(self._ledger, self._course, self._module, names))

    def give(self, given: Sequence[ManualPoints]) -> dict[str, Entry]:
        """Record points that people give, and show them; return the entry that counts, by apprentice.

        Raises
        ------
        LedgerError
            If there are no marks of that attempt or item.
        """
        if not given:
            return {}
        names = sorted({each.apprentice for each in given})
        standing = self._ledger.standing(self._module, names)
        judged = self._ledger.judged(self._module, names)
        shown = self._ledger.shown(self._module, names)
        numbers = {of.number for of in standing.values()} | set(shown.values())
        entries = self._ledger.read(numbers)
        # What was changed where nobody listened is recorded before anything is put in its place.
        self._adopt({name: _Counted(entries[shown[name]], entries[shown[name]]) for name in names}, judged)
        for each in given:
            of = standing.get((each.apprentice, each.attempt))
            row = next((row for row in entries[of.number].marks if row.item == each.item), None) if of else None
            if of is None or row is None:
                raise LedgerError(
                    f"{each.apprentice}, {self._module} {each.item}",
                    rule="Points are given for an item that was marked.",
                    remedy=f"Mark it first: trainkit-course mark {self._module}",
                )
            self._judge(entries[of.number], row, each.points, judged, why=each.why, given=each)
        self._gradebook.write([self._projected(name, entries[shown[name]], judged) for name in names])
        return self._project(names, standing, entries)

    def compare(self) -> None:
        """Flag whose answers share their history with somebody else's; what has been told is not told again."""
        files = likeness.files_in_common(self._connection, self._module)
        moments = likeness.moments_in_common(self._connection, self._module)
        shared = histories.shared(
            {
                name: histories.Trace(files.get(name, frozenset()), moments.get(name, frozenset()))
                for name in sorted({*files, *moments})
            }
        )
        if not shared:
            return
        told = {
            (entry.apprentice, entry.journal, note.text_hash)
            for entry in self._ledger.entries(["flagged"], module=self._module, marks=False)
            for note in entry.notes
        }
        shown = self._ledger.shown(self._module)
        entries = self._ledger.read([shown[name] for name in shared], marks=False)
        for name, flags in shared.items():
            of = entries[shown[name]]
            notes = tuple(Note(flag.kind, flag.text) for flag in flags)
            news = tuple(n for n in notes if (name, of.journal, digest(printable(n.text or ""))) not in told)
            if news:
                self._ledger.add([Entry("flagged", name, self._module, of.attempt, of.form, of.journal, notes=news)])
            self.findings += [Finding("warning", f"{self._module} {name}", flag.text) for flag in flags]

    def _news(self, attempts: Iterable[Entry], standing: Mapping[tuple[str, int], Standing]) -> Iterable[Entry]:
        """Return what the ledger does not say yet."""
        for entry in attempts:
            known = standing.get((entry.apprentice, entry.attempt))
            if known is None:
                yield entry
            elif known.journal != entry.journal:
                # Another instructor's folder may hold what was handed in later; whoever marks last must not undo it.
                if entry.arrived and entry.arrived < known.arrived:
                    self.findings.append(self._older(entry, known))
                else:
                    yield entry
            elif known.outcome != entry.outcome:
                if self._why:
                    yield replace(entry, why=self._why)
                else:
                    self.findings.append(self._unsaid(entry, known))
            elif known.notes_hash != entry.notes_hash or known.counts != bool(entry.detail["counts"]):
                yield entry

    def _older(self, entry: Entry, known: Standing) -> Finding:
        return Finding(
            "warning",
            f"{self._module} {entry.apprentice}",
            f"What lies here of attempt {entry.attempt} arrived {entry.arrived} UTC, and marks stand for what arrived "
            f"{known.arrived} UTC. Those were left as they are.",
        )

    def _unsaid(self, entry: Entry, known: Standing) -> Finding:
        return Finding(
            "refused",
            f"{self._module} {entry.apprentice}",
            f"Attempt {entry.attempt} would now earn {entry.points:g} of {entry.out_of:g} points for the same "
            f"answers, and {known.points:g} stand: key, pack or software changed. The marks were left as they are. "
            f'If the new ones are right, say so: trainkit-course mark {self._module} --why "what was wrong"',
        )

    def _project(
        self, names: Sequence[str], standing: Mapping[tuple[str, int], Standing], fresh: Mapping[int, Entry]
    ) -> dict[str, Entry]:
        judged = self._ledger.judged(self._module, names)
        shown = self._ledger.shown(self._module, names)
        chosen = counting(self._course.attempts, standing.values(), judged, self._ledger)
        wanted = {shown[name] for name in names if name in shown} | {chosen[name].number for name in names}
        entries = {**self._ledger.read(wanted - set(fresh)), **fresh}
        counted = {name: _Counted(entries[chosen[name].number], entries.get(shown.get(name, 0))) for name in names}
        self._adopt(counted, judged)
        projected = [self._projected(name, of.entry, judged) for name, of in counted.items()]
        self._gradebook.write(projected, self._extensions(counted))
        self._ledger.show(self._module, {name: of.entry.number for name, of in counted.items()})
        return {name: of.entry for name, of in counted.items()}

    @cached_property
    def _roster(self) -> Roster:
        """The roster; what is new in it about people goes into the ledger once."""
        roster = self._course.roster()
        self.findings += moves.record_in(self._ledger, roster)
        return roster

    def _extensions(self, counted: Mapping[str, _Counted]) -> dict[str, timedelta | None]:
        """Return whose due date is to differ from the module's in another way than the gradebook has it.

        What a person has set there goes before the dates of the course, until a person takes it out.
        """
        entry = self._course.module(self._module)
        there = self._gradebook.extensions(list(counted))
        said = extending.last(self._connection, self._module, list(counted))
        wanted: dict[str, timedelta | None] = {}
        news = []
        for name, of in counted.items():
            last = said.get(name, extending.Extension())
            kept = there.get(name)
            met = kept.total_seconds() if kept is not None else None
            person = self._roster.find(name)
            if met != last.seconds:
                news.append(_extended(of.entry, last.seconds, met, why="Found in the gradebook.", by="unknown"))
            elif person is not None and (last.by_dates or last.seconds is None):
                new = cohorts.extension(self._course, entry, person, self._gradebook.cells.due)
                to = new.total_seconds() if new is not None else None
                if to != met:
                    wanted[name] = new
                    news.append(_extended(of.entry, met, to, why="So say the dates of the course.", by_dates=True))
        self._ledger.add(news)
        return wanted

    def _adopt(self, counted: Mapping[str, _Counted], judged: dict[tuple[str, int], dict[str, Judged]]) -> None:
        """Record points that people have given where nobody listened, as the gradebook has them."""
        found = self._gradebook.judged(list(counted))
        for name, of in counted.items():
            entry = of.before or of.entry
            known = judged.get((name, entry.attempt), {})
            given = found.get(name, {})
            for row in entry.marks:
                points = known[row.item].points if row.item in known else None
                if given.get(row.item) == points or (of.before is None and row.item not in given):
                    continue
                self._judge(entry, row, given.get(row.item), judged, why="Found in the gradebook.", by="unknown")
                self.findings.append(
                    Finding(
                        "warning",
                        f"{self._module} {name}",
                        f"{row.item} has other points in the gradebook than were recorded; they were taken over.",
                    )
                )

    def _projected(self, name: str, entry: Entry, judged: dict[tuple[str, int], dict[str, Judged]]) -> Projected:
        known = judged.get((name, entry.attempt), {})
        queued, silent, points = set(), set(), {}
        for row in entry.marks:
            by_person = row.kind in BY_PERSON
            points[row.item] = None if row.verdict == "waiting" else row.points
            if by_person and row.verdict == "no answer":
                silent.add(row.item)
            of = known.get(row.item)
            if of is not None and of.answer != answer_of(row):
                if row.kind == "text":
                    self._judge(entry, row, None, judged, why="The answer is another one now.", kind="voided")
                    of = None
                else:
                    queued.add(row.item)
            if of is None and row.verdict == "waiting":
                queued.add(row.item)
        return Projected(
            name,
            points,
            datetime.fromisoformat(entry.arrived) if entry.arrived else None,
            {item: of.points for item, of in judged.get((name, entry.attempt), {}).items()},
            frozenset(queued),
            frozenset(silent),
        )

    def _judge(
        self,
        entry: Entry,
        row: MarkRow,
        points: float | None,
        judged: dict[tuple[str, int], dict[str, Judged]],
        why: str,
        by: str = "",
        kind: str = "changed",
        given: ManualPoints | None = None,
    ) -> None:
        of = judged.setdefault((entry.apprentice, entry.attempt), {})
        before = of[row.item].points if row.item in of else None
        made = change(entry, row, "points", before, points, why=why, by=by, kind=kind)
        if given is not None:
            harm = {} if given.critical is None else {"critical": given.critical}
            made = replace(made, detail={**made.detail, "entry": given.entry, **harm})
        (added,) = self._ledger.add([made])
        if points is None:
            of.pop(row.item, None)
        else:
            of[row.item] = Judged(points, answer_of(row), added.number)


def change(
    entry: Entry,
    row: MarkRow,
    field: str,
    before: float | str | None,
    after: float | str | None,
    *,
    why: str,
    by: str = "",
    kind: str = "changed",
) -> Entry:
    """Return the entry that records what a person changed of an item."""
    return Entry(
        kind=kind,
        apprentice=entry.apprentice,
        module=entry.module,
        attempt=entry.attempt,
        form=entry.form,
        journal=entry.journal,
        detail={"item": row.item, "field": field, "from": before, "to": after, "answer": answer_of(row)},
        why=why,
        by=by,
    )


def _extended(
    entry: Entry, before: float | None, after: float | None, *, why: str, by: str = "", by_dates: bool = False
) -> Entry:
    """Return the entry that records by how many seconds somebody's due date differs from the module's now."""
    made = change(entry, MarkRow("", "", "", None, "", 0.0, 0.0, "no answer", ""), "extension", before, after, why=why)
    return replace(made, by=by, detail={**made.detail, extending.BY_DATES: True} if by_dates else made.detail)


def answer_of(row: MarkRow) -> str:
    """Return the digest of the answer, empty where there is none."""
    return row.response_hash or (digest(row.response) if row.response is not None else "")


def counting(
    policy: Attempts,
    standing: Iterable[Standing],
    judged: Mapping[tuple[str, int], Mapping[str, Judged]],
    ledger: Ledger,
) -> dict[str, Standing]:
    """Return, for each apprentice, the attempt that counts by the course's policy.

    An attempt that the policy does not count is taken only where there is no other.
    """
    of: dict[str, list[Standing]] = {}
    for attempt in standing:
        of.setdefault(attempt.apprentice, []).append(attempt)
    chosen = {}
    for name, attempts in of.items():
        able = [attempt for attempt in attempts if attempt.counts] or attempts
        if len(able) == 1:
            (chosen[name],) = able
        elif policy.counts == "last":
            chosen[name] = max(able, key=lambda attempt: attempt.attempt)
        else:
            chosen[name] = max(able, key=lambda a: (_share(a, judged.get((name, a.attempt), {}), ledger), a.attempt))
    return chosen


def _share(attempt: Standing, judged: Mapping[str, Judged], ledger: Ledger) -> float:
    if not attempt.out_of:
        return 0.0
    points = total(ledger.read([attempt.number])[attempt.number], judged) if judged else attempt.points
    return round(points / attempt.out_of, 9)


def total(entry: Entry, judged: Mapping[str, Judged]) -> float:
    """Return the points of an entry, with those in their place that people have given."""
    return sum(judged[row.item].points if row.item in judged else row.points for row in entry.marks)


def _standing(entry: Entry) -> Standing:
    return Standing(
        entry.number,
        entry.apprentice,
        entry.attempt,
        entry.form,
        entry.journal,
        entry.arrived,
        entry.points,
        entry.out_of,
        entry.outcome,
        entry.notes_hash,
        bool(entry.detail.get("counts", True)),
    )
