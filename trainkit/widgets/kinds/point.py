"""A place on a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.items.kinds.point import PointItem, PointKey, PointResponse
from trainkit.items.kinds.values import Option
from trainkit.widgets.kinds.look import Exercise, Look, as_data, chosen, drawn, offered, text_of, texts

if TYPE_CHECKING:
    from trainkit.packs import Pack


def _exercise(_: Pack) -> Exercise:
    corners = enumerate(((0, 60), (60, 0), (0, -60), (-60, 0)), start=1)
    bolts = [{"id": str(number), "x": x, "y": y} for number, (x, y) in corners]
    return Exercise(
        "a place on a picture",
        PointItem(
            prompt="Point to number 3 on the picture.",
            figure={"draw": "bolts", "noun": "bolt", "bolts": bolts},
            targets=tuple(Option(id=str(number), text=f"Number {number}") for number in range(1, 5)),
        ),
        mouse="Click the place itself, or its row in the list.",
        finger="Tap the place itself, or its row in the list.",
        keys="Tab goes to the list. The space bar and the arrows choose. Enter tries it.",
        done=lambda given: given == PointResponse(target="3"),
    )


LOOK: Look[PointItem, PointKey, PointResponse] = Look(
    "point",
    task=lambda item: ("Point to one of these on the picture.", texts(item.targets)),
    words=lambda item, response: text_of(item.targets, response.target),
    said=lambda _, response, named: (named(response.target),),
    right=lambda item, key: (" or ".join(chosen(item.targets, key.right)),),
    control=lambda item: {"targets": as_data(item.targets), "figure": drawn(item)},
    fit=lambda item, response: offered(response, [response.target], item.targets),
    exercise=_exercise,
    draws=True,
)
