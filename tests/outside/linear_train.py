"""A gear train straight from the TOML of a pack, solved as linear equations: a second way to every direction.

Each mesh is one equation between the speeds of two gears: teeth × speed is the same where the sense stays, and the
negative where it turns over. Two gears on one shaft have one speed. The barring tool is one more gear. Nothing of
``trainkit`` is used.

Examples
--------
>>> train = Train({"gears": [{"id": "a", "name": "A", "teeth": 20}, {"id": "b", "name": "B", "teeth": 40}],
...                "meshes": [{"driver": "a", "driven": "b"}], "barring": {"by": "crank-nose"}})
>>> round(train.speed("a", "b"), 9)
-0.5
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from itertools import pairwise
from pathlib import Path
from typing import Any

import networkx as nx
import numpy as np

CURLEW = Path(__file__).parents[2] / "grading" / "trainkit_grading" / "course" / "packs" / "curlew.toml"
TOOL = "barring tool"


@cache
def raw(name: str) -> dict[str, Any]:
    """The tables of Dunlin, which ships with the package, or of Curlew, which stays on the course side."""
    if name == "curlew":
        return tomllib.loads(CURLEW.read_text("utf-8"))
    return tomllib.loads(resources.files("trainkit.packs").joinpath(f"data/{name}.toml").read_text("utf-8"))


class Train:
    """The speeds of all gears, from one equation a mesh."""

    def __init__(self, tables: dict[str, Any]) -> None:
        self.gears = {gear["id"]: gear for gear in tables["gears"]}
        self.ids = {gear["name"]: gear["id"] for gear in tables["gears"]}
        self.crank = next((gear["id"] for gear in tables["gears"] if gear.get("role") == "crank"), "")
        bar = tables["barring"]
        names = [*self.gears, TOOL]
        place = {name: at for at, name in enumerate(names)}
        self.graph = nx.Graph()
        equations = []

        def joined(one: str, other: str, kind: str, factors: tuple[float, float]) -> None:
            self.graph.add_edge(one, other, kind=kind)
            row = np.zeros(len(names))
            row[place[one]], row[place[other]] = factors
            equations.append(row)

        for mesh in tables["meshes"]:
            one, other, kind = mesh["driver"], mesh["driven"], mesh.get("kind", "external")
            teeth = self.gears[one]["teeth"], self.gears[other]["teeth"]
            joined(one, other, kind, (teeth[0], teeth[1] if kind == "external" else -teeth[1]))
        shafts: dict[str, str] = {}
        for gear in tables["gears"]:
            first = shafts.setdefault(gear.get("on_shaft", gear["id"]), gear["id"])
            if first != gear["id"]:
                joined(first, gear["id"], "shaft", (1, -1))
        if bar["by"] == "ring-gear":
            joined(self.crank, TOOL, "external", (bar["ring_teeth"], bar["pinion_teeth"]))
        elif self.crank:
            joined(self.crank, TOOL, "shaft", (1, -1))
        self._place = place
        self._equations = np.array(equations)
        self._solved: dict[str, np.ndarray] = {}

    def speed(self, first: str, last: str) -> float:
        """Turns of the last gear for one turn of the first, negative where they turn opposite ways."""
        if first not in self._solved:
            fixed = np.zeros(len(self._place))
            fixed[self._place[first]] = 1
            system = np.vstack([self._equations, fixed])
            wanted = np.zeros(len(system))
            wanted[-1] = 1
            self._solved[first] = np.linalg.lstsq(system, wanted, rcond=None)[0]
        return float(self._solved[first][self._place[last]])

    def kinds(self, first: str, last: str) -> list[str]:
        """The kinds of mesh along the shortest way."""
        way = nx.shortest_path(self.graph, first, last)
        return [self.graph.edges[pair]["kind"] for pair in pairwise(way)]


@cache
def train(name: str) -> Train:
    """The train of a pack."""
    return Train(raw(name))


def sense(turns: float) -> str:
    """The word for a signed turn."""
    return "clockwise" if turns > 0 else "anticlockwise"


def sign(word: str) -> int:
    """+1 for clockwise, -1 for anticlockwise."""
    return {"clockwise": 1, "anticlockwise": -1}[word.lower()]


def flip(*ends: str) -> int:
    """-1 where the two named ends differ, as a sense seen from the other end is turned over."""
    one, other = ("front" if "front" in text else "flywheel" for text in ends)
    return 1 if one == other else -1
