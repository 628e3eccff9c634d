"""The hole was missed: what is told to the person who supervises, and why nobody bars straight back."""

from __future__ import annotations

import random
from collections.abc import Iterator
from fractions import Fraction
from typing import TYPE_CHECKING

from trainkit.items.capstone.questions import Looked, Question, against_cautions
from trainkit.items.dial_marks import at_clock
from trainkit.items.gearwork import engine_row
from trainkit.items.kinds import Given
from trainkit.items.lock_pin.bench import Bench, bench, crank_text, scene_rows
from trainkit.items.lock_pin.reckoning import how_far_back, missed
from trainkit.items.lock_pin.rules import BackOff
from trainkit.items.questions import NumberQuestion
from trainkit.items.template import Redraw
from trainkit.lockpin import OUTCOMES, Consequence, State, early_or_late
from trainkit.lockpin.angles import rounded_up

if TYPE_CHECKING:
    from trainkit.lockpin import Setup
    from trainkit.packs import Pack


# Some draws cannot be told apart from a wrong way.
_TRIES = 60
# Lines of the bench that the answer needs besides the places of the mark.
_TOLD = ("Hole", "Right place", "What tells it", "Lash in crank degrees", "Component", "Pin")


def missed_hole(rng: random.Random, pack: Pack) -> Question:
    """Draw a place past the give-up mark, and work out the way back and what the short way would do.

    Raises
    ------
    Redraw
        If no draw gives the exact angle in clock positions as they are written.
    """
    told = bench(pack)
    asked, case = _past(rng, told)
    setup = told.setup
    now, back, press, seat = (
        at_clock(setup, before) for before in (-case.past, setup.back_off, setup.press_from, Fraction(0))
    )
    rows = [line for line in scene_rows(told, State.start(setup, 0)) if line.label in _TOLD]
    given = (engine_row(pack), *asked.given, *(line for line in rows if line.label not in _labels(asked.given)))
    error = early_or_late(setup.lash_difference)
    comes = f"come {error}" if setup.lash_difference else "be right by luck"
    let_pass = (
        f"The sheet lets {crank_text(setup.tolerance)} pass: "
        f"{'that is less' if abs(setup.lash_difference) > setup.tolerance else 'luck, and no reason to do it'}."
    )
    looked = (
        Looked(
            "What is done next, and how far back.",
            (
                "The pin is let go of, and stays out while the engine is barred back.",
                f"The mark goes back from {now} to {back} in one go: {crank_text(case.crank)}.",
                f"Not only to the hole: press position and all lash have to be covered, "
                f"{crank_text(rounded_up(setup.least_back_off))} before the hole at the least.",
            ),
        ),
        Looked(
            "How the hole is come upon again.",
            (
                f"Forward only, with the pin pressed from {press} on.",
                f"Barred gently; at once still when the pin goes in, with the mark at {seat}.",
            ),
        ),
        Looked(
            "Why not straight back until the pin goes in.",
            (
                "Barred back, the gears rest on their other flanks; in service they are driven forward.",
                f"The {told.component}, set there, would {comes}. {let_pass}",
            ),
        ),
        Looked("What has to agree before the engine counts as pinned.", tuple(_agrees(told, seat))),
    )
    return Question(
        prompt=f"You barred past the give-up mark, and the pin did not go in. The mark stands now at {now}.\n\n"
        "Tell your supervisor, in your own words. What do you do next, and why? "
        "Why not simply bar back until the pin goes in? "
        "What has to agree before you call the engine pinned?",
        given=given,
        figure=asked.figure,
        looked=looked,
        dangerous=(*_harm(told), against_cautions(pack)),
        working=(
            *asked.working,
            f"Least back-off: {crank_text(setup.press_from)} and {crank_text(setup.lash_to_component)} of lash, "
            f"{crank_text(rounded_up(setup.least_back_off))}.",
            f"Lash to the {told.component} less lash to the pin: {error}.",
        ),
    )


def _past(rng: random.Random, told: Bench) -> tuple[NumberQuestion, BackOff]:
    """Draw a number question about a missed hole; there are few, so all of them are asked."""
    for _ in range(_TRIES):
        try:
            case = missed(rng, told)
            return how_far_back(told, case), case
        except Redraw:
            continue
    raise Redraw


def _labels(rows: tuple[Given, ...]) -> set[str]:
    return {line.label for line in rows}


def _sign(setup: Setup) -> str:
    if setup.tells == "valves":
        return f"the valves of cylinder {setup.cylinder}"
    return "the witness tooth" if setup.tells == "witness" else "the hole itself"


def _agrees(told: Bench, seat: str) -> Iterator[str]:
    """Say what has to agree: the mark, the right dead centre, the right hole."""
    setup = told.setup
    yield f"The mark stands at {seat} when the pin is in."
    if setup.ambiguous:
        yield (
            f"The hole comes by every {crank_text(setup.period)}, the right place every "
            f"{crank_text(setup.right_every)}: {_sign(setup)} must say that it is "
            f"{setup.dead_centre} dead centre of cylinder {setup.cylinder}."
        )
    for hole in setup.false_holes:
        side = "after" if hole > 0 else "before"
        yield f"Another hole takes the pin, {crank_text(abs(hole))} {side} the right place."


def _harm(told: Bench) -> Iterator[str]:
    """Say what would lose the job on this engine, each as the model of the bench has it."""
    setup = told.setup
    said = {
        Consequence.SHEARED: "Bars the engine with the pin in a hole",
        Consequence.STARTER: "Turns the engine with the starter",
    }
    if setup.compression:
        said[Consequence.KICKED] = "Draws the pin with the bar still fitted"
    if abs(setup.lash_difference) > setup.tolerance:
        said[Consequence.MISTIMED] = "Lets the pin go in on the way back"
    if setup.ambiguous:
        said[Consequence.WRONG_CENTRE] = f"Calls it pinned without a look at {_sign(setup)}"
    if setup.false_holes:
        said[Consequence.FALSE_HOLE] = "Takes whatever hole the pin drops into"
    for consequence, text in said.items():
        yield f"{text}. {OUTCOMES[consequence]}"
