"""The walls between the layers, the lint rules and the types, each checked by its own tool."""

from __future__ import annotations

import itertools
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize(
    "command",
    [
        pytest.param(["importlinter.cli", "lint-imports"], id="import contracts"),
        pytest.param(["ruff", "check", "."], id="ruff check"),
        pytest.param(["ruff", "format", "--check", "."], id="ruff format"),
        pytest.param(["mypy"], id="mypy strict"),
    ],
)
def test_tool_finds_nothing(command: list[str]) -> None:
    module, *rest = command
    if module == "importlinter.cli":
        start = [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"]
    else:
        start = [sys.executable, "-m", module, *rest]
    done = subprocess.run(start, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]


def test_top_level_holds_what_it_should() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.splitlines()
    top = {path.partition("/")[0] for path in listed}
    named = {
        *("README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE"),
        *("workbooks", "trainkit", "grading", "tests"),
    }
    assert {name for name in top if not name.startswith(".")} == named
    assert ROOT.joinpath(".github/SECURITY.md").is_file()
    assert ROOT.joinpath(".github/CONTRIBUTING.md").is_file()


def test_every_dependency_has_its_reason() -> None:
    import tomllib

    reasons = ROOT.joinpath("DEVELOPERS.md").read_text("utf-8").partition("## Why each dependency")[2]
    missing = []
    for file in ("pyproject.toml", "grading/pyproject.toml"):
        project = tomllib.loads(ROOT.joinpath(file).read_text("utf-8"))["project"]
        extras = project.get("optional-dependencies", {}).values()
        wanted = [*project["dependencies"], *itertools.chain.from_iterable(extras)]
        for requirement in wanted:
            name = requirement.replace("[", " ").replace(">", " ").replace("=", " ").split()[0]
            if f"`{name}`" not in reasons:
                missing.append(f"{file}: {name}")
    assert not missing


def test_modules_stay_readable() -> None:
    """A module over about 400 lines is split along the nouns of the field; a module of tests may have 500."""
    listed = subprocess.run(
        ["git", "ls-files", "trainkit/**.py", "grading/**.py", "tests/**.py"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout.splitlines()
    lines = {path: len(ROOT.joinpath(path).read_text("utf-8").splitlines()) for path in listed}
    assert lines
    long = {path: n for path, n in lines.items() if n > (500 if path.startswith("tests/") else 420)}
    assert not long
