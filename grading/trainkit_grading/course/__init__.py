"""A course folder as a value: its settings, roster, cohorts, seed, and the engines it takes its questions from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.doors import lazily

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
else:
    __getattr__, __dir__ = lazily(__name__, folder=("Course",))

__all__ = ["Course"]
