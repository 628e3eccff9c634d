"""The commands ``trainkit check``, ``new-pack`` and ``packs``, run as people run them."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import trainkit
from tests.trainkit.plain_engine import plain
from trainkit import cli, modules, packs
from trainkit.items.template import find, lacking

DUNLIN = Path(trainkit.__file__).parent / "packs" / "data" / "dunlin.toml"


LAST = "Only the energies you stated were judged.\n"


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as ended:
        cli.main(arguments)
    printed = capsys.readouterr()
    return int(ended.value.code or 0), printed.out, printed.err


@pytest.fixture
def broken(tmp_path: Path) -> Path:
    """Return a pack with one thing refused and one note."""
    text = plain("broken").replace('thread = "M8"', 'thread = "M8x9"', 1)
    text += '\n[[parts]]\nid = "spare"\nname = "spare"\nfate = "discard"\n'
    path = tmp_path / "a broken pack.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_good_pack_is_said_to_be_good(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capsys, "check", "dunlin", "--findings-only")
    assert (status, err) == (0, "")
    assert out == f"dunlin: nothing found. The pack can be used.\n{LAST}"


def test_a_module_that_cannot_be_built_says_what_is_missing(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def needs_more(_of: object, _rng: object, pack: packs.Pack, _shuffle: object, /) -> object:
        raise lacking(pack, "a step that tries the pin in and out", "Add the step")

    monkeypatch.setattr(type(find("torque-units/adapter-forgotten")), "sketch", needs_more)
    status, out, err = run(capsys, "check", "dunlin", "--json")
    assert (status, err) == (0, "")
    report = json.loads(out)
    assert report["usable"]
    filled = {each["module"]: each for each in report["modules"]}
    assert tuple(filled) == modules.names()
    assert [name for name, each in filled.items() if not each["ready"]] == ["torque-units"]
    missing = filled["torque-units"]["missing"]
    assert [each["item"] for each in missing] == ["A6", "A7"]
    assert {each["needs"] for each in missing} == {"a step that tries the pin in and out"}
    assert all(each["seconds"] >= 0 for each in filled.values())
    # The same in words, and as an error where the module is demanded.
    status, out, _ = run(capsys, "check", "dunlin", "--module", "torque-units", "--module", "lock-pin")
    assert status == 1
    assert out.startswith("dunlin: nothing found. The pack can be used.\n")
    assert re.search(r"torque-units +not ready +Missing: a step that ", out)
    assert re.search(r"lock-pin +ready ", out)
    assert "(A6 and A7)" in out
    assert out.endswith(f"6 of 7 modules can be built from this pack.\ntorque-units is not ready.\n{LAST}")


def test_a_module_that_is_demanded_exists(capsys: pytest.CaptureFixture[str]) -> None:
    status, _, err = run(capsys, "check", "dunlin", "--module", "lock-pins")
    assert status == 1
    assert "The modules are torque-units" in err


def test_what_is_wrong_is_said_with_word_line_and_remedy(capsys: pytest.CaptureFixture[str], broken: Path) -> None:
    status, out, err = run(capsys, "check", str(broken))
    assert (status, err) == (1, "")
    line = broken.read_text(encoding="utf-8").split("\n").index('thread = "M8x9"') + 1
    assert f"REFUSED  {broken}, line {line}  [thread-unknown]" in out
    assert "fasteners[1].thread = M8x9" in out
    assert "Write one of these; the length of the screw does not belong here." in out
    assert "NOTE  " in out
    assert out.endswith(f"{broken}: 1 refused, 1 note. The pack cannot be used.\n{LAST}")
    assert "\x1b" not in out  # no colour where nobody looks at a screen


def test_findings_as_json(capsys: pytest.CaptureFixture[str], broken: Path) -> None:
    status, out, err = run(capsys, "check", str(broken), "--json")
    assert (status, err) == (1, "")
    assert out.isascii()
    report = json.loads(out)
    assert report["file"] == str(broken)
    assert report["usable"] is False
    assert report["counts"] == {"refuse": 1, "warn": 0, "note": 1}
    assert [finding["code"] for finding in report["findings"]] == ["thread-unknown", "part-without-step"]
    assert report["findings"] == [finding.as_data() for finding in packs.examine(broken).findings]
    assert report["modules"] == []  # what cannot be used is not drawn from


def test_a_warning_leaves_the_pack_usable(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    text = plain().replace(
        'values = "invented"\ntext', 'values = "manual"\nmanual = "Book"\nedition = "2"\npage = ""\ntext', 1
    )
    text = text.replace('page = ""\n', "", 1).replace('"70 N·m", "52 lbf·ft"', '"70 N·m", "55 lbf·ft"', 1)
    for table in ("[engine]\n", "[barring]\n", "[lock_pin]\n", "[[fasteners]]\n", "[[gears]]\n", "[[meshes]]\n"):
        text = text.replace(table, f'{table}page = "5"\n')
    path = tmp_path / "manual.toml"
    path.write_text(text, encoding="utf-8")
    status, out, _ = run(capsys, "check", str(path), "--findings-only")
    assert status == 0
    assert "WARNING  " in out
    assert "the manual wins" in out
    assert out.endswith(f"1 warning. The pack can be used.\n{LAST}")


@pytest.mark.parametrize("name", ["no such pack", "", "nul\x00l"])
@pytest.mark.parametrize("as_json", [False, True])
def test_a_pack_that_is_not_there(capsys: pytest.CaptureFixture[str], name: str, as_json: bool) -> None:
    status, out, err = run(capsys, "check", name, *(["--json"] if as_json else []))
    assert (status, err) == (1, "")
    if as_json:
        (finding,) = json.loads(out)["findings"]
        assert finding["code"] == "file-unreadable"
    else:
        assert "[file-unreadable]" in out


def test_a_folder_is_no_pack(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    status, out, _ = run(capsys, "check", str(tmp_path))
    assert status == 1
    assert "file-unreadable" in out


def test_what_an_order_shows_is_held_against_the_catalogue(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text(DUNLIN.read_text("utf-8").replace('"pin-out-last"', '"pin-out-lost"'), "utf-8")
    status, out, _ = run(capsys, "check", str(path))
    assert status == 1
    assert "[misconception-unknown]" in out
    assert "Did you mean pin-out-last?" in out


def test_values_out_of_a_file_are_never_read_as_markup(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text(plain().replace('grade = "8.8"', 'grade = "[red]8.8[/red] :boom:"', 1), "utf-8")
    _, out, _ = run(capsys, "check", str(path))
    assert "fasteners[1].grade = [red]8.8[/red] :boom:" in out


def test_a_new_pack_passes_as_it_is(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "Größe 7" / "My engine.toml"
    path.parent.mkdir()
    status, out, err = run(capsys, "new-pack", str(path))
    assert (status, err) == (0, "")
    assert f'trainkit check "{path}"' in out
    assert packs.load(path).name == "my-engine"
    assert b"\r" not in path.read_bytes()
    assert run(capsys, "check", str(path), "--findings-only")[0] == 0


def test_a_new_pack_comments_every_table() -> None:
    import tomllib

    text = packs.starting_point()
    data = tomllib.loads(text)
    for section in data:
        if section in ("format", "name", "title"):
            continue
        header = f"[{section}]" if f"\n[{section}]\n" in text else f"[[{section}]]"
        before = text[: text.index(f"\n{header}\n")].rstrip("\n").split("\n")[-1]
        following = text[text.index(f"\n{header}\n") :].split("\n[")[1]
        assert before.startswith("#") or "#" in following, section


def test_a_new_pack_never_writes_over_anything(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("mine", encoding="utf-8")
    status, _, err = run(capsys, "new-pack", str(path))
    assert status == 1
    assert "Choose another name." in err
    assert path.read_text(encoding="utf-8") == "mine"


def test_a_new_pack_needs_its_folder(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    status, _, err = run(capsys, "new-pack", str(tmp_path / "nowhere" / "mine.toml"))
    assert status == 1
    assert "Check that the folder is there" in err


def test_installed_packs_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "packs")
    assert status == 0
    assert out == f"dunlin  {packs.load('dunlin').title}\n"


def test_wrong_usage_has_a_status_of_its_own(capsys: pytest.CaptureFixture[str]) -> None:
    status, _, err = run(capsys, "check")
    assert status == 2
    assert "Usage:" in err


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_consoles_that_lack_letters_still_get_everything_else(encoding: str, broken: Path) -> None:
    """The pack holds middle dots and minus signs; an old console cannot show them all."""
    text = broken.read_text(encoding="utf-8").replace('thread = "M8x9"', 'thread = "M8−日"')
    broken.write_text(text, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "trainkit.cli", "check", str(broken)],
        capture_output=True,
        check=False,
        env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"},
    )
    assert done.returncode == 1
    assert done.stderr == b""
    out = done.stdout.decode(encoding)
    assert "[thread-unknown]" in out
    assert "The pack cannot be used." in out
    assert ("M8−日" in out) == (encoding == "utf-8")
