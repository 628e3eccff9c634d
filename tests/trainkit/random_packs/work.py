"""Steps, precedence, parts and configurations of a random pack."""

from __future__ import annotations

import random
from typing import Any

from tests.trainkit.random_packs.joints import tool_for
from tests.trainkit.random_packs.writing import Document

# Steps that stand between others and hang on nothing but the isolation.
_SUNDRY = (
    "Drain the coolant into a clean can",
    "Unplug the speed sensor",
    "Note the reading of the hour meter",
    "Lay the parts out on clean paper",
    "Clean the joint faces with a lint-free cloth",
    "Count the tools back into the tray",
    "Fit caps to the open unions",
    "Take the belt guard off and set it aside",
)
_PARTS = ("cover gasket", "shaft seal", "drive key", "locking plate", "spacer ring", "coupling", "dowel", "strap")


class Work:
    """The work so far: steps in an order that is right, and what holds them in it."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.steps: list[Document] = []
        self.edges: dict[tuple[str, str], Document] = {}

    def step(self, id: str, text: str, after: tuple[str, ...] = (), **rest: Any) -> str:  # noqa: A002 - its own key
        """Enter a step behind others."""
        self.steps.append({"id": id, "text": text, **{key: value for key, value in rest.items() if value}})
        for before in after:
            self.hold(before, id)
        return id

    def hold(self, before: str, after: str, dangerous: bool = False) -> None:
        """Enter a precedence."""
        edge: Document = {"before": before, "after": after}
        edge["reason"] = f"The step {before} leaves no room for {after}."  # no two reasons are alike
        if dangerous or self.rng.random() < 0.2:
            edge["dangerous"] = True
        self.edges.setdefault((before, after), edge)


def work(rng: random.Random, document: Document) -> None:
    """Fill in the work: safe it, find the place, take off, fit, tighten, close."""
    made = Work(rng)
    parts = _parts(rng)
    made.step("isolate", "Isolate the starting system and lock it", critical=True)
    made.step("relieve", "Relieve the fuel pressure", ("isolate",), critical=True)
    made.step("bar", "Bar forward until the mark stands at its place", ("isolate",), tool="bar")
    made.step(
        "pin-in", "Press the lock pin in until it seats, and take the bar off", ("bar",), tool="pin", critical=True
    )
    off = _loosen(made, document, parts)
    on = made.step("fit", "Fit the new component", (off,), fits=[part["id"] for part in parts if _goes_on(part)])
    ends, pin_after = _tighten(made, document, on)
    made.step("pin-out", "Take the lock pin out", (pin_after,), tool="pin", critical=True)
    made.hold("pin-in", "pin-out", dangerous=True)
    made.step("release", "Take the lock off and sign the sheet", (*ends, "pin-out", "relieve"), critical=True)
    configurations = _configurations(made)
    order = [*made.steps]
    rng.shuffle(order)
    document |= {"parts": parts, "steps": order, "precedence": [*made.edges.values()]}
    if configurations:
        document["configurations"] = configurations


def _parts(rng: random.Random) -> list[Document]:
    found: list[Document] = [
        {"id": "old-component", "name": "old component", "fate": rng.choice(["return", "discard"])},
        {"id": "new-component", "name": "new component", "fate": "renew"},
    ]
    for name in rng.sample(_PARTS, rng.randrange(len(_PARTS) + 1)):
        part: Document = {"id": name.replace(" ", "-"), "name": name}
        part["fate"] = rng.choice(["refit", "renew", "transfer", "stays"])
        if part["fate"] == "renew" and rng.random() < 0.7:
            part["single_use"] = True
        if rng.random() < 0.2:
            part["count"] = rng.randrange(2, 7)
        found.append(part)
    return found


def _comes_off(part: Document) -> bool:
    return bool(part["fate"] != "stays" and part["id"] != "new-component")


def _goes_on(part: Document) -> bool:
    return part["fate"] not in ("stays", "return", "discard")


def _loosen(made: Work, document: Document, parts: list[Document]) -> str:
    """Enter the steps that loosen every joint, and the one that takes off; return the last."""
    loosened = []
    for joint in document["fasteners"]:
        before = made.rng.choice(["pin-in", "pin-in", "relieve"])
        id = f"loosen-{joint['id']}"  # noqa: A001 - it is the entry's own key
        loosened.append(made.step(id, f"Loosen the {joint['name']}", (before,), tool="spanners", loosens=joint["id"]))
    takes_off = [part["id"] for part in parts if _comes_off(part)]
    return made.step("take-off", "Take the old component off", (*loosened, "pin-in", "relieve"), takes_off=takes_off)


def _tighten(made: Work, document: Document, on: str) -> tuple[list[str], str]:
    """Enter a step for each stage of each joint; return the last of each, and the one before the pin comes out."""
    ends: list[str] = []
    pin_after = on
    for joint in document["fasteners"]:
        last = on
        for stage in joint["stages"]:
            id = f"{stage['name']}-{joint['id']}"  # noqa: A001 - it is the entry's own key
            adapter = _adapter(made, document, stage)
            text = f"Bring the {joint['name']} to the {stage['name']} stage"
            last = made.step(
                id, text, (last,), tool=tool_for(stage), adapter=adapter, fastener=joint["id"], stage=stage["name"]
            )
        ends.append(last)
    if made.rng.random() < 0.7:
        # The pin comes out before the last stage of one joint, and after the stages that come before it.
        joint = made.rng.choice(document["fasteners"])
        stages = [f"{stage['name']}-{joint['id']}" for stage in joint["stages"]]
        made.hold("pin-out", stages[-1], dangerous=True)
        pin_after = stages[-2] if len(stages) > 1 else on
    return ends, pin_after


def _adapter(made: Work, document: Document, stage: Document) -> str:
    """Return the adapter for a stage, where there is one, its wrench has a length, and the setting suits the wrench."""
    tools = {tool["id"]: tool for tool in document["tools"]}
    wrench = tools[tool_for(stage)]
    if "jaw" not in tools or "torque" not in stage or "length" not in wrench or made.rng.random() < 0.5:
        return ""
    from trainkit.fasteners import Wrench, wrench_setting

    setting = wrench_setting(stage["torque"][0], wrench["length"], tools["jaw"]["adapter_length"])
    suits = Wrench(wrench["unit"], wrench["low"], wrench["high"], wrench["step"]).suits(setting)
    return "jaw" if suits == "suits" else ""


def _configurations(made: Work) -> list[Document]:
    """Enter steps that hang loosely between the others, and configurations that add, drop or replace some."""
    own: list[str] = []
    for number, text in enumerate(made.rng.sample(_SUNDRY, made.rng.randrange(len(_SUNDRY) + 1))):
        before = made.rng.choice(["isolate", "relieve", "take-off", "fit"])
        own.append(made.step(f"sundry-{number + 1}", text, (before,)))
        made.hold(own[-1], "release")
    made.rng.shuffle(own)
    found: list[Document] = []
    for number, name in enumerate(
        made.rng.sample(["with heater", "marine set", "cold store", "second sump"], len(own) // 2)[:3]
    ):
        entry: Document = {"id": name.replace(" ", "-"), "name": name}
        way = made.rng.choice(["adds", "drops", "replaces"])
        if way == "replaces":
            entry["replaces"] = {own.pop(): own.pop()}
        else:
            entry[way] = [own.pop()]
        found.append(entry)
        assert number < 3
    return found
