"""Numbers at the lock pin: how far back, turns of the bar, the least back-off, the error after turning back."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.gears import backlash_degrees
from trainkit.items import example_engines as examples
from trainkit.items.dial_marks import at_clock
from trainkit.items.difficulty import digits
from trainkit.items.distinct_answers import clear, told_apart
from trainkit.items.gearwork import end
from trainkit.items.kinds import Given
from trainkit.items.lock_pin import rules
from trainkit.items.lock_pin.bench import CRANK, Bench, clock_figure, crank_text, example_bench, ratio_text
from trainkit.items.questions import NumberQuestion, NumberTemplate
from trainkit.items.template import redraw_if
from trainkit.lockpin import early_or_late
from trainkit.quantities import THIN, plain

if TYPE_CHECKING:
    from trainkit.packs import Pack


# Half a step and a hair: the exact answer and the one put on the step are both right, the next step is not.
_HALF = 0.51
# So far apart from a least value, and from each other, that after rounding up no wrong rule meets it.
_LEAST = 0.045


_BACK_WEIGHTS: Mapping[str, float] = MappingProxyType(
    {"other pace": 1.0, "odd minutes": 0.5, "hours crossed": 0.25, "digits": 0.25}
)
_LASH_WEIGHTS: Mapping[str, float] = MappingProxyType({"meshes": 1.0, "digits told": 0.25, "digits asked": 0.25})


def _back_features(told: Bench, case: rules.BackOff, shown: str) -> dict[str, float]:
    """Return what makes it hard to read the way back off the clock and to carry it to the crank."""
    start, goal = (int(told.dial.at(before) // 30) for before in (-case.past, case.back_off))
    hours = (start - goal) % 12
    return {
        "other pace": told.dial.turns_per_crank != 1,
        "odd minutes": sum(not on_a_five(told, before) for before in (-case.past, case.back_off)),
        "hours crossed": min(hours, 12 - hours),
        "digits": digits(shown),
    }


def on_a_five(told: Bench, before: Fraction) -> bool:
    """Tell whether the mark, so many crank degrees before its place, stands at five minutes of the clock or ten …."""
    return told.dial.at(before) * 2 % 5 == 0


# So many crank degrees past the give-up mark at most.
_FURTHEST = 40


def missed(rng: random.Random, told: Bench, bar: Fraction = Fraction(1)) -> rules.BackOff:
    """Return a hole that was missed: the mark stands on a minute of the clock past the give-up mark.

    Raises
    ------
    Redraw
        If it stands too far away, or a clock position, as it is written, would not give the exact angle.
    """
    setup, dial = told.setup, told.dial
    minute = Fraction(1, 2) / dial.turns_per_crank  # crank degrees for a minute of the clock
    first = int(setup.give_up / minute) + 2
    past = rng.randint(first, first + int(_FURTHEST / minute)) * minute
    places = (setup.back_off, setup.press_from, -setup.give_up, -past)
    redraw_if(past > setup.period / 3 or any((dial.at(before) * 2).denominator != 1 for before in places))
    return rules.BackOff(past, setup.press_from, setup.give_up, setup.back_off, dial.turns_per_crank, bar)


def _places(told: Bench, case: rules.BackOff) -> tuple[Given, ...]:
    setup, dial = told.setup, told.dial
    return (
        Given(label="Marked gear", value=f"{told.watched}, seen from {end(dial.seen_from)}"),
        Given(label="Back off to", value=at_clock(setup, case.back_off)),
        Given(label="Press from", value=at_clock(setup, case.press_from)),
        Given(label="Pin seats", value=at_clock(setup, Fraction(0))),
        Given(label="Give up", value=at_clock(setup, -case.give_up)),
        Given(label="The mark stands now", value=at_clock(setup, -case.past)),
        Given(label="One crank turn turns this gear", value=ratio_text(dial.turns_per_crank)),
    )


def _back_working(told: Bench, case: rules.BackOff) -> tuple[str, ...]:
    pace = case.pace
    now, goal = at_clock(told.setup, -case.past), at_clock(told.setup, case.back_off)
    gear = case.crank * pace
    lines = [
        "The hole was missed: let go of the pin, back off to the back-off mark, and come forward again.",
        "The way back covers the press position and all lash, so that every gear rests on its flank in time.",
        f"From {now} back to {goal} the {told.watched} turns {plain(float(gear))}°.",
    ]
    if pace != 1:
        lines.append(
            f"One turn of the crank is {ratio_text(pace)} of that gear: {plain(float(gear))} ÷ {pace} "
            f"= {crank_text(case.crank)}."
        )
    return tuple(lines)


_BACK_PROMPT = (
    "You barred past the give-up mark, and the pin did not go in. You let go of it. {question} "
    "Leave the lash out of it."
)


class HowFarBack(NumberTemplate):
    """The hole was missed: crank degrees back to the back-off mark, from clock positions of the mark.

    Difficulty: one where the marked gear keeps another pace than the crank; the clock positions that stand between
    two fives of minutes; an hour that is crossed on the way back; the digits of the answer.
    """

    name = "lock-pin/how-far-back"
    skill = "work out how far to back off"
    quantity = "crank angle"
    weights = _BACK_WEIGHTS

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once, or ask for another draw."""
        told = example_bench(rng)
        case = missed(rng, told)
        redraw_if(case.crank.denominator != 1)
        asked = how_far_back(told, case)
        return replace(asked, given=(examples.engine_row(), *asked.given), instead=examples.INSTEAD)


def how_far_back(told: Bench, case: rules.BackOff) -> NumberQuestion:
    """Ask how far a missed hole lies behind.

    Raises
    ------
    Redraw
        If two ways to the answer cannot be told apart.
    """
    shown = crank_text(case.crank)
    return NumberQuestion(
        prompt=_BACK_PROMPT.format(
            question="Through how many crank degrees does the mark go back before you come forward again?"
        ),
        given=_places(told, case),
        figure=clock_figure(told, at_clock(told.setup, -case.past)),
        to_nearest=f"to the nearest 1{THIN}crank degree",
        numbers=clear(
            told_apart(rules.BACK_OFF_RULES, case, case.crank, float, _HALF, finishes=rules.BACK_OFF_FINISHES)
        ),
        unit=CRANK,
        shown=shown,
        working=_back_working(told, case),
        features=_back_features(told, case, shown),
    )


class TurnsOfTheBar(NumberTemplate):
    """The same, in turns of the barring pinion.

    Difficulty: as for :class:`HowFarBack`; the way from the crank to the tool is the same in every draw.
    """

    name = "lock-pin/turns-of-the-bar"
    skill = "turn a crank angle into turns of the barring tool"
    quantity = "turns of the tool"
    weights = _BACK_WEIGHTS

    STEP = 0.1

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once, or ask for another draw."""
        told, barring = example_bench(rng), examples.ring_and_pinion(rng)
        case = missed(rng, told, abs(barring.ratio))
        # So near to where rounding turns over, the lash would decide.
        redraw_if(abs(float(case.turns) / self.STEP % 1 - 0.5) < 0.1)
        turns = plain(round(float(case.turns), 4))
        shown = f"{turns} turns of the tool"
        return NumberQuestion(
            prompt=_BACK_PROMPT.format(
                question="How many turns of the barring tool bring the mark back to the back-off mark?"
            ),
            given=(
                examples.engine_row(),
                *_places(told, case),
                Given(label="Ring gear", value=f"{barring.ring_teeth} teeth"),
                Given(label="Barring pinion", value=f"{barring.pinion_teeth} teeth"),
            ),
            figure=clock_figure(told, at_clock(told.setup, -case.past)),
            to_nearest="to the nearest 0.1 of a turn",
            numbers=clear(
                told_apart(rules.BAR_RULES, case, case.turns, float, _HALF * self.STEP, finishes=rules.BAR_FINISHES)
            ),
            unit="turns",
            shown=shown,
            working=(
                *_back_working(told, case),
                f"Turns of the tool: {plain(float(case.crank))} ÷ 360 × {barring.ring_teeth} ÷ "
                f"{barring.pinion_teeth} = {turns}.",
            ),
            features=_back_features(told, case, shown),
            instead=examples.INSTEAD,
        )


@dataclass(frozen=True, slots=True)
class _Measured:
    """An example engine whose lash was measured mesh by mesh, each in degrees of the gear that is driven."""

    case: rules.LashByMesh
    component: str
    rows: tuple[Given, ...]
    lash_rows: tuple[Given, ...]
    working: tuple[str, ...]


def _measured(rng: random.Random) -> _Measured:
    """Draw an engine with a hole for the pin in one gear, a component driven by another, and lash at each mesh."""
    survey = examples.example(rng, plain=True).survey
    component = rng.choice((examples.PUMP, examples.CAM))
    # With one mesh between the two its lash would be the answer.
    far = [name for name in survey.names if len(survey.ways[name, component].kinds) > 1]
    redraw_if(not far)
    holed = rng.choice(far)
    gears = survey.between(survey.crank, (holed, component))
    drawn, told, lines = {}, [], []
    for mesh in survey.train.meshes:
        if mesh.driven not in gears:
            continue
        target, source = survey.train.gear(mesh.driven), survey.title(mesh.driver)
        step = round(20 * backlash_degrees(mesh.lash_mm or 0.0, target.radius_mm or 1.0))
        redraw_if(not step)
        lash = rules.MeshLash(Fraction(step, 20), abs(survey.train.ratio(mesh.driven, survey.crank)))
        degrees = plain(float(lash.degrees))
        drawn[mesh.driven] = lash
        told.append(
            Given(label=f"Lash {source} to {target.title}", value=f"{degrees}{THIN}degrees of the {target.title}")
        )
        lines.append(
            f"{source} to {target.title}: {degrees} × {lash.crank_per_degree} = {crank_text(lash.crank)}, "
            f"since one degree of the {target.title} is {lash.crank_per_degree} of the crank."
        )
    to_pin, to_component = (
        tuple(drawn[leg.target.id] for leg in survey.ways[survey.crank, gear].path.legs) for gear in (holed, component)
    )
    rows = (
        examples.engine_row(),
        *(Given(label=survey.title(gear), value=f"{survey.train.gear(gear).teeth} teeth") for gear in gears),
        Given(label="Hole for the pin", value=f"in the {_FLYWHEEL if holed == survey.crank else survey.title(holed)}"),
        Given(label="Component", value=survey.title(component)),
    )
    case = rules.LashByMesh(to_pin, to_component, Fraction(rng.randint(8, 40), 2))
    return _Measured(case, survey.title(component), rows, tuple(told), tuple(lines))


_FLYWHEEL = "flywheel, on the crank"


class LeastBackOff(NumberTemplate):
    """The least back-off: the press position and all lash from the crank to the component.

    Difficulty: the meshes whose lash is told; the digits of their lash; the digits of the answer.
    """

    name = "lock-pin/least-back-off"
    skill = "know what a back-off must cover"
    quantity = "crank angle"
    weights = _LASH_WEIGHTS

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once, or ask for another draw."""
        of = _measured(rng)
        case = of.case
        least = case.least_back_off
        # Rounded up, as less would leave lash; where that and the exact value are too far apart, both were right.
        answer = Fraction(math.ceil(least * 10), 10)
        redraw_if(answer - least > Fraction(4, 100))
        numbers = clear(told_apart(rules.LEAST_RULES, case, answer, float, _LEAST, readings=rules.LASH_READINGS))
        sums = " + ".join(plain(float(mesh.crank)) for mesh in case.to_component)
        shown = crank_text(answer)
        return NumberQuestion(
            prompt="The lash of this engine was measured. How far before the hole must a back-off go, at the least, "
            "for every gear to rest on its driving flank when you begin to press?",
            given=(
                *of.rows,
                Given(label="Begin to press", value=f"{crank_text(case.press_from)} before the hole"),
                *of.lash_rows,
            ),
            to_nearest=f"in steps of 0.1{THIN}crank degree, rounded up",
            # The exact value is right too; a hair less would leave lash.
            numbers=numbers._replace(tolerance=float(answer - least)),
            unit=CRANK,
            shown=shown,
            working=(
                "Lash must be taken up before the gears push: press position plus all lash to the component.",
                *of.working,
                f"{plain(float(case.press_from))} + {sums} = {crank_text(least)}, rounded up {shown}.",
            ),
            features=_lash_features(of.lash_rows, shown),
            instead=examples.INSTEAD,
        )


class ErrorAfterTurningBack(NumberTemplate):
    """The pin went in while turning back: how many crank degrees early or late the component's event is.

    Difficulty: the meshes whose lash is told; the digits of their lash; the digits of the answer.
    """

    name = "lock-pin/error-after-turning-back"
    skill = "work out what turning back does to the timing"
    quantity = "crank angle"
    weights = _LASH_WEIGHTS

    def ask(self, rng: random.Random, _pack: Pack, /) -> NumberQuestion:
        """Draw once, or ask for another draw."""
        of = _measured(rng)
        case = of.case
        redraw_if(not case.error)
        said = early_or_late(case.error)
        shown = f"{plain(round(float(case.error), 3))}{THIN}{CRANK}, {'late' if case.error > 0 else 'early'}"
        return NumberQuestion(
            prompt="A colleague missed the hole, kept pressing and barred back until the pin went in, "
            f"then set the {of.component}. When the engine runs forward again, how far is its timing out? "
            "Give late as a plain number and early with a minus sign.",
            given=(*of.rows, *of.lash_rows),
            to_nearest=f"to the nearest 0.05{THIN}crank degree; late is +, early is −",
            numbers=clear(
                told_apart(
                    rules.ERROR_RULES,
                    case,
                    case.error,
                    float,
                    _HALF * 0.05,
                    readings=rules.LASH_READINGS,
                    finishes=rules.ERROR_FINISHES,
                )
            ),
            unit=CRANK,
            shown=shown,
            working=(
                "Turned back, every gear rests on its other flank and stands ahead by the lash on its way.",
                *of.working,
                f"To the component {crank_text(case.component)}, to the pin {crank_text(case.pin)}: "
                f"the difference is {crank_text(case.error)}.",
                f"The component stands {'ahead of' if case.error > 0 else 'behind'} the pinned gear; "
                f"running forward its event comes {said}.",
            ),
            features=_lash_features(of.lash_rows, shown),
            instead=examples.INSTEAD,
        )


def _lash_features(rows: Sequence[Given], shown: str) -> dict[str, float]:
    """Return what makes it hard to add up lash, told mesh by mesh in so many rows."""
    return {
        "meshes": len(rows),
        "digits told": digits(*(row.value for row in rows)),
        "digits asked": digits(shown),
    }
