"""A course that was renamed after forms were given out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from trainkit.errors import TrainkitError
from trainkit_grading.forms import store
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


def renamed(course: Course) -> Iterator[Finding]:
    """Tell that forms were given out under another name of the course, once for each name.

    Personal codes and forms hang on the name, so what is handed in now would be refused.
    """
    names: dict[str, str] = {}
    for record in sorted((course.folder / "forms").glob("*/attempt-*-released.json")):
        forms = record.with_name(record.name.replace("-released.json", ".jsonl"))
        try:
            kept = store.open_forms(forms)
        except TrainkitError:
            continue  # told where the forms are needed
        if kept is not None and kept.head.course != course.name:
            names.setdefault(kept.head.course, record.parent.name)
    for name, module in names.items():
        text = (
            f"The course is called {course.name!r}, and {module} was given out when it was called {name!r}. "
            f'What is handed in would be refused. Write name = "{name}" in course.toml again.'
        )
        yield Finding("refused", "course.toml name", text)
