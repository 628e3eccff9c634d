"""Precedences that nobody wrote: which they are, in whose words, and what a wrong order shows."""

from __future__ import annotations

import random

import pytest

from tests.trainkit.draws import drawn
from tests.trainkit.pack_faults import DUNLIN, Edit, mutated
from trainkit import packs
from trainkit.errors import ItemError
from trainkit.items.sequence.misconceptions import shown_by
from trainkit.items.template import find
from trainkit.items.tightening.joints import Bolts, joint_of
from trainkit.procedures import Edge

END = "# The usual cautions first.\n"
LEAD = """
[[energy]]
id = "lead"
name = "battery lead"
kind = "other"
isolated_at = "plug at the starter"
locked_by = "hasp"
proved_by = "tester at the plug"
proof = "tester"
reaches = "named"

"""
LEAD_STEPS = """
[[steps]]
id = "pull-lead"
text = "Pull the battery lead and lock its plug"
makes_safe = ["lead"]
at_engine = false

[[steps]]
id = "test-lead"
text = "Test the plug dead"
proves = ["lead"]
at_engine = false

"""


def changed(*edits: Edit) -> packs.Pack:
    return packs.load_text(mutated(DUNLIN, edits))


def edges(pack: packs.Pack) -> dict[tuple[str, str], Edge[str]]:
    return {(edge.before, edge.after): edge for edge in pack.procedure().before}


def test_a_start_is_tried_before_another_link_of_its_path_is_opened() -> None:
    pack = changed(
        (END, LEAD + LEAD_STEPS + END),
        (
            'links = ["battery", "mode-switch", "start-button"]',
            'links = ["battery", "lead", "mode-switch", "start-button"]',
        ),
        ('restores = ["battery", ', 'restores = ["lead", "battery", '),
    )
    edge = edges(pack)["try-start", "pull-lead"]
    assert edge.dangerous
    assert edge.shows == "attempt-spoilt"
    assert "proves nothing" in edge.reason


def test_the_words_of_the_author_stay() -> None:
    dunlin = packs.load("dunlin")
    edge = edges(dunlin)["pin-out", "screws-final"]
    assert edge.reason == "Torque against the pin shears it or damages the gears."
    softer = changed(
        (
            'reason = "Torque against the pin shears it or damages the gears."\n'
            'dangerous = true\nshows = "pin-out-last"\n',
            'reason = "So it is done here."\n',
        )
    )
    edge = edges(softer)["pin-out", "screws-final"]
    assert (edge.reason, edge.dangerous, edge.shows) == ("So it is done here.", True, "pin-out-last")


def test_sources_come_back_the_other_way_round() -> None:
    procedure = packs.load("dunlin").procedure("coolant-heater")
    assert procedure.is_dangerous("heater-on", "release")
    assert procedure.is_dangerous("bleed", "agree")
    assert procedure.is_dangerous("agree", "release")
    for step in packs.load("dunlin").steps_of("coolant-heater"):
        if step.at_engine and not step.makes_safe and not step.proves:
            assert procedure.is_dangerous("try-start", step.id), step.id
            assert procedure.is_dangerous(step.id, "release"), step.id


@pytest.mark.parametrize(
    ("before", "after", "code"),
    [
        ("clean-faces", "mount", "clean-after-mating"),
        ("count-out", "cover-snug", "cover-before-count"),
        ("check-again", "scribe", "mark-before-fixing"),
        ("seal-on", "mount", "seal-reused"),
        ("flange-first", "flange-final", "stage-out-of-order"),
    ],
)
def test_what_a_wrong_order_shows_is_read_off_the_steps(before: str, after: str, code: str) -> None:
    assert shown_by(packs.load("dunlin"), Edge(before, after)) == code


def test_an_order_is_not_asked_of_an_engine_whose_safety_is_not_stated() -> None:
    pack = packs.load("dunlin").model_copy(update={"energies": (), "start_paths": ()})
    for name in ("sequence/put-in-order", "lock-pin/pin-the-engine", "capstone/observed-work"):
        with pytest.raises(ItemError) as caught:
            find(name).draw(random.Random(1), pack)
        assert "what can move, burn or strike" in caught.value.rule
    drawn("tightening/after-history", pack, 1)
    going_on = pack.model_copy(update={"accepted": True})
    assert find("sequence/put-in-order").draw(random.Random(1), going_on)


GERMAN = (
    (
        'name = "clamping screws of the drive gear"\none = "screw"\nmany = "screws"',
        'name = "Klemmschrauben am Antriebsrad"\none = "Zylinderschraube DIN 912"\nmany = "Zylinderschrauben DIN 912"',
    ),
)


def test_no_name_loses_its_capitals_and_no_noun_is_guessed() -> None:
    fastener = changed(*GERMAN).fastener("gear-screws")
    words = Bolts(fastener)
    assert words.all == "all 6 Zylinderschrauben DIN 912"
    assert words.some(["1"]) == "Zylinderschraube DIN 912 1"
    assert words.some(["1", "3"]) == "Zylinderschrauben DIN 912 1 and 3"
    # A name with bolts, nuts and seals in it says nothing of how often it is used.
    pack = packs.load("dunlin")
    stretch = pack.fastener("link-nut")
    assert joint_of(pack, stretch).single_use
    plain = stretch.model_copy(update={"single_use_part": "", "used_again": None})
    assert not joint_of(pack, plain).single_use


def test_a_stage_has_the_name_of_its_manual() -> None:
    pack = changed(
        (
            'name = "first"\ntorque = ["8 N·m", "71 lbf·in"]',
            'name = "Stufe 1"\nmeaning = "settled"\ntorque = ["8 N·m", "71 lbf·in"]',
        ),
        ('fastener = "gear-screws"\nstage = "first"', 'fastener = "gear-screws"\nstage = "Stufe 1"'),
        (
            'name = "final"\ntorque = ["31 N·m", "23 lbf·ft"]',
            'name = "Endstufe"\nmeaning = "final"\ntorque = ["31 N·m", "23 lbf·ft"]',
        ),
        ('fastener = "gear-screws"\nstage = "final"', 'fastener = "gear-screws"\nstage = "Endstufe"'),
    )
    words = Bolts(pack.fastener("gear-screws"))
    assert words.stage_words("final").startswith("“Endstufe”, 31")
    joint = joint_of(pack, pack.fastener("gear-screws"))
    assert [stage.meaning for stage in joint.schedule.stages] == ["may-move", "settled", "final"]
    by_hand = joint.after(joint.start().next_tightenings())
    settled = joint.after([*joint.start().next_tightenings(), *by_hand.next_tightenings()])
    assert ("move" in by_hand.works(), "move" in settled.works()) == (True, False)
    assert ("set" in by_hand.works(), "set" in settled.works()) == (True, False)


def test_what_a_copy_lacks_is_not_missed_by_the_original() -> None:
    """Orders are worked out once a pack: a copy without its energies has orders of its own."""
    whole = packs.load("dunlin").model_copy()
    before = whole.procedure()
    bare = whole.model_copy(update={"energies": (), "start_paths": ()})
    configuration = whole.configurations[0].id
    assert len(bare.procedure().before) < len(before.before)
    assert len(bare.procedure(configuration).before) < len(whole.procedure(configuration).before)
    assert whole.procedure(configuration).before == packs.load("dunlin").model_copy().procedure(configuration).before
