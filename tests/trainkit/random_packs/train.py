"""Engine, gear train, barring and lock pin of a random pack."""

from __future__ import annotations

import math
import random
from fractions import Fraction
from typing import Any

from tests.trainkit.random_packs.writing import Document
from trainkit.gears import Clock, Gear, GearTrain, Mesh, backlash_degrees, seen, sense_of, signed
from trainkit.lockpin import Dial

_ENDS = ("front", "flywheel")
_SENSES = ("clockwise", "anticlockwise")
# What hangs on a train beside what it is there for.
_OTHERS = ("oil pump", "coolant pump", "alternator", "compressor", "hydraulic pump", "fan", "tachometer")
_COMPONENTS = ("governor drive", "injection pump", "metering unit", "balancer", "distributor drive")


def engine(rng: random.Random, document: Document) -> None:
    """Fill in the engine: 1 to 16 cylinders, in line or in two banks."""
    cylinders = rng.choice([1, 1, 2, 3, 3, 4, 4, 5, 6, 6, 7, 8, 8, 9, 10, 12, 16])
    order = [1, *rng.sample(range(2, cylinders + 1), cylinders - 1)]
    table: Document = {
        "name": f"Engine {rng.randrange(100, 1000)}",
        "kind": f"in-line engine, {cylinders} cylinders",
        "job": f"The {rng.choice(_COMPONENTS)} is renewed.",
        "cylinders": cylinders,
        "firing_order": order,
        "rotation": rng.choice(_SENSES),
        "seen_from": rng.choice(_ENDS),
        "number_one_at": rng.choice(_ENDS),
    }
    if cylinders > 1 and rng.random() < 0.35:
        _in_banks(rng, table)
    if rng.random() < 0.6:
        radius = float(rng.randrange(35, 160))
        table |= {"crank_radius_mm": radius, "rod_length_mm": round(radius * rng.uniform(2.8, 4.5), 1)}
    document["engine"] = table


def _in_banks(rng: random.Random, table: Document) -> None:
    """Make a V engine of it: fired evenly, unevenly, or nobody says how far apart."""
    cylinders = table["cylinders"]
    table |= {"kind": f"V engine, {cylinders} cylinders", "bank_angle_deg": float(rng.choice([45, 60, 90, 120]))}
    way = rng.choice(["even", "uneven", "unknown"])
    if way == "even":
        table["firing_intervals_deg"] = [round(720 / cylinders, 2)] * cylinders
    elif way == "uneven":
        # Every second firing comes later by the same, and so does the next one sooner.
        off = rng.choice([5.0, 15.0, 22.5]) if cylinders > 2 else 90.0
        found = [720 / cylinders + off * (1 if place % 2 else -1) for place in range(cylinders - 1)]
        table["firing_intervals_deg"] = [*(round(each, 2) for each in found), 0.0]
        table["firing_intervals_deg"][-1] = round(720 - sum(table["firing_intervals_deg"]), 2)


class _Train:
    """A train under construction: gears and what joins them."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.gears: list[dict[str, Any]] = []
        self.meshes: list[dict[str, Any]] = []
        self.module = rng.choice([1.5, 2.0, 2.5, 3.0, 4.0, None])
        self.end = rng.choice(_ENDS)

    def gear(self, name: str, teeth: int, role: str = "idler", **rest: object) -> str:
        """Enter a gear under an identifier made from its name."""
        id = name.replace(" ", "-")  # noqa: A001 - it is the entry's own key
        entry = {"id": id, "name": f"{name} gear", "teeth": teeth, "role": role, "seen_at": self.end, **rest}
        if self.module is not None and "module_mm" not in entry:
            entry["module_mm"] = self.module
        if role != "crank" and self.rng.random() < 0.08:
            entry["split"] = True
        self.gears.append({key: value for key, value in entry.items() if value is not None})
        return id

    def mesh(self, driver: str, driven: str, kind: str = "external") -> None:
        """Join two gears; toothed wheels have lash where their module is known."""
        entry: dict[str, Any] = {"driver": driver, "driven": driven, "kind": kind}
        split = any(gear.get("split") for gear in self.gears if gear["id"] in (driver, driven))
        if kind in ("chain", "belt"):
            # Where no places are stated, nothing is held against the side.
            entry["tight_side"] = self.rng.choice(["left", "right", "top", "bottom"])
        if not split and kind in ("external", "internal") and self.module is not None and self.rng.random() < 0.9:
            entry["lash_mm"] = round(self.rng.uniform(0.05, 0.4), 2)
        self.meshes.append(entry)

    def half_speed(self, crank: str, teeth: int, name: str, role: str) -> None:
        """Join a gear that turns at half crank speed to the crank, in one of the ways there are."""
        way = self.rng.choice(["direct", "idlers", "idlers", "internal", "stacked", "belt", "chain"])
        if way in ("direct", "internal", "belt", "chain"):
            kind = "external" if way == "direct" else way
            self.mesh(crank, self.gear(name, 2 * teeth, role), kind)
        elif way == "idlers":
            last = crank
            for number in range(self.rng.choice([1, 1, 1, 2, 3])):
                idler = self.gear(f"{name} idler {number + 1}", self.rng.randrange(15, 80))
                self.mesh(last, idler)
                last = idler
            self.mesh(last, self.gear(name, 2 * teeth, role))
        else:
            # Two gears on one shaft: 2:3 and 3:4 make 1:2, and so do others.
            first, second = self.rng.choice([((2, 3), (3, 4)), ((4, 5), (5, 8)), ((3, 4), (2, 3)), ((5, 6), (3, 5))])
            large = self.gear(f"{name} idler large", teeth * first[1] // first[0] if not teeth % first[0] else 0)
            if not teeth % first[0]:
                small_teeth = second[0] * self.rng.randrange(7, 13)
                shaft = self.gears[-1]["id"]
                module = None if self.module is None else self.rng.choice([self.module, self.module + 0.5])
                small = self.gear(f"{name} idler small", small_teeth, on_shaft=shaft, module_mm=module)
                self.mesh(crank, large)
                timed = self.gear(name, small_teeth * second[1] // second[0], role, module_mm=module)
                self.mesh(small, timed)
            else:
                self.gears.pop()
                self.mesh(crank, self.gear(name, 2 * teeth, role))


def gears(rng: random.Random, document: Document) -> None:
    """Fill in 2 to 9 gears: the crank's, the component's, and what else there is room for."""
    train = _Train(rng)
    teeth = 4 * rng.randrange(4, 16)
    crank = train.gear("crank", teeth, "crank")
    train.half_speed(crank, teeth, "component", "component")
    if rng.random() < 0.6 and len(train.gears) < 7:
        if rng.random() < 0.3:
            train.mesh("component", train.gear("camshaft", train.gears[-1]["teeth"], "camshaft", **_module_of(train)))
        else:
            train.half_speed(crank, teeth, "camshaft", "camshaft")
    for name in rng.sample(_OTHERS, rng.randrange(3)):
        if len(train.gears) < 9:
            driver = rng.choice(train.gears)
            if driver["id"] == "component" and rng.random() < 0.5:
                driver = train.gears[0]
            other = train.gear(name, rng.randrange(14, 70), "accessory", **_module_of(train, driver))
            train.mesh(driver["id"], other, rng.choice(["external", "external", "belt"]))
    document["gears"], document["meshes"] = train.gears, train.meshes
    if rng.random() < 0.3:
        _state_places(rng, document)
    if rng.random() < 0.5:
        _state_senses(rng, document)


def _state_places(rng: random.Random, document: Document) -> None:
    """Say where the shafts sit, as far as teeth and module tell; x to the right, y up, seen from the gears' end."""
    gears = {gear["id"]: gear for gear in document["gears"]}
    places = {"crank": (0.0, 0.0)}
    for mesh in document["meshes"]:
        here, there = (gears[mesh[end]] for end in ("driver", "driven"))
        if mesh["driver"] not in places or "module_mm" not in here or mesh["kind"] not in ("external", "internal"):
            continue
        teeth = here["teeth"] + there["teeth"] * (1 if mesh["kind"] == "external" else -1)
        way, distance = rng.uniform(0, math.tau), here["module_mm"] * abs(teeth) / 2
        x, y = places[mesh["driver"]]
        places[mesh["driven"]] = (x + distance * math.cos(way), y + distance * math.sin(way))
        places |= {
            name: places[mesh["driven"]] for name, gear in gears.items() if gear.get("on_shaft") == mesh["driven"]
        }
    for id, (x, y) in places.items():  # noqa: A001 - it is the entry's own key
        gears[id]["at_mm"] = [round(x, 1), round(y, 1)]


def _module_of(train: _Train, gear: dict[str, Any] | None = None) -> dict[str, Any]:
    return {"module_mm": (gear or train.gears[-1]).get("module_mm")}


def as_train(document: Document) -> GearTrain:
    """Return the train as the mechanics take it."""
    made = [Gear(gear["id"], gear["teeth"], gear["name"], gear.get("module_mm")) for gear in document["gears"]]
    joined = [
        Mesh(mesh["driver"], mesh["driven"], mesh["kind"], mesh.get("lash_mm", 0.0)) for mesh in document["meshes"]
    ]
    shafts = [Mesh(gear["on_shaft"], gear["id"], "shaft") for gear in document["gears"] if "on_shaft" in gear]
    return GearTrain(made, [*joined, *shafts])


def _state_senses(rng: random.Random, document: Document) -> None:
    made, engine = as_train(document), document["engine"]
    for gear in rng.sample(document["gears"], rng.randrange(1, len(document["gears"]) + 1)):
        turned = signed(engine["rotation"]) * made.ratio("crank", gear["id"])
        gear["turns"] = sense_of(seen(turned, stated_from=engine["seen_from"], seen_from=gear["seen_at"]))


def barring(rng: random.Random, document: Document) -> None:
    """Fill in how the engine is turned: by a pinion on the ring gear, or by a socket on the crank nose."""
    if rng.random() < 0.4:
        document["barring"] = {"by": "crank-nose", "stands_at": "front", "tool": "bar"}
        return
    if rng.random() < 0.2:
        by = rng.choice(["hydraulic", "electric"])
        document["barring"] = {"by": by, "stands_at": rng.choice(_ENDS), "tool": "bar"}
        return
    table: Document = {
        "by": "ring-gear",
        "ring_teeth": rng.randrange(90, 200),
        "pinion_teeth": rng.randrange(9, 20),
        "stands_at": rng.choice(_ENDS),
        "tool": "bar",
    }
    if rng.random() < 0.7:
        table |= {"module_mm": rng.choice([2.5, 3.0, 4.0]), "lash_mm": round(rng.uniform(0.2, 0.6), 2)}
    document["barring"] = table


def lock_pin(rng: random.Random, document: Document) -> None:
    """Fill in the pin: in the flywheel or in any gear on the way, and what tells the right dead centre."""
    train = as_train(document)
    holes_in = ["flywheel", *(gear["id"] for gear in document["gears"] if gear["role"] != "accessory")]
    rng.shuffle(holes_in)
    for hole_in in holes_in:
        if (table := _pin_in(rng, document, train, hole_in)) is not None:
            break
    assert table is not None
    document["lock_pin"] = table
    if rng.random() < 0.2:
        pin = {"id": "second-pin", "name": "second pin", "hole_in": rng.choice(holes_in), "tool": "pin"}
        document["lock_pins"] = [pin | {"kind": rng.choice(["pin", "plate", "dowel"])}]


def _pin_in(rng: random.Random, document: Document, train: GearTrain, hole_in: str) -> Document | None:
    """Return the table of a pin in that gear, or None where it would come by in a pattern that hardly repeats."""
    pace = abs(train.ratio("crank", "crank" if hole_in == "flywheel" else hole_in))
    holes = rng.choice([1, 1, 1, 1, 2])
    period = 360 / pace / holes
    if _repeats(period) > 100:
        return None
    watched = rng.choice(["flywheel", "component", hole_in])
    at_half = {gear["id"] for gear in document["gears"] if gear["role"] in ("component", "camshaft")}
    tells = ["valves"]
    if period % 720 == 0:
        tells = ["hole"]
    lash = float(train.path("crank", "component").lash) + _bar_lash(document["barring"])
    turns = 1 if watched == "flywheel" else abs(train.ratio("crank", watched))
    most = min(float(period) / 2, 170 / float(turns)) - 3 * lash
    press = round(rng.uniform(3, 14), 1)
    back = round(press + lash + rng.uniform(2, 25), 1)
    give_up = round(rng.uniform(2, 9), 1)
    if back + 2 * press > most:
        return None
    if watched in at_half and period % 720 and _alone(period, press + give_up):
        tells.append("witness")
    end = document["gears"][0]["seen_at"]
    table: Document = {
        "hole_in": hole_in,
        "holes": holes,
        "cylinder": rng.randrange(1, document["engine"]["cylinders"] + 1),
        "dead_centre": rng.choice(["compression", "compression", "exhaust"]),
        "tells_stroke": rng.choice(tells),
        "watched": watched,
        "seen_from": rng.choice(_ENDS) if watched == "flywheel" else end,
        "seats": f"{rng.randrange(1, 13)}:{rng.choice(['00', '10', '20', '30', '45'])}",
        "press_from_deg": press,
        "give_up_deg": give_up,
        "back_off_deg": back,
        "component": "component",
        "stiff": rng.random() < 0.3,
        "vented": rng.random() < 0.3,
    }
    if rng.random() < 0.3:
        table["tolerance_deg"] = rng.choice([0.25, 0.5, 1.0])
    if rng.random() < 0.2:
        table["false_holes_deg"] = [round(rng.uniform(30, min(float(period) / 2, 170)), 0)]
    if rng.random() < 0.4:
        _as_clock_positions(table, document, train, lash)
    return table


def _as_clock_positions(table: Document, document: Document, train: GearTrain, lash: float) -> None:
    """Give the positions as clock positions of the watched mark, to the minute, in place of degrees."""
    engine, watched = document["engine"], table["watched"].replace("flywheel", "crank")
    turned = train.ratio("crank", watched) * signed(engine["rotation"])
    turned = seen(turned, stated_from=engine["seen_from"], seen_from=table["seen_from"])
    dial = Dial(table["seen_from"], turned > 0, abs(turned), Clock.parse(table["seats"]).degrees)
    sides = {"press_from_deg": 1, "give_up_deg": -1, "back_off_deg": 1}
    clocks = {key: Clock.at(round(2 * dial.at(Fraction(str(table[key])) * side)) / 2) for key, side in sides.items()}
    press, give_up, back = (dial.before(clock.degrees) for clock in clocks.values())
    if give_up < -1 and press > 1 and press + lash < back:
        for key, name in (
            ("press_from_deg", "press_from"),
            ("give_up_deg", "give_up"),
            ("back_off_deg", "back_off_to"),
        ):
            table[name] = str(clocks[key])
            del table[key]


def _alone(period: Fraction, window: float) -> bool:
    """Tell whether a witness tooth that comes back every 720 degrees stands at its place with no wrong passing."""
    passings = (k * period % 720 for k in range(1, _repeats(period)))
    return all(window < place < 720 - window for place in passings)


def _repeats(period: Fraction) -> int:
    """Count the passings of a hole until one is at the right dead centre again."""
    return (720 / period).numerator


def _bar_lash(barring: Document) -> float:
    if "lash_mm" not in barring:
        return 0.0
    return float(backlash_degrees(barring["lash_mm"], barring["module_mm"] * barring["ring_teeth"] / 2))
