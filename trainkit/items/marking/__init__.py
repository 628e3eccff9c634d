"""From item, key and response to a mark: what was earned, why, and what the answer shows.

The same response always gets the same mark. A response of the wrong kind, of absurd size or with an option that was
never offered earns nothing and says why; it never raises.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, get_args

from trainkit.errors import ResponseError
from trainkit.items.item import Item
from trainkit.items.key import Key
from trainkit.items.marking.judged import mark_actions, mark_observed, mark_text
from trainkit.items.marking.marks import UNRECOGNISED, Mark, no_answer, unusable, waiting
from trainkit.items.marking.numbers import mark_number, mark_setting
from trainkit.items.marking.options import mark_choice, mark_grid, mark_point, mark_several
from trainkit.items.marking.orders import mark_insert, mark_order
from trainkit.items.responses import Response, read_response

__all__ = ["UNRECOGNISED", "Mark", "mark", "no_answer", "waiting"]

# One rule a kind; DEVELOPERS.md has them in one table, "How answers are marked".
_RULES: dict[str, Callable[[Any, Any, Any], Mark]] = {
    "number": mark_number,
    "choice": mark_choice,
    "several": mark_several,
    "order": mark_order,
    "insert": mark_insert,
    "grid": mark_grid,
    "point": mark_point,
    "set": mark_setting,
    "actions": mark_actions,
    "text": mark_text,
    "observed": mark_observed,
}
_RESPONSES = get_args(Response)


def mark(item: Item, key: Key, response: Response | dict[str, Any]) -> Mark:
    """Mark a response.

    Parameters
    ----------
    item : Item
        What was shown.
    key : Key
        What is right; of the same kind as the item.
    response : Response or dict
        What was given; a dict is read strictly first.

    Returns
    -------
    Mark

    Examples
    --------
    >>> from trainkit.items.item import ChoiceItem, Option
    >>> from trainkit.items.key import ChoiceKey
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> key = ChoiceKey(template="t/t", working=("On.",), right="a")
    >>> mark(item, key, {"kind": "choice", "option": "a"}).verdict
    'right'
    >>> mark(item, key, {"kind": "choice", "option": "z"}).points
    0.0
    """
    try:
        given: Response = response if isinstance(response, _RESPONSES) else read_response(response)
    except ResponseError as error:
        return unusable(item, f"The answer could not be read. {error.rule}")
    if not item.kind == key.kind == given.kind:
        return unusable(item, f"This question asks for an answer of the kind “{item.kind}”, not “{given.kind}”.")
    return _RULES[item.kind](item, key, given)
