"""The right way and the wrong ways, each a function of the same inputs.

A case holds what the apprentice is told. A rule takes a case and returns what somebody who thinks so answers, or
None where the rule has nothing to say.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from types import MappingProxyType

from trainkit.cycle import DeadCentre, FiringOrder, Position
from trainkit.items.distinct_answers import Finishes, Readings

Standing = tuple[int, DeadCentre]  # a cylinder and the dead centre that it stands at


@dataclass(frozen=True, slots=True)
class BackOff:
    """A missed hole: where the mark stands and where the fixed marks are, in crank degrees from the hole."""

    past: Fraction
    press_from: Fraction
    give_up: Fraction
    back_off: Fraction
    pace: Fraction  # turns of the watched gear for one turn of the crank
    bar: Fraction = Fraction(1)  # turns of the barring tool for one turn of the crank

    @property
    def crank(self) -> Fraction:
        """Crank degrees that the mark goes back: past the hole, and on to the back-off mark."""
        return self.past + self.back_off

    @property
    def turns(self) -> Fraction:
        """Turns of the barring tool for it."""
        return self.crank / 360 * self.bar


BACK_OFF_RULES: Mapping[str, Callable[[BackOff], Fraction | None]] = MappingProxyType(
    {
        "backs-off-to-press": lambda case: case.past + case.press_from,
        "backs-off-to-give-up": lambda case: case.past - case.give_up,
        "backs-off-from-the-hole": lambda case: case.back_off,
        "gear-for-crank-degrees": lambda case: None if case.pace == 1 else case.crank * case.pace,
        "gear-crank-wrong-way": lambda case: None if case.pace == 1 else case.crank * case.pace**2,
    }
)

# What is worked out on the gear and then taken for degrees of the crank, or carried over the wrong way.
BACK_OFF_FINISHES: Finishes[BackOff] = MappingProxyType(
    {
        "gear-for-crank-degrees": lambda case, value: None if case.pace == 1 else value * case.pace,
        "gear-crank-wrong-way": lambda case, value: None if case.pace == 1 else value * case.pace**2,
    }
)

BAR_RULES: Mapping[str, Callable[[BackOff], Fraction | None]] = MappingProxyType(
    {
        "bar-ratio-inverse": lambda case: case.crank / 360 / case.bar,
        "bar-as-crank": lambda case: case.crank / 360,
        "backs-off-from-the-hole": lambda case: case.back_off / 360 * case.bar,
        "gear-for-crank-degrees": lambda case: None if case.pace == 1 else case.turns * case.pace,
    }
)


BAR_FINISHES: Finishes[BackOff] = MappingProxyType(
    {
        "bar-ratio-inverse": lambda case, value: value / case.bar**2,
        "bar-as-crank": lambda case, value: value / case.bar,
        "gear-for-crank-degrees": lambda case, value: None if case.pace == 1 else value * case.pace,
    }
)


@dataclass(frozen=True, slots=True)
class MeshLash:
    """Lash of one mesh, in degrees of one of its gears, and crank degrees for one degree of that gear."""

    degrees: Fraction
    crank_per_degree: Fraction

    @property
    def crank(self) -> Fraction:
        """The same in crank degrees."""
        return self.degrees * self.crank_per_degree


@dataclass(frozen=True, slots=True)
class LashByMesh:
    """Lash mesh by mesh from the crank to the pin and to the component."""

    to_pin: tuple[MeshLash, ...]
    to_component: tuple[MeshLash, ...]
    press_from: Fraction = Fraction(0)

    @property
    def pin(self) -> Fraction:
        """Crank degrees of lash as far as the pin."""
        return sum((mesh.crank for mesh in self.to_pin), Fraction(0))

    @property
    def component(self) -> Fraction:
        """Crank degrees of lash as far as the component."""
        return sum((mesh.crank for mesh in self.to_component), Fraction(0))

    @property
    def error(self) -> Fraction:
        """Crank degrees by which the event is late where the pin went in while turning back: the difference."""
        return self.component - self.pin

    @property
    def least_back_off(self) -> Fraction:
        """The least back-off: press position and all lash to the component."""
        return self.press_from + self.component


def _unconverted(meshes: tuple[MeshLash, ...]) -> Fraction:
    return sum((mesh.degrees for mesh in meshes), Fraction(0))


def _wrong_way(meshes: tuple[MeshLash, ...]) -> Fraction:
    return sum((mesh.degrees / mesh.crank_per_degree for mesh in meshes), Fraction(0))


def _unless_right(
    rule: Callable[[LashByMesh], Fraction], right: Callable[[LashByMesh], Fraction]
) -> Callable[[LashByMesh], Fraction | None]:
    """Return a rule that has nothing to say where it comes to the right answer."""
    return lambda case: None if rule(case) == right(case) else rule(case)


def _error(rule: Callable[[LashByMesh], Fraction]) -> Callable[[LashByMesh], Fraction | None]:
    return _unless_right(rule, lambda case: case.error)


ERROR_RULES: Mapping[str, Callable[[LashByMesh], Fraction | None]] = MappingProxyType(
    {
        "whole-lash-counts": _error(lambda case: case.component),
        "pin-lash-counts": lambda case: case.pin if case.to_pin else None,
        "ignores-lash": lambda _: Fraction(0),
        "early-for-late": lambda case: -case.error,
        "gear-for-crank-degrees": _error(lambda case: _unconverted(case.to_component) - _unconverted(case.to_pin)),
        "gear-crank-wrong-way": _error(lambda case: _wrong_way(case.to_component) - _wrong_way(case.to_pin)),
    }
)

ERROR_FINISHES: Finishes[LashByMesh] = MappingProxyType({"early-for-late": lambda _, value: -value})


def _degrees_as_told(case: LashByMesh) -> LashByMesh:
    """Take the degrees of every gear for degrees of the crank."""
    to_pin, to_component = (
        tuple(replace(mesh, crank_per_degree=Fraction(1)) for mesh in way) for way in (case.to_pin, case.to_component)
    )
    return replace(case, to_pin=to_pin, to_component=to_component)


LASH_READINGS: Readings[LashByMesh] = MappingProxyType({"gear-for-crank-degrees": _degrees_as_told})

LEAST_RULES: Mapping[str, Callable[[LashByMesh], Fraction | None]] = MappingProxyType(
    {
        "lash-left-out": lambda case: case.press_from,
        "lash-to-pin-only": lambda case: case.press_from + case.pin if case.to_pin else None,
        "lash-only": lambda case: case.component,
        "gear-for-crank-degrees": _unless_right(
            lambda case: case.press_from + _unconverted(case.to_component), lambda case: case.least_back_off
        ),
    }
)


@dataclass(frozen=True, slots=True)
class Centre:
    """An engine barred on from the compression dead centre of a cylinder by whole firing intervals."""

    order: FiringOrder
    cylinder: int
    intervals: int
    asked: DeadCentre = "compression"  # of which dead centre the right answer speaks

    @property
    def angle(self) -> Fraction:
        """Crank degrees barred on."""
        return self.intervals * self.order.interval

    @property
    def after(self) -> Position:
        """Where the engine stands then."""
        return Position.known(self.order, cylinder=self.cylinder, on="compression").turned(self.angle)

    @property
    def right(self) -> Standing:
        """The cylinder on the dead centre that is spoken of."""
        (cylinder,) = self.after.at(self.asked)
        return cylinder, self.asked

    def true(self, standing: Standing) -> bool:
        """Tell whether a cylinder stands at a dead centre now."""
        cylinder, where = standing
        return cylinder in self.after.at(where)

    def counted(self, intervals: int) -> Standing:
        """Return the cylinder so many firings after the known one, or its companion a crank turn away."""
        cylinders = self.order.cylinders
        away = 0 if self.asked == "compression" else len(cylinders) // 2
        return cylinders[(self.order.place(self.cylinder) + intervals + away) % len(cylinders)], self.asked


def _one_turn(case: Centre) -> Standing | None:
    # A whole cycle in one crank turn: what is barred beyond it begins anew.
    if case.angle < 360 or 360 % case.order.interval:
        return None
    return case.counted(int((case.angle - 360) / case.order.interval))


_OTHER: Mapping[DeadCentre, DeadCentre] = {"compression": "exhaust", "exhaust": "compression"}

CENTRE_RULES: Mapping[str, Callable[[Centre], Standing | None]] = MappingProxyType(
    {
        "exhaust-for-compression": lambda case: (case.right[0], _OTHER[case.asked]),
        "reversed-order": lambda case: case.counted(-case.intervals),
        "cam-for-crank": lambda case: case.counted(2 * case.intervals),
        "one-turn-is-a-cycle": _one_turn,
    }
)
