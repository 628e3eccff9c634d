"""A place on a picture: its number to tick."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from trainkit.items.kinds import PointItem, PointResponse
from trainkit_grading.paper.kinds.blank import Blank, refused, say, ticks


def places(item: PointItem) -> dict[str, str]:
    """Return the number of each place to point at, as the picture has it, and its identifier.

    On a picture of bolts the number stands on the head; gears are numbered in their order.
    """
    figure: Mapping[str, Any] = item.figure or {}
    order = [shown.get("id") for shown in figure.get("gears", ())]
    if figure.get("draw") != "bolts" and all(target.id in order for target in item.targets):
        return {str(order.index(target.id) + 1): target.id for target in item.targets}
    if all(target.id.isdigit() for target in item.targets):
        return {target.id: target.id for target in item.targets}
    return {str(number): target.id for number, target in enumerate(item.targets, start=1)}


def _html(item: PointItem, _: str) -> str:
    texts = {target.id: target.text for target in item.targets}
    said = "The numbers are those of the picture. Tick one here; you may ring it in the picture, too."
    return say(said) + ticks(((number, texts[name]) for number, name in places(item).items()), "close")


def _read(item: PointItem, typed: str) -> PointResponse:
    known = places(item)
    if typed not in known:
        raise refused(typed, f"The places on the sheet are {', '.join(known)}.")
    return PointResponse(target=known[typed])


BLANK: Blank[PointItem, PointResponse] = Blank(
    "point",
    html=_html,
    hint=lambda item: f"the ticked number: {', '.join(places(item))}",
    read=_read,
    write=lambda item, response: next(number for number, of in places(item).items() if of == response.target),
)
