"""What the course says of a module whose marks are recorded, gathered once so that nothing goes back to the course."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from typing import TYPE_CHECKING

from trainkit_grading.course import cohorts
from trainkit_grading.forms.store import open_forms
from trainkit_grading.nbgrader_bridge import steps

if TYPE_CHECKING:
    from datetime import datetime, timedelta

    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.roster import Apprentice, Roster
    from trainkit_grading.course.seeds import Seed
    from trainkit_grading.course.settings import Attempts
    from trainkit_grading.forms.store import KeptForms
    from trainkit_grading.nbgrader_bridge.steps import LateRule


@dataclass(frozen=True, slots=True)
class ModuleToMark:
    """What recording marks of a module takes from its course.

    What takes long to read is a function, called where it is needed and inside the lock of the database.

    Parameters
    ----------
    name : str
        The module.
    seed : Seed
        The course's secret.
    attempts : Attempts
        How often it can be tried, and which attempt counts.
    roster : callable
        Reads the roster, once.
    extension : callable
        From a person and the due date that nbgrader keeps to how much theirs differs.
    expected : callable
        From a person and a moment to whether they have something to hand in.
    late_rule : callable
        Reads the rule for late submissions, once.
    forms : callable
        From the number of an attempt to its forms, if there are any.
    """

    name: str
    seed: Seed
    attempts: Attempts
    roster: Callable[[], Roster]
    extension: Callable[[Apprentice, datetime | None], timedelta | None]
    expected: Callable[[Apprentice, datetime], bool]
    late_rule: Callable[[], LateRule]
    forms: Callable[[int], KeptForms | None]

    @classmethod
    def of(cls, course: Course, name: str) -> ModuleToMark:
        """Gather it from the course folder.

        Raises
        ------
        CourseError
            If the course does not run the module.
        SeedError
            If the seed is missing, damaged or open to others.
        """
        entry = course.module(name)
        return cls(
            name,
            course.seed(),
            course.attempts,
            cache(course.roster),
            partial(cohorts.extension, course, entry),
            partial(cohorts.expected, course, entry),
            cache(partial(steps.late_rule, course)),
            lambda attempt: open_forms(course.forms_file(name, attempt)),
        )
