"""Whose dates count: when a module opens for somebody, until when it is due, and whether it is theirs at all.

1. The cohort's date goes before that of the module.
2. Whoever joined after a due date has none for that module.
3. Extra time moves the due date later by its percentage of the time between opening and due; where nothing says when
   the module opens, by its percentage of the module's working time. Both are rounded up to the full minute.

nbgrader knows one due date for each module, and for each person by how much theirs differs, which it calls an
extension; :func:`extension` is that difference, so that nbgrader and trainkit take the same date.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING

from trainkit_grading.errors import CourseError

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.roster import Apprentice
    from trainkit_grading.course.settings import Cohort, CourseModule


# nbgrader has no word for "not due" beside a due date of the others: a century later comes to the same.
NEVER = timedelta(days=36_525)


@dataclass(frozen=True, slots=True)
class Dates:
    """From when a module is given out to somebody, and until when they hand it in; None where nothing is said."""

    opens: datetime | None = None
    due: datetime | None = None

    def open(self, now: datetime) -> bool:
        """Tell whether it may be given out by now."""
        return self.opens is None or now >= self.opens

    def late(self, moment: datetime) -> bool:
        """Tell whether something that arrives at this moment is late."""
        return self.due is not None and moment > self.due


def _cohort(course: Course, person: Apprentice) -> Cohort | None:
    return next((cohort for cohort in course.cohorts if cohort.name == person.cohort), None)


def named(course: Course, name: str) -> Cohort:
    """Return the cohort of this name.

    Raises
    ------
    CourseError
        If the course does not have it.
    """
    for cohort in course.cohorts:
        if cohort.name == name:
            return cohort
    known = ", ".join(cohort.name for cohort in course.cohorts)
    raise CourseError(
        name,
        rule=f"The cohorts of this course are {known}." if known else "This course has no cohorts.",
        remedy="Name one of these, or add [[cohorts]] to course.toml.",
    )


def takes(course: Course, entry: CourseModule, person: Apprentice) -> bool:
    """Tell whether a module is among those that somebody takes; whoever is in no cohort takes all."""
    cohort = _cohort(course, person)
    return cohort is None or cohort.takes(entry.name)


def dates(course: Course, entry: CourseModule, person: Apprentice) -> Dates:
    """Return the dates of a module for one person.

    Raises
    ------
    ModuleError
        If extra time hangs on the module's working time and its blueprint cannot be used.
    """
    cohort = _cohort(course, person)
    opens = cohort.opens.get(entry.name, entry.opens) if cohort is not None else entry.opens
    due = cohort.due.get(entry.name, entry.due) if cohort is not None else entry.due
    if due is None or (person.joined is not None and person.joined > due.date()):
        return Dates(opens)
    if person.extra_percent:
        span = due - opens if opens is not None else timedelta(minutes=course.workbook(entry).blueprint.minutes)
        due += timedelta(minutes=math.ceil(span.total_seconds() / 60 * person.extra_percent / 100))
    return Dates(opens, due)


def common_due(course: Course, entry: CourseModule) -> datetime | None:
    """Return the one due date that nbgrader keeps of a module: its own, else the latest of any cohort."""
    return entry.due or max(
        (cohort.due[entry.name] for cohort in course.cohorts if entry.name in cohort.due), default=None
    )


def expected(course: Course, entry: CourseModule, person: Apprentice, now: datetime) -> bool:
    """Tell whether something is to be handed in by somebody: they take the module, it is open, and they are here."""
    there = takes(course, entry, person) and not person.gone(now.date())
    return there and dates(course, entry, person).open(now)


def last_due(course: Course, entry: CourseModule) -> datetime | None:
    """Return until when the module is due for whoever has longest; None where it is due for nobody.

    Raises
    ------
    CourseError
        If the roster cannot be read.
    """
    met = course.roster_file.stat() if course.roster_file.exists() else None
    return _last_due(course, entry, (met.st_mtime_ns, met.st_size) if met is not None else ())


@lru_cache(maxsize=32)
def _last_due(course: Course, entry: CourseModule, state: tuple[int, ...]) -> datetime | None:  # noqa: ARG001 - the roster's
    own = [dates(course, entry, person).due for person in course.roster() if takes(course, entry, person)]
    return max((due for due in (common_due(course, entry), *own) if due is not None), default=None)


def extension(course: Course, entry: CourseModule, person: Apprentice, kept: datetime | None) -> timedelta | None:
    """Return by how much somebody's due date differs from the one that nbgrader keeps; None where it does not.

    ``kept`` is that date, UTC without a zone, as the gradebook has it; without one nothing can differ from it.
    """
    due = dates(course, entry, person).due
    if kept is None or due == common_due(course, entry):
        return None
    return NEVER if due is None else due.astimezone(UTC).replace(tzinfo=None) - kept


def when(moment: datetime) -> str:
    """Return a moment for people, in its own zone.

    Examples
    --------
    >>> when(datetime(2027, 4, 1, 16, tzinfo=UTC))
    '2027-04-01 16:00 UTC'
    """
    zone = moment.tzname()
    return f"{moment:%Y-%m-%d %H:%M}{f' {zone}' if zone else ''}"
