"""One out of several options."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.items.kinds.choice import ChoiceItem, ChoiceKey, ChoiceResponse
from trainkit.widgets.kinds.look import ROWS, Exercise, Look, as_data, chosen, offered, text_of, texts

if TYPE_CHECKING:
    from collections.abc import Iterable


def _wrong(item: ChoiceItem, key: ChoiceKey) -> Iterable[tuple[str, str, bool]]:
    words = {option.id: option.text for option in item.options}
    return ((words[name], code, name in key.critical) for name, code in key.shows.items() if name in words)


LOOK: Look[ChoiceItem, ChoiceKey, ChoiceResponse] = Look(
    "choice",
    task=lambda item: ("Choose one.", texts(item.options)),
    words=lambda item, response: text_of(item.options, response.option),
    said=lambda _, response, named: (named(response.option),),
    right=lambda item, key: chosen(item.options, (key.right,)),
    wrong=_wrong,
    control=lambda item: {"options": as_data(item.options)},
    fit=lambda item, response: offered(response, [response.option], item.options),
    exercise=lambda _: Exercise(
        "one out of several",
        ChoiceItem(
            prompt="Choose “The middle one”.",
            options=ROWS,
        ),
        mouse="Click anywhere in its row.",
        finger="Tap anywhere in its row.",
        keys="Tab goes to the rows. The space bar and the arrows choose. Enter tries it.",
        done=lambda given: given == ChoiceResponse(option="b"),
    ),
)
