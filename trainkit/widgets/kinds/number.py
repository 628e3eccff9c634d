"""A number with its unit."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from trainkit import quantities
from trainkit.errors import QuantityError, ResponseError
from trainkit.items.kinds.number import NumberItem, NumberKey, NumberResponse
from trainkit.widgets.kinds.look import Exercise, Look

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Response
    from trainkit.packs import Pack
    from trainkit.widgets.kinds.look import Named


@dataclass(frozen=True, slots=True)
class Understood:
    """A number as it was understood.

    Parameters
    ----------
    response : NumberResponse
        What will be recorded.
    words : str
        The number with its unit, as it is read back.
    clash : dict
        Where another unit was typed than the one that is picked: what to ask, the two choices in words, the number
        alone and the two units. Else empty.
    """

    response: NumberResponse
    words: str
    clash: dict[str, Any] = field(default_factory=dict)


# What is asked where the typed unit is not the picked one, and the two ways out.
_CLASH = "You typed {typed}, and {picked} is chosen. Which unit do you mean?"
_KEEP = "Keep {number}{thin}{typed}"
_CHANGE = "Change to {number}{thin}{picked}"


def _clash(item: NumberItem, number: str, typed: str, picked: str) -> dict[str, Any]:
    """Return what to ask about a typed and a picked unit; nothing where they are the same or none is picked."""
    if picked not in item.units or typed == picked:
        return {}
    slots = {"number": number, "typed": typed, "picked": picked, "thin": quantities.THIN}
    return {
        "words": _CLASH.format_map(slots),
        "choices": [_KEEP.format_map(slots), _CHANGE.format_map(slots)],
        "number": number,
        "typed": typed,
        "picked": picked,
    }


def understood(item: NumberItem, text: str, unit: str) -> Understood:
    r"""Read a number with its unit the way marking will read it.

    Parameters
    ----------
    item : NumberItem
        What was asked.
    text, unit : str
        What was typed, and the unit that was picked beside it; a unit in the text goes before the picked one.

    Raises
    ------
    QuantityError
        If it cannot be read.
    ResponseError
        If it is too long to be an answer.

    Examples
    --------
    >>> item = NumberItem(prompt="How tight?", units=("N·m", "lbf·ft"), to_nearest="to the nearest 1 N·m")
    >>> understood(item, "12,5", "N·m").words
    '12.5\u2009N·m'
    >>> both = understood(item, "31 ft-lb", "N·m")
    >>> both.words, both.clash["words"]
    ('31\u2009lbf·ft', 'You typed lbf·ft, and N·m is chosen. Which unit do you mean?')
    """
    text = text.strip()
    if not text:
        raise QuantityError(text, rule="There is no number yet.", remedy="Type one.")
    if len(text) > 60:
        raise ResponseError(text, rule="An answer has at most 60 characters.", remedy="Write the number and its unit.")
    if not (set(item.units) <= set(quantities.UNITS)):
        return _plain(item, text, unit)
    try:
        quantities.number(text)
    except QuantityError:
        # A unit was typed as well, or it is no number at all: reading it as a torque tells which.
        torque = quantities.torque(text)
        clash = _clash(item, quantities.plain(torque.value), torque.unit, unit)
        return Understood(NumberResponse(text=text, unit=unit), str(torque), clash)
    unit = _picked(item, unit)
    torque = quantities.torque(f"{text} {unit}")
    return Understood(NumberResponse(text=text, unit=unit), str(torque))


def _plain(item: NumberItem, text: str, unit: str) -> Understood:
    typed = next((known for known in item.units if known and text.endswith(known)), None)
    clash: dict[str, Any] = {}
    if typed is not None:
        text, picked = text.removesuffix(typed).strip(), unit
        clash, unit = _clash(item, text, typed, picked), typed
    value = quantities.number(text)
    unit = _picked(item, unit)
    close = "" if unit in ("°", "%") else quantities.THIN
    return Understood(NumberResponse(text=text, unit=unit), f"{quantities.plain(value)}{close}{unit}", clash)


def _picked(item: NumberItem, unit: str) -> str:
    if len(item.units) == 1:
        return item.units[0]
    if unit not in item.units:
        raise QuantityError(
            unit, rule="A number needs its unit.", remedy=f"Pick one of {', '.join(item.units)} beside it."
        )
    return unit


def _words(item: NumberItem, response: NumberResponse) -> str:
    try:
        return understood(item, response.text, response.unit).words
    except (QuantityError, ResponseError):
        return f"{response.text} {response.unit}".strip()


def _said(_: Item, response: NumberResponse, __: Named) -> tuple[str]:
    typed = response.text.strip()
    # A unit that was typed goes before the one that was picked, as in marking.
    own = any(character.isalpha() or character in "°%" for character in typed)
    return (typed if own else f"{typed}{quantities.THIN}{response.unit}".strip(),)


def _exercise(_: Pack) -> Exercise:
    units = ("N·m", "lbf·ft")
    item = NumberItem(prompt="Type 12,5 and choose N·m.", units=units, to_nearest="as you would write it by hand")

    def done(given: Response) -> bool:
        return isinstance(given, NumberResponse) and _words(item, given) == f"12.5{quantities.THIN}N·m"

    return Exercise(
        "a number with its unit",
        item,
        mouse="Click the box and type. Click the unit.",
        finger="Tap the box and type. Tap the unit.",
        keys="Type in the box. Tab goes to the units, the space bar and the arrows choose. Enter tries it.",
        done=done,
    )


LOOK: Look[NumberItem, NumberKey, NumberResponse] = Look(
    "number",
    task=lambda item: (f"Answer with a number in {' or '.join(item.units)}, {item.to_nearest}.", ()),
    words=_words,
    said=_said,
    right=lambda _, key: (key.shown.rstrip(" ,"),),
    wrong=lambda _, key: (
        (f"{rule.value:.4g}{quantities.THIN}{key.unit}", rule.misconception, False) for rule in key.rules
    ),
    control=lambda item: {"units": list(item.units), "to_nearest": item.to_nearest},
    fit=lambda item, response: understood(item, response.text, response.unit).response,
    exercise=_exercise,
)
