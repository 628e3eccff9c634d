"""Adapters: what to set, straight and at an angle, and what the bolt got when the adapter was forgotten."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

from trainkit.items import examples
from trainkit.items.difficulty import digits, uneven
from trainkit.items.kinds import Given
from trainkit.items.questions import NumberQuestion, NumberTemplate
from trainkit.items.template import redraw_if
from trainkit.items.torque_units import drawing
from trainkit.items.torque_units.rules import ADAPTER_RULES, FORGOTTEN_RULES, LEVER_READINGS, LeverChain
from trainkit.quantities import THIN, Torque, plain, round_to_step

if TYPE_CHECKING:
    from trainkit.fasteners import Wrench
    from trainkit.packs import Pack


# Angles at which a wrong line of reference gives another value than a forgotten sign. A right angle changes nothing, so
# that the wanted torque could be copied: it is rare.
_ANGLES = (*(30, 60, 120, 150, 180) * 12, 90)
# Levers of torque wrenches by the largest torque: mm, and mm for each N·m; from drive to bolt on an adapter, mm.
_SHORTEST, _LONGER, _SPREAD = 160, 1.6, 60
_ADAPTERS = range(30, 105, 5)
_ON_THE_HANDLE = (40, 50, 60, 70, 80)  # from the middle of the grip to the end of the handle, mm


_WEIGHTS: Mapping[str, float] = MappingProxyType({"digits": 0.25, "uneven step": 0.5})


class _Fitted(NamedTuple):
    """A joint, a wrench with an adapter on it, and a torque that the wrench can be set to without the adapter."""

    joint: str
    wrench: Wrench
    case: LeverChain

    @property
    def features(self) -> dict[str, float]:
        """The digits of torque and lengths, and whether the step is uneven."""
        case = self.case
        told = (
            case.torque.shown(self.wrench.step),
            drawing.millimetre_text(case.length),
            drawing.millimetre_text(case.adapter),
        )
        return {"digits": digits(*told), "uneven step": uneven(drawing.step_text(self.wrench))}


def _fitted(rng: random.Random, angles: Sequence[int] = ()) -> _Fitted:
    """Draw a joint, a wrench, an adapter, the angle between them and a torque."""
    angle = rng.choice(angles) if angles else 0
    wrench = examples.wrench(rng)
    whole = max(wrench.step, 1.0) if wrench.high - wrench.low >= 20 else wrench.step
    wanted = Torque(drawing.draw_value(rng, wrench.usable_from.value, wrench.high, whole), wrench.unit)
    shortest = _SHORTEST + _LONGER * Torque(wrench.high, wrench.unit).newton_metres
    length = round_to_step(rng.uniform(shortest, shortest + _SPREAD), 5.0)
    end = length + rng.choice(_ON_THE_HANDLE)
    return _Fitted(examples.name(rng), wrench, LeverChain(wanted, length, float(rng.choice(_ADAPTERS)), end, angle))


def _rows(fitted: _Fitted, label: str) -> tuple[Given, ...]:
    joint, wrench, case = fitted
    rows = (
        examples.named(joint),
        Given(label=label, value=case.torque.shown(wrench.step)),
        *drawing.scale_rows(wrench),
        Given(label="Wrench, drive to middle of grip", value=drawing.millimetre_text(case.length)),
        Given(label="Wrench, drive to end", value=drawing.millimetre_text(case.end)),
        Given(label="Adapter, drive to middle of bolt", value=drawing.millimetre_text(case.adapter)),
    )
    if case.angle:
        return (
            *rows,
            Given(label="Angle from the line of the wrench", value=f"{plain(case.angle)}° ({_way(case.angle)})"),
        )
    return rows


def _way(angle: float) -> str:
    if angle == 90:
        return "square to the wrench"
    if angle == 180:
        return "straight back along the wrench"
    return "pointing forward" if angle < 90 else "pointing back"


def _setting(fitted: _Fitted) -> NumberQuestion:
    wrench, case = fitted.wrench, fitted.case
    numbers = drawing.on_scale(
        ADAPTER_RULES, case, case.setting, wrench.step, small=("wrench-to-its-end",), readings=LEVER_READINGS
    )
    answer = Torque(numbers.answer, wrench.unit)
    redraw_if(wrench.suits(answer) != "suits")
    where = "straight on, in line with the wrench" if case.angle == 0 else _way(case.angle)
    return NumberQuestion(
        prompt=f"Tighten the bolt to the torque below, with an adapter, {where}. Which mark do you set?",
        given=_rows(fitted, "Wanted at the bolt"),
        to_nearest=f"to the nearest {drawing.step_text(wrench)}, the step of the wrench",
        numbers=numbers,
        unit=wrench.unit,
        shown=answer.shown(wrench.step),
        working=(
            *_working_of_lever(case),
            f"Setting: {plain(case.torque.value)} × {plain(case.length)} ÷ {plain(_reach(case))} "
            f"= {plain(case.setting)}{THIN}{wrench.unit}.",
            f"The nearest mark is {answer.shown(wrench.step)}.",
        ),
        features=fitted.features,
        instead=examples.WRENCH,
    )


def _reach(case: LeverChain) -> float:
    """Return the lever from grip to bolt along the wrench, mm."""
    return case.length * case.reached / case.torque.value


def _working_of_lever(case: LeverChain) -> tuple[str, ...]:
    grip, whole = drawing.millimetre_text(case.length), drawing.millimetre_text(float(f"{_reach(case):.6g}"))
    if case.angle == 0:
        return (f"Lever from grip to bolt: {grip} + {drawing.millimetre_text(case.adapter)} = {whole}.",)
    along = f"{drawing.millimetre_text(case.adapter)} × cos {plain(case.angle)}°"
    return (f"Lever from grip to bolt: {grip} + {along} = {whole}.",)


class AdapterStraight(NumberTemplate):
    """The setting of a wrench with an adapter that points straight on.

    Difficulty: the digits of torque and lengths, and whether the scale goes in uneven steps.
    """

    name = "torque-units/adapter-straight"
    skill = "Set a wrench with a straight adapter"
    quantity = "torque"
    weights = _WEIGHTS

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once, or ask for another draw."""
        return _setting(_fitted(rng))


class AdapterAtAnAngle(NumberTemplate):
    """The setting of a wrench with an adapter that stands at an angle, forward or back.

    Difficulty: the digits of torque and lengths, whether the scale goes in uneven steps, whether a cosine is needed,
    and whether the adapter points back, so that its part along the wrench is taken off.
    """

    name = "torque-units/adapter-at-an-angle"
    skill = "Set a wrench with an adapter at an angle"
    quantity = "torque"
    weights = MappingProxyType({**_WEIGHTS, "cosine": 1.0, "points back": 1.0})

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once, or ask for another draw."""
        fitted = _fitted(rng, _ANGLES)
        angle = fitted.case.angle
        features = {**fitted.features, "cosine": angle not in (90, 180), "points back": angle > 90}
        return replace(_setting(fitted), features=features)


class AdapterForgotten(NumberTemplate):
    """What the bolt got when the wrench was set as if there were no adapter.

    Difficulty: the digits of torque and lengths, and whether the scale goes in uneven steps.
    """

    name = "torque-units/adapter-forgotten"
    skill = "Work out what a bolt got through an adapter"
    quantity = "torque"
    weights = _WEIGHTS

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once, or ask for another draw."""
        fitted = _fitted(rng)
        wrench, case = fitted.wrench, fitted.case
        exact, size = case.reached, drawing.step_text(wrench)
        numbers = drawing.on_scale(
            FORGOTTEN_RULES, case, exact, wrench.step, small=("wrench-to-its-end",), readings=LEVER_READINGS
        )
        shown = Torque(numbers.answer, wrench.unit).shown(wrench.step)
        return NumberQuestion(
            prompt="The wrench was set to the value of the job sheet, but an adapter was on it, straight on. "
            "What torque did the bolt get?",
            given=_rows(fitted, "Set on the wrench"),
            to_nearest=f"to the nearest {size}",
            numbers=numbers,
            unit=wrench.unit,
            shown=shown,
            working=(
                *_working_of_lever(case),
                f"At the bolt: {plain(case.torque.value)} × {plain(_reach(case))} ÷ {plain(case.length)} "
                f"= {plain(exact)}{THIN}{wrench.unit}, which is {shown} to the nearest {size}.",
                f"That is {plain(float(f'{exact / case.torque.value * 100 - 100:.3g}'))} % too much.",
            ),
            features=fitted.features,
            instead=examples.WRENCH,
        )
