"""Energies of a random pack, who makes them safe, and what the steps do with pin and bar."""

from __future__ import annotations

import random

from tests.trainkit.random_packs.writing import Document
from trainkit.packs import ASKED_KINDS

# Sources that turn the engine, with how each is proved.
_TURNING = {
    "electric-start": "start-attempt",
    "air-start": "gauge",
    "driven-machine": "tried",
    "mains-back-feed": "tester",
}
_LOCAL = {"heater": "tester", "fuel-pressure": "gauge", "hot-coolant": "cooled", "raised-load": "tried"}


class Safety:
    """The steps and precedences of a document, to be written on."""

    def __init__(self, rng: random.Random, document: Document) -> None:
        self.rng = rng
        self.document = document
        self.steps: dict[str, Document] = {step["id"]: step for step in document["steps"]}

    def step(self, id: str, text: str, **rest: object) -> None:  # noqa: A002 - its own key
        """Enter a step."""
        self.steps[id] = {"id": id, "text": text, **rest}

    def hold(self, before: str, after: str) -> None:
        """Enter a precedence."""
        reason = f"Safety has {before} before {after}."
        self.document["precedence"].append({"before": before, "after": after, "reason": reason, "dangerous": True})

    def part(self, before: str, after: str) -> None:
        """Take a precedence out."""
        edges = self.document["precedence"]
        edges[:] = [edge for edge in edges if (edge["before"], edge["after"]) != (before, after)]


def safety(rng: random.Random, document: Document) -> None:
    """Fill in energies, start paths, and what steps do with energies, pin and bar."""
    made = Safety(rng, document)
    document["lock_pin"].pop("tolerance_deg", None)
    _energies(made)
    _pin(made)
    for name, step in made.steps.items():
        if name.startswith("sundry") and rng.random() < 0.3:
            step["at_engine"] = False
    document["steps"] = rng.sample([*made.steps.values()], len(made.steps))


def _energies(made: Safety) -> None:
    rng, document = made.rng, made.document
    turning = rng.sample([*_TURNING], rng.randrange(1, 4))
    local = rng.sample([*_LOCAL], rng.randrange(3))
    entries: list[Document] = []
    reached = [name for name in made.steps if name.startswith(("loosen", "sundry", "take-off", "fit"))]
    for kind in (*turning, *local):
        entry: Document = {"id": kind, "name": kind.replace("-", " "), "kind": kind, "isolated_at": "its valve"}
        entry |= {"locked_by": "padlock", "proved_by": "as it should be", "proof": (_TURNING | _LOCAL)[kind]}
        if kind in local:
            entry["reaches"] = rng.choice(["named", "named", "engine"])
            entry["own_supply"] = kind == "heater"
            for name in rng.sample(reached, rng.randrange(1, 3)):
                made.steps[name].setdefault("exposed_to", []).append(kind)
            if rng.random() < 0.5:
                made.step(f"back-{kind}", f"Bring the {entry['name']} back", restores=[kind])
                made.hold("take-off", f"back-{kind}")
        entries.append(entry)
        if kind == turning[0]:
            made.steps["isolate"]["makes_safe"] = [kind]
        else:
            made.step(f"cut-{kind}", f"Cut and lock the {entry['name']}", makes_safe=[kind])
        if rng.random() < 0.2 and kind in local:
            made.steps[f"cut-{kind}"]["proves"] = [kind]
        else:
            made.step(f"prove-{kind}", f"Prove that the {entry['name']} is dead", proves=[kind])
    back = [each["id"] for each in entries if f"back-{each['id']}" not in made.steps]
    made.steps["release"] |= {"restores": back, "at_engine": False}
    made.step("agree", "See that all are clear, and ask who is in charge", does=["clear", "agree"], at_engine=False)
    given = {each["kind"] for each in entries}
    entries += [
        {"id": f"no-{kind}", "name": kind, "kind": kind, "present": False, "looked_by": "the fitter"}
        for kind in ASKED_KINDS
        if kind not in given
    ]
    document["energy"] = rng.sample(entries, len(entries))
    starting = [kind for kind in turning if kind.endswith("-start")]
    if starting:
        document["start_paths"] = [
            {"id": kind, "name": f"by {kind}", "links": [kind, "button"], "controls": ["button"]} for kind in starting
        ]


def _pin(made: Safety) -> None:
    rng, steps = made.rng, made.steps
    made.step("try-pin", "Try the lock pin", tool="pin", pin="tried")
    steps["bar"] |= {"turns_engine": rng.choice(["to the mark", "90 degrees", "2 turns"]), "people": 2}
    steps["pin-in"]["pin"], steps["pin-out"]["pin"] = "in", "out"
    if rng.random() < 0.5:
        steps["bar"]["puts_on"] = ["bar"]
        made.step("bar-off", "Take the bar off", takes_away=["bar"])
        made.hold("pin-in", "bar-off")
    late = [edge["after"] for edge in made.document["precedence"] if edge["before"] == "pin-out"]
    loads = {steps[name].get("fastener") for name in late} - {None}
    for joint in made.document["fasteners"]:
        joint["loads_train"] = joint["id"] in loads
        if joint["loads_train"]:
            # What breaks loose before the engine stands at its place never meets the pin.
            name = f"loosen-{joint['id']}"
            made.part("pin-in", name)
            made.hold(name, "bar")
