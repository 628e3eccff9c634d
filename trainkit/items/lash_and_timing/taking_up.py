"""Taking up lash: which way and how hard, and what wind-up does to the timing."""

from __future__ import annotations

import random
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit import gears
from trainkit.items import gearwork
from trainkit.items.difficulty import digits
from trainkit.items.distinct_answers import choices
from trainkit.items.kinds import Given
from trainkit.items.lash_and_timing.rules import TAKING_UP_RULES, WOUND_RULES, Shifted, Take, TakingUp, Wound
from trainkit.items.lash_and_timing.timed import RADIAN, build_row, millimetres, radius_row, shift_text, timed
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.template import lacking

if TYPE_CHECKING:
    from trainkit.packs import Pack


class TakeUp(ChoiceTemplate):
    """Which way a gear is turned to take up its lash, and how hard.

    Difficulty: the links from the crank, where its sense is told; an end that is not the one the sense was
    stated from.
    """

    name = "lash-and-timing/take-up"
    skill = "take up lash the right way"
    weights = MappingProxyType({"links": 1.0, "other end": 1.0})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[Take]:
        """Draw once."""
        survey = gearwork.survey(pack)
        meshes = [mesh for mesh in survey.train.meshes if mesh.kind == "external" and mesh.lash_mm]
        if not meshes:
            raise lacking(pack, "a mesh of outside teeth with lash", "State lash_mm under [[meshes]]")
        mesh = rng.choice(meshes)
        driver, driven = survey.title(mesh.driver), survey.title(mesh.driven)
        way = survey.ways[survey.crank, mesh.driven]
        if rng.random() < 0.5:
            stated = asked = rng.choice(gears.VIEWPOINTS)
            told = f"In service the crank gear turns {gearwork.running(pack, pack.crank, stated)}"
        else:
            stated = rng.choice(gears.VIEWPOINTS)
            asked = gears.other_end(stated)
            told = f"In service the {driven} turns {gearwork.running(pack, mesh.driven, stated)}"
        drive = gearwork.running(pack, mesh.driven, asked)
        case = TakingUp(gears.signed(drive), int(stated != asked), way.links("external") if stated == asked else 0)
        right = case.right
        wrong = {code: rule(case) for code, rule in TAKING_UP_RULES.items()}
        offered = choices(right, wrong, [right._replace(against=False)])
        closing = (
            f"Its teeth rest on the {driver} as in service when it is turned back: "
            f"{gears.sense_of(right.sense)}, gently, until you feel resistance."
        )
        derived = way.lines[:-1] if stated == asked else ("From the other end every sense is turned over.",)
        in_service = f"In service it turns {drive}, {gearwork.seen_from(asked)}."
        among = survey.between(survey.crank, [mesh.driven])
        return ChoiceQuestion(
            prompt=f"{told}, {gearwork.seen_from(stated)}. The {driver} is held, the {driven} is loose. "
            f"How do you turn the {driven}, {gearwork.seen_from(asked)}, to take up the lash between the two?",
            given=(gearwork.engine_row(pack), *survey.mesh_rows(among)),
            figure=survey.picture(among, asked),
            texts={take: _take_text(take) for take in offered},
            right=right,
            shows=offered,
            reasons={take: closing if take == right else in_service for take in offered},
            working=(
                *derived,
                f"So the {driven} turns {drive} in service, {gearwork.seen_from(asked)}.",
                f"In service the {driver} pushes it from behind.",
                closing,
            ),
            features={"links": len(way.kinds) if stated == asked else 0, "other end": stated != asked},
        )


def _take_text(take: Take) -> str:
    how = "gently until you feel resistance" if take.gently else "on until nothing gives any more"
    return f"{gears.sense_of(take.sense).capitalize()}, {'against' if take.against else 'with'} its drive, {how}"


class WindUp(ChoiceTemplate):
    """What the timing does when lash was taken up with force and the gear clamped there.

    Difficulty: the digits of the millimetres that the gear was pressed on by, and of the degrees that come of
    it.
    """

    name = "lash-and-timing/wind-up"
    skill = "say what wind-up does to the timing"
    weights = MappingProxyType({"digits told": 0.25, "digits asked": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[Shifted]:
        """Draw once."""
        name, radius = timed(pack)
        survey = gearwork.survey(pack)
        title = survey.title(name)
        case = Wound(rng.randint(15, 90) / 100, radius)
        right = case.right
        half = round(case.degrees / 2, 2)
        wrong = {code: rule(case) for code, rule in WOUND_RULES.items()}
        offered = choices(right, wrong, [right._replace(degrees=half, effect=-right.effect)])
        what, pressed = shift_text(right), millimetres(case.pressed_mm)
        at_crank = gearwork.degree_text(round(case.degrees, 3))
        springs = "Let go, the gear springs forward to its flank and takes the shaft along: the event comes early."
        return ChoiceQuestion(
            prompt=f"The lash was taken up with force: after its teeth touched, the {title} was pressed on by "
            f"{pressed} along its pitch circle and clamped there. "
            "What does the timing do once everything is let go?",
            given=(
                gearwork.engine_row(pack),
                build_row("clamped"),
                radius_row(title, radius),
                *survey.ways[survey.crank, name].rows,
                RADIAN,
                Given(label="Pressed on", value=pressed),
            ),
            texts={shifted: shift_text(shifted) for shifted in offered},
            right=right,
            shows=offered,
            reasons={shifted: f"{what}. {springs}" if shifted == right else springs for shifted in offered},
            working=(
                f"At the gear: {pressed} ÷ {millimetres(radius)} × 57.3° "
                f"= {gearwork.degree_text(round(case.degrees / 2, 3))}.",
                f"At half crank speed that counts double: {at_crank} of the crank.",
                springs,
            ),
            features={"digits told": digits(pressed), "digits asked": digits(at_crank)},
        )
