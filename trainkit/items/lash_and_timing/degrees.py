"""Millimetres at a radius as degrees of the crank: a move along a circle, and lash at the pitch circle."""

from __future__ import annotations

import random
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items import example_engines as examples
from trainkit.items import gearwork
from trainkit.items.difficulty import digits
from trainkit.items.distinct_answers import clear, numbers
from trainkit.items.kinds import Given
from trainkit.items.lash_and_timing.rules import (
    CIRCLE_FINISHES,
    CIRCLE_READINGS,
    CIRCLE_RULES,
    LASH_READINGS,
    LASH_RULES,
    Circle,
    MeasuredLash,
)
from trainkit.items.lash_and_timing.timed import (
    PRINTED_SHARE,
    RADIAN,
    build_row,
    circle_radius,
    millimetres,
    radius_row,
    timed,
)
from trainkit.items.questions import NumberQuestion, NumberTemplate
from trainkit.quantities import plain

if TYPE_CHECKING:
    from trainkit.packs import Pack


MOVE_STEP = 0.1
LASH_STEP = 0.01


class MovedDegrees(NumberTemplate):
    """The timed gear was moved on its shaft along a circle; the degrees of the crank are asked.

    Difficulty: the digits of the move and of the radius, and of the answer.
    """

    name = "lash-and-timing/moved-degrees"
    skill = "turn millimetres at a radius into crank degrees"
    quantity = "crank angle"
    weights = MappingProxyType({"digits told": 0.25, "digits asked": 0.25})

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once."""
        of = timed(rng)
        title, pitch = of.title, of.radius
        case = Circle(rng.randint(5, 30) / 10, circle_radius(rng, pitch), pitch)
        found = clear(
            numbers(
                CIRCLE_RULES,
                case,
                case.right,
                MOVE_STEP,
                share=PRINTED_SHARE,
                readings=CIRCLE_READINGS,
                finishes=CIRCLE_FINISHES,
            )
        )
        moved, radius = millimetres(case.moved_mm), millimetres(case.radius_mm)
        size, shown = f"{plain(MOVE_STEP)}°", f"{plain(found.answer, MOVE_STEP)}°"
        return NumberQuestion(
            prompt=f"The {title} was moved on its shaft, measured along the circle of its screws. "
            "How many degrees of the crank is that? Leave out which way; it is the same seen from either end.",
            given=(
                examples.engine_row(),
                build_row("clamped"),
                Given(label="Moved", value=moved),
                Given(label="Radius of the circle of screws", value=radius),
                radius_row(title, pitch),
                *of.rows,
                RADIAN,
            ),
            to_nearest=f"to the nearest {size} of the crank",
            numbers=found,
            unit="°",
            shown=shown,
            working=(
                f"At the shaft: {moved} ÷ {radius} × 57.3° = {gearwork.degree_text(round(case.right / 2, 3))}.",
                f"At half crank speed that counts double: {gearwork.degree_text(round(case.right, 3))} of the crank.",
                f"To the nearest {size} that is {shown}.",
            ),
            features={"digits told": digits(moved, radius), "digits asked": digits(shown)},
            instead=examples.INSTEAD,
        )


class LashDegrees(NumberTemplate):
    """Lash was measured at the pitch circle of a gear; the degrees of the crank are asked.

    Difficulty: the gears on the way to the crank; the digits of lash and radius, and of the answer.
    """

    name = "lash-and-timing/lash-degrees"
    skill = "turn lash into crank degrees"
    quantity = "crank angle"
    weights = MappingProxyType({"gears": 0.5, "digits told": 0.25, "digits asked": 0.25})

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once."""
        survey = examples.example(rng, plain=True).survey
        mesh = rng.choice(survey.train.meshes)
        ends = [end for end in (mesh.driven, mesh.driver) if end != survey.crank]
        name = rng.choice(ends)
        mate = mesh.driver if name == mesh.driven else mesh.driven
        radius, other = (survey.train.gear(each).radius_mm or 0.0 for each in (name, mate))
        way = survey.ways[survey.crank, name]
        case = MeasuredLash(mesh.lash_mm or 0.0, radius, other, abs(way.ratio))
        found = clear(numbers(LASH_RULES, case, case.right, LASH_STEP, share=PRINTED_SHARE, readings=LASH_READINGS))
        lash, at_gear = millimetres(case.lash_mm), gearwork.degree_text(round(case.at_gear, 4))
        size, shown = f"{plain(LASH_STEP)}°", f"{plain(found.answer, LASH_STEP)}°"
        title = way.last.title
        return NumberQuestion(
            prompt=f"The {survey.title(mate)} is held. A dial gauge at the pitch circle of the {title} shows the lash. "
            "How many degrees of the crank is that? It is the same seen from either end.",
            given=(
                examples.engine_row(),
                Given(label="Lash", value=lash),
                radius_row(title, radius),
                radius_row(survey.title(mate), other),
                *way.rows,
                RADIAN,
            ),
            to_nearest=f"to the nearest {size} of the crank",
            numbers=found,
            unit="°",
            shown=shown,
            working=(
                f"At the {title}: {lash} ÷ {millimetres(radius)} × 57.3° = {at_gear}.",
                way.lines[-1],
                f"At the crank: {at_gear} ÷ {case.ratio} = {gearwork.degree_text(round(case.right, 4))}.",
                f"To the nearest {size} that is {shown}.",
            ),
            features={
                "gears": sum(bool(survey.train.gear(gear).teeth) for gear in way.path.gears),
                "digits told": digits(lash, millimetres(radius)),
                "digits asked": digits(shown),
            },
            instead=examples.INSTEAD,
        )
