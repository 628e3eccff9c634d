"""A number with its unit: signs in boxes, and units to tick."""

from __future__ import annotations

from html import escape

from trainkit import quantities
from trainkit.errors import TrainkitError
from trainkit.items.kinds import NumberItem, NumberResponse
from trainkit.widgets.understanding import understood
from trainkit_grading.errors import PaperError
from trainkit_grading.paper.bench import LETTERS
from trainkit_grading.paper.kinds.blank import BOX, Blank, as_on_screen, say

_NO_UNIT = "NONE"


def _html(item: NumberItem, _: str) -> str:
    cells = '<span class="cells">' + "<i></i>" * 8 + "</span>"
    if len(item.units) == 1:
        units = f'<span class="unit">{escape(item.units[0])}</span>'
        said = f"Write the number in {item.units[0]}, {item.to_nearest}. One sign in each box."
    else:
        units = "".join(
            f'<span class="unit">{BOX}<b>{LETTERS[place]}</b> {escape(unit)}</span>'
            for place, unit in enumerate(item.units)
        )
        said = f"Write the number, one sign in each box, and tick its unit. Answer {item.to_nearest}."
    return f'{say(said)}<p class="number">{cells}{units}</p>'


def _hint(item: NumberItem) -> str:
    unit = item.units[0]
    other = f" or 12.5 A; {_NO_UNIT} for no unit" if len(item.units) > 1 else ""
    return f"number and unit, like 12.5 {unit}{other}"


def _read(item: NumberItem, typed: str) -> NumberResponse:
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


def _write(item: NumberItem, response: NumberResponse) -> str:
    if not response.unit:
        return f"{response.text} {_NO_UNIT}" if len(item.units) > 1 and _is_plain(response.text) else response.text
    return f"{response.text} {LETTERS[item.units.index(response.unit)]}"


def _fit(item: NumberItem, response: NumberResponse) -> NumberResponse:
    # A number without its unit can be written on paper; it earns nothing, and the mark says why.
    return as_on_screen(item, response) if response.unit else response


BLANK: Blank[NumberItem, NumberResponse] = Blank("number", html=_html, hint=_hint, read=_read, write=_write, fit=_fit)
