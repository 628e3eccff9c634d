"""Packs load, say what they hold, and a good one passes the check with nothing found."""

from __future__ import annotations

import hashlib
import re
from fractions import Fraction
from pathlib import Path

import pytest

import trainkit
from tests.trainkit.plain_engine import plain
from trainkit import packs
from trainkit.errors import PackError
from trainkit.packs.places import Places

ROOT = Path(__file__).resolve().parents[2]
DUNLIN = Path(trainkit.__file__).parent / "packs" / "data" / "dunlin.toml"
CURLEW = ROOT / "grading" / "trainkit_grading" / "course" / "packs" / "curlew.toml"


@pytest.fixture(scope="module", params=["dunlin", "curlew"])
def pack(request: pytest.FixtureRequest) -> packs.Pack:
    return packs.load("dunlin" if request.param == "dunlin" else CURLEW)


def test_a_good_pack_passes_with_nothing_found() -> None:
    assert packs.examine("dunlin").findings == ()
    assert packs.examine(CURLEW).findings == ()
    assert packs.examine_text(packs.starting_point()).findings == ()


def test_only_the_practice_engine_is_installed_with_the_workbooks() -> None:
    assert packs.shipped() == ("dunlin",)
    with pytest.raises(PackError, match="one of those installed: dunlin"):
        packs.load("curlew")


def test_a_pack_is_the_same_object_for_the_same_content(tmp_path: Path) -> None:
    copy = tmp_path / "a pack with spaces, and ä.toml"
    copy.write_bytes(DUNLIN.read_bytes())
    assert packs.load("dunlin") is packs.load("dunlin")
    assert packs.load(copy) is packs.load(str(copy))
    assert packs.load(copy).digest == packs.load("dunlin").digest == hashlib.sha256(DUNLIN.read_bytes()).hexdigest()


def test_a_changed_file_is_read_again(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(packs.starting_point("one"), encoding="utf-8")
    first = packs.load(path)
    path.write_text(packs.starting_point("two"), encoding="utf-8")
    assert (first.name, packs.load(path).name) == ("one", "two")


def test_line_ends_and_byte_order_mark_of_other_systems_are_read(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_bytes(b"\xef\xbb\xbf" + packs.starting_point().replace("\n", "\r\n").encode())
    assert packs.examine(path).findings == ()


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("Unit 7", "unit-7"),
        ("Größe №3", "grosse-no3"),
        ("日本", "my-engine"),
        ("--", "my-engine"),
        ("x" * 90, "x" * 40),
    ],
)
def test_the_starting_point_takes_its_name_from_the_file(written: str, name: str) -> None:
    # ß has no decomposition into plain letters and is left out.
    expected = name.replace("ss", "")
    assert packs.load_text(packs.starting_point(written)).name in (name, expected)


def test_dunlin_is_what_the_workbooks_rely_on() -> None:
    dunlin = packs.load("dunlin")
    assert len(dunlin.fasteners) >= 10
    assert all(1 <= len(fastener.stages) <= 3 for fastener in dunlin.fasteners)
    assert len(dunlin.steps_of()) >= 24
    assert len(dunlin.parts) >= 8
    assert len(dunlin.configurations) >= 2
    assert all(edge.reason.endswith(".") for edge in dunlin.precedence)
    assert any(edge.dangerous for edge in dunlin.precedence)
    assert not all(edge.dangerous for edge in dunlin.precedence)
    assert [hazard.kind for hazard in dunlin.cautions][:-1] == list(packs.USUAL_CAUTIONS)
    assert "invented" in dunlin.notice
    assert "current manual" in dunlin.notice


def test_curlew_exercises_what_dunlin_does_not() -> None:
    dunlin, curlew = packs.load("dunlin"), packs.load(CURLEW)
    kinds = {mesh.kind for mesh in curlew.meshes} | {mesh.kind for mesh in curlew.train.meshes}
    assert kinds == {"external", "chain", "internal", "shaft"}
    assert {mesh.kind for mesh in dunlin.train.meshes} == {"external"}
    assert (curlew.barring.by, dunlin.barring.by) == ("crank-nose", "ring-gear")
    assert (curlew.lock_pin.tells, dunlin.lock_pin.tells) == ("valves", "witness")
    assert all(("UNC" in fastener.thread) or ("UNF" in fastener.thread) for fastener in curlew.fasteners)
    assert any(stage.angle for fastener in curlew.fasteners for stage in fastener.stages)
    assert curlew.lock_pin.false_holes
    assert not curlew.lock_pin.stiff


def test_units_and_masters_of_the_printed_pairs_vary() -> None:
    from trainkit.quantities import dual_unit

    pairs = [
        (stage.torque, stage.master)
        for pack in (packs.load("dunlin"), packs.load(CURLEW))
        for fastener in pack.fasteners
        for stage in fastener.stages
        if stage.torque
    ]
    judged = [dual_unit(*pair) for pair, _ in pairs]
    assert {each.master for each in judged} == {"first", "second", "either"}
    units = {unit for each in judged for unit in (each.first.unit, each.second.unit)}
    assert units == {"N·m", "lbf·ft", "lbf·in", "kgf·m", "ozf·in"}


# A second way to the answers: turning counted by hand, not through the train.


def test_dunlin_turns_as_counting_the_meshes_says() -> None:
    dunlin = packs.load("dunlin")
    turns = {"crank": Fraction(1)}
    for mesh in dunlin.meshes:
        assert mesh.kind == "external"
        turns[mesh.driven] = -turns[mesh.driver] * dunlin.gear(mesh.driver).teeth / dunlin.gear(mesh.driven).teeth
    assert dunlin.engine.rotation == "clockwise"
    assert turns["cam"] == turns["fuel"] == Fraction(1, 2)
    for gear in dunlin.gears:
        assert gear.turns == ("clockwise" if turns[gear.id] > 0 else "anticlockwise")
        assert dunlin.train.ratio("crank", gear.id) == turns[gear.id]
    # The hole in the idler comes by three times in the two crank turns of a cycle, and once of these at the mark.
    assert 2 * abs(turns["idler"]) == 3
    assert dunlin.lock_pin.period == 720 / 3
    assert [dunlin.lock_pin.agrees(passing) for passing in range(3)] == [True, False, False]


def minutes(clock: str) -> int:
    hours, rest = clock.split(":")
    return int(hours) * 60 + int(rest)


@pytest.mark.parametrize(
    ("name", "crank_degrees_a_minute"),
    # A minute of the clock is half a degree: of a gear at half crank speed, one crank degree; of the flywheel, half.
    [("dunlin", 1.0), ("curlew", 0.5)],
)
def test_clock_positions_are_what_the_minutes_say(name: str, crank_degrees_a_minute: float) -> None:
    pack = packs.load(CURLEW if name == "curlew" else name)
    table, setup = pack.lock_pin_table, pack.lock_pin
    assert table.press_from
    assert table.give_up
    assert table.back_off_to
    ahead = 1 if name == "dunlin" else -1  # clockwise, or anticlockwise, seen from where the mark is read
    place = minutes(table.seats)
    assert setup.press_from == ahead * (place - minutes(table.press_from)) * crank_degrees_a_minute
    assert setup.give_up == ahead * (minutes(table.give_up) - place) * crank_degrees_a_minute
    assert setup.back_off == ahead * (place - minutes(table.back_off_to)) * crank_degrees_a_minute
    assert setup.back_off >= setup.least_back_off
    assert not setup.untold


def test_lash_from_bar_to_component_is_the_sum_by_hand() -> None:
    import math

    dunlin = packs.load("dunlin")
    # In crank degrees: pinion and ring gear, crank and idler, idler and fuel gear (which turns half as fast).
    by_hand = math.degrees(0.5 / (126 * 3.0 / 2)) + math.degrees(0.15 / (42 * 2.5 / 2))
    by_hand += 2 * math.degrees(0.14 / (84 * 2.5 / 2))
    assert float(dunlin.lock_pin.lash_to_component) == pytest.approx(by_hand, abs=2e-3)
    curlew = packs.load(CURLEW)
    # No mesh at the crank nose: crank and large gear; small gear and cam, which turns half as fast.
    by_hand = math.degrees(0.18 / (40 * 3.0 / 2)) + 2 * math.degrees(0.16 / (60 * 3.0 / 2))
    assert float(curlew.lock_pin.lash_to_component) == pytest.approx(by_hand, abs=2e-3)
    assert curlew.lock_pin.lash_to_pin == 0


def test_no_torque_comes_near_the_proof_load_by_a_formula_of_our_own(pack: packs.Pack) -> None:
    import math

    from trainkit.fasteners import Thread
    from trainkit.quantities import torque

    proof = {"5.8": 380, "8.8": 580, "10.9": 830, "grade 5": 85 * 6.894757, "grade 8": 120 * 6.894757}
    for fastener in pack.fasteners:
        for stage in fastener.stages:
            if stage.torque is None:
                continue
            newton_millimetres = torque(stage.torque[0]).to("N·m").value * 1000
            thread = Thread(fastener.thread)
            core = thread.diameter - 0.938194 * thread.pitch
            limit = math.pi / 4 * core**2 * proof[fastener.grade]
            force = newton_millimetres / ((0.15 if fastener.condition == "oiled" else 0.20) * thread.diameter)
            assert force < 0.95 * limit, (fastener.id, stage.name)


def test_every_configuration_is_a_procedure_of_its_own(pack: packs.Pack) -> None:
    base = {step.id for step in pack.steps_of()}
    assert set(pack.procedure().steps) == base
    for configuration in pack.configurations:
        procedure = pack.procedure(configuration.id)
        here = set(procedure.steps)
        assert here == (base - set(configuration.without)) | set(configuration.own)
        assert here != base
        assert {end for edge in procedure.before for end in (edge.before, edge.after)} == here  # no step is left loose
    assert pack.procedure() is pack.procedure()


def test_dangers_of_the_trade_are_in_the_order(pack: packs.Pack) -> None:
    """Isolate first, sling before loosening, tray before screws, pin out before torque, count before covers."""
    wanted = {
        "dunlin": [
            ("isolate", "bar-on"),
            ("sling-on", "flange-off"),
            ("tray-in", "screws-out"),
            ("pin-out", "screws-final"),
            ("dowel-out", "screws-final"),
            ("clean-faces", "mount"),
            ("check-again", "scribe"),
            ("count-out", "cover-snug"),
        ],
        "curlew": [
            ("isolate", "socket-on"),
            ("jack-up", "support-off"),
            ("tray-in", "thrust-off"),
            ("plate-tight", "carrier-off"),
            ("pin-out", "bar-again"),
            ("clean", "idler-in"),
            ("count-out", "case-snug"),
        ],
    }[pack.name]
    for before, after in wanted:
        assert pack.procedure().is_dangerous(before, after), (before, after)


def test_entries_are_found_by_identifier_and_a_wrong_one_is_told(pack: packs.Pack) -> None:
    for find, entries in (
        (pack.step, pack.steps),
        (pack.part, pack.parts),
        (pack.fastener, pack.fasteners),
        (pack.gear, pack.gears),
        (pack.tool, pack.tools),
        (pack.configuration, pack.configurations),
    ):
        assert find(entries[-1].id) is entries[-1]  # each finds its own kind
        with pytest.raises(PackError, match=entries[0].id):
            find("nobody")  # as above
    with pytest.raises(PackError):
        pack.procedure("nobody")


def test_a_pack_is_read_only(pack: packs.Pack) -> None:
    with pytest.raises(ValueError, match="frozen"):
        pack.name = "other"  # the point of the test
    with pytest.raises(ValueError, match="frozen"):
        pack.gears[0].teeth = 7  # the point of the test


def test_bolts_of_a_circle_and_a_line_are_evenly_spaced() -> None:
    import math

    circle = packs.load("dunlin").fastener("gear-screws")
    places = circle.positions
    assert len(places) == circle.count == 6
    assert places[0] == pytest.approx((0, 42))  # the first at 12 o'clock
    assert all(math.hypot(*place) == pytest.approx(42) for place in places)
    assert places[1][0] > 0  # then clockwise
    line = packs.load("dunlin").fastener("filter-bolts").positions
    assert line == ((-55.0, 0.0), (0.0, 0.0), (55.0, 0.0))
    assert packs.load(CURLEW).fastener("case-bolts").positions[0] == (-210.0, -150.0)
    assert packs.load("dunlin").fastener("pin-plug").positions == ((0.0, 0.0),)


def test_what_a_manual_pack_says_of_itself() -> None:
    text = plain()
    text = text.replace('values = "invented"', 'values = "manual"\nmanual = "Book of the pump"\nedition = "3"', 1)
    found = packs.examine_text(text)
    assert {finding.code for finding in found.findings} == {"value-without-page"}
    paged = text.replace("\nteeth =", '\npage = "4"\nteeth =').replace("\nlash_mm =", '\npage = "4"\nlash_mm =')
    for table in ("[engine]\n", "[barring]\n", "[lock_pin]\n", "[[fasteners]]\n"):
        paged = paged.replace(table, f'{table}page = "5"\n')
    pack = packs.load_text(paged)
    assert "Book of the pump, edition 3" in pack.notice
    assert "the current manual prevails" in pack.notice
    assert "invented" not in pack.notice


def test_lines_of_all_that_toml_can_write() -> None:
    text = (
        "a = 1\n"  # 1
        "[b.c]\n"  # 2
        "d.e = 2\n"  # 3
        'f = [{g = 1},\n  {g = 2}, # why\n  "x"]\n'  # 4-6
        "[[h]]\n"  # 7
        "i = 3\n"  # 8
        "[[h.j]]\n"  # 9
        "k = 4\n"  # 10
        "[[h.j]]\n"  # 11
        "k = 5\n"  # 12
        "[h.l]\n"  # 13
        "m = 6\n"  # 14
        "[[h]]\n"  # 15
        "[[h.j]]\n"  # 16
        '"quoted key" = """\nmany\nlines"""\n'  # 17
        "n = { o = { p = [1, 2] } }\n"  # 20
    )
    places = Places(text)
    for path, line in [
        (("a",), 1),
        (("b",), 2),
        (("b", "c", "d", "e"), 3),
        (("b", "c", "f"), 4),
        (("b", "c", "f", 0, "g"), 4),
        (("b", "c", "f", 1, "g"), 5),
        (("b", "c", "f", 2), 6),
        (("h",), 7),
        (("h", 0), 7),
        (("h", 0, "i"), 8),
        (("h", 0, "j", 0, "k"), 10),
        (("h", 0, "j", 1), 11),
        (("h", 0, "j", 1, "k"), 12),
        (("h", 0, "l", "m"), 14),
        (("h", 1), 15),
        (("h", 1, "j", 0, "quoted key"), 17),
        (("h", 1, "j", 0, "n", "o", "p", 1), 20),
        (("h", 1, "j", 0, "missing"), 16),
        (("nowhere",), 1),
    ]:
        assert places.line(path) == line, path
    assert places.faults() == ()
    assert Places("").line(("a",)) == 0
    assert Places('a = 1\nb = = 2\nc = 3\nd = "\n').faults()


def placed(**places: tuple[float, float]) -> packs.Pack:
    """Return the pack to start from with these places of shafts and no others."""
    text = re.sub(r"^at_mm = .*\n", "", packs.starting_point(), flags=re.MULTILINE)
    for gear, place in places.items():
        head = f'[[gears]]\nid = "{gear}"\n'
        text = re.sub(rf'\[\[gears\]\]\nid = "{gear}".*\n', f"{head}at_mm = {list(place)}\n", text, count=1)
    return packs.load_text(text, "mine.toml")


def test_a_missing_place_is_worked_out_where_the_others_settle_it() -> None:
    crank, cam, governor = (0.0, 0.0), (205.0, 80.0), (60.0, 225.0)
    # By module and teeth the idler sits 100 mm from the crank and 145 mm from the other two.
    settled = placed(crank=crank, cam=cam, governor=governor).train.gear("idler").at_mm
    assert settled == pytest.approx((60, 80), abs=0.01)
    # Two distances leave a place on either side of the line, and one a whole circle.
    assert placed(crank=crank, cam=cam).train.gear("idler").at_mm is None
    assert placed(crank=crank).train.gear("idler").at_mm is None
    # In one line with both there is but one.
    assert placed(crank=crank, cam=(0.0, 245.0)).train.gear("idler").at_mm == pytest.approx((0, 100), abs=0.01)
