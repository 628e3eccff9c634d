"""Adapters: what to set, straight and at an angle, and what the bolt got when the adapter was forgotten."""

from __future__ import annotations

import random
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.difficulty import digits, row, uneven
from trainkit.items.item import Given, Item, NumberItem
from trainkit.items.key import Key, NumberKey
from trainkit.items.template import Redraw, Template
from trainkit.items.torque_units.drawing import (
    NEAR,
    adapters,
    draw_value,
    keep_off_edge,
    millimetre_text,
    pairs_apart,
    rules_apart,
    scale,
    wrench_rows,
)
from trainkit.items.torque_units.rules import ADAPTER_RULES, FORGOTTEN_RULES, LEVER_READINGS, Lever
from trainkit.quantities import THIN, Torque, plain, round_to_step

if TYPE_CHECKING:
    from trainkit.fasteners import Wrench
    from trainkit.packs import Pack, Tool

__all__ = ["AdapterAtAnAngle", "AdapterForgotten", "AdapterStraight"]

# Angles at which a wrong line of reference gives another value than a forgotten sign.
_ANGLES = (30, 60, 90, 120, 150, 180)


_WEIGHTS: Mapping[str, float] = MappingProxyType({"digits": 0.25, "uneven step": 0.5})


def _lever_features(item: Item) -> dict[str, float]:
    """Return the digits of torque and lengths, and whether the step is uneven."""
    torque_and_lengths = ("Wanted", "Set on", "Wrench, drive to middle", "Adapter, drive")
    return {
        "digits": sum(digits(row(item, label)) for label in torque_and_lengths),
        "uneven step": uneven(row(item, "From mark to mark")),
    }


def _lever(rng: random.Random, pack: Pack, angle: float = 0) -> tuple[Tool, Tool, Wrench, Lever]:
    """Return a wrench, an adapter and a torque that the wrench can be set to, with and without the adapter."""
    tool, adapter = rng.choice(adapters(pack))
    wrench = scale(tool)
    whole = max(wrench.step, 1.0) if wrench.high - wrench.low >= 20 else wrench.step
    wanted = Torque(draw_value(rng, wrench.usable_from.value, wrench.high, whole), wrench.unit)
    length, reach = float(tool.length or 0), float(adapter.adapter_length or 0)
    # From the middle of the grip to the end of the handle: a hand's breadth or so, drawn.
    end = length + rng.choice((40, 50, 60, 70, 80))
    return tool, adapter, wrench, Lever(wanted, length, reach, end, angle)


def _rows(tool: Tool, adapter: Tool, wrench: Wrench, case: Lever) -> tuple[Given, ...]:
    rows = (
        *wrench_rows(tool, wrench),
        Given(label="Wrench, drive to middle of grip", value=millimetre_text(case.length)),
        Given(label="Wrench, drive to end", value=millimetre_text(case.end)),
        Given(label="Adapter", value=adapter.name),
        Given(label="Adapter, drive to middle of bolt", value=millimetre_text(case.adapter)),
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


def _setting_item(template: Template, case: Lever, tool: Tool, adapter: Tool, wrench: Wrench) -> tuple[Item, Key]:
    exact = case.setting
    keep_off_edge(exact, wrench.step)
    answer = Torque(round_to_step(exact, wrench.step), wrench.unit)
    if wrench.suits(answer) != "suits":
        raise Redraw
    rules = rules_apart(ADAPTER_RULES, case, answer.value, wrench.step, small=("wrench-to-its-end",))
    pairs = pairs_apart(ADAPTER_RULES, case, answer.value, rules, wrench.step, readings=LEVER_READINGS)
    size = f"{plain(wrench.step, wrench.step)}{THIN}{wrench.unit}"
    where = "straight on, in line with the wrench" if case.angle == 0 else _way(case.angle)
    item = NumberItem(
        prompt=f"The bolt shall get the wanted torque through an adapter, {where}. Which mark do you set?",
        given=(
            Given(label="Wanted at the bolt", value=case.torque.shown(wrench.step)),
            *_rows(tool, adapter, wrench, case),
        ),
        units=(wrench.unit,),
        to_nearest=f"to the nearest {size}, the step of the wrench",
    )
    key = NumberKey(
        template=template.name,
        working=(
            *_working_of_lever(case),
            f"Setting: {plain(case.torque.value)} × {plain(case.length)} ÷ {plain(_reach(case))} "
            f"= {plain(exact)}{THIN}{wrench.unit}.",
            f"The nearest mark is {answer.shown(wrench.step)}.",
        ),
        answer=answer.value,
        unit=wrench.unit,
        tolerance=NEAR * wrench.step,
        shown=answer.shown(wrench.step),
        rules=rules,
        pairs=pairs,
    )
    return item, key


def _reach(case: Lever) -> float:
    """Return the lever from grip to bolt along the wrench, mm."""
    return case.length * case.reached / case.torque.value


def _working_of_lever(case: Lever) -> tuple[str, ...]:
    grip, whole = millimetre_text(case.length), millimetre_text(float(f"{_reach(case):.6g}"))
    if case.angle == 0:
        return (f"Lever from grip to bolt: {grip} + {millimetre_text(case.adapter)} = {whole}.",)
    along = f"{millimetre_text(case.adapter)} × cos {plain(case.angle)}°"
    return (f"Lever from grip to bolt: {grip} + {along} = {whole}.",)


class AdapterStraight(Template):
    """The setting of a wrench with an adapter that points straight on.

    Difficulty: the digits of torque and lengths, and whether the scale goes in uneven steps.
    """

    name = "torque-units/adapter-straight"
    skill = "Set a wrench with a straight adapter"
    kind = "number"
    weights = _WEIGHTS

    def features(self, item: Item, key: Key) -> Mapping[str, float]:  # noqa: ARG002 - the item tells it all
        """Return digits, and whether the step is uneven."""
        return _lever_features(item)

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> tuple[Item, Key]:  # noqa: ARG002 - nothing here is shuffled
        """Draw once, or ask for another draw."""
        tool, adapter, wrench, case = _lever(rng, pack)
        return _setting_item(self, case, tool, adapter, wrench)


class AdapterAtAnAngle(Template):
    """The setting of a wrench with an adapter that stands at an angle, forward or back.

    Difficulty: the digits of torque and lengths, whether the scale goes in uneven steps, whether a cosine is needed,
    and whether the adapter points back, so that its part along the wrench is taken off.
    """

    name = "torque-units/adapter-at-an-angle"
    skill = "Set a wrench with an adapter at an angle"
    kind = "number"
    weights = MappingProxyType({**_WEIGHTS, "cosine": 1.0, "points back": 1.0})

    def features(self, item: Item, key: Key) -> Mapping[str, float]:  # noqa: ARG002 - the item tells it all
        """Return digits, whether the step is uneven, whether there is a cosine, and whether the adapter points back."""
        angle = int(row(item, "Angle").partition("°")[0])
        return {**_lever_features(item), "cosine": angle not in (90, 180), "points back": angle > 90}

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> tuple[Item, Key]:  # noqa: ARG002 - nothing here is shuffled
        """Draw once, or ask for another draw."""
        tool, adapter, wrench, case = _lever(rng, pack, rng.choice(_ANGLES))
        return _setting_item(self, case, tool, adapter, wrench)


class AdapterForgotten(Template):
    """What the bolt got when the wrench was set as if there were no adapter.

    Difficulty: the digits of torque and lengths, and whether the scale goes in uneven steps.
    """

    name = "torque-units/adapter-forgotten"
    skill = "Work out what a bolt got through an adapter"
    kind = "number"
    weights = _WEIGHTS

    def features(self, item: Item, key: Key) -> Mapping[str, float]:  # noqa: ARG002 - the item tells it all
        """Return digits, and whether the step is uneven."""
        return _lever_features(item)

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> tuple[Item, Key]:  # noqa: ARG002 - nothing here is shuffled
        """Draw once, or ask for another draw."""
        tool, adapter, wrench, case = _lever(rng, pack)
        exact, step = case.reached, wrench.step
        keep_off_edge(exact, step)
        answer = Torque(round_to_step(exact, step), wrench.unit)
        rules = rules_apart(FORGOTTEN_RULES, case, answer.value, step, small=("wrench-to-its-end",))
        pairs = pairs_apart(FORGOTTEN_RULES, case, answer.value, rules, step, readings=LEVER_READINGS)
        size = f"{plain(step, step)}{THIN}{wrench.unit}"
        item = NumberItem(
            prompt=(
                "The wrench was set to the value of the job sheet, but an adapter was on it, straight on. "
                "What torque did the bolt get?"
            ),
            given=(
                Given(label="Set on the wrench", value=case.torque.shown(step)),
                *_rows(tool, adapter, wrench, case),
            ),
            units=(wrench.unit,),
            to_nearest=f"to the nearest {size}",
        )
        key = NumberKey(
            template=self.name,
            working=(
                *_working_of_lever(case),
                f"At the bolt: {plain(case.torque.value)} × {plain(_reach(case))} ÷ {plain(case.length)} "
                f"= {plain(exact)}{THIN}{wrench.unit}, which is {answer.shown(step)} to the nearest {size}.",
                f"That is {plain(float(f'{exact / case.torque.value * 100 - 100:.3g}'))} % too much.",
            ),
            answer=answer.value,
            unit=wrench.unit,
            tolerance=NEAR * step,
            shown=answer.shown(step),
            rules=rules,
            pairs=pairs,
        )
        return item, key
