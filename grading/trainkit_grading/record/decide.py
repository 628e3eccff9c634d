"""What is to be written: a pure function of what stands in ledger and gradebook, and of what was scored or given.

Nothing is read here and nothing written; both is done by :mod:`trainkit_grading.record.write`. The ledger is the
truth and the gradebook follows from it: of several attempts at a module it shows the one that counts, with the points
that people have given for exactly these answers.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from trainkit.sentences import counted
from trainkit_grading.errors import LedgerError
from trainkit_grading.ledger.book import PointsByHand
from trainkit_grading.ledger.closing import Closing
from trainkit_grading.ledger.entries import Note, digest, printable
from trainkit_grading.ledger.kinds import Change, Changed, Flagged, Marked, Voided
from trainkit_grading.nbgrader_bridge.gradebook_writer import Projected
from trainkit_grading.record.holding import hold
from trainkit_grading.record.marked_submission import BY_PERSON
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from trainkit_grading.course.settings import Attempts
    from trainkit_grading.ledger.book import Standing
    from trainkit_grading.ledger.entries import Entry, MarkRow
    from trainkit_grading.ledger.extending import Extension
    from trainkit_grading.ledger.flags import Flag
    from trainkit_grading.ledger.kinds import Moved
    from trainkit_grading.record.manual_points import ManualPoints


_FOUND = "Found in the gradebook."
_DECIDE = "It waits until you decide: trainkit-course ledger --open"


@dataclass(frozen=True, slots=True)
class Due:
    """By how much somebody's due date differs from the module's.

    Parameters
    ----------
    there : timedelta or None
        As the gradebook has it.
    last : Extension
        As it was recorded last.
    dates : timedelta or None
        By the dates of the course.
    known : bool
        Whether they are on the roster, so that the dates of the course say anything.
    """

    there: timedelta | None
    last: Extension
    dates: timedelta | None
    known: bool


@dataclass(frozen=True, slots=True)
class Stands:
    """What stands of some apprentices in one module.

    Parameters
    ----------
    module : str
        The module.
    policy : Attempts
        Which attempts count.
    standing : mapping
        The newest marks of each attempt, by apprentice and attempt.
    entries : mapping of int to Marked
        The same with all their items, and those that the gradebook shows, by number.
    shown : mapping of str to int
        The number of the entry that the gradebook shows.
    judged : mapping
        Points that people have given as the ledger has them, by apprentice and attempt, then by item.
    by_hand : mapping
        Points that people have given as the gradebook has them, by apprentice and item.
    due : mapping of str to Due
        By how much due dates differ from the module's.
    moved : tuple of Moved
        What is new in the roster.
    told : tuple of Finding
        The same in words.
    closings : mapping
        Since when attempts are closed, by apprentice and attempt.
    held : mapping
        Journals of which a person decides or has decided, and whether they count: by apprentice, attempt and digest.
    continued : collection
        Attempts whose later journal, among what was scored, begins with all lines of the one whose marks stand.
    """

    module: str
    policy: Attempts
    standing: Mapping[tuple[str, int], Standing]
    entries: Mapping[int, Marked]
    shown: Mapping[str, int]
    judged: Mapping[tuple[str, int], Mapping[str, PointsByHand]]
    by_hand: Mapping[str, Mapping[str, float]]
    due: Mapping[str, Due]
    moved: tuple[Moved, ...] = ()
    told: tuple[Finding, ...] = ()
    closings: Mapping[tuple[str, int], Closing] = field(default_factory=dict)
    held: Mapping[tuple[str, int, str], bool] = field(default_factory=dict)
    continued: Collection[tuple[str, int]] = ()


@dataclass(frozen=True, slots=True)
class ToWrite:
    """What is to be written.

    Parameters
    ----------
    entries : tuple of Entry
        Into the ledger, in this order.
    counted : mapping of str to Marked
        The marks that count of each apprentice: out of the ledger, or out of ``entries``.
    submissions : tuple of Projected
        Into the gradebook.
    extensions : mapping of str to timedelta or None
        By how much due dates differ from now on, where that is new.
    findings : tuple of Finding
        What is to be told.
    """

    entries: tuple[Entry, ...] = ()
    counted: Mapping[str, Marked] = field(default_factory=dict)
    submissions: tuple[Projected, ...] = ()
    extensions: Mapping[str, timedelta | None] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()


def marks(stands: Stands, scored: Iterable[Marked], why: str = "") -> ToWrite:
    """Return what is to be written of attempts that were scored; what stands in the ledger is not written again.

    Parameters
    ----------
    stands : Stands
        What stands of these people.
    scored : iterable of Marked
        Their attempts.
    why : str, optional
        Why marks may change though the answers have not; without it such marks are left as they were.
    """
    work = _Work(stands)
    names = []
    for entry in scored:
        names.append(entry.apprentice)
        made = _news(entry, stands.standing.get((entry.apprentice, entry.attempt)), why)
        if isinstance(made, Finding):
            work.findings.append(made)
        elif made is not None and not work.holds(made):
            work.mark(made)
    chosen = work.counting()
    counted = {name: chosen[name] for name in names}
    for name, entry in counted.items():
        work.adopt(name, entry)
    return work.done(counted)


def given(stands: Stands, points: Sequence[ManualPoints]) -> ToWrite:
    """Return what is to be written of points that people give.

    Raises
    ------
    LedgerError
        If there are no marks of that attempt or item.
    """
    work = _Work(stands)
    names = sorted({each.apprentice for each in points})
    # What was changed where nobody listened is recorded before anything is put in its place.
    for name in names:
        if name in stands.shown:
            work.adopt(name, stands.entries[stands.shown[name]])
    for each in points:
        marked = work.marked.get((each.apprentice, each.attempt))
        row = next((row for row in marked.marks if row.item == each.item), None) if marked is not None else None
        if marked is None or row is None:
            raise LedgerError(
                f"{each.apprentice}, {stands.module} {each.item}",
                rule="Points are given for an item that was marked.",
                remedy=f"Mark it first: trainkit-course mark {stands.module}",
            )
        work.judge(Changed, marked, row, each.points, why=each.why, entry=each.entry, critical=each.critical)
    chosen = work.counting()
    return work.done({name: chosen[name] for name in names})


def flags(
    shared: Mapping[str, Sequence[Flag]], shown: Mapping[str, Marked], told: Iterable[Flagged]
) -> tuple[Flagged, ...]:
    """Return the entries about answers that share their history; what has been told is not told again.

    Parameters
    ----------
    shared : mapping of str to sequence of Flag
        What is to be looked at, by apprentice.
    shown : mapping of str to Marked
        What the gradebook shows of them.
    told : iterable of Flagged
        What the ledger says already.
    """
    known = {(entry.apprentice, entry.journal, note.text_hash) for entry in told for note in entry.notes}
    news = []
    for name, found in shared.items():
        of = shown[name]
        fresh = [flag for flag in found if (name, of.journal, digest(printable(flag.text))) not in known]
        if fresh:
            notes = tuple(Note(flag.kind, flag.text) for flag in fresh)
            news.append(Flagged(name, of.module, of.attempt, of.form, of.journal, notes=notes))
    return tuple(news)


def _news(entry: Marked, known: Standing | None, why: str) -> Marked | Finding | None:
    """Return the entry where the ledger does not say it yet, or why it is left out."""
    place = f"{entry.module} {entry.apprentice}"
    if known is None:
        return entry
    if known.journal != entry.journal:
        # Another instructor's folder may hold what was handed in later; whoever marks last must not undo it.
        if not entry.arrived or entry.arrived >= known.arrived:
            return entry
        return Finding(
            "warning",
            place,
            f"What lies here of attempt {entry.attempt} arrived {entry.arrived} UTC, and marks stand for what arrived "
            f"{known.arrived} UTC. Those were left as they are.",
        )
    if known.outcome != entry.outcome:
        if why:
            return replace(entry, why=why)
        return Finding(
            "refused",
            place,
            f"Attempt {entry.attempt} would now earn {entry.points:g} of {counted(entry.out_of, 'point')} for the same "
            f"answers, and {known.points:g} stand: key, pack or software changed. The marks were left as they are. "
            f'If the new ones are right, say so: trainkit-course mark {entry.module} --why "what was wrong"',
        )
    return entry if known.notes_hash != entry.notes_hash or known.counts != entry.counts else None


class _Work:
    """What becomes of what stands while it is decided; it ends with the function that made it."""

    def __init__(self, stands: Stands) -> None:
        self.stands = stands
        self.marked = {place: stands.entries[of.number] for place, of in stands.standing.items()}
        self.judged = {place: dict(of) for place, of in stands.judged.items()}
        self.entries: list[Entry] = []
        self.findings: list[Finding] = []

    def mark(self, entry: Marked) -> None:
        """Let an entry stand for its attempt."""
        self.entries.append(entry)
        self.marked[entry.apprentice, entry.attempt] = entry

    def holds(self, entry: Marked) -> bool:
        """Tell whether a hand-in is kept beside the marks that stand; that is recorded once."""
        place = entry.apprentice, entry.attempt
        known = self.stands.standing.get(place)
        if known is None or known.journal == entry.journal:
            return False
        counts = self.stands.held.get((*place, entry.journal))
        if counts is not None:
            return not counts
        on_paper = entry.paper is not None and self.stands.entries[known.number].paper is not None
        closing = self.stands.closings.get(place, Closing())
        held = hold(entry, known, closing, continues=place in self.stands.continued, retyped=on_paper)
        if held is not None:
            self.entries.append(held)
            text = " ".join(note.text or "" for note in held.notes)
            self.findings.append(Finding("warning", f"{held.module} {held.apprentice}", f"{text} {_DECIDE}"))
        return held is not None

    def counting(self) -> dict[str, Marked]:
        """Return the marks that count of each apprentice."""
        return counting(self.stands.policy, self.marked.values(), lambda of: total(of, self._judged(of)))

    def adopt(self, name: str, counted: Marked) -> None:
        """Record points that people have given where nobody listened, as the gradebook has them."""
        before = self.stands.entries.get(self.stands.shown.get(name, 0))
        entry = before or counted
        there = self.stands.by_hand.get(name, {})
        for row in entry.marks:
            known = self._judged(entry).get(row.item)
            points = known.points if known is not None else None
            if there.get(row.item) == points or (before is None and row.item not in there):
                continue
            self.judge(Changed, entry, row, there.get(row.item), why=_FOUND, by="unknown")
            text = f"{row.item} has other points in the gradebook than were recorded; they were taken over."
            self.findings.append(Finding("warning", f"{self.stands.module} {name}", text))

    def judge(self, kind: type[Change], marked: Marked, row: MarkRow, points: float | None, **said: Any) -> None:
        """Record points that a person gives for an item, or that they are taken back."""
        of = self.judged.setdefault((marked.apprentice, marked.attempt), {})
        before = of[row.item].points if row.item in of else None
        self.entries.append(kind.of(marked, row.item, "points", before, points, **said))
        if points is None:
            of.pop(row.item, None)
        else:
            of[row.item] = PointsByHand(points, row.answer, 0)

    def done(self, counted: Mapping[str, Marked]) -> ToWrite:
        """Return what is to be written where these marks count."""
        submissions = tuple(self._projected(entry) for entry in counted.values())
        self.entries += self.stands.moved
        extensions = dict(self._extensions(counted))
        findings = (*self.findings, *self.stands.told)
        return ToWrite(tuple(self.entries), counted, submissions, extensions, findings)

    def _judged(self, entry: Marked) -> Mapping[str, PointsByHand]:
        return self.judged.get((entry.apprentice, entry.attempt), {})

    def _projected(self, entry: Marked) -> Projected:
        queued, silent, points = set(), set(), {}
        for row in entry.marks:
            points[row.item] = None if row.verdict == "waiting" else row.points
            if row.kind in BY_PERSON and row.verdict == "no answer":
                silent.add(row.item)
            of = self._judged(entry).get(row.item)
            if of is not None and of.answer != row.answer:
                if row.kind == "text":
                    self.judge(Voided, entry, row, None, why="The answer is another one now.")
                    of = None
                else:
                    queued.add(row.item)
            if of is None and row.verdict == "waiting":
                queued.add(row.item)
        return Projected(
            entry.apprentice,
            points,
            datetime.fromisoformat(entry.arrived) if entry.arrived else None,
            {item: of.points for item, of in self._judged(entry).items()},
            frozenset(queued),
            frozenset(silent),
        )

    def _extensions(self, counted: Mapping[str, Marked]) -> Iterable[tuple[str, timedelta | None]]:
        """Yield whose due date is to differ from the module's in another way than the gradebook has it.

        What a person has set there goes before the dates of the course, until a person takes it out.
        """
        for name, entry in counted.items():
            due = self.stands.due[name]
            there, dates = _seconds(due.there), _seconds(due.dates)
            if there != due.last.seconds:
                said = due.last.seconds, there
                self.entries.append(Changed.of(entry, "", "extension", *said, why=_FOUND, by="unknown"))
            elif due.known and (due.last.by_dates or there is None) and dates != there:
                why = "So say the dates of the course."
                self.entries.append(Changed.of(entry, "", "extension", there, dates, why=why, by_dates=True))
                yield name, due.dates


def _seconds(span: timedelta | None) -> float | None:
    return span.total_seconds() if span is not None else None


class _Attempt(Protocol):
    """What decides which attempt counts."""

    @property
    def apprentice(self) -> str: ...
    @property
    def attempt(self) -> int: ...
    @property
    def counts(self) -> bool: ...
    @property
    def out_of(self) -> float: ...


A = TypeVar("A", bound=_Attempt)


def counting(policy: Attempts, attempts: Iterable[A], points: Callable[[A], float]) -> dict[str, A]:
    """Return, for each apprentice, the attempt that counts by the course's policy.

    An attempt that the policy does not count is taken only where there is no other. ``points`` returns what an
    attempt has earned; it is asked only where that decides.
    """
    of: dict[str, list[A]] = {}
    for attempt in attempts:
        of.setdefault(attempt.apprentice, []).append(attempt)
    chosen = {}
    for name, tried in of.items():
        able = [attempt for attempt in tried if attempt.counts] or tried
        if len(able) == 1:
            (chosen[name],) = able
        elif policy.counts == "last":
            chosen[name] = max(able, key=lambda attempt: attempt.attempt)
        else:
            chosen[name] = max(able, key=lambda a: (round(points(a) / a.out_of, 9) if a.out_of else 0.0, a.attempt))
    return chosen


def total(entry: Marked, judged: Mapping[str, PointsByHand]) -> float:
    """Return the points of an entry, with those in their place that people have given."""
    if not judged:
        return entry.points
    return sum(judged[row.item].points if row.item in judged else row.points for row in entry.marks)
