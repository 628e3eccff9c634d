"""The manuals: their links lead somewhere, and their commands run, page by page, in a live course."""

from __future__ import annotations

import re
import shlex
import subprocess
import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

import trainkit.cli
import trainkit_grading.cli
from tests.grading.test_live_course import course  # noqa: F401 - a fixture
from trainkit_grading.course.folder import Course

ROOT = Path(__file__).parents[2]
PAGES = sorted(
    ROOT / name
    for name in subprocess.run(
        ["git", "ls-files", "*.md"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    if name
)
MANUALS = [page for page in PAGES if page.parent == ROOT / "grading" / "docs"]
APPS = {"trainkit": trainkit.cli.app, "trainkit-course": trainkit_grading.cli.app}


def blocks(page: Path, language: str) -> list[str]:
    """Return the blocks of a page that are written in a language."""
    return re.findall(rf"^```{language}\n(.*?)^```", page.read_text("utf-8"), re.DOTALL | re.MULTILINE)


def anchors(page: Path) -> set[str]:
    """Return what links can name in a page: its headings in small letters, with hyphens."""
    headings = re.findall(r"^#+ (.+)$", page.read_text("utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(ROOT).as_posix())
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)\s]+)\)", page.read_text("utf-8")):
        name, _, anchor = target.partition("#")
        assert not name.startswith(("http", "/")), f"{target}: a manual is read offline, and its links are relative"
        goal = page.parent / name if name else page
        assert goal.exists(), target
        assert not anchor or anchor in anchors(goal), target


def test_manuals_are_found_from_the_first_page() -> None:
    named = {
        (page.parent / target).resolve()
        for page in PAGES
        for target in re.findall(r"\]\(([^)#\s]+)", page.read_text("utf-8"))
    }
    assert set(MANUALS) <= named
    assert ROOT / "DEVELOPERS.md" in named
    assert len(ROOT.joinpath("DEVELOPERS.md").read_bytes()) <= 12_000


@pytest.mark.parametrize("page", [page for page in MANUALS if blocks(page, "sh")], ids=lambda page: page.stem)
def test_commands_run(page: Path, course: Course, monkeypatch: pytest.MonkeyPatch) -> None:  # noqa: F811 - the fixture
    course.folder.joinpath("people.csv").write_text("Name,Login\nAda Quillbeam,ada\n", "utf-8")
    monkeypatch.chdir(course.folder)
    for line in "".join(blocks(page, "sh")).splitlines():
        name, *words = shlex.split(line)
        done = CliRunner().invoke(APPS[name], words, catch_exceptions=False)
        assert done.exit_code == 0, f"{line}\n{done.output}"


@pytest.mark.parametrize("page", [page for page in MANUALS if blocks(page, "toml")], ids=lambda page: page.stem)
def test_settings_are_understood(page: Path, course: Course) -> None:  # noqa: F811 - the fixture
    before = course.folder.joinpath("course.toml").read_text("utf-8")
    for block in blocks(page, "toml"):
        tomllib.loads(block)
        # Settings of the course itself stand above its tables.
        head, _, tables = block.partition("[[")
        text = f"{head}\n{before}\n[[{tables}"
        assert "modules" in tomllib.loads(text)
