"""One exercise for each control: what to do with it by mouse, finger and keyboard. None asks for knowledge."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.items import template
from trainkit.items.item import (
    ActionsItem,
    Card,
    ChoiceItem,
    GridItem,
    InsertItem,
    Item,
    NumberItem,
    Option,
    OrderItem,
    PointItem,
    Scale,
    SetItem,
    SeveralItem,
    TextItem,
)
from trainkit.items.responses import (
    ActionsResponse,
    ChoiceResponse,
    GridResponse,
    InsertResponse,
    NumberResponse,
    OrderResponse,
    PointResponse,
    Response,
    SetResponse,
    SeveralResponse,
    TextResponse,
)
from trainkit.lockpin import Action
from trainkit.quantities import THIN
from trainkit.widgets.reading import understood

if TYPE_CHECKING:
    from trainkit.packs import Pack

__all__ = ["Exercise", "exercise"]

_BENCH = "lock-pin/pin-the-engine"
_PRESSES = 2  # of the button that the bench's exercise names


@dataclass(frozen=True, slots=True)
class Exercise:
    """What is tried out with one control.

    Parameters
    ----------
    title : str
        What the control does, in words.
    item : Item
        What is shown.
    mouse, finger, keys : str
        How it is done by each of them.
    done : callable
        Tells whether a response does what the item says.
    """

    title: str
    item: Item
    mouse: str
    finger: str
    keys: str
    done: Callable[[Response], bool]


def exercise(kind: str, pack: Pack) -> Exercise:
    """Return the exercise for the control of a kind of question.

    Parameters
    ----------
    kind : str
        The kind, one of :data:`trainkit.widgets.state.KINDS`.
    pack : Pack
        The engine that stands at the bench; no other control needs one.

    Examples
    --------
    >>> from trainkit import packs
    >>> found = exercise("set", packs.load("dunlin"))
    >>> found.item.prompt
    'Set the hand to 3:00.'
    >>> found.done(SetResponse(value=3.0)), found.done(SetResponse(value=9.0))
    (True, False)
    """
    return _bench(pack) if kind == "actions" else _EXERCISES[kind]


def _number(response: Response) -> bool:
    if not isinstance(response, NumberResponse) or not isinstance(_TWELVE.item, NumberItem):
        return False
    return understood(_TWELVE.item, response.text, response.unit).words == f"12.5{THIN}N·m"


_TWELVE = Exercise(
    "a number with its unit",
    NumberItem(prompt="Type 12,5 and choose N·m.", units=("N·m", "lbf·ft"), to_nearest="as you would write it by hand"),
    mouse="Click the box and type. Click the unit.",
    finger="Tap the box and type. Tap the unit.",
    keys="Type in the box. Tab goes to the units, the space bar and the arrows choose. Enter tries it.",
    done=_number,
)

_EXERCISES: dict[str, Exercise] = {
    "number": _TWELVE,
    "choice": Exercise(
        "one out of several",
        ChoiceItem(
            prompt="Choose “The middle one”.",
            options=(
                Option(id="a", text="The upper one"),
                Option(id="b", text="The middle one"),
                Option(id="c", text="The lower one"),
            ),
        ),
        mouse="Click anywhere in its row.",
        finger="Tap anywhere in its row.",
        keys="Tab goes to the rows. The space bar and the arrows choose. Enter tries it.",
        done=lambda given: given == ChoiceResponse(option="b"),
    ),
    "several": Exercise(
        "several at once",
        SeveralItem(
            prompt="Take the upper and the lower one. Leave the middle one out.",
            options=(
                Option(id="a", text="The upper one"),
                Option(id="b", text="The middle one"),
                Option(id="c", text="The lower one"),
            ),
        ),
        mouse="Click a row to take it. Click again to leave it out.",
        finger="Tap a row to take it. Tap again to leave it out.",
        keys="Tab goes from row to row. The space bar takes one, or leaves it out. Enter tries it.",
        done=lambda given: isinstance(given, SeveralResponse) and set(given.options) == {"a", "c"},
    ),
    "order": Exercise(
        "cards in order",
        OrderItem(
            prompt="Put these in order: first, second, third.",
            cards=(Card(id="c", text="Third"), Card(id="a", text="First"), Card(id="b", text="Second")),
        ),
        mouse="Drag a card, or press ▲ and ▼ beside it.",
        finger="Drag a card by its dots. Or tap it, then tap the place it goes to.",
        keys="Tab goes to the cards. The space bar lifts one, the arrows move it, the space bar puts it down.",
        done=lambda given: given == OrderResponse(cards=("a", "b", "c")),
    ),
    "insert": Exercise(
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
    "grid": Exercise(
        "a choice in every row",
        GridItem(
            prompt="Choose “left” in row 1 and “right” in row 2.",
            rows=(Option(id="1", text="Row 1"), Option(id="2", text="Row 2")),
            columns=(Option(id="l", text="left"), Option(id="r", text="right")),
        ),
        mouse="Click the place in each row.",
        finger="Tap the place in each row.",
        keys="Tab goes from row to row. The space bar and the arrows choose in a row. Enter tries it.",
        done=lambda given: given == GridResponse(rows={"1": "l", "2": "r"}),
    ),
    "point": Exercise(
        "a place on a picture",
        PointItem(
            prompt="Point to number 3 on the picture.",
            figure={
                "draw": "bolts",
                "noun": "bolt",
                "bolts": [
                    {"id": str(number), "x": x, "y": y}
                    for number, (x, y) in enumerate(((0, 60), (60, 0), (0, -60), (-60, 0)), start=1)
                ],
            },
            targets=tuple(Option(id=str(number), text=f"Number {number}") for number in range(1, 5)),
        ),
        mouse="Click the place itself, or its row in the list.",
        finger="Tap the place itself, or its row in the list.",
        keys="Tab goes to the list. The space bar and the arrows choose. Enter tries it.",
        done=lambda given: given == PointResponse(target="3"),
    ),
    "set": Exercise(
        "a hand to be set",
        SetItem(prompt="Set the hand to 3:00.", scale=Scale(low=0.0, high=12.0, step=0.25, unit="o'clock", round=True)),
        mouse="Click on the face, or drag the hand. − and + move it one step.",
        finger="Tap on the face, or drag the hand. − and + move it one step.",
        keys="Tab goes to the face. The arrows move one step, Page Up one hour. Enter tries it.",
        done=lambda given: given == SetResponse(value=3.0),
    ),
    "text": Exercise(
        "words of your own",
        TextItem(prompt="Write a few words, any you like.", limit=120),
        mouse="Click the box and write.",
        finger="Tap the box and write.",
        keys="Tab goes to the box. Tab again leaves it, as Enter begins a new line there.",
        done=lambda given: isinstance(given, TextResponse),
    ),
}


def _bench(pack: Pack) -> Exercise:
    # Any start will do: the bar is on, and nothing that two small moves can do ends the play.
    drawn, _ = template.find(_BENCH).draw(random.Random(_BENCH), pack)  # noqa: S311 - guards no secret
    if not isinstance(drawn, ActionsItem):
        raise TypeError(f"{_BENCH} draws a bench")
    name = next(action.text for action in drawn.actions if action.id == Action.ON)
    stop = f"Press “{name}” two times. Then press “Stop here”."
    return Exercise(
        "the bench",
        drawn.model_copy(update={"prompt": f"{stop} The line in bold says what eye and hand get.", "given": ()}),
        mouse="Click a button.",
        finger="Tap a button.",
        keys="Press the key that stands on a button. Tab goes to “Stop here”, Enter presses it.",
        done=lambda given: (
            isinstance(given, ActionsResponse) and given.gave_up and given.actions.count(Action.ON) >= _PRESSES
        ),
    )
