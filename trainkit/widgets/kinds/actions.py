"""A scenario that is played, one action at a time."""

from __future__ import annotations

import random
from itertools import count
from typing import TYPE_CHECKING

from trainkit.items import template
from trainkit.items.kinds.actions import ActionsItem, ActionsKey, ActionsResponse
from trainkit.lockpin import Action
from trainkit.widgets.kinds.look import Exercise, Look, as_data, numbered, text_of, texts

if TYPE_CHECKING:
    from trainkit.items.kinds import Item
    from trainkit.packs import Pack
    from trainkit.widgets.kinds.look import Named


_BENCH = "lock-pin/pin-the-engine"
_PRESSES = 2  # of the button that the bench's exercise names


def _words(item: ActionsItem, response: ActionsResponse) -> str:
    done = "; ".join(text_of(item.actions, action) for action in response.actions) or "nothing"
    return f"{done}; stopped there" if response.gave_up else done


def _said(_: Item, response: ActionsResponse, named: Named) -> tuple[str, ...]:
    stopped = ("Stopped there.",) if response.gave_up else ()
    return (*numbered(response.actions, named), *stopped) or ("Nothing was done.",)


def _at_rest(pack: Pack) -> ActionsItem:
    """Return a bench with the bar on and the pin out: nothing that two small moves can do ends the play."""
    for number in count():
        drawn, _ = template.find(_BENCH).draw(random.Random(f"{_BENCH} {number}"), pack)  # noqa: S311 - guards no secret
        if not isinstance(drawn, ActionsItem):
            raise TypeError(f"{_BENCH} draws a bench")
        if (drawn.scene["start"]["bar"], drawn.scene["start"]["pin"]) == ("fitted", "out"):
            return drawn
    raise AssertionError  # pragma: no cover - there is always another one


def _exercise(pack: Pack) -> Exercise:
    drawn = _at_rest(pack)
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


LOOK: Look[ActionsItem, ActionsKey, ActionsResponse] = Look(
    "actions",
    task=lambda item: ("Work at the bench, one action at a time.", texts(item.actions)),
    words=_words,
    said=_said,
    control=lambda item: {"actions": as_data(item.actions)},
    exercise=_exercise,
    draws=True,
)
