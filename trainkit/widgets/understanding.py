"""How what a person entered is understood, before it is recorded.

A number is read back in words first; an answer that cannot be one (a card left out, an option that was never
offered) is refused with what to do, and is not recorded.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.errors import ResponseError
from trainkit.items.reading import read_response
from trainkit.widgets.kinds import look_of
from trainkit.widgets.kinds.number import Understood, understood

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Response

__all__ = ["Understood", "fit", "understood"]


def fit(item: Item, data: object) -> Response:
    """Return the response in ``data`` if it can be an answer to ``item``.

    Raises
    ------
    ResponseError
        If it is not well formed, or answers another question.
    QuantityError
        If it is a number that cannot be read.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> fit(item, {"kind": "choice", "option": "b"})
    ChoiceResponse(kind='choice', option='b')
    """
    response = read_response(data)
    if response.kind != item.kind:
        raise ResponseError(
            response.kind, rule=f"This question asks for the kind “{item.kind}”.", remedy="Answer it again."
        )
    fitting: Response = look_of(item.kind).fit(item, response)
    return fitting
