"""The wheels are what people get: build both, install them into an empty environment elsewhere, run the demo."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import venv
import zipfile
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).resolve().parents[2]
# Programs outside the packages: apprentice.py, and beside it one for the course side as soon as its doors are typed.
STRANGERS = sorted(Path(__file__).with_name("stranger").glob("*.py"))
pytestmark = pytest.mark.wheel


def run(*command: str | Path, cwd: Path, env: dict[str, str] | None = None) -> str:
    done = subprocess.run(command, cwd=cwd, capture_output=True, text=True, check=False, env=env)
    assert done.returncode == 0, f"{command}\n{done.stdout[-4000:]}\n{done.stderr[-4000:]}"
    return done.stdout


@pytest.fixture(scope="module")
def wheels(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Build each distribution as sdist and then the wheel out of that sdist, as a publisher would."""
    out = tmp_path_factory.mktemp("dist")
    # A copy of what git tracks: nothing that lies about in the working tree can slip into a wheel unseen.
    tree = tmp_path_factory.mktemp("tree")
    run("git", "checkout-index", "--all", f"--prefix={tree}/", cwd=ROOT)
    for project in (tree, tree / "grading"):
        run(sys.executable, "-m", "build", "--no-isolation", "--outdir", out, project, cwd=tree)
    return sorted(out.glob("*.whl"))


def names(wheel: Path) -> set[str]:
    with zipfile.ZipFile(wheel) as archive:
        return set(archive.namelist())


def test_workbooks_wheel_holds_workbooks_and_packs_and_no_course_side(wheels: list[Path]) -> None:
    (wheel,) = [path for path in wheels if path.name.startswith("trainkit_workbooks")]
    held = names(wheel)
    assert "trainkit/packs/data/dunlin.toml" in held
    for module in ("torque-units", "lock-pin", "sequence"):
        assert f"trainkit/_workbooks/{module}/{module}.ipynb" in held
        assert f"trainkit/_workbooks/{module}/module.toml" in held
    scripts = {name for name in held if name.startswith("trainkit/") and name.endswith((".js", ".ts"))}
    # What is built, without its source.
    assert {Path(name).parent.name for name in scripts} == {"static"}
    assert {"trainkit/widgets/static/question.js", "trainkit/widgets/static/instrument.js"} < scripts
    assert "trainkit/py.typed" in held
    # Where JupyterLab finds an extension by itself once the wheel is installed, without node and without a network.
    for file in ("package.json", "install.json"):
        assert any(name.endswith(f".data/data/share/jupyter/labextensions/trainkit-workbooks/{file}") for name in held)
    strays = [name for name in held if "curlew" in name or "grading" in name or name.endswith((".jsonl", "seed"))]
    assert not strays


def test_no_byte_of_the_workbooks_wheel_belongs_to_the_course_side(wheels: list[Path]) -> None:
    """No line of a pack for assessment or of the course side's code, no key, no seed, no hand-in."""
    (wheel,) = [path for path in wheels if path.name.startswith("trainkit_workbooks")]
    (course_side,) = [path for path in wheels if path.name.startswith("trainkit_grading")]
    with zipfile.ZipFile(wheel) as archive:
        held = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(course_side) as archive:
        theirs = {name: archive.read(name) for name in archive.namelist()}
    # Named one by one: a pack that strayed in must not excuse itself.
    ours = held["trainkit/packs/data/dunlin.toml"] + held["trainkit/packs/start.toml"]
    # Its earlier editions were installed everywhere, too.
    public = [name for name in theirs if name.startswith("trainkit_grading/course/packs/earlier/dunlin-")]
    assert public
    ours += b"".join(theirs[name] for name in public)
    secret = {
        line.strip()
        for name, content in theirs.items()
        if name.startswith("trainkit_grading/course/packs/") and name.endswith(".toml")
        for line in content.splitlines()
        if len(line.strip()) > 20 and line.strip() not in ours
    }
    assert len(secret) > 50
    for name, content in held.items():
        assert not [line for line in secret if line in content], name
        assert b"trainkit_grading" not in content or name.endswith((".py", "METADATA")), name
        assert Path(name).name not in {"answers.jsonl", "identity.json", "forms.json", "keys.json", "seed"}
        assert not content.startswith((b"SQLite format 3", b"PK")), name
        # What a file of keys has, and a form as it is released; worked examples in notebooks have neither.
        assert not (b'"working"' in content and b'"template"' in content and name.endswith((".json", ".ipynb"))), name


def test_sdist_built_wheel_equals_wheel_built_from_the_tree(wheels: list[Path], tmp_path: Path) -> None:
    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", tmp_path, ROOT, cwd=ROOT)
    (direct,) = tmp_path.glob("*.whl")
    (through_sdist,) = [path for path in wheels if path.name.startswith("trainkit_workbooks")]
    assert names(direct) == names(through_sdist)


class Installed(NamedTuple):
    """An environment elsewhere that holds the two wheels and what they depend on."""

    home: Path
    bin: Path
    env: dict[str, str]


@pytest.fixture(scope="module")
def installed(wheels: list[Path], tmp_path_factory: pytest.TempPathFactory) -> Installed:
    home = tmp_path_factory.mktemp("home") / "a place with spaces"
    home.mkdir()
    venv.create(home / "env", with_pip=True)
    bin_ = home / "env" / ("Scripts" if os.name == "nt" else "bin")
    run(bin_ / "python", "-m", "pip", "install", "--quiet", *wheels, cwd=home)
    # Nothing of the checkout may help: no PYTHONPATH, another working folder.
    env = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "COV", "JUPYTER"))}
    return Installed(home, bin_, env)


def test_demo_runs_from_wheels_in_an_empty_environment(installed: Installed) -> None:
    home, bin_, env = installed
    where = run(bin_ / "python", "-c", "import trainkit; print(trainkit.__file__)", cwd=home, env=env)
    assert Path(where.strip()).is_relative_to(home)
    printed = run(bin_ / "trainkit-course", "demo", "--into", home / "demo course", cwd=home, env=env)
    reports = sorted((home / "demo course").rglob("*.html"))
    assert any("report" in path.as_posix() for path in reports), printed


def typed(installed: Installed, *programs: Path) -> str:
    """Return what strict type checking says of programs against the installed wheels alone."""
    python = installed.bin / "python"
    command = [sys.executable, "-m", "mypy", "--strict", "--config-file=", "--no-incremental"]
    done = subprocess.run(
        [*command, f"--python-executable={python}", *programs],
        cwd=installed.home,
        capture_output=True,
        text=True,
        check=False,
        env=installed.env,
    )
    return done.stdout + done.stderr


@pytest.mark.parametrize("program", STRANGERS, ids=lambda path: path.stem)
def test_a_strangers_program_is_typed_and_runs(installed: Installed, program: Path, tmp_path: Path) -> None:
    """One that uses public names alone; type checking finds nothing in it."""
    # A copy: beside the original the type checker would find the checkout's packages in place of the installed ones.
    copy = Path(shutil.copy(program, tmp_path))
    found = typed(installed, copy)
    assert "Success: no issues found" in found, found
    assert run(installed.bin / "python", copy, tmp_path, cwd=installed.home, env=installed.env)


def test_a_name_that_is_not_public_is_no_name_to_the_type_checker(installed: Installed, tmp_path: Path) -> None:
    program = tmp_path / "wrong.py"
    program.write_text(
        "import trainkit\nfrom trainkit import items, widgets\n"
        "trainkit.torque\nitems.finds('x')\nwidgets.Stated\nreveal_type(items.find('x').name)\n",
        "utf-8",
    )
    found = typed(installed, program)
    assert [f'no attribute "{name}"' in found for name in ("torque", "finds", "Stated")] == [True] * 3, found
    assert re.search(r'Revealed type is "(builtins\.)?str"', found), found
