"""The cautions and notices that stand on every page about a course: those of its packs, each once.

Two engines can have a caution of the same title with other words. Both stand there, each with the engine it is about.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainkit.errors import TrainkitError
from trainkit.packs import USUAL_CAUTIONS
from trainkit.sentences import listed

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


def cautions_of(course: Course) -> dict[str, Any]:
    """Return the cautions and notices of the course's packs, each once, the usual ones first.

    A caution that is not the same for all engines names those that it is about.
    """
    engines: dict[str, None] = {}
    found: dict[tuple[str, str], tuple[int, dict[str, None]]] = {}
    notices: dict[str, None] = {}
    rank = {kind: place for place, kind in enumerate(USUAL_CAUTIONS)}
    for entry in course.modules:
        try:
            pack = course.pack(entry)
        except TrainkitError:
            continue  # told among the findings already
        engines[pack.engine.name] = None
        for hazard in pack.cautions:
            place = rank.get(hazard.kind, len(rank))
            found.setdefault((hazard.title.rstrip("."), hazard.text), (place, {}))[1][pack.engine.name] = None
        notices[pack.notice] = None
    hazards = [
        (title if len(about) == len(engines) else f"{title} ({listed(list(about))})", text)
        for (title, text), (_, about) in sorted(found.items(), key=lambda each: each[1][0])
    ]
    return {"hazards": hazards, "notices": list(notices)}
