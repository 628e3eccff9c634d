"""The course side of trainkit: forms and keys, collecting, marking, reports.

What a program needs to run a course stands here; each name loads when it is first used.

Examples
--------
>>> import trainkit_grading
>>> trainkit_grading.Course.__name__, trainkit_grading.mark.__module__
('Course', 'trainkit_grading.marking.mark')
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.doors import lazily

__version__ = "0.1.0"

__all__ = [
    "Apprentice",
    "Cohort",
    "Course",
    "CourseModule",
    "Finding",
    "Outcome",
    "Result",
    "Results",
    "assign",
    "build",
    "check",
    "collect",
    "create",
    "enrol",
    "export",
    "feedback",
    "gather",
    "mark",
    "report",
    "statistics",
    "write_coordinator_report",
    "write_instructor_report",
]

if TYPE_CHECKING:
    from trainkit_grading import statistics
    from trainkit_grading.course.enrolment import enrol
    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.roster import Apprentice
    from trainkit_grading.course.settings import Cohort, CourseModule
    from trainkit_grading.intake.collect import collect
    from trainkit_grading.marking.mark import mark
    from trainkit_grading.release.assign import assign
    from trainkit_grading.release.build import build
    from trainkit_grading.release.check import check
    from trainkit_grading.release.init import create
    from trainkit_grading.reports.coordinator.report import write_coordinator_report
    from trainkit_grading.reports.exports.export import export
    from trainkit_grading.reports.feedback.delivery import feedback
    from trainkit_grading.reports.instructor.report import write_instructor_report
    from trainkit_grading.reports.score_sheet import report
    from trainkit_grading.results.results import Result, Results, gather
    from trainkit_grading.support.outcome import Finding, Outcome
else:
    _HOMES = {
        "course.enrolment": ("enrol",),
        "course.folder": ("Course",),
        "course.roster": ("Apprentice",),
        "course.settings": ("Cohort", "CourseModule"),
        "intake.collect": ("collect",),
        "marking.mark": ("mark",),
        "release.assign": ("assign",),
        "release.build": ("build",),
        "release.check": ("check",),
        "release.init": ("create",),
        "reports.coordinator.report": ("write_coordinator_report",),
        "reports.exports.export": ("export",),
        "reports.feedback.delivery": ("feedback",),
        "reports.instructor.report": ("write_instructor_report",),
        "reports.score_sheet": ("report",),
        "results.results": ("Result", "Results", "gather"),
        "support.outcome": ("Finding", "Outcome"),
    }
    __getattr__, __dir__ = lazily(__name__, "statistics", **_HOMES)
