"""The rooms of both packages, the arrows between them and the circles among modules, drawn from the code's own imports.

Every import counts, also one inside a function or for types alone: a reader follows it all the same. What a registry
names as text (``importlib``) is no arrow. The order of the rooms is that of import-linter's layers in pyproject.toml.
``python tests/walls/test_rooms.py`` prints the picture.
"""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import networkx as nx
import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = {"trainkit": ROOT / "trainkit", "trainkit_grading": ROOT / "grading/trainkit_grading"}
HELD = tuple(PACKAGES)


def modules(package: str) -> dict[str, Path]:
    """Return the modules of a package by their dotted names."""
    home = PACKAGES[package]
    found = {}
    for path in sorted(home.rglob("*.py")):
        parts = path.relative_to(home.parent).with_suffix("").parts
        # What npm fetches to build with is none of ours.
        if {"_workbooks", "node_modules"}.isdisjoint(parts):
            found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def imported(node: ast.Import | ast.ImportFrom, importer: str, is_package: bool) -> Iterator[tuple[str, str]]:
    """Yield the module and the name of each import of a statement; no name for a whole module."""
    if isinstance(node, ast.Import):
        yield from ((alias.name, "") for alias in node.names)
        return
    base = node.module or ""
    if node.level:
        up = importer.split(".")[: None if is_package and node.level == 1 else (1 if is_package else 0) - node.level]
        base = ".".join([*up, *([node.module] if node.module else [])])
    yield from ((base, alias.name) for alias in node.names)


@cache
def arrows(package: str) -> nx.DiGraph[str]:
    """Return the graph of a package's modules: who imports whom."""
    known = modules(package)
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(known)
    for module, path in known.items():
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import | ast.ImportFrom):
                for base, name in imported(node, module, path.name == "__init__.py"):
                    target = f"{base}.{name}" if f"{base}.{name}" in known else base
                    if target in known and target != module:
                        graph.add_edge(module, target)
    return graph


def among_siblings(graph: nx.DiGraph[str], package: str) -> nx.DiGraph[str]:
    """Return the arrows among the direct parts of a package, each with all that lies in it."""
    depth = package.count(".") + 2
    found: nx.DiGraph[str] = nx.DiGraph()
    for one, other in graph.edges:
        if one.startswith(f"{package}.") and other.startswith(f"{package}."):
            ends = [".".join(end.split(".")[:depth]) for end in (one, other)]
            if ends[0] != ends[1]:
                found.add_edge(*ends)
    return found


def circles(package: str) -> list[list[str]]:
    """Return the circles among modules, and among the parts of each package within."""
    graph = arrows(package)
    packages = {module.rpartition(".")[0] for module in graph if "." in module}
    drawn = [graph, *(among_siblings(graph, each) for each in sorted(packages))]
    found = {tuple(sorted(part)) for each in drawn for part in nx.strongly_connected_components(each) if len(part) > 1}
    return [list(circle) for circle in sorted(found)]


def layers(package: str) -> list[list[str]]:
    """Return the rooms from the top down, those of one height together; none where no contract names them."""
    linter = tomllib.loads(ROOT.joinpath("pyproject.toml").read_text("utf-8"))["tool"]["importlinter"]
    for contract in linter["contracts"]:
        if contract["type"] == "layers" and contract.get("containers") == [package]:
            return [[room.strip(" ()") for room in layer.replace(":", "|").split("|")] for layer in contract["layers"]]
    return []


def rooms(package: str) -> nx.DiGraph[str]:
    """Return the arrows among rooms: a room is what stands directly in the package."""
    return nx.relabel_nodes(among_siblings(arrows(package), package), lambda name: name.rpartition(".")[2])


def picture(package: str) -> str:
    """Return rooms, arrows and circles as text, from the top down."""
    graph, height = rooms(package), {room: at for at, layer in enumerate(layers(package)) for room in layer}
    down = sorted(graph, key=lambda room: (height.get(room, len(height)), room))
    lines = [
        f"{package}: {len(graph)} rooms, {graph.number_of_edges()} arrows between them",
        *(f"  {room} -> {', '.join(sorted(graph.successors(room))) or 'none'}" for room in down),
        *([f"  circle: {', '.join(circle)}" for circle in circles(package)] or ["  no circles"]),
    ]
    return "\n".join(lines)


@pytest.mark.parametrize("package", PACKAGES)
def test_picture_names_every_room(package: str) -> None:
    drawn = picture(package)
    print(drawn)
    assert all(f"  {room} -> " in drawn for room in rooms(package))


@pytest.mark.parametrize("package", HELD)
def test_no_circle_of_modules(package: str) -> None:
    assert circles(package) == []


@pytest.mark.parametrize("package", HELD)
def test_every_module_stands_in_a_room_and_no_arrow_runs_up_or_sideways(package: str) -> None:
    height = {room: at for at, layer in enumerate(layers(package)) for room in layer}
    standing = {module.split(".")[1] for module in arrows(package) if "." in module}
    assert standing == set(height)
    wrong = [f"{one} -> {other}" for one, other in rooms(package).edges if height[one] >= height[other]]
    assert wrong == []


def test_a_circle_and_an_arrow_in_a_function_are_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    texts = {
        "__init__": "",
        "upper/__init__": "from house.upper.one import a\n",
        "upper/one": "def a():\n    from .two import b\n    return b\n",
        "upper/two": "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import house.upper.one\nb = 1\n",
        "lower": "from . import upper\n",
    }
    for name, text in texts.items():
        path = tmp_path.joinpath("house", f"{name}.py")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    monkeypatch.setitem(PACKAGES, "house", tmp_path / "house")
    assert circles("house") == [["house.upper.one", "house.upper.two"]]
    assert list(rooms("house").edges) == [("lower", "upper")]
    assert "circle: house.upper.one, house.upper.two" in picture("house")


if __name__ == "__main__":
    print(*map(picture, PACKAGES), sep="\n\n")
