"""The cautions and notices that stand on every page about a course: those of its packs, each once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainkit.errors import TrainkitError

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


def cautions_of(course: Course) -> dict[str, Any]:
    """Return the cautions and notices of the course's packs, each once, in the order of the modules."""
    hazards: dict[str, str] = {}
    notices: dict[str, None] = {}
    for entry in course.modules:
        try:
            pack = course.pack(entry)
        except TrainkitError:
            continue  # told among the findings already
        hazards |= {hazard.title: hazard.text for hazard in pack.cautions if hazard.title not in hazards}
        notices[pack.notice] = None
    return {"hazards": list(hazards.items()), "notices": list(notices)}
