"""Second ways to the items of *torque units*: decimals, and the definitions of the units."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from decimal import Decimal

from tests.trainkit.second_ways import Way
from tests.trainkit.second_ways.reading import read, told
from trainkit.items.kinds import ChoiceItem, ChoiceKey, Item, Key, NumberItem, NumberKey, SeveralItem, SeveralKey

# In newton metres, by definition: the pound is 0.45359237 kg, the inch 0.0254 m, standard gravity 9.80665 m/s².
POUND = Decimal("0.45359237") * Decimal("9.80665")
INCH = Decimal("0.0254")
NEWTON_METRES = {
    "N·m": Decimal(1),
    "lbf·ft": POUND * 12 * INCH,
    "lbf·in": POUND * INCH,
    "ozf·in": POUND / 16 * INCH,
    "kgf·m": Decimal("9.80665"),
    "kgf·cm": Decimal("0.0980665"),
}


def nearest(exact: Decimal, step: Decimal) -> Decimal:
    """Go through the marks and keep the one nearest to ``exact``."""
    first = max(0, int(exact / step) - 3)
    return min((k * step for k in range(first, first + 8)), key=lambda here: abs(here - exact))


def convert(item: Item) -> Decimal:
    lines = told(item)
    value, unit = read(lines["Job sheet"])
    step, into = read(lines["From mark to mark"])
    return nearest(value * NEWTON_METRES[unit] / NEWTON_METRES[into], step)


def nearest_mark(item: Item) -> Decimal:
    lines = told(item)
    return nearest(read(lines["Worked out"])[0], read(lines["From mark to mark"])[0])


def lever(lines: dict[str, str]) -> tuple[float, complex]:
    """Return the wrench's lever and where the bolt is seen from the grip, as a complex number."""
    length = float(read(lines["Wrench, drive to middle of grip"])[0])
    reach = float(read(lines["Adapter, drive to middle of bolt"])[0])
    angle = lines.get("Angle from the line of the wrench", "0°")
    turned = complex(
        math.cos(math.radians(float(angle.split("°")[0]))), math.sin(math.radians(float(angle.split("°")[0])))
    )
    return length, length + reach * turned


def moment(force: float, at: complex) -> float:
    """Return the moment about ``at`` of a force square to the wrench, by the cross product."""
    return (at.conjugate() * complex(0, force)).imag


def adapter_setting(item: Item) -> Decimal:
    lines = told(item)
    wanted = float(read(lines["Wanted at the bolt"])[0])
    length, bolt = lever(lines)
    # The force that gives the wanted moment at the bolt, found by trying; then what the wrench feels of it.
    low, high = 0.0, 1000 * wanted / length
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if moment(middle, bolt) < wanted else (low, middle)
    return nearest(Decimal(low * length), read(lines["From mark to mark"])[0])


def adapter_forgotten(item: Item) -> Decimal:
    lines = told(item)
    setting, _ = read(lines["Set on the wrench"])
    length, bolt = lever(lines)
    return nearest(Decimal(moment(float(setting) / length, bolt)), read(lines["From mark to mark"])[0])


def tolerance_band(item: Item) -> Decimal:
    """Go through the readings of the tester and keep the outermost that lies inside the band."""
    lines = told(item)
    setting, _ = read(lines["Set on the wrench"])
    share, of = lines["Tolerance"].strip("±").split("\u2009")
    assert of == "% of the set value"
    assert isinstance(item, NumberItem)
    found = re.match(r"in steps of ([0-9.]+)", item.to_nearest)
    assert found is not None
    step, off = Decimal(found[1]), setting * Decimal(share) / 100
    first = int((setting - off) / step)
    inside = [k * step for k in range(first, first + 400) if abs(k * step - setting) <= off]
    return max(inside) if "largest" in item.prompt else min(inside)


NUMBERS: dict[str, Callable[[Item], Decimal]] = {
    "torque-units/convert": convert,
    "torque-units/nearest-mark": nearest_mark,
    "torque-units/adapter-straight": adapter_setting,
    "torque-units/adapter-at-an-angle": adapter_setting,
    "torque-units/adapter-forgotten": adapter_forgotten,
    "torque-units/tolerance-band": tolerance_band,
}


def verdicts(first: str, second: str, printed_to: str) -> set[str]:
    """Return what can be said of a printed pair, for every step that the second column may have."""
    (one, unit), (two, other) = read(first), read(second)
    exchange = NEWTON_METRES[unit] / NEWTON_METRES[other]
    at, _, steps = printed_to.partition(f"\u2009{unit} and")
    found = set()
    for step in re.findall(r"[0-9.]+", steps):
        forward = abs(one * exchange - two) * 2 <= Decimal(step)
        back = abs(two / exchange - one) * 2 <= Decimal(at)
        found.add(
            {(True, True): "either", (True, False): "first", (False, True): "second"}.get((forward, back), "neither")
        )
    return found


def odd_pair(item: ChoiceItem) -> str:
    odd = []
    for option in item.options:
        first, _, second = option.text.rstrip(")").partition(" (")
        if verdicts(first, second, told(item)["Printed to"]) == {"neither"}:
            odd.append(option.id)
    assert len(odd) == 1
    return odd[0]


def master_column(item: ChoiceItem) -> str:
    lines = told(item)
    first, _, second = lines["Printed"].rstrip(")").partition(" (")
    found = verdicts(first, second, lines["Printed to"])
    said = {
        "first": f"The {read(first)[1]} column",
        "second": f"The {read(second)[1]} column",
        "either": "Either",
        "neither": "Neither",
    }
    start = said[found.pop()] if len(found) == 1 else "Nobody"
    return next(option.id for option in item.options if option.text.startswith(start))


def which_wrench(item: ChoiceItem) -> str:
    value, unit = read(told(item)["Job sheet"])
    fits = []
    for option in item.options:
        low, high, into = re.fullmatch(r"([0-9.]+) to ([0-9.]+)\u2009(.+)", option.text).groups()  # type: ignore[union-attr]  # no match is a failure
        here = value * NEWTON_METRES[unit] / NEWTON_METRES[into]
        if max(Decimal(low), Decimal(high) / 5) <= here <= Decimal(high):
            fits.append(option.id)
    assert len(fits) == 1
    return fits[0]


def which_settings(item: Item, key: Key, engine: str) -> frozenset[str]:
    """Set every line anew."""
    assert isinstance(item, SeveralItem)
    assert isinstance(key, SeveralKey)
    steps = {label.partition(", ")[2]: read(value)[0] for label, value in told(item).items() if "From mark" in label}
    right = set()
    for option in item.options:
        found = re.fullmatch(r"Job sheet (.+), (.+?) at (.+)", option.text)
        assert found is not None
        value, unit = read(found[1])
        mark, into = read(found[3])
        exact = value * NEWTON_METRES[unit] / NEWTON_METRES[into]
        if nearest(exact, steps[found[2]]) == mark:
            right.add(option.id)
        elif key.shows[option.id] == "number-kept":
            assert mark == nearest(value, steps[found[2]])
        elif key.shows[option.id] == "kgf-as-ten":
            assert mark == nearest(value * 10 if unit == "kgf·m" else value / 10, steps[found[2]])
        elif key.shows[option.id] == "rounds-up":
            assert exact < mark < exact + steps[found[2]]
            assert mark % steps[found[2]] == 0
        elif key.shows[option.id] == "whole-numbers-only":
            assert mark == nearest(exact, Decimal(1))
        elif key.shows[option.id] == "between-marks":
            assert mark == nearest(exact, steps[found[2]] / 10)
            assert mark % steps[found[2]] != 0
    assert right == set(key.right)
    assert 0 < len(right) < 3
    wrong = [key.shows[option.id] for option in item.options if option.id not in right]
    assert len(wrong) == len(set(wrong)) >= 3
    return frozenset(wrong)


CHOICES: dict[str, Callable[[ChoiceItem], str]] = {
    "torque-units/odd-pair": odd_pair,
    "torque-units/master-column": master_column,
    "torque-units/which-wrench": which_wrench,
}


def _number(way: Callable[[Item], Decimal]) -> Way:
    def check(item: Item, key: Key, engine: str) -> str:
        assert isinstance(key, NumberKey)
        assert math.isclose(key.answer, float(way(item)), rel_tol=1e-9)
        return key.unit

    return check


def _choice(way: Callable[[ChoiceItem], str]) -> Way:
    def check(item: Item, key: Key, engine: str) -> str:
        assert isinstance(item, ChoiceItem)
        assert isinstance(key, ChoiceKey)
        assert key.right == way(item)
        return key.right

    return check


WAYS: dict[str, Way] = {
    "torque-units/which-settings": which_settings,
    **{name: _number(way) for name, way in NUMBERS.items()},
    **{name: _choice(way) for name, way in CHOICES.items()},
}
