"""What examples take from a pack: by the part it plays, and something simple where the pack has none."""

from __future__ import annotations

import pytest

from tests.trainkit.plain_engine import plain
from trainkit import packs, roles
from trainkit.packs import Pack

DUNLIN = packs.load("dunlin")
START = packs.load_text(plain())


def curlew() -> Pack:
    from trainkit_grading.course import packs as assessment

    return packs.load(assessment.find_pack("curlew"))


PACKS = {"dunlin": DUNLIN, "start": START, "curlew": curlew()}


@pytest.fixture(params=PACKS)
def pack(request: pytest.FixtureRequest) -> Pack:
    return PACKS[request.param]


def test_gears_are_found_by_what_they_do() -> None:
    found = {
        name: [part(each).id for part in (roles.component, roles.pinned, roles.watched)] for name, each in PACKS.items()
    }
    assert found == {
        "dunlin": ["fuel", "idler", "fuel"],
        "start": ["pump", "crank", "crank"],
        "curlew": ["cam", "crank", "crank"],
    }
    assert [roles.farthest_gear(each).id for each in PACKS.values()] == ["water", "pump", "governor"]
    assert [roles.nearest_gear(each).id for each in PACKS.values()] == ["oil", "pump", "oil"]


def test_gears_far_and_near_follow_from_the_meshes(pack: Pack) -> None:
    def meshes(gear: str) -> int:
        return sum(leg.mesh.kind != "shaft" for leg in pack.train.path(pack.crank, gear).legs)

    assert meshes(roles.farthest_gear(pack).id) == max(meshes(gear.id) for gear in pack.gears)
    assert meshes(roles.nearest_gear(pack).id) == 1


def test_the_lock_pin_is_told_as_the_pack_has_it(pack: Pack) -> None:
    told = " ".join(roles.lock_pin(pack))
    table = pack.lock_pin_table
    assert roles.component(pack).name in told
    assert f"cylinder {table.cylinder} on {table.dead_centre}" in told
    assert ("witness tooth" in told) is (table.tells_stroke == "witness")
    assert ("valves" in told) is (table.tells_stroke == "valves")
    assert f"seen from {roles.end(table.seen_from)}" in told


def test_a_joint_has_stages_and_a_pattern(pack: Pack) -> None:
    joint = roles.joint(pack)
    assert {"first", "final"} <= set(joint.stages)
    assert joint.pattern.shape == "circle"
    assert joint.pattern.has_question
    assert joint.joint.bolts == joint.pattern.names
    own = {each.id for each in pack.fasteners}
    assert joint.taken is (joint.fastener.id not in own)
    assert ("belongs to no engine" in " ".join(joint.lines)) is joint.taken


def test_what_a_pack_lacks_is_taken_and_said() -> None:
    assert [roles.joint(each).taken for each in PACKS.values()] == [False, True, False]
    assert [roles.reach(each).taken for each in PACKS.values()] == [False, True, False]
    assert [roles.order(each).taken for each in PACKS.values()] == [False, False, False]
    angles = START.model_copy(
        update={
            "fasteners": tuple(
                f.model_copy(update={"stages": (packs.Stage(name="final", angle=60),)}) for f in START.fasteners
            )
        }
    )
    assert roles.torqued(START) is START.fasteners[0]
    assert roles.torqued(angles).id == "cover"


def test_an_adapter_reaches_what_its_wrench_can_set(pack: Pack) -> None:
    from trainkit.fasteners import wrench_setting
    from trainkit.quantities import torque

    found = roles.reach(pack)
    assert found.fastener.final.torque
    assert found.wrench.length
    assert found.adapter.adapter_length
    wanted = torque(found.fastener.final.torque[0])
    assert wrench_setting(wanted, found.wrench.length, found.adapter.adapter_length) < wanted


def test_an_order_breaks_two_dangerous_pairs_and_nothing_else(pack: Pack) -> None:
    order = roles.order(pack)
    judged = order.procedure.judge(order.written)
    assert len(judged.broken) == 2
    assert all(pair.dangerous and pair.reason for pair in judged.broken)
    assert judged.fewest_moves == 2
    assert 5 <= len(order.written) <= 8
    assert order.lines[-1] == f"{len(order.written)}. {order.texts[order.written[-1]]}."


@pytest.mark.parametrize("dangerous", [(), (("pin-out", "nut-final"),)], ids=["no dangerous pair", "one"])
def test_a_pack_with_little_danger_has_an_order_all_the_same(dangerous: tuple[tuple[str, str], ...]) -> None:
    edges = [edge.model_copy(update={"dangerous": (edge.before, edge.after) in dangerous}) for edge in START.precedence]
    order = roles.order(START.model_copy(update={"precedence": tuple(edges)}))
    judged = order.procedure.judge(order.written)
    assert order.taken is (not dangerous)
    assert ("belongs to no engine" in order.lines[0]) is order.taken
    assert len(judged.broken) == (1 if dangerous else 2)
    assert all(pair.dangerous for pair in judged.broken)


def test_the_engine_barred_forward_turns_as_it_does_in_service(pack: Pack) -> None:
    turned = roles.forward(pack, 90)
    assert turned.sense(pack.crank) == pack.engine.rotation
    assert turned.stated_from == pack.engine.seen_from
    assert roles.forward(pack, -90).sense(pack.crank) != pack.engine.rotation
    for gear in pack.gears:
        if gear.turns:
            assert turned.sense(gear.id, seen_from=gear.seen_at) == gear.turns


def test_the_sign_of_the_right_place_says_yes_there_only(pack: Pack) -> None:
    assert roles.says(pack, 0).endswith("yes.")
    wrong = [number for number in range(pack.lock_pin.passings) if not pack.lock_pin.right(number)]
    assert wrong
    assert all(roles.says(pack, number).endswith("no.") for number in wrong)
    assert {roles.mark_on(each) for each in PACKS.values()} == {"fuel metering unit gear", "flywheel"}


def test_a_step_waits_for_a_reason(pack: Pack) -> None:
    first, then, why = roles.bond(pack)
    edge = next(edge for edge in pack.precedence if edge.reason == why and edge.dangerous)
    assert (first, then) == (pack.step(edge.before).text, pack.step(edge.after).text)
    harmless = tuple(edge.model_copy(update={"dangerous": False}) for edge in pack.precedence)
    assert roles.bond(pack.model_copy(update={"precedence": harmless}))[2].startswith("A bar that is left on")


def test_there_is_more_than_one_order_to_mend(pack: Pack) -> None:
    one, other, last = (roles.order(pack, number) for number in (0, 1, 10_000))
    assert one.written != other.written
    assert last.procedure.judge(last.written).broken


def test_teeth_on_the_way_give_the_ratio(pack: Pack) -> None:
    from fractions import Fraction

    for gear in pack.gears:
        product = Fraction(1)
        for part in filter(None, roles.teeth(pack, gear).split(" × ")):
            driver, driven = map(int, part.split(" ÷ "))
            product *= Fraction(driver, driven)
        assert product == abs(pack.train.ratio(pack.crank, gear.id))


def test_every_wrench_of_the_pack_is_held_against_the_torque(pack: Pack) -> None:
    from trainkit.fasteners import Wrench
    from trainkit.quantities import torque

    wanted = roles.reach(pack).wanted
    listed = dict(roles.wrenches(pack, wanted))
    for tool in pack.tools:
        if tool.kind == "torque-wrench":
            suits = Wrench(tool.unit, tool.low or 0, tool.high or 0, tool.step or 0).suits(torque(wanted))
            assert listed[tool.name.capitalize()].endswith(f"{tool.unit}: {suits}")
    bare = pack.model_copy(update={"tools": ()})
    assert roles.wrenches(bare, wanted) == (("No torque wrench", "This engine's pack lists none."),)
