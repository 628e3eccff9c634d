"""How a written answer is typed, and what it means: letters and numbers as they are printed on the sheet.

==========  ==================================================================  ======================
kind        what is typed                                                       example
==========  ==================================================================  ======================
number      the number, and its unit or the letter of the ticked unit           ``134 lbf·in``, ``134 C``
choice      the letter that is ticked                                           ``B``
several     all letters that are ticked; ``NONE`` where that box is             ``A C F``
order       the place written beside each card, from the top down               ``3 1 2``
insert      the number of the ticked gap                                        ``4``
grid        for each row the letter of its column, ``-`` for none               ``A B B - C``
point       the number that is ticked                                           ``7``
set         the value that is written                                           ``4:45``
actions     the rows of the bench                                               ``C12 F3 STOP``
text        the words
==========  ==================================================================  ======================

``-`` or nothing stands for an answer that was not given.
"""

from __future__ import annotations

import unicodedata
from typing import TYPE_CHECKING

from trainkit.errors import TrainkitError
from trainkit_grading.errors import PaperError
from trainkit_grading.paper.kinds import blank_of
from trainkit_grading.paper.kinds.blank import LOOK, UNANSWERED, refused
from trainkit_grading.support.plaintext import plain

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Response

__all__ = ["UNANSWERED", "hint", "read", "write"]

_DASHES = frozenset({"", "-", "–", "—"})


def hint(item: Item) -> str:
    """Return in a few words how an answer to this item is typed."""
    return blank_of(item.kind).hint(item)


def read(item: Item, typed: str) -> Response | None:
    """Return the answer that somebody typed from a sheet, or None where none was given.

    Parameters
    ----------
    item : Item
        What was asked.
    typed : str
        As this module describes it.

    Raises
    ------
    PaperError
        If no such answer can stand on the sheet: the value, the rule, and what to do.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> read(item, " b "), read(item, "-")
    (ChoiceResponse(kind='choice', option='b'), None)
    """
    said = unicodedata.normalize("NFC", plain(typed)).strip()
    if said in _DASHES:
        return None
    of = blank_of(item.kind)
    try:
        response: Response = of.fit(item, of.read(item, said))
    except PaperError:
        raise
    except TrainkitError as error:
        raise refused(said, error.rule, f"{error.remedy} {LOOK}") from None
    return response


def write(item: Item, response: Response | None) -> str:
    """Return an answer as it would be typed; :func:`read` gives it back.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> write(item, read(item, "B"))
    'B'
    """
    return UNANSWERED if response is None else blank_of(item.kind).write(item, response)
