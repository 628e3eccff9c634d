"""Taking up lash: which way and how far, and what is left when it was not taken up rightly."""

from __future__ import annotations

import random
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit import gears
from trainkit.items import example_engines as examples
from trainkit.items import gearwork
from trainkit.items.difficulty import digits
from trainkit.items.distinct_answers import choices
from trainkit.items.kinds import Given
from trainkit.items.lash_and_timing.rules import (
    AT_CRANK,
    AT_SHAFT,
    LET_GO,
    SHORT,
    TAKING_UP_RULES,
    WOUND,
    WOUND_RULES,
    Shifted,
    Take,
    TakingUp,
    Wound,
)
from trainkit.items.lash_and_timing.timed import RADIAN, build_row, millimetres, radius_row, shift_text, timed
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.template import redraw_if

if TYPE_CHECKING:
    from trainkit.packs import Pack


# So far a loose gear moves at the least either way, in hundredths of a millimetre.
_LEAST = 3
# How a gear was clamped, so that each of the five answers is right equally often.
_HOW = MappingProxyType({WOUND: 2, SHORT: 2, LET_GO: 1})
# Two degrees to the hundredth are told apart from here on.
SMALLEST = 0.05


class TakeUp(ChoiceTemplate):
    """Which way a gear is turned to take up its lash, and how far.

    Difficulty: the links from the crank, where its sense is told; an end that is not the one the sense was
    stated from; a loose gear that drives the other one.
    """

    name = "lash-and-timing/take-up"
    skill = "take up lash the right way"
    weights = MappingProxyType({"links": 1.0, "other end": 1.0, "driver loose": 0.5})

    def ask(self, rng: random.Random, _pack: Pack, /) -> ChoiceQuestion[Take]:
        """Draw once."""
        engine = examples.example(rng, rng.choice((5, 6)), plain=True)
        survey = engine.survey
        mesh = rng.choice(survey.train.meshes)
        # A crank gear is not let loose.
        driven = mesh.driver == survey.crank or rng.random() < 0.5
        loose, held = (mesh.driven, mesh.driver) if driven else (mesh.driver, mesh.driven)
        way = survey.ways[survey.crank, loose]
        stated, asked = (rng.choice(gears.VIEWPOINTS) for _ in range(2))
        known = survey.crank if stated == asked else loose
        case = _drawn(rng, round(100 * (mesh.lash_mm or 0.0)), gears.signed(engine.running(loose, asked)), driven)
        right = case.right
        offered = _offered(rng, case)
        titles = {name: survey.title(name) for name in (loose, held)}
        drive, turn = gears.sense_of(case.drive), gears.sense_of(case.sense)
        closing = (
            f"Turn it {turn}, gently, and stop where you first feel resistance: after {_hundredths(right.hundredths)}."
        )
        pushes = (
            f"In service the {titles[held]} pushes it from behind: its teeth meet when it is turned back."
            if driven
            else f"In service it pushes the {titles[held]}: their teeth meet when it is turned on."
        )
        derived = way.lines[:-1] if stated == asked else ("From the other end every sense reverses.",)
        in_service = f"In service it turns {drive}, {gearwork.seen_from(asked)}."
        free = {gears.sense_of(sense): _hundredths(case.free[sense]) for sense in (1, -1)}
        return ChoiceQuestion(
            prompt=f"In service the {survey.title(known)} turns {engine.running(known, stated)}, "
            f"{gearwork.seen_from(stated)}. The {survey.title(mesh.driver)} drives the {survey.title(mesh.driven)}. "
            f"The {titles[held]} is held, the {titles[loose]} is loose. How do you turn the {titles[loose]}, "
            f"{gearwork.seen_from(asked)}, to take up the lash between the two?",
            given=(
                examples.engine_row(),
                *survey.mesh_rows(survey.between(survey.crank, [mesh.driven])),
                Given(
                    label="Free way of the loose gear, at its pitch circle",
                    value=f"{free['clockwise']} clockwise, {free['anticlockwise']} anticlockwise",
                ),
                Given(label="Forced, it gives", value=f"{_hundredths(case.gives)} more"),
            ),
            figure=survey.picture(survey.between(survey.crank, [mesh.driven]), asked),
            texts={take: _take_text(take) for take in offered},
            right=right,
            shows=offered,
            reasons={take: closing if take == right else in_service for take in offered},
            working=(*derived, in_service, pushes, closing),
            features={
                "links": len(way.kinds) if stated == asked else 0,
                "other end": stated != asked,
                "driver loose": not driven,
            },
            instead=examples.INSTEAD,
        )


def _drawn(rng: random.Random, lash: int, drive: int, driven: bool) -> TakingUp:
    """Return a loose gear somewhere within its lash."""
    redraw_if(lash < 2 * _LEAST + 1)
    clockwise = rng.randint(_LEAST, lash - _LEAST)
    free = {1: clockwise, -1: lash - clockwise}
    redraw_if(free[1] == free[-1])
    return TakingUp(drive, driven, MappingProxyType(free), rng.randint(2, 6), rng.randint(1, min(free.values()) - 1))


def _offered(rng: random.Random, case: TakingUp) -> dict[Take, str]:
    """Return what is offered: either way, up to the flank and twice elsewhere, so that no place in size tells."""
    wrong = {code: rule(case) for code, rule in TAKING_UP_RULES.items()}
    more = rng.choice(((case.gives, -case.short), (case.gives, 2 * case.gives), (-case.short, -_further(case))))
    kept = {case.take(sense, by) for sense in (1, -1) for by in (0, *more)}
    offered = choices(case.right, wrong, kept)
    redraw_if(len(kept) < 6)
    return {take: code for take, code in offered.items() if take in kept}


def _further(case: TakingUp) -> int:
    least = min(case.free.values())
    redraw_if(least < 3)
    return case.short + 1 if case.short + 1 < least else case.short - 1 or 2


def _hundredths(way: int) -> str:
    return millimetres(way / 100)


def _take_text(take: Take) -> str:
    return f"{gears.sense_of(take.sense).capitalize()}, by {_hundredths(take.hundredths)}"


class WindUp(ChoiceTemplate):
    """What the timing does when a gear was clamped too far on, too early, or after it was let go again.

    Difficulty: the digits of the millimetres, and of the degrees that come of them.
    """

    name = "lash-and-timing/wind-up"
    skill = "say what wind-up does to the timing"
    weights = MappingProxyType({"digits told": 0.25, "digits asked": 0.25})

    def ask(self, rng: random.Random, _pack: Pack, /) -> ChoiceQuestion[Shifted]:
        """Draw once."""
        of = timed(rng)
        title, radius = of.title, of.radius
        how = rng.choices(tuple(_HOW), tuple(_HOW.values()))[0]
        case = Wound(how, rng.randint(5, 40) / 100, radius, rng.choice((AT_CRANK, AT_SHAFT)))
        right = case.right
        redraw_if(case.crank_degrees < 2 * SMALLEST)
        wrong = {code: rule(case) for code, rule in WOUND_RULES.items()}
        offered = choices(right, wrong, case.all)
        what, way = shift_text(right), millimetres(case.way_mm)
        at_shaft, at_crank = (gearwork.degree_text(round(case.crank_degrees / by, 3)) for by in (2, 1))
        why = _WHY[how]
        return ChoiceQuestion(
            prompt=_CLAMPED[how].format(title=title, way=way)
            + f" What does the timing do once everything is let go, in degrees of the {case.asked}?",
            given=(
                examples.engine_row(),
                build_row("clamped"),
                radius_row(title, radius),
                *of.rows,
                RADIAN,
                Given(label="Way along the pitch circle", value=way),
            ),
            texts={shifted: shift_text(shifted) for shifted in offered},
            right=right,
            shows=offered,
            reasons={shifted: f"{what}. {why}" if shifted == right else why for shifted in offered},
            working=(
                f"At the shaft: {way} ÷ {millimetres(radius)} × 57.3° = {at_shaft}.",
                f"At half crank speed the crank turns twice as far: {at_crank}.",
                why,
            ),
            features={"digits told": digits(way), "digits asked": digits(at_crank)},
            instead=examples.INSTEAD,
        )


_CLAMPED = {
    WOUND: "After its teeth touched, the {title} was pressed on by {way} against its drive, and clamped while pressed.",
    SHORT: "The {title} was turned back against its drive, and clamped {way} before its teeth touched.",
    LET_GO: "After its teeth touched, the {title} was pressed on by {way} against its drive. "
    "It was let go, its teeth still touching, and then clamped.",
}
_WHY = {
    WOUND: "Let go, the gear springs forward to its flank and takes the shaft along: the event comes early.",
    SHORT: "The gear was clamped ahead of its flank. In service it waits for the driving tooth: the event comes late.",
    LET_GO: "Let go, the gear rests on its flank, and there it was clamped: nothing is left to change.",
}
