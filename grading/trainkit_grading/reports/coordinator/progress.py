"""How cohorts get on: what part of their modules was handed in and passed, week after week since they began."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainkit_grading.results.results import Result


_MOST = 60  # weeks; a line with more points than that says no more


@dataclass(frozen=True, slots=True)
class CohortWeek:
    """Where a cohort was at the end of a week.

    Parameters
    ----------
    cohort : str
        Its name; empty for those in none.
    week : int
        1 for the week that begins with its first hand-in.
    people : int
        How many are in it.
    passed : float
        Passed modules as a part of all that its people are to take, 0 to 1. A result counts from when its
        answers arrived, which is when the work was done, not when it was marked.
    """

    cohort: str
    week: int
    people: int
    passed: float


def weeks(rows: Iterable[Result], modules: int) -> tuple[CohortWeek, ...]:
    """Return where each cohort was at the end of each week.

    Parameters
    ----------
    rows : iterable of Result
        Results of everybody and every module.
    modules : int
        How many modules there are.

    Examples
    --------
    >>> from trainkit_grading.results.results import Result
    >>> rows = [
    ...     Result(name, name, "m", "handed in", "F", 9, 10, "passed", arrived=datetime(2027, 3, day), cohort="n")
    ...     for name, day in (("a", 1), ("b", 9))
    ... ]
    >>> [(each.week, each.passed) for each in weeks(rows, 1)]
    [(1, 0.5), (2, 1.0)]
    """
    people: dict[str, set[str]] = {}
    asked: dict[str, int] = {}
    arrived: dict[str, list[tuple[datetime, bool]]] = {}
    for row in rows:
        people.setdefault(row.cohort, set()).add(row.apprentice)
        asked[row.cohort] = asked.get(row.cohort, 0) + (row.expected or row.state != "missing")
        if row.arrived is not None:
            arrived.setdefault(row.cohort, []).append((row.arrived, row.verdict == "passed"))
    found: list[CohortWeek] = []
    for cohort, times in arrived.items():
        begin = min(when for when, _ in times)
        by_week: dict[int, int] = {}
        for when, passed in times:
            week = (when - begin).days // 7 + 1
            by_week[week] = by_week.get(week, 0) + passed
        total = 0
        for week in range(1, min(max(by_week), _MOST) + 1):
            total += by_week.get(week, 0)
            found.append(CohortWeek(cohort, week, len(people[cohort]), total / max(asked[cohort], 1)))
    return tuple(found) if modules else ()
