"""What a movement does: which is harmless, and whether it makes the event early or late."""

from __future__ import annotations

import random
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit import gears
from trainkit.items import gearwork
from trainkit.items.difficulty import digits, tens_of_words
from trainkit.items.distinct_answers import choices
from trainkit.items.kinds import Given
from trainkit.items.lash_and_timing.mounting import Build, Movement, movements
from trainkit.items.lash_and_timing.rules import SHIFT_RULES, Shift, Shifted
from trainkit.items.lash_and_timing.timed import (
    RADIAN,
    build_row,
    builds,
    circle_radius,
    millimetres,
    shift_text,
    timed,
)
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate, SeveralQuestion, SeveralTemplate

if TYPE_CHECKING:
    from trainkit.packs import Pack


OPTIONS = 5


class HarmlessMovement(SeveralTemplate):
    """Of several movements during the work all are to be taken that leave the timing as it was set.

    Difficulty: the words to read, in tens; the movements that come in two parts, one of which undoes the other
    or seems to.
    """

    name = "lash-and-timing/harmless-movement"
    skill = "tell harmless movements from harmful ones"
    weights = MappingProxyType({"tens of words": 0.5, "taken up again": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> SeveralQuestion[Movement]:
        """Draw once."""
        name, _ = timed(pack)
        build: Build = rng.choice(builds(pack))
        known = movements((build,))
        harmless = [movement for movement in known if movement.harmless]
        harmful = [movement for movement in known if not movement.harmless]
        some = rng.sample(harmless, rng.randint(1, len(harmless)))
        asked = [*some, *rng.sample(harmful, OPTIONS - len(some))]
        said = {movement: _said(movement) for movement in asked}
        return SeveralQuestion(
            prompt=f"These movements happened during work on the {gearwork.survey(pack).title(name)}, each by itself. "
            "Which of them leave the timing as it was set? There may be more than one.",
            given=(gearwork.engine_row(pack), build_row(build)),
            texts={movement: movement.text for movement in asked},
            right=some,
            shows={each: "any-movement-ruins" if each.harmless else "no-movement-matters" for each in asked},
            reasons=said,
            working=tuple(f"{movement.text}: {text[0].lower()}{text[1:]}" for movement, text in said.items()),
            features={
                "tens of words": tens_of_words(movement.text for movement in asked),
                "taken up again": sum(movement.again and not movement.before for movement in asked),
            },
        )


def _said(movement: Movement) -> str:
    """Say what a movement leaves behind, and why."""
    if movement.harmless:
        return "Nothing is left of it: the lash was taken up again, and shaft and housing stand as they were set."
    effect = "early" if movement.left > 0 else "late"
    if movement.again:
        return f"Taking up the lash again does not put shaft and housing back to each other; the event comes {effect}."
    if "gear" in movement.moved:
        return f"The gear stands off its flank, and goes back to it in service; the event comes {effect}."
    return f"The shaft does not stand as it was set; the event comes {effect}."


class EarlyOrLate(ChoiceTemplate):
    """Shaft or housing was clamped too far one way; how much earlier or later the event comes is asked.

    Difficulty: a housing that was moved, where everything is the other way round; the digits of move and
    radius; a move against the drive.
    """

    name = "lash-and-timing/early-or-late"
    skill = "say whether a movement makes the event early or late"
    weights = MappingProxyType({"housing": 0.5, "against": 0.25, "digits": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[Shifted]:
        """Draw once."""
        name, pitch = timed(pack)
        build: Build = rng.choice(builds(pack))
        survey = gearwork.survey(pack)
        viewpoint = rng.choice(gears.VIEWPOINTS)
        turned: gears.Sense = rng.choice(("clockwise", "anticlockwise"))
        case = Shift(
            "shaft" if build == "clamped" else "housing",
            rng.randint(4, 25) / 10,
            circle_radius(rng, pitch),
            turned,
            gearwork.running(pack, name, viewpoint),
        )
        title, moved, radius = survey.title(name), millimetres(case.moved_mm), millimetres(case.radius_mm)
        right = case.right
        half = round(case.shift.crank_degrees / 2, 2)
        wrong = {code: rule(case) for code, rule in SHIFT_RULES.items()}
        offered = choices(right, wrong, [right._replace(degrees=half, effect=-right.effect)])
        what = "The shaft was clamped in its gear" if case.part == "shaft" else "The housing was clamped"
        reason = case.shift.reason
        return ChoiceQuestion(
            prompt=f"In service the shaft of the {title} turns {case.drive}. "
            f"{what} {moved} too far {turned}. Both are {gearwork.seen_from(viewpoint)}. "
            "What does the timing do?",
            given=(
                gearwork.engine_row(pack),
                build_row(build),
                Given(label="Measured along a circle of radius", value=radius),
                *survey.ways[survey.crank, name].rows,
                RADIAN,
            ),
            texts={shifted: shift_text(shifted) for shifted in offered},
            right=right,
            shows=offered,
            reasons={shifted: f"{shift_text(right)}. {reason}" if shifted == right else reason for shifted in offered},
            working=(
                f"At the shaft: {moved} ÷ {radius} × 57.3° "
                f"= {gearwork.degree_text(round(case.shift.crank_degrees / 2, 3))}.",
                "At half crank speed that counts double: "
                f"{gearwork.degree_text(round(case.shift.crank_degrees, 3))} of the crank.",
                reason,
            ),
            features={
                "housing": case.part == "housing",
                "against": turned != case.drive,
                "digits": digits(title, moved, radius),
            },
        )
