"""nbgrader's configuration of a course: a few lines in the course folder, the rest here."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trainkit_grading.course import Course

__all__ = ["config_text", "configure"]


def config_text(course: Course) -> str:
    """Return the ``nbgrader_config.py`` of a course; it holds no path, so the folder can be moved."""
    return f"""\
# How nbgrader works in the course {course.name}. Settings of your own may stand below the call.
from trainkit_grading.bridge.config import configure

c = get_config()  # noqa: F821 - nbgrader provides it
configure(c, __file__)
"""


def configure(config: Any, file: str) -> None:
    """Set what nbgrader needs to know of the course in whose folder ``file`` lies."""
    from trainkit_grading.course import Course

    course = Course.load(Path(file).absolute().parent)
    config.CourseDirectory.course_id = course.name
    config.CourseDirectory.root = str(course.folder)
    if course.exchange_root is not None:
        config.Exchange.root = str(course.exchange_root)
