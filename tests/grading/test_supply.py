"""Everything installed at run time is pinned with its digests, and its licence is known; no network is asked."""

from __future__ import annotations

import csv
import importlib.metadata
import re
import tomllib
import zipfile
from pathlib import Path

import pytest
from packaging.markers import Marker, default_environment
from packaging.requirements import Requirement

from tests import supply
from tests.supply import CONSTRAINTS, LICENCES, OURS, ROOT, plain
from trainkit_grading.keeping.archive import packing

from .makers import Bench

PINS = tuple(supply.pins(CONSTRAINTS.read_text("utf-8")))
# What the CI proves, and the systems that workshops have.
PYTHONS = ("3.11.0", "3.11.9", "3.12.0", "3.13.0")
SYSTEMS = {"linux": ("posix", "Linux"), "win32": ("nt", "Windows"), "darwin": ("posix", "Darwin")}


def pinned(python: str, system: str) -> dict[str, str]:
    """Return what is installed there."""
    name, platform = SYSTEMS[system]
    said: dict[str, str] = {
        **{key: str(value) for key, value in default_environment().items()},
        "python_version": ".".join(python.split(".")[:2]),
        "python_full_version": python,
        "implementation_version": python,
        "sys_platform": system,
        "os_name": name,
        "platform_system": platform,
    }
    met = [(pin.name, pin.version) for pin in PINS if not pin.marker or Marker(pin.marker).evaluate(said)]
    assert len(met) == len(dict(met))
    return dict(met)


def test_everything_that_is_needed_here_is_pinned() -> None:
    needed = supply.needed()
    assert {"jupyterlab", "matplotlib", "nbgrader", "psycopg-binary", "pydantic-core"} <= needed.keys()
    assert needed.keys() - {pin.name for pin in PINS} == set()


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("python", PYTHONS)
def test_each_python_and_system_gets_one_release_of_what_both_ask_for(python: str, system: str) -> None:
    there = pinned(python, system)
    for folder, extra in ((ROOT, "lab"), (ROOT / "grading", "postgresql")):
        project = tomllib.loads((folder / "pyproject.toml").read_text("utf-8"))["project"]
        for line in (*project["dependencies"], *project["optional-dependencies"][extra]):
            need = Requirement(line)
            if plain(need.name) not in OURS:
                assert need.specifier.contains(there[plain(need.name)]), line
    assert ("pywinpty" in there) == (system == "win32")
    assert there.keys() & OURS == set()


def test_each_release_has_the_digests_of_its_files() -> None:
    for pin in PINS:
        assert pin.hashes, pin.name
        assert all(re.fullmatch("sha256:[0-9a-f]{64}", each) for each in pin.hashes)
        assert len(set(pin.hashes)) == len(pin.hashes)


def test_the_files_name_no_place_to_load_from() -> None:
    for path in (CONSTRAINTS, LICENCES):
        text = path.read_text("utf-8")
        assert not re.search(r"://|--(extra-)?index|--find-links|\bpypi\b|@ ", text), path


def test_each_release_has_a_known_licence() -> None:
    rows = list(csv.DictReader(LICENCES.read_text("utf-8").splitlines()))
    assert tuple(rows[0]) == supply.COLUMNS
    assert {(row["name"], row["version"]) for row in rows} == {(pin.name, pin.version) for pin in PINS}
    assert all(row["licence"] and "UNKNOWN" not in row["licence"] for row in rows)
    said = {(row["name"], row["version"]): row["licence"] for row in rows}
    compared = 0
    for of in importlib.metadata.distributions():
        listed = said.get((plain(of.metadata["Name"]), of.version))
        if listed is not None:
            assert listed == supply.licence(of), of.metadata["Name"]
            compared += 1
    assert compared > 5


def test_an_archive_holds_them(assigned: Bench, tmp_path: Path) -> None:
    packing.archive(assigned.course, tmp_path / "all.zip")
    with zipfile.ZipFile(tmp_path / "all.zip") as archive:
        for path in (CONSTRAINTS, LICENCES):
            assert archive.read(f"saltmere/archived/{path.name}") == path.read_bytes()
