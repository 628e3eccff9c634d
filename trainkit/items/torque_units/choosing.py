"""The tool itself: what it may deviate, and which one suits a value."""

from __future__ import annotations

import random
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.difficulty import digits
from trainkit.items.kinds import Given
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate, NumberQuestion, NumberTemplate
from trainkit.items.template import Redraw, redraw_if
from trainkit.items.torque_units import drawing
from trainkit.items.torque_units.rules import BAND_READINGS, BAND_RULES, Band
from trainkit.quantities import THIN, UNITS, Torque, plain

if TYPE_CHECKING:
    from trainkit.fasteners import Wrench
    from trainkit.packs import Pack, Tool


class ToleranceBand(NumberTemplate):
    """The largest reading that a wrench may give at a setting.

    Difficulty: the digits of the setting and those of the answer.
    """

    name = "torque-units/tolerance-band"
    skill = "Work out what a wrench may deviate"
    quantity = "torque"
    weights = MappingProxyType({"digits set": 0.5, "digits asked": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> NumberQuestion:
        """Draw once, or ask for another draw."""
        tool = rng.choice(drawing.torque_wrenches(pack))
        wrench = drawing.scale(tool)
        setting = Torque(drawing.draw_value(rng, wrench.usable_from.value, wrench.high, wrench.step), wrench.unit)
        case = Band(setting, wrench.high, wrench.permissible_deviation)
        # A bench reads finer than the wrench is marked.
        step = wrench.step / 5
        numbers = drawing.on_scale(BAND_RULES, case, case.most, step, readings=BAND_READINGS)
        told, shown = setting.shown(wrench.step), Torque(numbers.answer, wrench.unit).shown(step)
        share, size = f"{plain(case.share * 100)}{THIN}%", f"{plain(step, step)}{THIN}{wrench.unit}"
        deviation = plain(float(f"{setting.value * case.share:.4g}"))
        return NumberQuestion(
            prompt="The wrench is tried on a test bench. Which is the largest reading that still passes?",
            given=(
                *drawing.wrench_rows(tool, wrench),
                Given(label="Set on the wrench", value=told),
                Given(label="Tolerance", value=f"±{share} of the value"),
            ),
            to_nearest=f"to the nearest {size}, the step of the bench",
            numbers=numbers,
            unit=wrench.unit,
            shown=shown,
            working=(
                f"{share} of {told} is {deviation}{THIN}{wrench.unit}.",
                f"{plain(setting.value)} + {deviation} = {plain(float(f'{case.most:.6g}'))}{THIN}{wrench.unit}.",
                f"To the nearest {size} this is {shown}.",
            ),
            features={"digits set": digits(told), "digits asked": digits(shown)},
        )


# In newton metres: more than a torque screwdriver gives, so that the unit alone does not tell the tool.
_MOST_IN_OUNCES = 20


class WhichWrench(ChoiceTemplate):
    """Which wrench of the pack suits a value that is printed in another unit.

    Difficulty: the conversions to the units of the scales; the digits of the torque; the wrenches that seem to suit
    where units are left out.
    """

    name = "torque-units/which-wrench"
    skill = "Choose the wrench that suits a torque"
    weights = MappingProxyType({"unit changes": 1.0, "digits": 0.25, "seem to suit": 0.5})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[str]:
        """Draw once, or ask for another draw."""
        tools = drawing.torque_wrenches(pack, at_least=3)
        suited = rng.choice(tools)
        wrench = drawing.scale(suited)
        unit = rng.choice([unit for unit in drawing.units_of(pack, "N·m", "lbf·ft") if unit != wrench.unit])
        ends = wrench.usable_from.to(unit).value, Torque(wrench.high, wrench.unit).to(unit).value
        step = drawing.print_step(unit, *ends)
        if step is None:
            raise Redraw
        wanted = Torque(drawing.draw_value(rng, *ends, step), unit)
        # No job sheet prints what a large wrench gives in the unit of the smallest screws.
        redraw_if(unit == "ozf·in" and wanted.newton_metres > _MOST_IN_OUNCES)
        verdicts = {tool.id: drawing.scale(tool).suits(wanted) for tool in tools}
        # One wrench suits, and none of them by a hair.
        redraw_if(
            [name for name, verdict in verdicts.items() if verdict == "suits"] != [suited.id]
            or not all(_clear(drawing.scale(tool), wanted) for tool in tools)
        )
        others = [tool for tool in tools if tool.id != suited.id]
        shown = [suited, *rng.sample(others, min(3, len(others)))]
        shows, reasons = {}, {}
        for tool in shown:
            verdict = verdicts[tool.id]
            here = wanted.to(drawing.scale(tool).unit)
            fits = "suits" if verdict == "suits" else f"is {verdict}"
            reasons[tool.id] = f"{wanted.shown(step)} is {here.shown()}: the {tool.name} {fits}."
            if verdict != "suits":
                by_number = drawing.scale(tool).low <= wanted.value <= drawing.scale(tool).high
                shows[tool.id] = "tool-by-number" if by_number else f"tool-{verdict.replace(' ', '-')}"
        units = (
            unit,
            *(other for other in UNITS if other != unit and other in {drawing.scale(tool).unit for tool in shown}),
        )
        return ChoiceQuestion(
            prompt="Which of these torque wrenches suits the torque of the job sheet?",
            given=(Given(label="Job sheet", value=wanted.shown(step)), drawing.factor_row(*units)),
            texts={tool.id: _described(tool) for tool in shown},
            right=suited.id,
            shows=shows,
            reasons=reasons,
            working=(
                *reasons.values(),
                "A wrench is used above a fifth of its largest value and within its scale.",
            ),
            features={
                "unit changes": drawing.unit_changes(*units),
                "digits": digits(wanted.shown(step)),
                "seem to suit": list(shows.values()).count("tool-by-number"),
            },
        )


def _described(tool: Tool) -> str:
    wrench = drawing.scale(tool)
    ends = f"{plain(wrench.low, wrench.step)} to {plain(wrench.high, wrench.step)}"
    return f"{tool.name}, {ends}{THIN}{wrench.unit}"


def _clear(wrench: Wrench, wanted: Torque) -> bool:
    """Tell whether a torque lies more than 3 % off either end of what the wrench is good for."""
    value = wanted.to(wrench.unit).value
    return all(abs(value - end) > 0.03 * end for end in (wrench.usable_from.value, wrench.high))
