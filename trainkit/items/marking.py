"""From item, key and response to a mark: what was earned, why, and what the answer shows.

The same response always gets the same mark. A response of the wrong kind, of absurd size or with an option that was
never offered earns nothing and says why; it never raises.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, get_args

from trainkit.errors import ResponseError
from trainkit.items.kinds import Response, kind_of
from trainkit.items.kinds.order import mark_order
from trainkit.items.marks import UNRECOGNISED, Mark, no_answer, unusable, waiting
from trainkit.items.reading import read_response

if TYPE_CHECKING:
    from trainkit.items.facts import Facts
    from trainkit.items.kinds import Item, Key

__all__ = ["UNRECOGNISED", "Mark", "mark", "no_answer", "waiting"]

_RESPONSES = get_args(Response)


def mark(item: Item, key: Key, response: Response | dict[str, Any], facts: Facts | None = None) -> Mark:
    """Mark a response.

    Parameters
    ----------
    item : Item
        What was shown.
    key : Key
        What is right; of the same kind as the item.
    response : Response or dict
        What was given; a dict is read strictly first.
    facts : Facts, optional
        What is known of the draw; without it what marking needs is counted anew.

    Returns
    -------
    Mark

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> from trainkit.items.kinds import ChoiceKey
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
    if facts is not None and item.kind == key.kind == given.kind == "order":
        return mark_order(item, key, given, facts.expected_moves)
    marked: Mark = kind_of(item.kind).mark(item, key, given)
    return marked
