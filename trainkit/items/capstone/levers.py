"""An adapter on the wrench: what is set, and why not what the sheet prints for the bolt."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from trainkit.items.capstone.questions import Looked, Question, against_cautions
from trainkit.items.gearwork import engine_row
from trainkit.items.kept import once_a_pack
from trainkit.items.kinds import Given
from trainkit.items.misconceptions import MANUAL
from trainkit.items.template import redraw_if
from trainkit.items.torque_units.drawing import millimetre_text, off_edge, scale, wrench_rows
from trainkit.items.torque_units.rules import LeverChain
from trainkit.quantities import THIN, Torque, plain, torque

if TYPE_CHECKING:
    from trainkit.packs import Fastener, Pack, Tool


# Adapters as they lie in a store, in millimetres; none is longer than this part of the wrench.
_SHORTEST, _LONGEST, _PART = 30, 120, 0.4


class _Case(NamedTuple):
    """A fastener, its final torque as printed in the unit of the wrench, and the wrench."""

    fastener: Fastener
    printed: str
    tool: Tool


def lever_with_adapter(rng: random.Random, pack: Pack) -> Question:
    """Draw a fastener with a wrench that suits it, and an adapter out of a store, and work out setting and error.

    Raises
    ------
    Redraw
        If no torque wrench of the pack has a known length and suits a final torque in its unit, or the adapter drawn
        does not suit it.
    """
    cases = _cases(pack)
    redraw_if(not cases)
    case = rng.choice(cases)
    wrench, printed, length = scale(case.tool), case.printed, float(case.tool.length or 0)
    reach = float(rng.randint(_SHORTEST, max(_SHORTEST, min(_LONGEST, int(length * _PART)))))
    lever = LeverChain(torque(printed), length, reach, length)
    redraw_if(wrench.suits(Torque(lever.setting, wrench.unit)) != "suits" or not off_edge(lever.setting, wrench.step))
    mark = wrench.settable(Torque(lever.setting, wrench.unit))
    whole = lever.length + lever.adapter
    reached = Torque(round(lever.reached, 1), wrench.unit)
    # Who multiplies where dividing is right sets more than printed, and the adapter adds to that again.
    doubled = replace(lever, torque=Torque(lever.reached, wrench.unit))
    twice = Torque(round(doubled.reached, 1), wrench.unit)
    too_much = f"{100 * lever.adapter / lever.length:.0f}\u2009%"
    looked = (
        Looked(
            "What is set, and how it is found.",
            (
                f"{mark.shown(wrench.step)}: less than printed.",
                f"Printed value times {millimetre_text(lever.length)}, divided by {millimetre_text(whole)}, "
                "the length with the adapter.",
            ),
        ),
        Looked(
            "Why not the printed value.",
            (
                "With the adapter the lever from hand to bolt is longer, and the same pull turns the bolt harder.",
                "The wrench clicks by the torque at its own drive; it knows nothing of the adapter.",
            ),
        ),
        Looked(
            "What would follow if the printed value were set.",
            (
                f"The bolt would get {reached.shown()}, {too_much} too much.",
                f"The preload, too, would be {too_much} too high: the thread may stretch, strip or break.",
            ),
        ),
        Looked(
            "What has to be so while pulling.",
            (
                "The adapter points straight on, in line with the wrench, as it was reckoned.",
                "The hand pulls at the middle of the grip: the length counts from there.",
            ),
        ),
    )
    return Question(
        prompt=f"You are about to tighten to the final stage: {case.fastener.name}. You have to use an adapter out of "
        "the store, straight on.\n\n"
        "Explain, in your own words. What do you set? Why not the printed value? "
        "What would follow if it were set? What has to be so while you pull?",
        given=(
            engine_row(pack),
            Given(label="Printed for the bolt", value=printed),
            *wrench_rows(case.tool, wrench),
            Given(label="Wrench, drive to middle of grip", value=millimetre_text(lever.length)),
            Given(label="Adapter, drive to middle of bolt", value=millimetre_text(lever.adapter)),
        ),
        looked=looked,
        dangerous=(
            f"Sets the printed {printed} with the adapter on: the bolt would get {reached.shown()}.",
            f"Sets more than printed because of the adapter: the bolt would get up to {twice.shown()}.",
            "Holds the wrench elsewhere, or puts a tube on it, to pull more easily: the click says nothing any more.",
            against_cautions(pack),
        ),
        working=(
            f"Lever from grip to bolt: {millimetre_text(lever.length)} + {millimetre_text(lever.adapter)} "
            f"= {millimetre_text(whole)}.",
            f"Setting: {printed} × {plain(lever.length)} ÷ {plain(whole)} = "
            f"{Torque(round(lever.setting, 2), wrench.unit).shown()}; the nearest mark is {mark.shown(wrench.step)}.",
            f"Set as printed: {printed} × {plain(whole)} ÷ {plain(lever.length)} = {reached.shown()}.",
            "With the same thread and the same oil, preload goes with torque.",
            MANUAL,
        ),
    )


@once_a_pack
def _cases(pack: Pack) -> tuple[_Case, ...]:
    """Return every final torque in the unit of a wrench of known length that can be set on it."""
    found = []
    for tool in pack.tools:
        if tool.kind != "torque-wrench" or None in (tool.low, tool.high, tool.step):
            continue
        wrench = scale(tool)
        for fastener in pack.fasteners:
            for column in fastener.final.torque or ():
                printed = torque(column)
                if tool.length and printed.unit == wrench.unit and wrench.suits(printed) == "suits":
                    # As the sheet has it: a printed 5.0 stays 5.0.
                    found.append(_Case(fastener, column.replace(" ", THIN), tool))
    return tuple(found)
