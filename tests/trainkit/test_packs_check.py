"""What is wrong with a pack is found, with a stable code, the right line and a remedy: one mutated pack a finding."""

from __future__ import annotations

import ast
import json
from dataclasses import dataclass, field
from pathlib import Path

import pytest

import trainkit
from trainkit import packs
from trainkit.errors import PackError
from trainkit.packs.findings import PackFinding

PACKS = Path(trainkit.__file__).parent / "packs"
DUNLIN = (PACKS / "data" / "dunlin.toml").read_text(encoding="utf-8")
START = packs.starting_point()
MANUAL = ('values = "invented"', 'values = "manual"\nmanual = "Book"\nedition = "2"')

Edit = tuple[str, str]


@dataclass(frozen=True)
class Case:
    """A mutation, what is to be found, and where.

    ``at`` is where the finding stands: a text of the mutated pack, or a context and the first such text after it.
    """

    code: str
    edits: tuple[Edit, ...]
    at: str | tuple[str, str] | None
    says: str  # part of rule or remedy, so that the person is helped
    severity: str = "refuse"
    base: str = field(default=DUNLIN, repr=False)


def mutated(base: str, edits: tuple[Edit, ...]) -> str:
    for old, new in edits:
        assert old in base, old
        base = base.replace(old, new, 1)
    return base


def line_of(text: str, at: str | tuple[str, str] | None) -> int:
    """Count the lines up to a text, with no parser at all."""
    if at is None:
        return 0
    context, needle = ("", at) if isinstance(at, str) else at
    assert context in text, context
    start = text.index(context) + len(context) if context else 0
    return text.count("\n", 0, text.index(needle, start)) + 1


def edge(before: str, after: str) -> str:
    return f'[[precedence]]\nbefore = "{before}"\nafter = "{after}"\nreason = "So."\n\n'


def add(table: str) -> Edit:
    """Put one more table before the hazards, which stand last."""
    return "# The usual cautions first.\n", f"{table}\n# The usual cautions first.\n"


def fastener(id_: str) -> str:
    return f'[[fasteners]]\nid = "{id_}"'


def step(id_: str) -> str:
    return f'[[steps]]\nid = "{id_}"'


def gear(id_: str) -> str:
    return f'[[gears]]\nid = "{id_}"'


BARE = '[[fasteners]]\nid = "spare"\nname = "spare"\nthread = "M6"\ngrade = "8.8"\n'

CASES = [
    # Text and shape
    Case("text-not-toml", (("[barring]", "[barring"),), "[barring", "Mend this line"),
    Case("text-unprintable", (('name = "Dunlin"', 'name = "Dun\\u0007lin"'),), 'name = "Dun\\u0007', "control"),
    Case("format-unknown", (("format = 1", "format = 2"),), "format = 2", "Write format = 1"),
    Case("key-missing", (('job = "', 'jib = "'),), "[engine]", "Add job"),
    Case("key-missing", (('["44 N·m", "32 lbf·ft"]', '["44 N·m"]'),), '["44 N·m"]', "entry number 2"),
    Case("key-unknown", (("cylinders = 4", "cylinders = 4\nlitres = 6"),), "litres", "Delete it"),
    Case("key-unknown", (("teeth = 42", "teeth = 42\nmodul_mm = 2.5"),), "modul_mm", "Did you mean module_mm"),
    Case("value-wrong-type", (("teeth = 42", 'teeth = "42"'),), 'teeth = "42"', "without quotes"),
    Case("value-wrong-type", (("stiff = true", 'stiff = "yes"'),), 'stiff = "yes"', "true or false"),
    Case("value-wrong-type", (('title = "', 'title = 5 # "'),), "title = 5", "double quotes"),
    Case("value-wrong-type", (('text = "Isolate', 'text = 2026-01-02 # "Isolate'),), "text = 2026", "double quotes"),
    Case("value-not-allowed", (('role = "crank"', 'role = "kurbel"'),), 'role = "kurbel"', "'crank'"),
    Case("value-out-of-range", (("teeth = 42", "teeth = 0"),), "teeth = 0", "greater than or equal to 6"),
    Case("value-out-of-range", (("lash_mm = 0.5", "lash_mm = nan"),), "lash_mm = nan", "finite"),
    Case("value-out-of-range", (("lash_mm = 0.5", "lash_mm = -0.5"),), "lash_mm = -0.5", "unit"),
    Case(
        "value-wrong-length",
        (('title = "Dunlin, in-line four of the Saltmere pumping sets"', 'title = ""'),),
        'title = ""',
        "complete",
    ),
    Case(
        "value-wrong-length",
        (
            ("stages]]", "stags]]"),
            *(("[[fasteners.stages]]", "[[fasteners.stags]]"),) * 2,
            (fastener("flange-bolts"), fastener("flange-bolts") + "\nstages = []"),
        ),
        "stages = []",
        "complete",
    ),
    Case("identifier-unreadable", ((gear("oil"), gear("Oil Pump")),), 'id = "Oil Pump"', "drive-gear-screws"),
    Case("clock-unreadable", (('seats = "2:30"', 'seats = "half past two"'),), "seats =", "2:10"),
    Case("clock-unreadable", (('seats = "2:30"', 'seats = "14:30"'),), "seats =", "12:59"),
    Case("sections-not-judged", (("teeth = 42", 'teeth = "42"'),), None, "judged once", "note"),
    # Names
    Case("identifier-twice", ((gear("oil"), gear("fuel")),), 'id = "fuel"\nname = "oil', "Rename one"),
    Case("identifier-twice", ((step("relieve"), step("isolate")),), 'id = "isolate"\ntext = "Close', "entry 1"),
    Case("tool-undeclared", (('tool = "padlock"', 'tool = "padlok"'),), 'tool = "padlok"', "Did you mean padlock"),
    Case(
        "tool-undeclared",
        (('stands_at = "flywheel"\ntool = "bar"', 'stands_at = "flywheel"\ntool = "crowbar"'),),
        'tool = "crowbar"',
        "declare",
    ),
    Case("tool-undeclared", (('adapter = "ring-jaw"', 'adapter = "jaw"'),), 'adapter = "jaw"', "declare"),
    Case("part-undeclared", (('takes_off = ["pipes"]', 'takes_off = ["pipework"]'),), '["pipework"]', "declare"),
    Case("fastener-undeclared", (('loosens = "pin-plug"', 'loosens = "plug"'),), 'loosens = "plug"', "declare"),
    Case("fastener-undeclared", (('fastener = "link-nut"', 'fastener = "link-nuts"'),), "link-nuts", "link-nut?"),
    Case(
        "stage-undeclared",
        (('fastener = "link-nut"\nstage = "final"', 'fastener = "link-nut"\nstage = "first"'),),
        ('fastener = "link-nut"', "stage"),
        "The stages of link-nut are final",
    ),
    Case(
        "stage-undeclared",
        (('fastener = "link-nut"\nstage = "final"', 'fastener = "link-nut"'),),
        'fastener = "link-nut"',
        "Add stage",
    ),
    Case("gear-undeclared", (('driven = "oil"', 'driven = "oli"'),), 'driven = "oli"', "Did you mean oil"),
    Case("gear-undeclared", (('watched = "fuel"', 'watched = "feul"'),), 'watched = "feul"', "fuel"),
    Case("gear-undeclared", (('component = "fuel"', 'component = "flywheel"'),), 'component = "flywheel"', "Declare"),
    Case("step-undeclared", (('before = "wash"', 'before = "wish"'),), 'before = "wish"', "wash"),
    Case("step-undeclared", (('adds = ["heater-off", ', 'adds = ["heater-of", '),), '"heater-of", ', "heater-off"),
    Case("step-undeclared", (('terminals-on = "link-on"', 'terminals-on = "link-onn"'),), "link-onn", "link-on"),
    # Notice, sources, cautions
    Case("notice-missing", (("[notice]", "[notes]"),), "# Dunlin", "values come from"),
    Case("hazards-missing", tuple(("[[hazards]]", "[[dangers]]") for _ in range(10)), "# Dunlin", "usual cautions"),
    Case("caution-missing", (('kind = "hot"', 'kind = "other"'),), "[[hazards]]", "hot surfaces"),
    Case("manual-unnamed", (('values = "invented"', 'values = "manual"\nmanual = "Book"'),), "values =", "edition"),
    Case("manual-unclaimed", (('values = "invented"', 'values = "invented"\nmanual = "Book"'),), "manual =", "page"),
    Case("value-without-page", (MANUAL,), ('id = "crank"', "teeth"), "page"),
    Case("value-without-page", (MANUAL,), '["44 N·m"', "page"),
    Case(
        "as-printed-without-manual",
        ((fastener("pin-plug"), fastener("pin-plug") + '\nas_printed = ["torque-columns-disagree"]'),),
        "as_printed",
        "correct the value",
    ),
    Case(
        "acceptance-unused",
        (MANUAL, (fastener("pin-plug"), fastener("pin-plug") + '\nas_printed = ["torque-columns-disagree"]')),
        "as_printed",
        "Delete it",
        "note",
    ),
    # Engine and gears
    Case("firing-order-no-permutation", (("[1, 3, 4, 2]", "[1, 3, 3, 2]"),), "[1, 3, 3, 2]", "missing: 4"),
    Case("firing-order-no-permutation", (("cylinders = 4", "cylinders = 6"),), "[1, 3, 4, 2]", "missing: 5, 6"),
    Case("slider-crank-incomplete", (("crank_radius_mm = 56.0\n", ""),), "rod_length_mm", "Give both"),
    Case("rod-too-short", (("crank_radius_mm = 56.0", "crank_radius_mm = 196.0"),), "rod_length_mm", "stroke"),
    Case("crank-gear-unclear", (('role = "crank"', 'role = "idler"'),), "[[gears]]", "role = "),
    Case("crank-gear-unclear", (('role = "accessory"', 'role = "crank"'),), (gear("oil"), "role"), "one shaft"),
    Case(
        "mesh-impossible",
        (
            (
                gear("oil") + '\nname = "oil pump gear"\nteeth = 35\nrole = "accessory"\nmodule_mm = 2.5',
                gear("oil") + '\nname = "oil pump gear"\nteeth = 35\nrole = "accessory"\nmodule_mm = 4.0',
            ),
        ),
        '[[meshes]]\ndriver = "crank"\ndriven = "oil"',
        "radii",
    ),
    Case(
        "mesh-impossible",
        (('driven = "oil"', 'driven = "crank"'),),
        '[[meshes]]\ndriver = "crank"\ndriven = "crank"',
        "itself",
    ),
    Case(
        "mesh-twice",
        (("[barring]", '[[meshes]]\ndriver = "oil"\ndriven = "crank"\n\n[barring]'),),
        '[[meshes]]\ndriver = "oil"',
        "one mesh",
    ),
    Case(
        "gear-unconnected",
        (
            ('driven = "oil"', 'driven = "water"'),
            ('driver = "cam"\ndriven = "water"', 'driver = "crank"\ndriven = "cam"\nkind = "chain"'),
        ),
        'id = "oil"',
        "mesh that drives it",
    ),
    Case(
        "train-locks",
        (("[barring]", '[[meshes]]\ndriver = "oil"\ndriven = "idler"\n\n[barring]'),),
        "[[meshes]]",
        "would lock",
    ),
    Case(
        "lash-without-radius",
        (
            ('teeth = 42\nrole = "crank"\nmodule_mm = 2.5', 'teeth = 42\nrole = "crank"'),
            ('teeth = 35\nrole = "accessory"\nmodule_mm = 2.5', 'teeth = 35\nrole = "accessory"'),
        ),
        ('driven = "oil"', "lash_mm"),
        "module_mm",
    ),
    Case("lash-without-radius", (("module_mm = 3.0\n", ""),), ("[barring]", "lash_mm"), "ring gear"),
    Case(
        "direction-contradicts-meshes",
        (('turns = "anticlockwise"', 'turns = "clockwise"'),),
        (gear("idler"), "turns"),
        "anticlockwise seen from the front",
    ),
    Case(
        "direction-contradicts-meshes",
        (('rotation = "clockwise"\nseen_from = "front"', 'rotation = "clockwise"\nseen_from = "flywheel"'),),
        (gear("crank"), "turns"),
        "seen from the front",
    ),
    Case(
        "speed-contradicts-cycle",
        ((gear("cam") + '\nname = "camshaft gear"\nteeth = 84', gear("cam") + '\nname = "camshaft gear"\nteeth = 83'),),
        (gear("cam"), "teeth"),
        "1/2 of crank speed",
    ),
    Case(
        "speed-contradicts-cycle",
        (
            (
                gear("fuel") + '\nname = "fuel metering unit gear"\nteeth = 84',
                gear("fuel") + '\nname = "fuel metering unit gear"\nteeth = 80',
            ),
        ),
        (gear("fuel"), "teeth"),
        "Count the teeth",
    ),
    Case("barring-incomplete", (("ring_teeth = 126\n", ""),), 'by = "ring-gear"', "Count both"),
    Case("barring-incomplete", (('by = "ring-gear"', 'by = "crank-nose"'),), "ring_teeth", "no mesh"),
    Case(
        "barring-incomplete",
        (('by = "crank-nose"\nstands', 'by = "crank-nose"\nlash_mm = 0.3\nstands'),),
        "lash_mm = 0.3",
        "no lash",
        base=START,
    ),
    Case(
        "barring-out-of-reach",
        (('stands_at = "front"', 'stands_at = "flywheel"'),),
        "stands_at",
        "at the front",
        base=START,
    ),
    Case("pinion-too-large", (("pinion_teeth = 14", "pinion_teeth = 140"),), "pinion_teeth", "Swap"),
    # Lock pin
    Case("pin-position-missing", (('give_up = "2:40"\n', ""),), "[lock_pin]", "give_up_deg"),
    Case("cylinder-unknown", (("cylinder = 1\n", "cylinder = 5\n"),), "cylinder = 5", "4 cylinders"),
    Case(
        "mark-out-of-sight",
        (('watched = "fuel"\nseen_from = "front"', 'watched = "fuel"\nseen_from = "flywheel"'),),
        ("[lock_pin]", "seen_from"),
        "12 − h",
    ),
    Case(
        "clock-positions-contradict-meshes",
        (('watched = "fuel"\nseen_from = "front"', 'watched = "fuel"\nseen_from = "flywheel"'),),
        "press_from",
        "anticlockwise seen from the flywheel",
    ),
    Case(
        "clock-positions-contradict-meshes",
        (('rotation = "clockwise"', 'rotation = "anticlockwise"'),),
        "press_from",
        "the other way round",
    ),
    Case(
        "clock-contradicts-degrees",
        (('press_from = "2:15"', 'press_from = "2:15"\npress_from_deg = 7.5'),),
        "press_from_deg",
        "15 crank degrees before",
    ),
    Case("clock-in-text-unknown", (("stands at 2:15", "stands at 3:15"),), "stands at 3:15", "2:15", "note"),
    Case("window-never-passed", (('press_from = "2:15"', 'press_from = "2:35"'),), "press_from", "goes clockwise"),
    Case("window-after-give-up", (('give_up = "2:40"', 'give_up = "2:20"'),), "give_up", "before the pin can seat"),
    Case("back-off-too-short", (('back_off_to = "1:55"', 'back_off_to = "2:20"'),), "back_off_to", "further back"),
    Case(
        "back-off-too-short",
        (("lash_mm = 0.5", "lash_mm = 7.0"), ('back_off_to = "1:55"', 'back_off_to = "2:13"')),
        "back_off_to",
        "of lash from the bar",
    ),
    Case(
        "back-off-too-short",
        (("back_off_deg = 25.0", "back_off_deg = 9.1"),),
        "back_off_deg = 9.1",
        "at least 9.2",
        base=START,
    ),
    Case("dead-centre-untold", (('tells_stroke = "witness"', 'tells_stroke = "hole"'),), "tells_stroke", "240"),
    Case(
        "dead-centre-untold", (('tells_stroke = "valves"', 'tells_stroke = "hole"'),), "tells_stroke", "360", base=START
    ),
    Case(
        "dead-centre-untold",
        (('tells_stroke = "valves"', 'tells_stroke = "witness"'),),
        "tells_stroke",
        "valves",
        base=START,
    ),
    Case(
        "pin-impossible",
        (("stiff = true", "stiff = true\nclearance_deg = 9.9\nfalse_holes_deg = [5.0]"),),
        "[lock_pin]",
        "false hole",
    ),
    # Fasteners and tools
    Case("thread-unknown", (('thread = "M14x1.5"', 'thread = "M14x1.6"'),), 'thread = "M14x1.6"', "ISO 261"),
    Case("grade-unknown", (('grade = "10.9"', 'grade = "11.9"'),), 'grade = "11.9"', "10.9"),
    Case("grade-unknown", (('grade = "10.9"', 'grade = "grade 8"'),), 'grade = "grade 8"', "metric"),
    Case("torque-unreadable", (('"44 N·m"', '"44 lb"'),), '"44 lb"', "lbf"),
    Case("torque-unreadable", (('"44 N·m"', '"44 mN"'),), '"44 mN"', "N·m"),
    Case("torque-unreadable", (('"44 N·m"', '"-44 N·m"'),), '"-44 N·m"', ""),
    Case("torque-columns-unusable", (('"44 N·m", "32 lbf·ft"', '"44 N·m", "44 Nm"'),), '"44 Nm"', "different units"),
    Case("torque-columns-disagree", (('"44 N·m", "32 lbf·ft"', '"44 N·m", "33 lbf·ft"'),), '"33 lbf·ft"', "32.45"),
    Case("torque-columns-disagree", (('"0.8 N·m", "7 lbf·in"', '"0.8 N·m", "9 lbf·in"'),), "prevailing", "7.081"),
    Case(
        "master-contradicts-columns",
        (('"44 N·m", "32 lbf·ft"]\nmaster = "first"', '"44 N·m", "32 lbf·ft"]\nmaster = "second"'),),
        ("44 N·m", "master"),
        'master = "first"',
    ),
    Case("printed-to-alone", (('["1 N·m", "1 lbf·ft"]', '["1 N·m", "1 lbf·in"]'),), "printed_to", "1 lbf·ft"),
    Case(
        "printed-to-alone",
        (('name = "finger-tight"', 'name = "finger-tight"\nprinted_to = ["1 N·m", "1 lbf·ft"]'),),
        "printed_to",
        "Give torque",
    ),
    Case(
        "stages-out-of-order",
        (('name = "finger-tight"', 'name = "first"'),),
        'name = "first"\ntorque',
        "Put first in its place",
    ),
    Case(
        "final-stage-missing",
        (('name = "final"\ntorque = ["52 N·m"', 'name = "first"\ntorque = ["52 N·m"'),),
        (fastener("pin-plug"), "[[fasteners.stages]]"),
        "final",
    ),
    Case(
        "stage-without-value",
        (('torque = ["52 N·m", "38 lbf·ft"]\n', ""),),
        (fastener("pin-plug"), 'name = "final"'),
        "Add torque",
    ),
    Case(
        "stage-without-step",
        (('fastener = "flange-bolts"\nstage = "finger-tight"\n', ""),),
        (fastener("flange-bolts"), 'name = "finger-tight"'),
        "No step brings",
    ),
    Case("final-below-earlier", (('"15 N·m", "11 lbf·ft"', '"150 N·m", "111 lbf·ft"'),), '"44 N·m"', "150 N·m"),
    Case(
        "stage-below-earlier",
        (('name = "finger-tight"\n', 'name = "snug"\ntorque = ["20 N·m", "15 lbf·ft"]\n'),),
        '"15 N·m", "11 lbf·ft"',
        "20 N·m",
    ),
    Case(
        "torque-beyond-proof", (('"44 N·m", "32 lbf·ft"', '"88 N·m", "65 lbf·ft"'),), '"88 N·m"', "0.20 (assumed, dry"
    ),
    Case(
        "torque-beyond-proof", (('"31 N·m", "23 lbf·ft"', '"38 N·m", "28 lbf·ft"'),), '"38 N·m"', "0.15 (assumed, oiled"
    ),
    Case(
        "torque-beyond-proof",
        (
            ('"44 N·m", "32 lbf·ft"', '"60 N·m", "44 lbf·ft"'),
            ('pattern = "circle"\nspread_mm = 140.0', 'pattern = "circle"\nspread_mm = 140.0\nnut_factor = 0.12'),
        ),
        '"60 N·m"',
        "0.12 (declared)",
    ),
    Case(
        "torque-far-below-proof",
        (
            ('"15 N·m", "11 lbf·ft"', '"1.2 N·m", "11 lbf·in"'),
            ('"44 N·m", "32 lbf·ft"]\nmaster = "first"', '"2.6 N·m", "23 lbf·in"]'),
        ),
        '"2.6 N·m"',
        "12 apart",
        "note",
    ),
    Case("pattern-incomplete", (("spread_mm = 140.0\n", ""),), (fastener("flange-bolts"), "pattern"), "spread_mm"),
    Case(
        "pattern-incomplete",
        (('pattern = "circle"\nspread_mm = 140.0', 'pattern = "free"\nat = [[0.0, 0.0]]'),),
        (fastener("flange-bolts"), "count"),
        "at has 1",
    ),
    Case("pattern-incomplete", (("spread_mm = 140.0", "spread_mm = 140.0\nat = [[0.0, 0.0]]"),), "at = [[", "free"),
    Case("pattern-incomplete", (("count = 4", "count = 1"),), (fastener("flange-bolts"), "count"), "two bolts"),
    Case(
        "bolts-coincide",
        (
            (
                'pattern = "circle"\nspread_mm = 140.0',
                'pattern = "free"\nat = [[0.0, 0.0], [9.0, 0.0],\n[9.0, 0.1], [0.0, 9.0]]',
            ),
        ),
        "[9.0, 0.1]",
        "Measure",
    ),
    Case("wrench-incomplete", (("low = 10.0\n", ""),), (('id = "middle-wrench"'), "kind"), "missing: low"),
    Case(
        "wrench-incomplete",
        (('kind = "spanner"', 'kind = "spanner"\nhigh = 5.0'),),
        'kind = "spanner"',
        "torque-wrench",
    ),
    Case("wrench-impossible", (("high = 60.0", "high = 6.0"),), (('id = "middle-wrench"'), "kind"), "scale"),
    Case("wrench-impossible", (('unit = "N·m"', 'unit = "N"'),), (('id = "driver"'), "kind"), "torque"),
    Case("adapter-incomplete", (("adapter_length = 48.0\n", ""),), ('id = "open-jaw"', "kind"), "Measure it"),
    Case("adapter-incomplete", (("length = 320.0\n", ""),), 'adapter = "ring-jaw"', "no length"),
    Case(
        "stage-without-torque-wrench",
        (('tool = "middle-wrench"\nfits = ["closing-plug"', 'tool = "spanners"\nfits = ["closing-plug"'),),
        (step("plug-in"), "tool"),
        "torque wrench",
    ),
    Case(
        "torque-outside-wrench",
        (('tool = "middle-wrench"\nfits = ["closing-plug"', 'tool = "small-wrench"\nfits = ["closing-plug"'),),
        (step("plug-in"), "tool"),
        "too small",
    ),
    Case(
        "torque-outside-wrench",
        (("high = 150.0\nstep = 1.0\nlength = 200.0", "high = 300.0\nstep = 1.0\nlength = 200.0"),),
        (step("clamps-on"), "tool"),
        "too large",
    ),
    # Work
    Case("precedence-twice", (add(edge("wash", "pipes-off")),), edge("wash", "pipes-off"), "Delete one"),
    Case("precedence-cycle", (add(edge("release", "isolate")),), edge("release", "isolate"), "in a ring"),
    Case("precedence-cycle", (add(edge("wash", "wash")),), edge("wash", "wash"), "in a ring"),
    Case(
        "step-dead",
        (add('[[steps]]\nid = "whistle"\ntext = "Whistle a tune"\n'),),
        'id = "whistle"',
        "any time, or never",
    ),
    Case("step-dead", (("replaces = {", 'drops = ["link-off"]\nreplaces = {'),), 'id = "link-off"', "leave it out"),
    Case(
        "stages-unordered",
        (('before = "flange-first"\nafter = "flange-final"', 'before = "mount"\nafter = "flange-final"'),),
        (step("flange-final"), "stage = "),
        "flange-first before flange-final",
    ),
    Case(
        "stages-unordered",
        (('before = "plug-out"\nafter = "free-pin"', 'before = "plug-out"\nafter = "release"'),),
        (step("plug-in"), "stage = "),
        "loosened",
    ),
    Case(
        "stages-unordered",
        ((fastener("pin-plug"), fastener("pin-plug") + "\ntemporary = true"),),
        (step("plug-out"), "loosens"),
        "plug-in before plug-out",
    ),
    Case(
        "part-fitted-before-removal",
        (('takes_off = ["transit-cap"]', 'takes_off = ["transit-cap", "closing-plug"]'),),
        (step("plug-in"), "fits"),
        "uncap before plug-in",
    ),
    Case(
        "part-without-fate",
        (('fate = "renew"\nsingle_use = true\n', "single_use = true\n"),),
        '[[parts]]\nid = "flange-seal"',
        "Add fate",
    ),
    Case(
        "part-without-step",
        (add('[[parts]]\nid = "spare"\nname = "spare"\nfate = "discard"\n'),),
        'id = "spare"',
        "Name it",
        "note",
    ),
    Case(
        "fastener-without-step",
        (add(BARE + '[[fasteners.stages]]\nname = "final"\ntorque = ["6 N·m", "53 lbf·in"]\n'),),
        'id = "spare"',
        "Name it",
        "note",
    ),
    Case(
        "single-use-refitted",
        (('fate = "renew"\nsingle_use = true\n', 'fate = "refit"\nsingle_use = true\n'),),
        ('[[parts]]\nid = "flange-seal"', "fate"),
        'Write fate = "renew"',
    ),
    Case(
        "fate-contradicts-steps",
        (
            (
                'id = "pipes"\nname = "injection pipes"\nfate = "refit"',
                'id = "pipes"\nname = "injection pipes"\nfate = "discard"',
            ),
        ),
        ('id = "pipes"', "fate"),
        "discarded",
    ),
    Case(
        "fate-contradicts-steps",
        (
            (
                'id = "drive-gear"\nname = "drive gear of the fuel metering unit"\nfate = "refit"',
                'id = "pipes2"\nname = "x"\nfate = "refit"\n\n[[parts]]\nid = "drive-gear"\nname = "g"\nfate = "stays"',
            ),
            ('handles = ["drive-gear"]', 'takes_off = ["drive-gear"]'),
        ),
        ('id = "drive-gear"', "fate"),
        "stays",
    ),
    Case(
        "configuration-changes-nothing",
        (add('[[configurations]]\nid = "plain"\nname = "plain"\n'),),
        'id = "plain"',
        "adds",
    ),
    Case(
        "configuration-changes-nothing",
        (('adds = ["heater-off"', 'drops = ["filter-off"]\nadds = ["heater-off"'),),
        "drops =",
        "Delete it here",
    ),
    Case(
        "configuration-drops-critical",
        (('adds = ["heater-off"', 'drops = ["secure-pump"]\nadds = ["heater-off"'),),
        "drops =",
        "replaces",
        "note",
    ),
    Case(
        "precedence-through-dropped",
        (
            ('after = "flange-first"', 'after = "release"'),
            add(edge("flange-finger", "wipe2") + edge("wipe2", "flange-first")),
            add('[[steps]]\nid = "wipe2"\ntext = "Wipe the thread"\n'),
            ('adds = ["heater-off"', 'drops = ["wipe2"]\nadds = ["heater-off"'),
        ),
        'drops = ["wipe2"]',
        "only by way of what is dropped: wipe2",
        "note",
    ),
    Case(
        "replacement-less-ordered",
        (('before = "link-on"\nafter = "release"', 'before = "wash"\nafter = "link-on"'),),
        "replaces = {",
        "nothing says that link-on comes before release",
        "note",
    ),
    Case(
        "work-leaves-gap",
        (('fastener = "pin-plug"\nstage = "final"\n', ""),),
        'id = "plug-out"',
        "tightens it to final",
    ),
    Case(
        "work-leaves-gap",
        (('fits = ["return-pipe", "return-washers"]', 'fits = ["return-pipe"]'),),
        'id = "return-off"',
        "return-washers",
    ),
    Case(
        "work-leaves-gap",
        (
            (
                'takes_off = ["stop-solenoid", "inlet-connector", "connector-ring"]',
                'takes_off = ["inlet-connector", "connector-ring"]',
            ),
        ),
        'id = "move-parts"',
        "takes it off",
    ),
    Case(
        "configuration-leaves-gap",
        (
            ('adds = ["heater-off", "heater-first", "heater-final"]', 'adds = ["heater-off", "heater-first"]'),
            (
                '[[configurations]]\nid = "front-filter"',
                '[[configurations]]\nid = "x"\nname = "x"\nadds = ["heater-final"]\n\n'
                '[[configurations]]\nid = "front-filter"',
            ),
        ),
        'id = "coolant-heater"',
        "no step tightens it to final",
    ),
    Case(
        "configuration-leaves-gap",
        (('adds = ["heater-off"', 'drops = ["pipes-on"]\nadds = ["heater-off"'),),
        'id = "coolant-heater"',
        "pipes-off takes off pipes",
    ),
    Case(
        "configuration-leaves-gap",
        (('adds = ["heater-off"', 'drops = ["pipes-off"]\nadds = ["heater-off"'),),
        'id = "coolant-heater"',
        "no step loosens it",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=[f"{number:03}-{case.code}" for number, case in enumerate(CASES)])
def test_a_mutated_pack_is_found_out(case: Case) -> None:
    text = mutated(case.base, case.edits)
    examined = packs.examine_text(text, "mine.toml")
    line = line_of(text, case.at)
    found = [finding for finding in examined.findings if finding.code == case.code]
    assert found, [str(finding) for finding in examined.findings]
    here = [finding for finding in found if finding.line == line]
    assert here, (line, [str(finding) for finding in found])
    assert any(case.says in f"{finding.rule} {finding.remedy}" for finding in here), [str(f) for f in here]
    for finding in examined.findings:
        assert finding.code in packs.CODES
        assert finding.file == "mine.toml"
        assert finding.rule.endswith((".", ")", "?"))
        assert finding.remedy.endswith(".")
    assert {finding.severity for finding in here} == {case.severity}
    refused = any(finding.severity == "refuse" for finding in examined.findings)
    assert (examined.pack is None) == refused
    if refused:
        with pytest.raises(PackError) as caught:
            packs.load_text(text, "mine.toml")
        assert caught.value.findings == examined.findings
        assert "mine.toml" in str(caught.value)


def test_every_code_has_its_case() -> None:
    elsewhere = {
        "file-unreadable": "tests/trainkit/test_cli_check.py",
        "file-too-large": "below",
        "text-not-utf8": "below",
        "misconception-unknown": "below",
    }
    assert set(packs.CODES) == {case.code for case in CASES} | set(elsewhere)


def test_every_code_in_the_source_is_in_the_catalogue() -> None:
    written = set()
    for file in [*PACKS.rglob("*.py"), *(PACKS.parent / "cli").rglob("*.py")]:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            name = getattr(node.func, "id", getattr(node.func, "attr", "")) if isinstance(node, ast.Call) else ""
            if isinstance(node, ast.Call) and name in ("Fault", "Finding", "found") and node.args:
                first = node.args[0]
                chosen = [first.body, first.orelse] if isinstance(first, ast.IfExp) else [first]
                written |= {each.value for each in chosen if isinstance(each, ast.Constant)}
    assert len(written) > 60
    assert written - {f"{what}-undeclared" for what in ("tool", "part", "gear", "step", "fastener")} <= set(packs.CODES)


def test_bytes_that_are_no_text_are_told_with_their_line() -> None:
    from trainkit.packs.check import examine_bytes

    (found,) = examine_bytes("a = 1\nname = 'Größe'\n".encode("latin-1"), "mine.toml").findings
    assert (found.code, found.line, found.severity) == ("text-not-utf8", 2, "refuse")
    assert "UTF-8" in found.remedy


def test_a_file_of_absurd_size_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.toml"
    path.write_bytes(b"# " + b"x" * 2_500_000)
    (found,) = packs.examine(path).findings
    assert (found.code, found.severity) == ("file-too-large", "refuse")


def test_misconceptions_are_held_against_a_catalogue_that_is_handed_in() -> None:
    path = PACKS / "data" / "dunlin.toml"
    codes = {shown.shows for shown in packs.load("dunlin").precedence if shown.shows}
    assert packs.examine(path, misconceptions=codes).findings == ()
    found = packs.examine(path, misconceptions=codes - {"pin-out-last"} | {"pin-out-late"}).findings
    assert {finding.code for finding in found} == {"misconception-unknown"}
    assert found[0].line == line_of(DUNLIN, 'shows = "pin-out-last"')
    assert "Did you mean pin-out-late?" in found[0].remedy


def test_everything_is_found_at_once() -> None:
    chosen = [
        case
        for case in CASES
        if case.code
        in (
            "firing-order-no-permutation",
            "torque-columns-disagree",
            "single-use-refitted",
            "key-unknown",
            "tool-undeclared",
            "precedence-cycle",
            "back-off-too-short",
            "thread-unknown",
        )
        and case.base is DUNLIN
    ]
    one_each = {case.code: case for case in reversed(chosen)}
    # Shape is wrong in a section of its own here, so that nothing else has to wait for it.
    one_each["key-unknown"] = Case("key-unknown", (("[notice]", "[notice]\nfoot = 1"),), "foot = 1", "")
    text = DUNLIN
    for case in one_each.values():
        text = mutated(text, case.edits)
    found = packs.examine_text(text).findings
    assert set(one_each) <= {finding.code for finding in found}
    for case in one_each.values():
        assert line_of(text, case.at) in [finding.line for finding in found if finding.code == case.code]
    lines = [finding.line for finding in found if finding.line]
    assert lines == sorted(lines)


MANUAL_PAGED = mutated(
    START.replace("\nteeth =", '\npage = "4"\nteeth =').replace("\nlash_mm =", '\npage = "4"\nlash_mm ='), (MANUAL,)
)
for _table in ("[engine]\n", "[barring]\n", "[lock_pin]\n", "[[fasteners]]\n"):
    MANUAL_PAGED = MANUAL_PAGED.replace(_table, f'{_table}page = "5"\n')

PRINTED = [
    ("torque-columns-disagree", ('"70 N·m", "52 lbf·ft"', '"70 N·m", "55 lbf·ft"')),
    ("final-below-earlier", ('"30 N·m", "22 lbf·ft"', '"75 N·m", "55 lbf·ft"')),
    ("torque-beyond-proof", ('thread = "M14x1.5"', 'thread = "M8"')),
    ("direction-contradicts-meshes", ('turns = "anticlockwise"', 'turns = "clockwise"')),
    ("back-off-too-short", ("back_off_deg = 25.0", "back_off_deg = 9.1")),
    ("single-use-refitted", ('fate = "renew"\nsingle_use', 'fate = "refit"\nsingle_use')),
]


@pytest.mark.parametrize(("code", "edit"), PRINTED, ids=[row[0] for row in PRINTED])
def test_against_a_manual_a_contradiction_is_a_warning_that_can_be_accepted(code: str, edit: Edit) -> None:
    assert packs.examine_text(MANUAL_PAGED).findings == ()
    text = mutated(MANUAL_PAGED, (edit,))
    (found,) = [finding for finding in packs.examine_text(text).findings if finding.code == code]
    assert found.severity == "warn"
    assert found.remedy.startswith("Check your entry; the manual wins.")
    assert f'as_printed = ["{code}"]' in found.remedy
    assert packs.load_text(text).name == "my-engine"
    # Accepted in the table where it stands, it is still told, as a note.
    lines = text.split("\n")
    lines.insert(found.line, f'as_printed = ["{code}"]')
    (accepted,) = [finding for finding in packs.examine_text("\n".join(lines)).findings if finding.code == code]
    assert (accepted.severity, accepted.remedy) == ("note", "Accepted as printed.")
    # With invented values there is nobody to win against the rule.
    invented = mutated(START, (edit,))
    assert [f.severity for f in packs.examine_text(invented).findings if f.code == code] == ["refuse"]


@pytest.mark.parametrize(
    "edit",
    [
        ("firing_order = [1, 3, 2]", "firing_order = [1, 3, 3]"),
        ('after = "release"', 'after = "isolate"'),
        ('thread = "M8"', 'thread = "M8x9"'),
        ('tells_stroke = "valves"', 'tells_stroke = "hole"'),
        ("teeth = 64", "teeth = 5"),
    ],
)
def test_what_cannot_be_is_refused_even_if_a_manual_is_claimed(edit: Edit) -> None:
    text = mutated(MANUAL_PAGED, (edit,))
    assert packs.examine_text(text).pack is None


def test_accepting_one_code_accepts_no_other() -> None:
    edits = (
        ('thread = "M14x1.5"', 'thread = "M8"'),
        ('"70 N·m", "52 lbf·ft"]', '"70 N·m", "55 lbf·ft"]\nas_printed = ["torque-beyond-proof"]'),
    )
    text = mutated(MANUAL_PAGED, edits)
    severities = {finding.code: finding.severity for finding in packs.examine_text(text).findings}
    assert severities == {"torque-beyond-proof": "note", "torque-columns-disagree": "warn"}


def test_findings_are_plain_data() -> None:
    (found,) = packs.examine_text(mutated(START, (('thread = "M8"', 'thread = "M8x9"'),)), "mine.toml").findings
    data = json.loads(json.dumps(found.as_data()))
    assert data == {
        "code": "thread-unknown",
        "severity": "refuse",
        "file": "mine.toml",
        "line": line_of(START, 'thread = "M8"'),
        "key": "fasteners[1].thread",
        "value": "M8x9",
        "rule": found.rule,
        "remedy": found.remedy,
    }
    assert str(found).startswith("mine.toml:")
    assert isinstance(found, PackFinding)
