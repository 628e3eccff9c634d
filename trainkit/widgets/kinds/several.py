"""Any number of several options."""

from __future__ import annotations

from trainkit.items.kinds.several import SeveralItem, SeveralKey, SeveralResponse
from trainkit.widgets.kinds.look import ROWS, Exercise, Look, as_data, chosen, offered, text_of, texts

_NONE = "none of them"


LOOK: Look[SeveralItem, SeveralKey, SeveralResponse] = Look(
    "several",
    task=lambda item: ("Choose all that belong.", texts(item.options)),
    words=lambda item, response: "; ".join(text_of(item.options, option) for option in response.options) or _NONE,
    said=lambda _, response, named: tuple(map(named, response.options)) or (_NONE,),
    right=lambda item, key: chosen(item.options, key.right) or (_NONE,),
    control=lambda item: {"options": as_data(item.options)},
    fit=lambda item, response: offered(response, response.options, item.options),
    exercise=lambda _: Exercise(
        "several at once",
        SeveralItem(
            prompt="Take the upper and the lower one. Leave the middle one out.",
            options=ROWS,
        ),
        mouse="Click a row to take it. Click again to leave it out.",
        finger="Tap a row to take it. Tap again to leave it out.",
        keys="Tab goes from row to row. The space bar takes one, or leaves it out. Enter tries it.",
        done=lambda given: isinstance(given, SeveralResponse) and set(given.options) == {"a", "c"},
    ),
)
