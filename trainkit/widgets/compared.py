"""A wrong answer in the picture: yours and the right one, for every kind of answer that is given on a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.figures.compared import hands, pointed
from trainkit.items.kinds import PointItem, PointKey, PointResponse, SetItem, SetKey, SetResponse
from trainkit.widgets.kinds import look_of
from trainkit.widgets.kinds.look import drawn

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Key, Response


def compared(item: Item, key: Key, given: Response | None, picture: str | None = None) -> str:
    """Return the picture with both answers as SVG; nothing where the answer was not given on a picture.

    Parameters
    ----------
    item, key : Item, Key
        What was asked and what is right.
    given : Response, optional
        What was answered, if anything was; it has to fit the item.
    picture : str, optional
        The picture of the item, where it is drawn already.

    Examples
    --------
    >>> from trainkit.items.kinds.setting import Scale
    >>> item = SetItem(prompt="Set it.", scale=Scale(low=0.0, high=12.0, step=0.5, unit="o'clock", round=True))
    >>> key = SetKey(template="t/t", working=("So.",), answer=3.0, tolerance=0.1, turn=12.0, shown="3:00")
    >>> "✗ your answer 4:30" in compared(item, key, SetResponse(value=4.5))
    True
    """
    if isinstance(item, PointItem) and isinstance(key, PointKey):
        picture = drawn(item) if picture is None else picture
        target = given.target if isinstance(given, PointResponse) else ""
        return pointed(picture, target, key.right) if picture else ""
    if isinstance(item, SetItem) and isinstance(key, SetKey):
        yours = given.value if isinstance(given, SetResponse) else None
        words = ("" if given is None else look_of(item.kind).words(item, given), key.shown.rstrip(" ,"))
        scale = item.scale
        return hands(scale.low, scale.high, yours, key.answer, words, clock=scale.is_clock)
    return ""
