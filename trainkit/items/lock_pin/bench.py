"""What all templates of the module share: the bench out of a pack, told in words, and answers told apart."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING

from trainkit.gears import VIEWPOINTS
from trainkit.items.dial_marks import at_clock, marks
from trainkit.items.gearwork import end
from trainkit.items.kinds import Given
from trainkit.items.template import Redraw
from trainkit.lockpin import ACTIONS, Action, Dial, Pin, Setup, State, where
from trainkit.quantities import THIN, plain

if TYPE_CHECKING:
    from trainkit.packs import Pack


CRANK = "crank degrees"


@dataclass(frozen=True, slots=True)
class Bench:
    """The lock pin of a pack with the names of what it belongs to.

    ``others`` are further pins, each with the gear that it holds: they stay out while the engine is barred.
    ``searched`` is the setup whose states are looked into: where the mark stands in the picture is no matter to it.
    """

    setup: Setup
    dial: Dial
    watched: str
    hole_in: str
    component: str
    searched: Setup | None = None
    others: tuple[str, ...] = ()

    @property
    def states(self) -> Setup:
        """The setup of its states."""
        return self.searched or self.setup


@lru_cache(maxsize=256)
def _found(setup: Setup, stiff: bool, nudge: Fraction | None) -> Setup:
    """Return the setup with the pin found so; always the same one, so that what was searched is kept."""
    return replace(setup, stiff=stiff, nudge=nudge, strict=True)


# So often a hand bars a little from the press mark to the hole, at least and at most.
_FEWEST_LITTLES, _MOST_LITTLES = 2, 8
_GRID = Fraction(1, 4)  # crank degrees


@lru_cache(maxsize=64)
def littles(setup: Setup) -> tuple[Fraction, ...]:
    """Return how far "a little" may go, in crank degrees: for each number of littles up to the hole the largest.

    Examples
    --------
    >>> [float(size) for size in littles(Setup(press_from=15, give_up=10, back_off=35))]
    [10.0, 7.25, 4.75, 3.5, 2.75, 2.25, 2.0]
    """
    most = min(setup.press_from, setup.give_up)
    way = setup.press_from - setup.clearance
    found: dict[int, Fraction] = {}
    for step in range(int(most / _GRID), 0, -1):
        size = step * _GRID
        if size > setup.clearance:
            found.setdefault(math.ceil(way / size), size)
    kept = tuple(size for count, size in found.items() if _FEWEST_LITTLES <= count <= _MOST_LITTLES)
    return kept or (setup.little,)


def drawn_bench(rng: random.Random, pack: Pack, *, stiff: bool) -> Bench:
    """Return the lock pin of a pack as it is found for one question.

    How far a little goes is drawn. Where the values of the pack are invented, so is where the mark stands when the pin
    seats; those of a manual stay.
    """
    told = bench(pack)
    searched = setup = _found(told.setup, stiff, rng.choice(littles(told.setup)))
    if pack.provenance.values == "invented":
        setup = replace(setup, dial=replace(told.dial, seats_at=Fraction(rng.randrange(720), 2)))
    return replace(told, setup=setup, dial=setup.dial or told.dial, searched=searched)


def found_bench(pack: Pack) -> Bench:
    """Return the lock pin of a pack with the pin moving freely, and a little as far as the pack has it."""
    told = bench(pack)
    return replace(told, setup=_found(told.setup, stiff=False, nudge=None))


def bench(pack: Pack) -> Bench:
    """Return the lock pin of a pack."""
    table, setup = pack.lock_pin_table, pack.lock_pin
    dial = setup.dial
    if dial is None:  # pragma: no cover - a setup out of a pack has one
        raise Redraw

    def name(gear: str) -> str:
        return "flywheel" if gear == "flywheel" else pack.gear(gear).name

    others = tuple(f"{each.name}, in the {name(each.hole_in)}" for each in pack.lock_pins)
    return Bench(setup, dial, name(table.watched), name(table.hole_in), name(table.component), others=others)


# What bears a mark, and its turns for one turn of the crank.
_WATCHED = (
    ("fuel pump gear", Fraction(1, 2)),
    ("camshaft gear", Fraction(1, 2)),
    ("governor gear", Fraction(1, 2)),
    ("flywheel", Fraction(1)),
    ("crank gear", Fraction(1)),
)
_LEAST_PRESS, _LEAST_GIVE_UP, _LEAST_FURTHER = 6, 6, 8  # crank degrees


def example_bench(rng: random.Random) -> Bench:
    """Draw the marks of an example engine, on minutes of the clock."""
    watched, pace = rng.choice(_WATCHED)
    minute = Fraction(1)  # crank degrees: one minute of the clock at half speed, two at crank speed
    press, give_up = rng.randint(_LEAST_PRESS, 24), rng.randint(_LEAST_GIVE_UP, 16)
    dial = Dial(
        seen_from=rng.choice(VIEWPOINTS),
        clockwise=rng.random() < 0.5,
        turns_per_crank=pace,
        seats_at=Fraction(rng.randrange(720), 2),
    )
    setup = Setup(
        press_from=press * minute,
        give_up=give_up * minute,
        back_off=(press + rng.randint(_LEAST_FURTHER, 60)) * minute,
        dial=dial,
    )
    return Bench(setup, dial, watched, watched, watched)


def crank_text(angle: Fraction) -> str:
    r"""Write an angle of the crank.

    Examples
    --------
    >>> crank_text(Fraction(15)), crank_text(Fraction(79, 250))
    ('15\u2009crank degrees', '0.316\u2009crank degrees')
    """
    return f"{plain(float(angle))}{THIN}{CRANK}"


def ratio_text(pace: Fraction) -> str:
    """Write how a gear keeps pace with the crank."""
    return f"{pace} of a turn" if pace < 1 else "1 turn" if pace == 1 else f"{pace} turns"


def clock_figure(told: Bench, hand: str) -> dict[str, object]:
    """Return the drawing of the marks with the watched mark at a clock position."""
    return {
        "draw": "clock",
        "seen_from": told.dial.seen_from,
        "name": told.watched,
        "marks": [{"at": at, "label": label} for label, at in marks(told.setup).items()],
        "hand": hand,
        "turns": "clockwise" if told.dial.clockwise else "anticlockwise",
    }


def scene_rows(told: Bench, start: State) -> tuple[Given, ...]:
    """Return everything that a scene holds, in words: the marks, the hole, the lash, the pin, the start."""
    setup, dial = told.setup, told.dial
    sense = "clockwise" if dial.clockwise else "anticlockwise"
    rows = [
        (
            "Mark",
            f"on the {told.watched}, seen from {end(dial.seen_from)}; barred on it goes {sense}, "
            f"{ratio_text(dial.turns_per_crank)} for one crank turn",
        ),
        ("Its places", ", ".join(f"{label} {at}" for label, at in marks(setup).items())),
        (
            "In crank degrees",
            f"back off to {_plain(setup.back_off)} before, press from {_plain(setup.press_from)} before, "
            f"give up {_plain(setup.give_up)} after; the pin goes in within {_plain(setup.clearance)} either side",
        ),
        ("Hole", f"in the {told.hole_in}, comes by every {crank_text(setup.period)}"),
        (
            "Right place",
            f"{setup.dead_centre} dead centre of cylinder {setup.cylinder}, every {crank_text(setup.right_every)}",
        ),
        ("What tells it", f"{_tells(setup)}{_LOOK if setup.strict and setup.ambiguous else ''}"),
        *([("Firing order", "-".join(map(str, setup.firing_order)))] if setup.firing_order else []),
        (
            "Lash in crank degrees",
            f"bar to pin {_plain(setup.lash_to_pin)}, bar to component {_plain(setup.lash_to_component)}, "
            f"of which {_plain(setup.lash_on_both)} on the way that both share; "
            f"allowed error {_plain(setup.tolerance)}{_NONE_OF_IT if setup.hides_wrong_flank else ''}",
        ),
        ("Component", f"{told.component}{_MARK_GOES_WITH[setup.marks_on]}"),
        (
            "Pin",
            f"{'found stiff' if setup.stiff else 'moves freely'}, {_PIN_STANDS[start.pin]}{_others(setup)}",
        ),
        *([("Other pins", ", ".join(f"{each}: out" for each in told.others))] if told.others else []),
        ("Compression", "can kick back" if setup.compression else "every cylinder is vented"),
        ("The engine stands", standing(setup, start)),
        ("Bar", "fitted" if start.bar_on else "off"),
        *([("A little", f"moves the mark {crank_text(setup.little)}")] if setup.nudge is not None else []),
    ]
    return tuple(Given(label=label, value=value) for label, value in rows)


_NONE_OF_IT = ", but the wrong flank is never allowed"
_LOOK = "; look at it before you set anything"
_PIN_STANDS: Mapping[Pin, str] = {
    Pin.OUT: "out of the hole",
    Pin.PRESSED: "pressed against the gear, in no hole",
    Pin.SEATED: "in a hole, as somebody left it",
    Pin.FALSE_HOLE: "in a hole, as somebody left it",
}
_MARK_GOES_WITH: Mapping[str, str] = {
    "bar": "; the mark turns with the crank",
    "pin gear": "; the mark turns with the hole",
    "component gear": "; the mark turns with it",
}


def _plain(angle: Fraction) -> str:
    return plain(float(angle))


def _tells(setup: Setup) -> str:
    if setup.tells == "valves":
        return f"the valves of cylinder {setup.cylinder}"
    if setup.tells == "hole" or setup.witness_every is None:
        return "the hole itself: it comes by nowhere else"
    return f"the marked tooth, at its place every {crank_text(setup.witness_every)}"


def _others(setup: Setup) -> str:
    if not setup.false_holes:
        return ""
    places = ", ".join(f"{_plain(abs(hole))} {'after' if hole > 0 else 'before'} it" for hole in setup.false_holes)
    return f"; another hole takes it too, in crank degrees {places}"


def standing(setup: Setup, start: State) -> str:
    """Say where the engine stands and how it came there."""
    ahead = start.passing * setup.period - start.mark_before
    off = ahead % setup.right_every
    off = off - setup.right_every if off > setup.right_every / 2 else off
    side = "after" if off > 0 else "before"
    way = f"{crank_text(abs(off))} {side} " if off else "at "
    tooth = f"; the mark stands at {at_clock(setup, -ahead)}" if setup.dial is not None else ""
    return f"barred {'on' if start.last > 0 else 'back'}, {way}{where(setup, 0)}{tooth}"


def action_text(action: Action, told: Bench) -> str:
    """Say what an action is, in an imperative sentence."""
    setup = told.setup
    if action is Action.CHECK:
        if setup.tells == "valves":
            return f"Look at the valves of cylinder {setup.cylinder}"
        return "Look whether the marked tooth agrees" if setup.tells == "witness" else ACTIONS[action]
    if action is Action.DECLARE:
        return f"Call it pinned and set the {told.component}"
    if action is Action.TIGHTEN:
        return f"Tighten the {told.component} to its torque"
    return ACTIONS[action]
