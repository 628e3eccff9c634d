"""What ``import trainkit`` offers and what it must not load."""

from __future__ import annotations

import ast
import importlib
import inspect
import subprocess
import sys

import pytest

import trainkit


def test_public_names_are_these() -> None:
    assert sorted(trainkit.__all__) == [
        "cards",
        "copies",
        "cycle",
        "errors",
        "fasteners",
        "figures",
        "forms",
        "gears",
        "glossary",
        "handin",
        "items",
        "journal",
        "lockpin",
        "modules",
        "notes",
        "packs",
        "persons",
        "plots",
        "pools",
        "procedures",
        "quantities",
        "roles",
        "tightening",
        "widgets",
        "workbook",
    ]


@pytest.mark.parametrize("name", trainkit.__all__)
def test_public_name_loads(name: str) -> None:
    assert getattr(trainkit, name).__name__ == f"trainkit.{name}"


def test_unknown_name_is_refused() -> None:
    with pytest.raises(AttributeError, match="no attribute 'torq'"):
        _ = trainkit.torq  # type: ignore[attr-defined]  # the point of the test


DOORS = ("trainkit", "trainkit.items", "trainkit.widgets")
COURSE_DOORS = ("trainkit_grading", "trainkit_grading.course", "trainkit_grading.signoff")


@pytest.mark.parametrize("package", [*DOORS, *COURSE_DOORS])
def test_names_that_load_late_are_declared_for_the_type_checker(package: str) -> None:
    """What is imported for types alone is what is public, and Python loads the very same."""
    door = importlib.import_module(package)
    (declared,) = [node for node in ast.parse(inspect.getsource(door)).body if isinstance(node, ast.If)]
    homes = {alias.name: str(node.module) for node in declared.body for alias in node.names}  # type: ignore[attr-defined]  # imports all
    assert sorted(homes) == door.__all__
    assert set(homes) <= set(dir(door))
    for name, home in homes.items():
        assert getattr(door, name) is getattr(importlib.import_module(home), name)


HEAVY = ("numpy", "matplotlib", "IPython", "ipywidgets", "anywidget", "networkx", "jupyterlab", "nbformat")


def loaded_after(statement: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", f"{statement}\nimport sys\nprint(*sorted(sys.modules))"],
        capture_output=True,
        text=True,
        check=True,
    )
    return set(done.stdout.split())


def test_import_loads_nothing_heavy() -> None:
    loaded = loaded_after("import trainkit, trainkit_grading")
    assert loaded.isdisjoint((*HEAVY, "pint", "pydantic"))


def test_mechanics_and_items_load_nothing_heavy() -> None:
    loaded = loaded_after(
        "from trainkit import quantities, procedures, fasteners, gears, cycle, tightening, lockpin, packs, items\n"
        "items.names()"
    )
    assert loaded.isdisjoint(HEAVY)


def test_a_pack_loads_no_jupyter_and_no_plots() -> None:
    # Reading a torque builds pint's registry once, and pint itself looks whether numpy is there.
    loaded = loaded_after("from trainkit import packs\npacks.load('dunlin')")
    assert loaded.isdisjoint(set(HEAVY) - {"numpy"})


@pytest.mark.parametrize("module", ["quantities", "procedures", "gears", "lockpin", "tightening", "cycle", "fasteners"])
def test_mechanics_build_no_pint_registry_on_import(module: str) -> None:
    assert "pint" not in loaded_after(f"import trainkit.{module}")
