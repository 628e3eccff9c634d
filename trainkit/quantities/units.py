"""The torque units of the workshop: their names, the ways they are written, and their factors.

The list is closed. pint defines what the units are worth, but its own reading of text is not used: it takes ``ftlb``
for a femto-troy-pound, ``lb*ft`` for mass times length, and turns a torque into energy without a word.

What each refusal is for
------------------------
- A pound, kilogram or ounce alone is a mass, a newton alone a force, a metre or foot alone a length.
- A joule is energy, although it has the same dimension.
- A prefix before the newton (``mN·m``, ``kN·m``, ``daN·m``) is not in the list: a milli for a mega, or ``mN`` for
  ``m·N``, is a slip of a thousand and more that no reader would notice. ``m·N`` is refused for the same reason.
- ``nm`` is a nanometre.
- A stroke or "per" divides: ``lb/ft`` is a load spread over a length.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache, lru_cache
from types import MappingProxyType

from trainkit.errors import QuantityError
from trainkit.quantities.decimals import MINUSES, SPACES, clean

# Canonical name, and the force and the length it multiplies, by pint's names.
PINT_NAMES = MappingProxyType(
    {
        "N·m": ("newton", "meter"),
        "lbf·ft": ("force_pound", "foot"),
        "lbf·in": ("force_pound", "inch"),
        "ozf·in": ("force_ounce", "inch"),
        "kgf·m": ("force_kilogram", "meter"),
        "kgf·cm": ("force_kilogram", "centimeter"),
        "dyn·cm": ("dyne", "centimeter"),
    }
)
UNITS: tuple[str, ...] = tuple(PINT_NAMES)
"""The units, by the names that are used throughout."""

_FORCES = {
    "N": "n newton newtons",
    "lbf": "lbf lb lbs lbsf pound pounds",
    "ozf": "ozf oz ounce ounces",
    "kgf": "kgf kg kp kilogram kilograms kilopond kiloponds",
    "dyn": "dyn dyne dynes",
}
_LENGTHS = {
    "m": "m metre metres meter meters",
    "ft": "ft foot feet",
    "in": "in inch inches",
    "cm": "cm centimetre centimetres centimeter centimeters",
}
_FORCE = {word: name for name, words in _FORCES.items() for word in words.split()}
_LENGTH = {word: name for name, words in _LENGTHS.items() for word in words.split()}
_OTHER_LENGTHS = {"mm", "km", "millimetre", "millimetres", "millimeter", "millimeters", "yd", "yard", "yards"}
_ENERGY = {"j", "kj", "mj", "joule", "joules", "wh", "kwh", "cal", "kcal", "btu", "erg"}

# All that can stand between the two words: dots, hyphens, spaces and the star of computer notation.
_BETWEEN = re.compile(rf"[.·⋅•∙‧․・*{re.escape(MINUSES)}{SPACES}]+")
_LIST = ", ".join(UNITS)


def torque_unit(text: str) -> str:
    """Return the canonical name of a torque unit, however it is written.

    Parameters
    ----------
    text : str
        Such as ``"ft-lb"``, ``"lb ft"``, ``"Nm"``, ``"kg·cm"``.

    Returns
    -------
    str
        One of :data:`UNITS`.

    Raises
    ------
    QuantityError
        If it is no torque unit of the list; the rule says what it is instead, where that is known.

    Examples
    --------
    >>> [torque_unit(text) for text in ("ft-lb", "lb ft", "in-lbs", "N-m", "Nm", "mkp", "oz in", "dyn.cm")]
    ['lbf·ft', 'lbf·ft', 'lbf·in', 'N·m', 'N·m', 'kgf·m', 'ozf·in', 'dyn·cm']
    >>> torque_unit("lb")
    Traceback (most recent call last):
    ...
    trainkit.errors.QuantityError: 'lb': A lb alone is a mass or a force, no torque. Write lbf·ft or lbf·in.
    """
    if not isinstance(text, str):
        raise QuantityError(text, rule="The name of a unit is text.", remedy=f"Write one of {_LIST}.")
    return _read(text)


@lru_cache(maxsize=1024)  # the texts come from people; the list of them has no end
def _read(text: str) -> str:
    tidy = clean(text)
    words = [word for word in _BETWEEN.split(tidy) if word]
    if "/" in tidy or "per" in words:
        raise QuantityError(
            text, rule="A torque multiplies a force by a length; it does not divide.", remedy=f"Write one of {_LIST}."
        )
    _refuse_prefix(text, words)
    pair: str | None = None
    folded = [word.casefold() for word in words if word.casefold() != "force"]
    match folded:
        case [one]:
            pair = _JOINED.get(one)
        case [one, other] if one in _FORCE and other in _LENGTH:
            pair = f"{_FORCE[one]}·{_LENGTH[other]}"
        case [one, other] if one in _LENGTH and other in _FORCE:
            pair = f"{_FORCE[other]}·{_LENGTH[one]}"
    if pair is not None and pair in PINT_NAMES:
        return pair
    raise _refusal(text, folded)


def _joined() -> dict[str, str]:
    """Return the spellings without anything between the words: ``ftlb``, ``nm``, ``kgcm``."""
    found: dict[str, str] = {}
    for force, its in _FORCE.items():
        for length, other in _LENGTH.items():
            found[force + length] = f"{its}·{other}"
            if force != "n":  # "mn" is a millinewton
                found[length + force] = f"{its}·{other}"
    return found


_JOINED = _joined()


def _refuse_prefix(text: str, words: list[str]) -> None:
    joined = "".join(words)
    if joined in {"nm", "nM"} or words[:1] == ["n"]:
        raise QuantityError(text, rule="The newton has a capital N; nm is a nanometre.", remedy="Write N·m.")
    if words == ["m", "N"]:
        raise QuantityError(text, rule="The newton goes first: m·N is too like mN, a thousandth.", remedy="Write N·m.")
    if re.match(r"(m|M|k|c|d|da|h|G|n|µ|μ)N(m|cm|mm|M)?$", words[0] if words else ""):
        raise QuantityError(
            text,
            rule="A newton with a prefix is not in the workshop's list of torque units.",
            remedy="Write the value in N·m.",
        )


def _refusal(text: str, folded: list[str]) -> QuantityError:
    remedy = f"Write one of {_LIST}."
    match folded:
        case []:
            return QuantityError(text, rule="A torque has a unit.", remedy=remedy)
        case [one] if one in _ENERGY:
            return QuantityError(text, rule="This is a unit of energy, not of torque.", remedy="Write N·m.")
        case [one] if one in _FORCE:
            fit = " or ".join(unit for unit in UNITS if unit.startswith(f"{_FORCE[one]}·"))
            what = "a force" if _FORCE[one] in ("N", "dyn") else "a mass or a force"
            return QuantityError(text, rule=f"A {clean(text)} alone is {what}, no torque.", remedy=f"Write {fit}.")
        case [one] if one in _LENGTH or one in _OTHER_LENGTHS:
            return QuantityError(text, rule="This is a length; a torque is a force times a length.", remedy=remedy)
    return QuantityError(text, rule=f"The torque units are {_LIST}.", remedy="Write one of them, once.")


@cache
def factor(unit: str) -> Fraction:
    """Return how many newton metres one ``unit`` is, exactly, as pint defines it.

    Source: pint's definitions of the pound, the inch and standard gravity, which agree with NIST SP 811 (2008)
    appendix B.8.

    Examples
    --------
    >>> factor("kgf·m"), factor("lbf·ft") / factor("lbf·in")
    (Fraction(196133, 20000), Fraction(12, 1))
    """
    force, length = PINT_NAMES[torque_unit(unit)]
    found: Fraction = _registry().Quantity(Fraction(1), f"{force} * {length}").to("newton * meter").magnitude
    return found


@cache
def _registry():  # type: ignore[no-untyped-def]  # pint's registry type depends on its number type, which it does not publish
    import pint

    # With fractions pint's definitions stay exact; the floats of its usual registry are one unit in the last
    # place off for the pound foot.
    return pint.UnitRegistry(non_int_type=Fraction)


@cache
def ratio(unit: str, to: str) -> float:
    """Return the factor from one canonical unit to another, the nearest float.

    Examples
    --------
    >>> ratio("lbf·ft", "lbf·in")
    12.0
    """
    return float(factor(unit) / factor(to))
