"""A course folder as a value: its settings, roster, cohorts, seed, and the engines it takes its questions from."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course

__all__ = ["Course"]


def __getattr__(name: str) -> object:
    if name == "Course":
        from trainkit_grading.course.folder import Course

        return Course
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
