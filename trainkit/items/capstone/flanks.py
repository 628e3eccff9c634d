"""Lash taken up before a reading: which way a gear is turned, why always that way, and how much is at stake."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

from trainkit import gears
from trainkit.items import gearwork
from trainkit.items.capstone.questions import Looked, Question, against_cautions
from trainkit.items.kinds import Given
from trainkit.items.lash_and_timing.timed import RADIAN, millimetres, radius_row
from trainkit.items.template import redraw_if

if TYPE_CHECKING:
    from trainkit.packs import Pack


def lash_first(rng: random.Random, pack: Pack) -> Question:
    """Draw a mesh and an end of the engine, and work out the way, the reason and the angle of the play.

    Raises
    ------
    Redraw
        If the pack has no mesh of outside teeth with lash whose driven gear has a known radius.
    """
    survey = gearwork.survey(pack)
    plays = [
        (mesh, float(mesh.lash_mm), radius)
        for mesh in survey.train.meshes
        if mesh.kind == "external" and mesh.lash_mm and (radius := survey.train.gear(mesh.driven).radius_mm)
    ]
    redraw_if(not plays)
    mesh, new, radius = rng.choice(plays)
    # As it was measured on a train that has run: from a little less than the sheet has to three times as much.
    lash = rng.randint(round(80 * new), round(300 * new)) / 100
    redraw_if(lash <= 0)
    end = rng.choice(gears.VIEWPOINTS)
    driver, driven = survey.title(mesh.driver), survey.title(mesh.driven)
    way = survey.ways[survey.crank, mesh.driven]
    drive = gearwork.running(pack, mesh.driven, end)
    against = gears.other_sense(drive)
    of_gear = gears.backlash_degrees(lash, radius)
    of_crank = of_gear / abs(float(way.ratio))
    seen = gearwork.seen_from(end)
    among = survey.between(survey.crank, [mesh.driven])
    at_gear, at_crank = _degrees(of_gear, f"the {driven}"), _degrees(of_crank, "the crank")
    looked = (
        Looked(
            "Which way, and how hard.",
            (
                f"In service the {driven} turns {drive}, {seen}.",
                f"So it is turned {against}, against its drive, with the {driver} held.",
                "Gently, by hand, until resistance is felt, and no further.",
            ),
        ),
        Looked(
            "Why always that way.",
            (
                f"Its teeth then rest on the {driver} where the {driver} pushes them in service.",
                "Every reading begins on the same flank, the one that counts when the engine runs.",
            ),
        ),
        Looked(
            "How much is at stake, by the figures of the sheet.",
            (
                f"{millimetres(lash)} of lash is {at_gear}.",
                f"That is {at_crank}.",
            ),
        ),
        Looked(
            "What follows if it is done otherwise.",
            (
                f"Turned {drive}, or left anywhere between, the reading is off by up to {at_crank}.",
                "Turned with force, gear and shaft are wound up; let go, they spring back, and the reading with them.",
            ),
        ),
    )
    return Question(
        prompt=f"Somebody is about to read where the {driven} stands. It has lash to the {driver}, which is held.\n\n"
        f"Explain, in your own words. Which way and how hard is it turned first, {seen}? "
        "Why always that way? How much is at stake, and what follows otherwise?",
        given=(
            gearwork.engine_row(pack),
            Given(
                label="In service the crank gear turns",
                value=f"{gearwork.running(pack, survey.crank, pack.engine.seen_from)}, "
                f"{gearwork.seen_from(pack.engine.seen_from)}",
            ),
            *way.rows,
            Given(label=f"Measured lash between {driver} and {driven}", value=millimetres(lash)),
            radius_row(driven, radius),
            RADIAN,
        ),
        figure=survey.picture(among, end),
        looked=looked,
        dangerous=(
            f"Turns the {driven} {drive}, with its drive: its teeth would rest on the flank that does not count.",
            "Heaves until nothing gives any more, or has it tightened so: it springs back, and the timing is off.",
            "Takes the lash up by turning the crank while hands are at the gears.",
            against_cautions(pack),
        ),
        working=(
            *way.lines,
            f"So the {driven} turns {drive} in service, {seen}.",
            f"{millimetres(lash)} ÷ {millimetres(radius)} × 57.3° = {at_gear}.",
            f"One turn of the crank is {abs(way.ratio)} of a turn of the {driven}: {at_crank}.",
        ),
    )


def _degrees(angle: float, what: str) -> str:
    return f"{angle:.2f}° of {what}"
