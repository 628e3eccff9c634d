"""Session records: who watched an assessment, where and when, and what aids were allowed.

A record is an entry of the ledger. A result that no record stands behind says so: nobody can vouch for who answered.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from trainkit_grading.errors import CourseError
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.ledger.kinds import SessionHeld
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.support.outcome import Outcome

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


# Laptops' clocks and the invigilator's watch may differ by so much.
_CLOCK = timedelta(minutes=10)
_LONGEST = timedelta(hours=12)


@dataclass(frozen=True, slots=True)
class Session:
    """One sitting of an assessment.

    Parameters
    ----------
    module : str
        What was sat.
    invigilator, room : str
        Who watched, and where.
    begin, end : datetime
        From when to when, with their time zone.
    aids : str
        What was allowed, in words; empty for nothing.
    apprentices : tuple of str
        Who sat it; empty for everybody whose answers fall into the time.
    """

    module: str
    invigilator: str
    room: str
    begin: datetime
    end: datetime
    aids: str = ""
    apprentices: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for what, said in (("invigilator", self.invigilator), ("room", self.room)):
            if not said.strip() or not said.isprintable() or len(said) > 120:
                raise CourseError(
                    said, rule=f"The {what} is a text of 1 to 120 characters.", remedy=f"Say it with --{what}."
                )
        if self.begin.tzinfo is None or self.end.tzinfo is None or not self.begin < self.end:
            raise CourseError(
                f"{self.begin.isoformat()} to {self.end.isoformat()}",
                rule="A session begins before it ends.",
                remedy="Say --from and --to as date and time, like 2027-04-01T09:00.",
            )
        if self.end - self.begin > _LONGEST:
            raise CourseError(
                f"{self.begin.isoformat()} to {self.end.isoformat()}",
                rule="A session takes 12 hours at most.",
                remedy="Record each sitting by itself.",
            )

    def covers(self, entry: Entry) -> bool:
        """Tell whether all answers of an entry were given in this session by somebody who sat it."""
        times = [datetime.fromisoformat(row.answered) for row in entry.marks if row.answered]
        return entry.module == self.module and bool(times) and self.sat(entry.apprentice, min(times), max(times))

    def sat(self, apprentice: str, first: datetime, last: datetime) -> bool:
        """Tell whether somebody sat this session who gave their first and their last answer at these times."""
        named = not self.apprentices or apprentice in self.apprentices
        return named and self.begin - _CLOCK <= first and last <= self.end + _CLOCK

    def to_dict(self) -> dict[str, Any]:
        """Return the session as plain JSON data; people by their names in the roster."""
        return {
            "module": self.module,
            "invigilator": self.invigilator,
            "room": self.room,
            "begin": self.begin.astimezone(UTC).isoformat(),
            "end": self.end.astimezone(UTC).isoformat(),
            "aids": self.aids,
            "apprentices": list(self.apprentices),
        }

    @classmethod
    def of(cls, entry: SessionHeld, names: Mapping[str, str]) -> Session:
        """Return the session that an entry of the ledger records; ``names`` says whom its identifiers stand for."""
        return cls(
            entry.module,
            entry.invigilator,
            entry.room,
            datetime.fromisoformat(entry.begin),
            datetime.fromisoformat(entry.end),
            entry.aids,
            # An identifier that nobody stands for any more covers nobody, and does not become a session of everybody.
            tuple(names.get(person, person) for person in entry.apprentices),
        )


def watch(course: Course, session: Session) -> Outcome:
    """Record a session in the ledger; the same one said twice stands there once.

    Raises
    ------
    CourseError
        If the module is not of this course, or somebody named is not on the roster.
    """
    course.module(session.module)
    roster = course.roster()
    for name in session.apprentices:
        if name not in roster:
            raise CourseError(
                name, rule="Nobody on the roster has this identifier.", remedy="Check the name, or roster.csv."
            )
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        ledger.hold()
        known = any(said == session for said in recorded(ledger, session.module))
        if not known:
            # Who sat it is said by their random identifiers: the ledger names nobody who is assessed.
            people = ledger.people(session.apprentices)
            held = SessionHeld(
                module=session.module,
                invigilator=session.invigilator,
                room=session.room,
                begin=session.begin.astimezone(UTC).isoformat(),
                end=session.end.astimezone(UTC).isoformat(),
                aids=session.aids,
                apprentices=tuple(people[name] for name in session.apprentices),
            )
            ledger.add([held])
    said = f"{session.module}: {session.invigilator} in {session.room}, {session.begin:%Y-%m-%d %H:%M} to "
    done = f"{said}{session.end:%H:%M}, {'stands in the ledger already' if known else 'recorded'}."
    return Outcome(
        "session",
        (done,),
        next_step="Write the score sheet: trainkit-course report",
        data={"session": session.to_dict()},
    )


def recorded(ledger: Ledger, module: str) -> tuple[Session, ...]:
    """Return the sessions of a module."""
    entries = tuple(ledger.entries(SessionHeld, module=module, marks=False))
    names = ledger.names(person for entry in entries for person in entry.apprentices)
    return tuple(Session.of(entry, names) for entry in entries)


def watched(ledger: Ledger, module: str, entries: Sequence[Entry]) -> frozenset[int]:
    """Return the numbers of those entries that a session record stands behind."""
    sessions: Iterable[Session] = recorded(ledger, module)
    return frozenset(entry.number for entry in entries if any(session.covers(entry) for session in sessions))
