"""What is built for the browser belongs to its source, and the extension knows each authored workbook."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import pytest

from trainkit import modules
from trainkit.cli.workbooks import extension_options
from trainkit.figures.style import themed
from trainkit.widgets.kernel_messages import authored

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "trainkit" / "labextension"
BUILT = SOURCE / "built" / "trainkit-workbooks"
NOTED = json.loads((SOURCE / "built-from.json").read_text("utf-8"))


def digest(path: Path) -> str:
    """Return the SHA-256 of a file, whichever way its lines end."""
    return hashlib.sha256(path.read_bytes().replace(b"\r\n", b"\n")).hexdigest()


@pytest.mark.parametrize("kind", ["source", "built"])
def test_what_is_committed_was_built_from_this_source(kind: str) -> None:
    now = {path: digest(ROOT / path) for path in NOTED[kind]}
    assert now == NOTED[kind], "in trainkit/labextension run: npm run build"


def test_no_file_is_built_from_what_nobody_noted() -> None:
    folders = {ROOT / path for path in NOTED["source"]} | {ROOT / path for path in NOTED["built"]}
    for folder in {path.parent for path in folders} - {SOURCE}:
        scripts = {path.relative_to(ROOT).as_posix() for path in folder.iterdir() if path.suffix in (".js", ".ts")}
        assert scripts <= NOTED["source"].keys() | NOTED["built"].keys(), "in trainkit/labextension run: npm run build"


def test_what_is_committed_is_small_and_whole() -> None:
    package = json.loads((BUILT / "package.json").read_text("utf-8"))
    assert (BUILT / package["jupyterlab"]["_build"]["load"]).is_file()
    assert json.loads((BUILT / "install.json").read_text("utf-8"))["packageName"] == "trainkit-workbooks"
    files = [path for path in BUILT.rglob("*") if path.is_file()]
    assert not [path for path in files if path.suffix == ".map"]
    assert sum(path.stat().st_size for path in files) < 100_000


def test_jupyterlab_is_told_where_it_lies() -> None:
    (option,) = extension_options()
    name, _, folder = option.partition("=")
    assert name == "--LabApp.extra_labextensions_path"
    assert Path(folder) / "trainkit-workbooks" == BUILT


@pytest.mark.parametrize("name", ["strip", "calm"])
def test_the_page_has_the_palette_of_everything_else(name: str) -> None:
    assert themed(f".tk-{name}") in (SOURCE / "style" / f"{name}.css").read_text("utf-8")


def forms() -> tuple[re.Pattern[str], list[re.Pattern[str]]]:
    """Return the forms that the extension knows; what they are made of means the same in Python."""
    opening, *others = re.findall(r"^\s*/(\^.*\$)/[,;]$", (SOURCE / "src" / "recognise.js").read_text("utf-8"), re.M)
    assert len(others) == 3
    return re.compile(opening), [re.compile(other) for other in others]


@pytest.mark.parametrize("name", modules.names())
def test_every_authored_workbook_is_known_by_its_opening_cell(name: str) -> None:
    opening, others = forms()
    first, *code = authored(modules.load(name).notebook)["code"]
    found = opening.fullmatch(first)
    assert found
    assert found[1] == name
    assert not [source for source in code if opening.search(source)]
    book = [source for source in code if re.match(r"book\.(?!pack)", source)]
    assert book
    for source in book:
        assert any(other.fullmatch(source) for other in others), source


@pytest.mark.parametrize(
    "source",
    [
        "import os",
        'book.ask("A1"); import os',
        'book.ask("A1")\nimport os',
        'book.ask("A1" if print() else "A2")',
        'book.practice("")',
        "book.finish(print())",
        'import os\nbook = workbook.open("lock-pin")',
        'from trainkit import workbook\nimport os\nbook = workbook.open("lock-pin")',
        'from trainkit import workbook\nbook = workbook.open("lock-pin")\nprint()',
        'from trainkitten import workbook\nbook = workbook.open("lock-pin")',
        'from trainkit import workbook; print()\nbook = workbook.open("lock-pin")',
        'from trainkit import workbook\nbook = workbook.open("lock-pin", Path("/"))',
    ],
)
def test_anything_else_is_none_of_the_forms(source: str) -> None:
    opening, others = forms()
    assert not [form for form in (opening, *others) if form.search(source)]


def test_a_notebook_that_cannot_be_read_has_no_cells_of_its_own(tmp_path: Path) -> None:
    assert authored(tmp_path / "none.ipynb") == {"code": [], "text": []}
    (tmp_path / "torn.ipynb").write_text('{"cells": [{"cell_type": "code", "source": "a"}, {"cell_type": "code"}]}')
    assert authored(tmp_path / "torn.ipynb") == {"code": [], "text": []}
