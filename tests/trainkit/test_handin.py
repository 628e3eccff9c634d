"""The hand-in file holds the answers and the identity, and nothing else."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from tests.trainkit.given_out import journal_in
from trainkit import handin
from trainkit.errors import FormError, JournalError
from trainkit.forms import Identity
from trainkit.items.kinds import ChoiceResponse


def answered(folder: Path, apprentice: str = "amir") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    journal_in(folder, apprentice=apprentice).append("A1", ChoiceResponse(option="b"))
    return folder


def test_it_holds_exactly_the_journal_where_there_is_no_identity(tmp_path: Path) -> None:
    folder = answered(tmp_path / "amir's folder")
    (folder / "json.py").write_text("raise SystemExit")
    (folder / "lock-pin.ipynb").write_text("{}")
    path = handin.pack(folder)
    assert path == folder / "lock-pin-amir-K7.handin.zip"
    with zipfile.ZipFile(path) as archive:
        assert archive.namelist() == ["answers.jsonl"]
        assert archive.read("answers.jsonl") == (folder / "answers.jsonl").read_bytes()


def test_the_identity_goes_along_and_names_the_file(tmp_path: Path) -> None:
    folder = answered(tmp_path)
    Identity(course="saltmere", apprentice="zoë o'neill", name="Zoë O'Neill", code="4711").write(folder)
    path = handin.pack(folder)
    assert path.name == "lock-pin-zoë_o_neill-K7.handin.zip"
    with zipfile.ZipFile(path) as archive:
        assert sorted(archive.namelist()) == ["answers.jsonl", "identity.json"]


def test_the_same_answers_make_the_same_bytes_and_nothing_is_left_over(tmp_path: Path) -> None:
    folder = answered(tmp_path)
    first = handin.pack(folder).read_bytes()
    assert handin.pack(folder).read_bytes() == first
    assert sorted(path.name for path in folder.iterdir()) == ["answers.jsonl", "lock-pin-amir-K7.handin.zip"]


def test_without_an_answer_there_is_nothing_to_hand_in(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="no answer to hand in"):
        handin.pack(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_spoiled_identity_is_said_before_anything_is_written(tmp_path: Path) -> None:
    folder = answered(tmp_path)
    (folder / "identity.json").write_text('{"format": 9}')
    with pytest.raises(FormError):
        handin.pack(folder)
    assert [path.name for path in folder.glob("*.zip")] == []


@pytest.mark.parametrize("name", ["../../up", "a\\b", "C:", "\n", "x" * 80, "名前", "."])
def test_no_name_leaves_the_folder(tmp_path: Path, name: str) -> None:
    folder = answered(tmp_path / "inner", name)
    path = handin.pack(folder)
    assert path.parent == folder
    assert [found.name for found in tmp_path.iterdir()] == ["inner"]
