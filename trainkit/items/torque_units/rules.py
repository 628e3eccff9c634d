"""The right way and the wrong ways, each a function of the same inputs.

A case holds what the apprentice is told. Each rule takes a case and returns the number that somebody who thinks so
gets, in the unit of the answer and not yet put on the step of the scale, or None where the rule has nothing to say.
Two of them meet where what is told is misread first (readings), or where a number is finished wrongly (finishes).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from types import MappingProxyType

from trainkit.fasteners import true_torque, wrench_setting
from trainkit.items.distinct_answers import Finishes, Readings
from trainkit.quantities import Torque, round_down, round_to_step, round_up

_OTHER_POUND = {"lbf·in": "lbf·ft", "lbf·ft": "lbf·in"}


@dataclass(frozen=True, slots=True)
class Conversion:
    """A torque that is to be set on a scale in another unit.

    Parameters
    ----------
    given : Torque
        What the job sheet prints.
    into : str
        Unit of the scale.
    step : float
        From mark to mark, in that unit.

    Examples
    --------
    >>> case = Conversion(Torque(31.0, "lbf·ft"), "N·m", 1.0)
    >>> round(case.exact, 2), CONVERSION_RULES["rough-factor"](case), round(CONVERSION_RULES["inverse-factor"](case), 2)
    (42.03, 43.4, 22.86)
    """

    given: Torque
    into: str
    step: float

    @property
    def exact(self) -> float:
        """The torque in the unit of the scale, not rounded."""
        return self.given.to(self.into).value


def _inverse_factor(case: Conversion) -> float | None:
    if case.given.unit in _OTHER_POUND and case.into in _OTHER_POUND:
        return None  # between inch and foot this is the factor 12 the wrong way round
    return case.given.value**2 / case.exact


def _inch_for_foot(case: Conversion) -> float | None:
    unit, into = case.given.unit, case.into
    if unit in _OTHER_POUND and into not in _OTHER_POUND:
        return Torque(case.given.value, _OTHER_POUND[unit]).to(into).value
    if into in _OTHER_POUND and unit not in _OTHER_POUND:
        return case.given.to(_OTHER_POUND[into]).value
    return None


def _twelve_wrong_way(case: Conversion) -> float | None:
    unit, into = case.given.unit, case.into
    if into == "lbf·in":
        return case.given.to("lbf·ft").value / 12
    if unit == "lbf·in":
        return Torque(case.given.value * 12, "lbf·ft").to(into).value
    return None


_ROUGH = {("lbf·ft", "N·m"): 1.4, ("N·m", "lbf·ft"): 0.7}
_TEN = {("kgf·m", "N·m"): 10.0, ("N·m", "kgf·m"): 0.1, ("kgf·cm", "N·m"): 0.1, ("N·m", "kgf·cm"): 10.0}


def _times(factors: Mapping[tuple[str, str], float]) -> Callable[[Conversion], float | None]:
    def rule(case: Conversion) -> float | None:
        factor = factors.get((case.given.unit, case.into))
        return None if factor is None else case.given.value * factor

    return rule


def _rounds_on_the_way(case: Conversion) -> float | None:
    """Go through whole lbf·ft between inch-pounds and the metric units, through whole N·m from kgf to pounds."""
    unit, into = case.given.unit, case.into
    if "lbf·in" in (unit, into) and "lbf·ft" not in (unit, into):
        middle = "lbf·ft"
    elif unit.startswith("kgf") and into == "lbf·ft":
        middle = "N·m"
    else:
        return None
    return Torque(round_to_step(case.given.to(middle).value, 1), middle).to(into).value


def _number_kept(case: Conversion) -> float | None:
    """Keep the number, where the scale has a mark for it."""
    number = case.given.value
    return number if math.isclose(round_to_step(number, case.step), number) else None


CONVERSION_RULES: Mapping[str, Callable[[Conversion], float | None]] = MappingProxyType(
    {
        "inverse-factor": _inverse_factor,
        "inch-for-foot": _inch_for_foot,
        "twelve-wrong-way": _twelve_wrong_way,
        "rough-factor": _times(_ROUGH),
        "kgf-as-ten": _times(_TEN),
        "number-kept": _number_kept,
        "rounds-on-the-way": _rounds_on_the_way,
        "rounds-down": lambda case: _down(case.exact, case.step),
    }
)


def _read_as_other_pound(case: Conversion) -> Conversion | None:
    """Read inch-pounds for foot-pounds, or the other way round, where one of the two units is such a one."""
    unit, into = case.given.unit, case.into
    if (unit in _OTHER_POUND) == (into in _OTHER_POUND):
        return None
    if unit in _OTHER_POUND:
        return replace(case, given=Torque(case.given.value, _OTHER_POUND[unit]))
    return replace(case, into=_OTHER_POUND[into])


CONVERSION_READINGS: Readings[Conversion] = MappingProxyType({"inch-for-foot": _read_as_other_pound})
CONVERSION_FINISHES: Finishes[Conversion] = MappingProxyType(
    {"rounds-down": lambda case, value: _down(float(value), case.step)}
)


@dataclass(frozen=True, slots=True)
class ScaleMark:
    """A value that is to be put on the nearest mark of a scale, and the step of the scale.

    Examples
    --------
    >>> [MARK_RULES[code](ScaleMark(31.7, 0.5)) for code in ("rounds-down", "rounds-up", "whole-numbers-only")]
    [31.5, 32.0, 32.0]
    """

    exact: float
    step: float


def _down(value: float, step: float) -> float:
    nearest = round_to_step(value, step)
    return nearest if nearest <= value else nearest - step


def _up(value: float, step: float) -> float:
    nearest = round_to_step(value, step)
    return nearest if nearest >= value else nearest + step


MARK_RULES: Mapping[str, Callable[[ScaleMark], float | None]] = MappingProxyType(
    {
        "rounds-down": lambda case: _down(case.exact, case.step),
        "rounds-up": lambda case: _up(case.exact, case.step),
        "whole-numbers-only": lambda case: round_to_step(case.exact, 1),
        "between-marks": lambda case: case.exact,
    }
)


@dataclass(frozen=True, slots=True)
class LeverChain:
    """A torque and the levers between hand and bolt: mm, and degrees from the line of the wrench.

    ``torque`` is what the bolt shall get, or what the wrench was set to; ``end`` is the length of the
    wrench from the drive to its end.

    Examples
    --------
    >>> case = LeverChain(Torque(70.0, "N·m"), length=250.0, adapter=100.0, end=310.0)
    >>> case.setting, case.reached, ADAPTER_RULES["adapter-subtracted"](case)
    (50.0, 98.0, 42.0)
    """

    torque: Torque
    length: float
    adapter: float
    end: float
    angle: float = 0.0

    @property
    def setting(self) -> float:
        """What the wrench is set to, so that the bolt gets the torque."""
        return wrench_setting(self.torque, self.length, self.adapter, self.angle).value

    @property
    def reached(self) -> float:
        """What the bolt gets when the wrench is set to the torque."""
        return true_torque(self.torque, self.length, self.adapter, self.angle).value


def _straight(case: LeverChain) -> float:
    return case.torque.value * case.length / (case.length + case.adapter)


def _adapter_subtracted(case: LeverChain) -> float | None:
    if case.angle or case.adapter >= case.length:
        return None
    return case.torque.value * (case.length - case.adapter) / case.length


def _along(case: LeverChain, share: float) -> float:
    return case.torque.value * case.length / (case.length + case.adapter * share)


ADAPTER_RULES: Mapping[str, Callable[[LeverChain], float | None]] = MappingProxyType(
    {
        "adapter-multiplied": lambda case: None if case.angle == 90 else case.torque.value**2 / case.setting,
        "adapter-added": lambda case: None if case.angle else case.torque.value + case.adapter,
        "adapter-left-out": lambda case: None if case.angle == 90 else case.torque.value,
        "adapter-subtracted": _adapter_subtracted,
        "wrench-to-its-end": lambda case: (
            None if case.angle else case.torque.value * case.end / (case.end + case.adapter)
        ),
        "angle-ignored": lambda case: _straight(case) if case.angle else None,
        "angle-from-wrong-line": lambda case: (
            _along(case, math.sin(math.radians(case.angle))) if case.angle not in (0, 90, 180) else None
        ),
        "forgets-it-points-back": lambda case: (
            _along(case, -math.cos(math.radians(case.angle))) if 90 < case.angle < 180 else None
        ),
    }
)

LEVER_READINGS: Readings[LeverChain] = MappingProxyType(
    {
        "wrench-to-its-end": lambda case: None if case.angle else replace(case, length=case.end),
        "angle-ignored": lambda case: replace(case, angle=0.0) if case.angle else None,
    }
)

FORGOTTEN_RULES: Mapping[str, Callable[[LeverChain], float | None]] = MappingProxyType(
    {
        "adapter-divided": lambda case: case.torque.value**2 / case.reached,
        "adapter-left-out": lambda case: case.torque.value,
        "adapter-added": lambda case: case.torque.value + case.adapter,
        "adapter-subtracted": _adapter_subtracted,
        "wrench-to-its-end": lambda case: case.torque.value * (case.end + case.adapter) / case.end,
    }
)


@dataclass(frozen=True, slots=True)
class Band:
    """A setting of a wrench, the largest value of its scale, and its tolerance as a share of the set value.

    ``upper`` tells which limit is asked for, ``step`` to which step a tester reads.

    Examples
    --------
    >>> case = Band(Torque(40.0, "N·m"), high=60.0, share=0.04)
    >>> float(case.limit), float(BAND_RULES["tolerance-of-full-scale"](case))
    (41.6, 42.4)
    """

    setting: Torque
    high: float
    share: float
    upper: bool = True
    step: float = 0.1

    @property
    def limit(self) -> Fraction:
        """The limit of what passes, not yet on a step."""
        return self.off(_written(self.setting.value) * _written(self.share))

    def off(self, deviation: Fraction) -> Fraction:
        """Return the limit at so much off the setting, on the side that is asked for."""
        return _written(self.setting.value) + (deviation if self.upper else -deviation)

    def inward(self, limit: Fraction) -> float:
        """Put a limit on a step of the tester that still passes."""
        return (round_down if self.upper else round_up)(limit, self.step)


def _written(value: float) -> Fraction:
    """Return the decimal that a person reads, exactly."""
    return Fraction(repr(value))


def _outward(case: Band) -> Fraction | None:
    """Round to the step beyond the limit; nobody can where the limit is a step itself."""
    step = _written(case.step)
    return None if case.limit % step == 0 else case.limit + (step if case.upper else -step)


BAND_RULES: Mapping[str, Callable[[Band], Fraction | None]] = MappingProxyType(
    {
        "tolerance-of-full-scale": lambda case: case.off(_written(case.high) * _written(case.share)),
        "tolerance-as-units": lambda case: case.off(100 * _written(case.share)),
        "tolerance-halved": lambda case: case.off(_written(case.setting.value) * _written(case.share) / 2),
        "limit-rounded-outward": _outward,
    }
)

BAND_READINGS: Readings[Band] = MappingProxyType({"tolerance-halved": lambda case: replace(case, share=case.share / 2)})
