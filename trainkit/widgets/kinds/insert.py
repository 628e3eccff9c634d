"""The missing card of a written order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.errors import ResponseError
from trainkit.items.kinds.insert import InsertItem, InsertKey, InsertResponse
from trainkit.items.kinds.values import Card
from trainkit.widgets.kinds.look import Exercise, Look, as_data, texts

if TYPE_CHECKING:
    from trainkit.items.kinds import Item


def _fit(item: InsertItem, response: InsertResponse) -> InsertResponse:
    if response.place > len(item.written):
        raise ResponseError(
            response.place, rule="The step goes between those shown.", remedy="Choose one of the places."
        )
    return response


def _words(item: InsertItem, response: InsertResponse) -> str:
    if response.place >= len(item.written):
        return f"after “{item.written[-1].text}”"
    return f"before “{item.written[response.place].text}”"


def _place(item: Item, place: int) -> str:
    if not isinstance(item, InsertItem):
        return f"place {place}"
    if place == 0:
        return f"before “{item.written[0].text}”"
    return f"after “{item.written[min(place, len(item.written)) - 1].text}”"


LOOK: Look[InsertItem, InsertKey, InsertResponse] = Look(
    "insert",
    task=lambda item: (f"Where does this step go: {item.missing.text}", texts(item.written)),
    words=_words,
    said=lambda item, response, _: (_place(item, response.place),),
    right=lambda item, key: (" or ".join(_place(item, place) for place in key.right),),
    control=lambda item: {"written": as_data(item.written), "missing": as_data([item.missing])[0]},
    fit=_fit,
    exercise=lambda _: Exercise(
        "a card put in its place",
        InsertItem(
            prompt="Put “Second” between “First” and “Third”.",
            written=(Card(id="a", text="First"), Card(id="c", text="Third")),
            missing=Card(id="b", text="Second"),
        ),
        mouse="Click the gap where it goes.",
        finger="Tap the gap where it goes.",
        keys="Tab goes to the gaps. The space bar and the arrows choose one. Enter tries it.",
        done=lambda given: given == InsertResponse(place=1),
    ),
)
