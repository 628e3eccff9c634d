"""A workbook about an engine of the instructor's: its pack lies beside the notebook; nothing assessed hangs on it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.trainkit.given_out import CHOICE, give_out
from tests.trainkit.plain_engine import plain
from trainkit import modules, packs, workbook
from trainkit.cli import main, workbooks
from trainkit.errors import ModuleError, PackError
from trainkit.notes import NotebookNote
from trainkit.widgets.control import Control

START = plain("heron")


def opened(folder: Path, module: str = "lock-pin") -> workbook.Book:
    return workbook.Book(modules.load(module), folder)


def test_the_pack_beside_the_notebook_is_explained_and_practised(tmp_path: Path) -> None:
    assert opened(tmp_path).pack is packs.load("dunlin")
    (tmp_path / "pack.toml").write_text(START, "utf-8")
    book = opened(tmp_path)
    assert book.pack.name == "heron"
    assert "Explanation and practice are about My engine, the pump drive is renewed." in str(book.summary())
    assert book.pack.cautions[0].text in str(book.cautions())
    asked = opened(tmp_path).practice("pinning")
    assert isinstance(asked, Control)
    assert "Set the fuel pump gear" in asked.state.text()


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(b"no pack", id="no TOML"),
        pytest.param(b"\xff\xfe", id="no UTF-8"),
        pytest.param(b"", id="empty"),
        pytest.param(START.replace('driver = "crank"', 'driver = "krank"').encode(), id="unknown gear"),
        pytest.param(b"x" * 2_000_001, id="too large"),
    ],
)
def test_a_damaged_pack_is_told_and_the_own_one_is_taken(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "pack.toml").write_bytes(content)
    book = opened(tmp_path)
    assert book.pack is packs.load("dunlin")
    told = str(book.summary())
    assert "The file pack.toml beside this workbook cannot be used. Tell your instructor." in told
    assert "What is wrong: pack.toml" in told
    assert f"Explanation and practice are about {book.pack.title} instead." in told
    assert str(tmp_path) not in told
    assert isinstance(book.practice("dead-centre"), Control)


def test_a_folder_in_the_place_of_the_pack_is_told(tmp_path: Path) -> None:
    (tmp_path / "pack.toml").mkdir()
    assert "cannot be used" in str(opened(tmp_path).summary())


def test_the_assessment_is_the_same_whatever_the_pack_says(tmp_path: Path) -> None:
    give_out(tmp_path, [CHOICE])
    before = opened(tmp_path).ask("A1")
    for content in (START, "damaged"):
        (tmp_path / "pack.toml").write_text(content, "utf-8")
        book = opened(tmp_path)
        after = book.ask("A1")
        assert isinstance(before, Control)
        assert isinstance(after, Control)
        assert after.shown == before.shown
        assert "You are Amir Onslow." in str(book.summary())
        assert book.shown()["closed"] == ""


def test_what_an_engine_has_nothing_to_ask_about_is_said_and_the_rest_goes_on(tmp_path: Path) -> None:
    (tmp_path / "pack.toml").write_text(START, "utf-8")
    found = {}
    for name in modules.names():
        book = opened(tmp_path, name)
        for skill in book.module.blueprint.skills:
            found[name, skill.id] = book.practice(skill.id), book.complete(skill.id)
    notes = [each for pair in found.values() for each in pair if isinstance(each, NotebookNote)]
    assert notes, "the starting point has no adapter, for example"
    for note in notes:
        assert note.lines == ("My engine has nothing to ask here.", "Go on with the next part.")
    assert sum(isinstance(practised, Control) for practised, _ in found.values()) > 20


def test_the_command_lays_the_pack_beside_a_copy_without_outputs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    mine = tmp_path / "heron.toml"
    mine.write_text(START, "utf-8")
    copy = workbooks.notebook_to_open("lock-pin", None, mine)
    assert copy == tmp_path / "lock-pin" / "lock-pin.ipynb"
    assert "Your copy for practice on My engine" in capsys.readouterr().out
    assert (copy.parent / "pack.toml").read_text("utf-8") == START
    cells = json.loads(copy.read_text("utf-8"))["cells"]
    own = json.loads(modules.load("lock-pin").notebook.read_text("utf-8"))["cells"]
    assert [cell["source"] for cell in cells] == [cell["source"] for cell in own]
    assert not any(cell.get("outputs") for cell in cells)
    assert opened(copy.parent).pack.name == "heron"
    # A copy that is there is used as it is, for the same engine only.
    copy.write_text("{}", "utf-8")
    assert workbooks.notebook_to_open("lock-pin", None, mine) == copy
    assert copy.read_text("utf-8") == "{}"
    mine.write_text(START + "\n", "utf-8")
    with pytest.raises(ModuleError, match="about another engine"):
        workbooks.notebook_to_open("lock-pin", None, mine)


def test_a_copy_about_the_own_engine_is_not_taken_for_another(tmp_path: Path) -> None:
    mine = tmp_path / "heron.toml"
    mine.write_text(START, "utf-8")
    workbooks.notebook_to_open("sequence", tmp_path / "copy")
    with pytest.raises(ModuleError, match="never written over"):
        workbooks.notebook_to_open("sequence", tmp_path / "copy", mine)


def test_a_pack_that_cannot_be_used_leaves_no_copy(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mine = tmp_path / "heron.toml"
    mine.write_text("format = 2", "utf-8")
    with pytest.raises(PackError):
        workbooks.notebook_to_open("sequence", tmp_path / "copy", mine)
    assert not (tmp_path / "copy").exists()
    with pytest.raises(SystemExit) as ended:
        main(["open", "sequence", "--into", str(tmp_path / "copy"), "--pack", str(mine)])
    assert ended.value.code == 1
    assert "heron.toml" in capsys.readouterr().err
