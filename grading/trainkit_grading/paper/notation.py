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

import re
import unicodedata
from collections import Counter
from typing import TYPE_CHECKING, Any

from trainkit import quantities
from trainkit.errors import TrainkitError
from trainkit.items.responses import (
    ChoiceResponse,
    GridResponse,
    InsertResponse,
    NumberResponse,
    OrderResponse,
    PointResponse,
    SetResponse,
    SeveralResponse,
    TextResponse,
)
from trainkit.widgets.reading import fit, understood
from trainkit_grading.errors import PaperError
from trainkit_grading.paper.bench import LETTERS, read_actions, spelt
from trainkit_grading.support.plaintext import one_line, plain

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from trainkit.items.item import (
        ChoiceItem,
        GridItem,
        InsertItem,
        Item,
        NumberItem,
        OrderItem,
        PointItem,
        SetItem,
        SeveralItem,
        TextItem,
    )
    from trainkit.items.responses import Response

__all__ = ["UNANSWERED", "hint", "is_clock", "marks", "places", "read", "step_words", "write"]

UNANSWERED = "-"
_DASHES = frozenset({"", "-", "–", "—"})
_NO_UNIT = "NONE"


def hint(item: Item) -> str:
    """Return in a few words how an answer to this item is typed."""
    return _HINTS[item.kind](item)


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
    >>> from trainkit.items.item import ChoiceItem, Option
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> read(item, " b "), read(item, "-")
    (ChoiceResponse(kind='choice', option='b'), None)
    """
    said = unicodedata.normalize("NFC", plain(typed)).strip()
    if said in _DASHES:
        return None
    way = _READ.get(item.kind)
    if way is None:
        raise PaperError(
            one_line(said)[:60],
            rule="Practical work is recorded from its checklist.",
            remedy="Give the command: trainkit-course observe --checklist CODE",
        )
    try:
        response: Response = way(item, said)
        # The bench has proved itself by being played; everything else is held against the rules of the screen.
        return response if item.kind == "actions" else _fitting(item, response)
    except PaperError:
        raise
    except TrainkitError as error:
        raise PaperError(one_line(said)[:60], rule=error.rule, remedy=f"{error.remedy} {_LOOK}") from None


def write(item: Item, response: Response | None) -> str:
    """Return an answer as it would be typed; :func:`read` gives it back.

    Examples
    --------
    >>> from trainkit.items.item import ChoiceItem, Option
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> write(item, read(item, "B"))
    'B'
    """
    return UNANSWERED if response is None else _WRITTEN[item.kind](item, response)


_LOOK = f"Look at the sheet again; where nothing that can be an answer stands there, type {UNANSWERED}."


def _fitting(item: Item, response: Response) -> Response:
    if isinstance(response, NumberResponse) and not response.unit:
        return response  # a number without its unit can be written on paper; it earns nothing, and the mark says why
    return fit(item, response.model_dump(mode="json"))


def marks(things: Sequence[Any]) -> dict[str, str]:
    """Return the letter of each option, card or action on paper, and its identifier."""
    return {LETTERS[place]: thing.id for place, thing in enumerate(things)}


def places(item: PointItem) -> dict[str, str]:
    """Return the number of each place to point at, as the picture has it, and its identifier.

    On a picture of bolts the number stands on the head; gears are numbered in their order.
    """
    figure: Mapping[str, Any] = item.figure or {}
    order = [shown.get("id") for shown in figure.get("gears", ())]
    if figure.get("draw") != "bolts" and all(target.id in order for target in item.targets):
        return {str(order.index(target.id) + 1): target.id for target in item.targets}
    if all(target.id.isdigit() for target in item.targets):
        return {target.id: target.id for target in item.targets}
    return {str(number): target.id for number, target in enumerate(item.targets, start=1)}


def _letters(typed: str, known: Mapping[str, str]) -> list[str]:
    """Return the identifiers of letters, parted or not."""
    letters = re.sub(r"[\s,;.+&]+", "", typed.upper())
    unknown = sorted(set(letters) - set(known))
    if unknown:
        raise PaperError(
            one_line(typed)[:60],
            rule=f"The letters on the sheet are {', '.join(known)}; {', '.join(unknown)[:40]} is not among them.",
            remedy=_LOOK,
        )
    twice = [letter for letter, count in Counter(letters).items() if count > 1]
    if twice:
        raise PaperError(
            one_line(typed)[:60], rule=f"{', '.join(twice)} stands there twice.", remedy="Type each letter once."
        )
    return [known[letter] for letter in letters]


def _number(item: NumberItem, typed: str) -> NumberResponse:
    units = {LETTERS[place]: unit for place, unit in enumerate(item.units)}
    number, _, last = typed.rpartition(" ")
    if number and last not in item.units and last.upper() in units:
        return understood(item, number, units[last.upper()]).response
    if number and last.upper() == _NO_UNIT and len(item.units) > 1:
        quantities.number(number)
        return NumberResponse(text=number.strip(), unit="")
    if len(item.units) > 1 and _is_plain(typed):
        raise PaperError(
            typed,
            rule="A number has its unit.",
            remedy=f"Type the letter of the ticked unit after it, or {_NO_UNIT} if none is ticked or written.",
        )
    # A unit that was written out is kept beside the number, as if its box were ticked.
    for unit in sorted(item.units, key=len, reverse=True):
        if typed.endswith(unit) and _is_plain(typed.removesuffix(unit)):
            return understood(item, typed.removesuffix(unit), unit).response
    return understood(item, typed, item.units[0] if len(item.units) == 1 else "").response


def _is_plain(text: str) -> bool:
    try:
        quantities.number(text.strip())
    except TrainkitError:
        return False
    return True


def _choice(item: ChoiceItem, typed: str) -> ChoiceResponse:
    ticked = _letters(typed, marks(item.options))
    if len(ticked) != 1:
        raise PaperError(
            one_line(typed)[:60],
            rule="One box is ticked.",
            remedy=f"Where two are ticked and none is struck out, no answer was given: type {UNANSWERED}.",
        )
    return ChoiceResponse(option=ticked[0])


def _several(item: SeveralItem, typed: str) -> SeveralResponse:
    if typed.upper() == "NONE":
        return SeveralResponse(options=())
    ticked = set(_letters(typed, marks(item.options)))
    return SeveralResponse(options=tuple(option.id for option in item.options if option.id in ticked))


def _order(item: OrderItem, typed: str) -> OrderResponse:
    cards = [card.id for card in item.cards]
    count = len(cards)
    tokens = re.findall(r"\d+", typed) if re.search(r"[\s,;]", typed.strip()) else list(typed)
    if re.search(r"[^\d\s,;.]", typed):
        raise PaperError(
            one_line(typed)[:60],
            rule="Beside each card stands its place, a number.",
            remedy=f"Type the {count} numbers from the top card to the last one, like 3 1 2.",
        )
    numbers = [int(token) for token in tokens]
    if sorted(numbers) != list(range(1, count + 1)):
        missing = sorted(set(range(1, count + 1)) - set(numbers))
        lacking = f" Missing: {', '.join(map(str, missing))}." if missing else ""
        raise PaperError(
            one_line(typed)[:60],
            rule=f"The {count} cards have the places 1 to {count}, each once.{lacking}",
            remedy=_LOOK,
        )
    return OrderResponse(cards=tuple(card for _, card in sorted(zip(numbers, cards, strict=True))))


def _whole(typed: str, least: int, most: int, what: str) -> int:
    if not re.fullmatch(r"\d{1,3}", typed) or not least <= int(typed) <= most:
        raise PaperError(
            one_line(typed)[:60], rule=f"The {what} on the sheet are numbered {least} to {most}.", remedy=_LOOK
        )
    return int(typed)


def _insert(item: InsertItem, typed: str) -> InsertResponse:
    return InsertResponse(place=_whole(typed, 1, len(item.written) + 1, "gaps") - 1)


def _grid(item: GridItem, typed: str) -> GridResponse:
    known = marks(item.columns)
    said = typed.upper().replace("–", "-").replace("—", "-")
    tokens = list(re.sub(r"[\s,;.\d]+", "", said))
    if len(tokens) != len(item.rows) or set(tokens) - {*known, "-"}:
        raise PaperError(
            one_line(typed)[:60],
            rule=f"The table has {len(item.rows)} rows, and columns {', '.join(known)}.",
            remedy="Type one letter for each row from the top down, - where none or more than one is ticked.",
        )
    rows = {row.id: known[mark] for row, mark in zip(item.rows, tokens, strict=True) if mark != "-"}
    return GridResponse(rows=rows)


def _point(item: PointItem, typed: str) -> PointResponse:
    known = places(item)
    if typed not in known:
        raise PaperError(one_line(typed)[:60], rule=f"The places on the sheet are {', '.join(known)}.", remedy=_LOOK)
    return PointResponse(target=known[typed])


def is_clock(item: SetItem) -> bool:
    """Tell whether a clock's hand is set."""
    return item.scale.round and item.scale.high - item.scale.low == 12


def step_words(item: SetItem) -> str:
    """Return the step of a scale in words."""
    if is_clock(item):
        return f"{quantities.plain(item.scale.step * 60)}\u2009minutes"
    return f"{quantities.plain(item.scale.step)}\u2009{item.scale.unit}"


def _set(item: SetItem, typed: str) -> SetResponse:
    scale = item.scale
    if is_clock(item):
        found = re.fullmatch(r"(\d{1,2})(?:[:.h ]\s?(\d{2}))?", typed)
        if found is None or not 0 <= int(found[1]) <= 12 or int(found[2] or 0) > 59:
            raise PaperError(
                one_line(typed)[:60],
                rule="A clock position is an hour from 1 to 12 and minutes, like 4:45.",
                remedy=_LOOK,
            )
        value = int(found[1]) % 12 + int(found[2] or 0) / 60
    else:
        value = float(quantities.number(typed.removesuffix(scale.unit).strip()))
    # A hand that was drawn between two steps is an answer, too; the mark says what it is worth.
    return SetResponse(value=value)


def _text(item: TextItem, typed: str) -> TextResponse:  # noqa: ARG001 - one shape for all kinds
    lines = (re.sub(r"[^\S\n]+", " ", line).strip() for line in typed.splitlines())
    return TextResponse(text="\n".join(lines)[:4000])


_READ: dict[str, Callable[[Any, str], Any]] = {
    "number": _number,
    "choice": _choice,
    "several": _several,
    "order": _order,
    "insert": _insert,
    "grid": _grid,
    "point": _point,
    "set": _set,
    "actions": read_actions,
    "text": _text,
}


def _letter_of(things: Sequence[Any], name: str) -> str:
    return next(letter for letter, of in marks(things).items() if of == name)


def _number_written(item: NumberItem, response: NumberResponse) -> str:
    if not response.unit:
        return f"{response.text} {_NO_UNIT}" if len(item.units) > 1 and _is_plain(response.text) else response.text
    return f"{response.text} {LETTERS[item.units.index(response.unit)]}"


def _order_written(item: OrderItem, response: OrderResponse) -> str:
    return " ".join(str(response.cards.index(card.id) + 1) for card in item.cards)


def _set_written(item: SetItem, response: SetResponse) -> str:
    if not is_clock(item):
        return quantities.plain(response.value)
    minutes = round(response.value * 60) % 720
    return f"{minutes // 60 or 12}:{minutes % 60:02d}"


_WRITTEN: dict[str, Callable[[Any, Any], str]] = {
    "number": _number_written,
    "choice": lambda item, response: _letter_of(item.options, response.option),
    "several": lambda item, response: (
        " ".join(_letter_of(item.options, option) for option in response.options) or "NONE"
    ),
    "order": _order_written,
    "insert": lambda _, response: str(response.place + 1),
    "grid": lambda item, response: " ".join(
        _letter_of(item.columns, response.rows[row.id]) if row.id in response.rows else "-" for row in item.rows
    ),
    "point": lambda item, response: next(number for number, of in places(item).items() if of == response.target),
    "set": _set_written,
    "actions": spelt,
    "text": lambda _, response: str(response.text),
}

_HINTS: dict[str, Callable[[Any], str]] = {
    "number": lambda item: (
        "number and unit, like 12.5 "
        + (item.units[0] if len(item.units) == 1 else f"{item.units[0]} or 12.5 A; {_NO_UNIT} for no unit")
    ),
    "choice": lambda item: f"one letter, A to {LETTERS[len(item.options) - 1]}",
    "several": lambda item: f"all ticked letters, A to {LETTERS[len(item.options) - 1]}, or NONE",
    "order": lambda item: f"the {len(item.cards)} numbers beside the cards, from the top down",
    "insert": lambda item: f"the ticked gap, 1 to {len(item.written) + 1}",
    "grid": lambda item: (
        f"a letter for each of the {len(item.rows)} rows, A to {LETTERS[len(item.columns) - 1]}, - for none"
    ),
    "point": lambda item: f"the ticked number: {', '.join(places(item))}",
    "set": lambda item: f"the written value, in steps of {step_words(item)}",
    "actions": lambda _: "the rows in turn, letter and sentence number, like C12 F3; STOP at the end if ticked",
    "text": lambda item: f"the words, at most {item.limit} characters",
    "observed": lambda _: "nothing here: its checklist is recorded with trainkit-course observe",
}
