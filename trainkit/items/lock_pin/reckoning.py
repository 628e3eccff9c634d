"""Numbers at the lock pin: how far back, turns of the bar, the least back-off, the error after turning back."""

from __future__ import annotations

import random
from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING, ClassVar

from trainkit.errors import ItemError
from trainkit.items.difficulty import digits, row
from trainkit.items.item import Given, Item, NumberItem
from trainkit.items.key import Key, NumberKey
from trainkit.items.lock_pin.bench import (
    CRANK,
    Bench,
    at_clock,
    bench,
    clock_figure,
    crank_text,
    pairs_apart,
    ratio_text,
    told_apart,
)
from trainkit.items.lock_pin.rules import (
    BACK_OFF_FINISHES,
    BACK_OFF_RULES,
    BAR_FINISHES,
    BAR_RULES,
    ERROR_FINISHES,
    ERROR_RULES,
    LASH_READINGS,
    LEAST_RULES,
    BackOff,
    Lash,
    MeshLash,
)
from trainkit.items.template import Redraw, Template
from trainkit.lockpin import early_or_late
from trainkit.quantities import THIN, plain

if TYPE_CHECKING:
    from trainkit.gears import GearTrain, Path
    from trainkit.packs import Pack

__all__ = ["ErrorAfterTurningBack", "HowFarBack", "LeastBackOff", "TurnsOfTheBar"]

# Half a step and a hair: the exact answer and the one put on the step are both right, the next step is not.
_HALF = 0.51


_BACK_WEIGHTS: Mapping[str, float] = MappingProxyType(
    {"other pace": 1.0, "odd minutes": 0.5, "hours crossed": 0.25, "digits": 0.25}
)
_LASH_WEIGHTS: Mapping[str, float] = MappingProxyType({"meshes": 1.0, "digits told": 0.25, "digits asked": 0.25})


def _back_features(item: Item, key: Key) -> dict[str, float]:
    """Return what makes it hard to read the way back off the clock and to carry it to the crank."""
    ends = [row(item, label).partition(":") for label in ("Back off to", "The mark stands now")]
    hours = (int(ends[1][0]) - int(ends[0][0])) % 12
    return {
        "other pace": row(item, "One crank turn") != "1 turn",
        "odd minutes": sum(int(minutes) % 5 > 0 for _, _, minutes in ends),
        "hours crossed": min(hours, 12 - hours),
        "digits": digits(getattr(key, "shown", "")),
    }


def _lash_features(item: Item, key: Key) -> dict[str, float]:
    """Return what makes it hard to add up lash mesh by mesh."""
    told = [line.value for line in item.given if line.label.startswith("Lash ")]
    return {
        "meshes": len(told),
        "digits told": sum(map(digits, told)),
        "digits asked": digits(getattr(key, "shown", "")),
    }


def _missed(rng: random.Random, told: Bench, bar: Fraction) -> BackOff:
    """Return a hole that was missed: the mark stands on a minute of the clock past the give-up mark."""
    minute = Fraction(1, 2) / told.dial.turns_per_crank  # crank degrees for a minute of the clock
    setup = told.setup
    first = int(setup.give_up / minute) + 2
    past = rng.randint(first, first + 40) * minute
    if past > setup.period / 3:
        raise Redraw
    return BackOff(past, setup.press_from, setup.give_up, setup.back_off, told.dial.turns_per_crank, bar)


def _places(told: Bench, case: BackOff) -> tuple[Given, ...]:
    dial = told.dial
    end = "the front" if dial.seen_from == "front" else "the flywheel end"
    return (
        Given(label="Marked gear", value=f"{told.watched}, seen from {end}"),
        Given(label="Back off to", value=at_clock(dial, case.back_off)),
        Given(label="Press from", value=at_clock(dial, case.press_from)),
        Given(label="Pin seats", value=at_clock(dial, Fraction(0))),
        Given(label="Give up", value=at_clock(dial, -case.give_up)),
        Given(label="The mark stands now", value=at_clock(dial, -case.past)),
        Given(label="One crank turn turns this gear", value=ratio_text(dial.turns_per_crank)),
    )


def _back_working(told: Bench, case: BackOff) -> tuple[str, ...]:
    dial, pace = told.dial, case.pace
    now, goal = at_clock(dial, -case.past), at_clock(dial, case.back_off)
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


def _minutes_show(told: Bench, case: BackOff) -> None:
    """Ask for another draw where a clock position, as it is written, would not give the exact angle."""
    for before in (case.back_off, case.press_from, -case.give_up, -case.past):
        if (told.dial.at(before) * 2).denominator != 1:
            raise Redraw


class HowFarBack(Template):
    """The hole was missed: crank degrees back to the back-off mark, from clock positions of the mark.

    Difficulty: one where the marked gear keeps another pace than the crank; the clock positions that stand between
    two fives of minutes; an hour that is crossed on the way back; the digits of the answer.
    """

    name: ClassVar[str] = "lock-pin/how-far-back"
    skill: ClassVar[str] = "work out how far to back off"
    kind: ClassVar[str] = "number"
    weights: ClassVar[Mapping[str, float]] = _BACK_WEIGHTS

    def features(self, item: Item, key: Key) -> Mapping[str, float]:
        """Return whether the pace differs, odd minutes, hours crossed, and digits."""
        return _back_features(item, key)

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> tuple[NumberItem, NumberKey]:  # noqa: ARG002 - nothing here is shuffled
        """Draw once, or ask for another draw."""
        told = bench(pack)
        case = _missed(rng, told, Fraction(1))
        _minutes_show(told, case)
        rules = told_apart(BACK_OFF_RULES, case, case.crank, _HALF)
        pairs = pairs_apart(BACK_OFF_RULES, case, case.crank, rules, _HALF, finishes=BACK_OFF_FINISHES)
        item = NumberItem(
            prompt="You barred past the give-up mark, and the pin did not go in. You let go of it. "
            "Through how many crank degrees does the mark go back before you come forward again? "
            "Leave the lash out of it.",
            given=_places(told, case),
            figure=clock_figure(told, at_clock(told.dial, -case.past)),
            units=(CRANK,),
            to_nearest=f"to the nearest 1{THIN}crank degree",
        )
        key = NumberKey(
            template=self.name,
            working=_back_working(told, case),
            quantity="crank angle",
            answer=float(case.crank),
            unit=CRANK,
            tolerance=_HALF,
            shown=crank_text(case.crank),
            rules=rules,
            pairs=pairs,
        )
        return item, key


class TurnsOfTheBar(Template):
    """The same, in turns of the barring pinion.

    Difficulty: as for :class:`HowFarBack`; the way from the crank to the tool is the same in every draw.
    """

    name: ClassVar[str] = "lock-pin/turns-of-the-bar"
    skill: ClassVar[str] = "turn a crank angle into turns of the barring tool"
    kind: ClassVar[str] = "number"
    weights: ClassVar[Mapping[str, float]] = _BACK_WEIGHTS

    def features(self, item: Item, key: Key) -> Mapping[str, float]:
        """Return whether the pace differs, odd minutes, hours crossed, and digits."""
        return _back_features(item, key)

    STEP: ClassVar[float] = 0.1

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> tuple[NumberItem, NumberKey]:  # noqa: ARG002 - nothing here is shuffled
        """Draw once, or ask for another draw.

        Raises
        ------
        ItemError
            If the engine of the pack is not barred by a pinion on its ring gear.
        """
        told, barring = bench(pack), pack.barring
        if barring.ring_teeth is None or barring.pinion_teeth is None:
            raise ItemError(
                pack.name,
                rule="This template needs a barring pinion on a ring gear.",
                remedy="Give [barring] ring_teeth and pinion_teeth, or leave the template out of the blueprint.",
            )
        case = _missed(rng, told, Fraction(barring.ring_teeth, barring.pinion_teeth))
        _minutes_show(told, case)
        if abs(float(case.turns) / self.STEP % 1 - 0.5) < 0.1:
            raise Redraw  # so near to where rounding turns over, the lash would decide
        tolerance = _HALF * self.STEP
        rules = told_apart(BAR_RULES, case, case.turns, tolerance)
        pairs = pairs_apart(BAR_RULES, case, case.turns, rules, tolerance, finishes=BAR_FINISHES)
        item = NumberItem(
            prompt="You barred past the give-up mark, and the pin did not go in. You let go of it. "
            "How many turns of the barring tool bring the mark back to the back-off mark? "
            "Leave the lash out of it.",
            given=(
                *_places(told, case),
                Given(label="Ring gear", value=f"{barring.ring_teeth} teeth"),
                Given(label="Barring pinion", value=f"{barring.pinion_teeth} teeth"),
            ),
            figure=clock_figure(told, at_clock(told.dial, -case.past)),
            units=("turns",),
            to_nearest="to the nearest 0.1 of a turn",
        )
        turns = plain(round(float(case.turns), 4))
        key = NumberKey(
            template=self.name,
            working=(
                *_back_working(told, case),
                f"Turns of the tool: {plain(float(case.crank))} ÷ 360 × {barring.ring_teeth} ÷ "
                f"{barring.pinion_teeth} = {turns}.",
            ),
            quantity="turns of the tool",
            answer=float(case.turns),
            unit="turns",
            tolerance=tolerance,
            shown=f"{turns} turns of the tool",
            rules=rules,
            pairs=pairs,
        )
        return item, key


class _Path:
    """The meshes from the crank to a gear, each with a drawn lash, told in degrees of the gear it leads to."""

    def __init__(self, pack: Pack, train: GearTrain, path: Path, drawn: dict[str, Fraction]) -> None:
        legs = [leg for leg in path.legs if leg.mesh.kind != "shaft"]
        self.names = [(leg.source.title, leg.target.title) for leg in legs]
        self.meshes = tuple(MeshLash(drawn[leg.target.id], abs(train.ratio(leg.target.id, pack.crank))) for leg in legs)


def _lash(rng: random.Random, pack: Pack) -> tuple[Lash, list[Given], list[str]]:
    """Return drawn lash along the two paths, told mesh by mesh, and the working that carries it to the crank."""
    table, train = pack.lock_pin_table, pack.train
    holed = pack.crank if table.hole_in == "flywheel" else table.hole_in
    paths = [train.path(pack.crank, gear) for gear in (holed, table.component)]
    drawn = {leg.target.id: Fraction(rng.randint(2, 12), 10) for path in paths for leg in path.legs}
    told, lines = {}, {}
    for path in paths:
        here = _Path(pack, train, path, drawn)
        for (source, target), mesh in zip(here.names, here.meshes, strict=True):
            degrees = plain(float(mesh.degrees))
            told[f"Lash {source} to {target}"] = f"{degrees}{THIN}degree{'' if degrees == '1' else 's'} of the {target}"
            lines[target] = (
                f"{source} to {target}: {degrees} × {mesh.crank_per_degree} = {crank_text(mesh.crank)}, "
                f"since one degree of the {target} is {mesh.crank_per_degree} of the crank."
            )
    pin, component = (_Path(pack, train, path, drawn).meshes for path in paths)
    rows = [Given(label=label, value=value) for label, value in told.items()]
    return Lash(pin, component, pack.lock_pin.press_from), rows, list(lines.values())


class LeastBackOff(Template):
    """The least back-off: the press position and all lash from the crank to the component.

    Difficulty: the meshes whose lash is told; the digits of their lash; the digits of the answer.
    """

    name: ClassVar[str] = "lock-pin/least-back-off"
    skill: ClassVar[str] = "know what a back-off must cover"
    kind: ClassVar[str] = "number"
    weights: ClassVar[Mapping[str, float]] = _LASH_WEIGHTS

    def features(self, item: Item, key: Key) -> Mapping[str, float]:
        """Return meshes, digits of their lash, and digits of the answer."""
        return _lash_features(item, key)

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> tuple[NumberItem, NumberKey]:  # noqa: ARG002 - nothing here is shuffled
        """Draw once, or ask for another draw."""
        told = bench(pack)
        case, rows, lines = _lash(rng, pack)
        tolerance = _HALF * 0.1
        rules = told_apart(LEAST_RULES, case, case.least_back_off, tolerance)
        pairs = pairs_apart(LEAST_RULES, case, case.least_back_off, rules, tolerance, readings=LASH_READINGS)
        item = NumberItem(
            prompt="The gears of this engine were measured. How far before the hole must a back-off go, at the least, "
            "for every gear to rest on its driving flank when you begin to press?",
            given=(
                Given(label="Begin to press", value=f"{crank_text(case.press_from)} before the hole"),
                Given(label="Hole for the pin", value=f"in the {told.hole_in}"),
                Given(label="Component", value=told.component),
                *rows,
            ),
            units=(CRANK,),
            to_nearest=f"to the nearest 0.1{THIN}crank degree",
        )
        sums = " + ".join(plain(float(mesh.crank)) for mesh in case.to_component)
        key = NumberKey(
            template=self.name,
            working=(
                "Lash must be taken up before the gears push: press position plus all lash to the component.",
                *lines,
                f"{plain(float(case.press_from))} + {sums} = {crank_text(case.least_back_off)}.",
            ),
            quantity="crank angle",
            answer=float(case.least_back_off),
            unit=CRANK,
            tolerance=tolerance,
            shown=crank_text(case.least_back_off),
            rules=rules,
            pairs=pairs,
        )
        return item, key


class ErrorAfterTurningBack(Template):
    """The pin went in while turning back: how many crank degrees early or late the component's event is.

    Difficulty: the meshes whose lash is told; the digits of their lash; the digits of the answer.
    """

    name: ClassVar[str] = "lock-pin/error-after-turning-back"
    skill: ClassVar[str] = "work out what turning back does to the timing"
    kind: ClassVar[str] = "number"
    weights: ClassVar[Mapping[str, float]] = _LASH_WEIGHTS

    def features(self, item: Item, key: Key) -> Mapping[str, float]:
        """Return meshes, digits of their lash, and digits of the answer."""
        return _lash_features(item, key)

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> tuple[NumberItem, NumberKey]:  # noqa: ARG002 - nothing here is shuffled
        """Draw once, or ask for another draw."""
        told = bench(pack)
        case, rows, lines = _lash(rng, pack)
        if not case.error:
            raise Redraw
        tolerance = _HALF * 0.1
        rules = told_apart(ERROR_RULES, case, case.error, tolerance)
        pairs = pairs_apart(
            ERROR_RULES, case, case.error, rules, tolerance, readings=LASH_READINGS, finishes=ERROR_FINISHES
        )
        item = NumberItem(
            prompt="A colleague missed the hole, kept pressing and barred back until the pin went in, "
            f"then set the {told.component}. When the engine runs forward again, how far is its timing out? "
            "Give late as a plain number and early with a minus sign.",
            given=(
                Given(label="Hole for the pin", value=f"in the {told.hole_in}"),
                Given(label="Component", value=told.component),
                *rows,
            ),
            units=(CRANK,),
            to_nearest=f"to the nearest 0.1{THIN}crank degree; late is +, early is −",
        )
        key = NumberKey(
            template=self.name,
            working=(
                "Turned back, every gear rests on its other flank and stands ahead by the lash on its way.",
                *lines,
                f"To the component {crank_text(case.component)}, to the pin {crank_text(case.pin)}: "
                f"the difference is {crank_text(case.error)}.",
                f"The component stands {'ahead of' if case.error > 0 else 'behind'} the pinned gear; "
                f"running forward its event comes {early_or_late(case.error)}.",
            ),
            quantity="crank angle",
            answer=float(case.error),
            unit=CRANK,
            tolerance=tolerance,
            shown=early_or_late(case.error),
            rules=rules,
            pairs=pairs,
        )
        return item, key
