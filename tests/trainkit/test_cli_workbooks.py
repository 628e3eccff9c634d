"""The commands for apprentices: open, status, hand-in."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from tests.trainkit.given_out import give_out, journal_in
from trainkit import modules
from trainkit.cli import main, workbooks
from trainkit.errors import ModuleError
from trainkit.items.kinds import ChoiceResponse


def course_copy(folder: Path) -> Path:
    folder.mkdir(parents=True)
    shutil.copy(modules.load("lock-pin").notebook, folder)
    return give_out(folder, name="Amir")


def answer(folder: Path, item: str) -> None:
    journal_in(folder).append(item, ChoiceResponse(option="b"))


def run(*arguments: str) -> int:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    return int(ended.value.code or 0)


def test_status_says_whose_and_how_far(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = course_copy(tmp_path / "amir's copy")
    answer(folder, "A1")
    assert run("status", str(folder)) == 0
    assert capsys.readouterr().out.splitlines() == [
        "Lock pin",
        "You are Amir.",
        "Course saltmere, form K7, attempt 1.",
        "Answered and saved: 1 of 2.",
        "Not answered: A2.",
    ]
    assert run("status", str(folder), "--json") == 0
    assert json.loads(capsys.readouterr().out) == {
        "module": "lock-pin",
        "apprentice": "amir",
        "form": "K7",
        "due": "",
        "answered": ["A1"],
        "begun": [],
        "missing": ["A2"],
    }


def test_status_of_a_copy_for_practice(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copy(modules.load("lock-pin").notebook, tmp_path)
    assert run("status", str(tmp_path)) == 0
    assert "for practice" in capsys.readouterr().out
    assert run("status", str(tmp_path), "--json") == 0
    assert json.loads(capsys.readouterr().out)["apprentice"] is None


def test_hand_in_makes_the_file_and_says_what_is_missing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = course_copy(tmp_path / "copy")
    assert run("hand-in", str(folder)) == 1  # nothing is answered yet
    assert "Answer a question" in capsys.readouterr().err
    answer(folder, "A1")
    assert run("hand-in", str(folder)) == 0
    said = capsys.readouterr().out
    assert "Not answered: A2." in said
    assert "lock-pin-amir-K7.handin.zip" in said
    assert (folder / "lock-pin-amir-K7.handin.zip").is_file()
    assert run("hand-in", str(folder), "--json") == 0
    assert json.loads(capsys.readouterr().out)["missing"] == ["A2"]


@pytest.mark.parametrize("command", ["status", "hand-in"])
def test_a_folder_without_a_workbook_is_refused_with_a_remedy(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    assert run(command, str(tmp_path)) == 1
    assert "trainkit open lock-pin" in capsys.readouterr().err
    assert run(command, str(tmp_path / "nowhere")) == 1
    assert "no such folder" in capsys.readouterr().err


def test_a_module_is_copied_for_practice_and_a_copy_is_never_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    shipped = modules.load("lock-pin").notebook
    first = workbooks.notebook_to_open("lock-pin")
    assert first == tmp_path / "lock-pin" / "lock-pin.ipynb"
    assert first.read_bytes() == shipped.read_bytes()
    first.write_text("mine")
    assert workbooks.notebook_to_open("lock-pin") == first  # now the folder of that name is meant
    assert workbooks.notebook_to_open("lock-pin", Path("lock-pin")) == first
    assert first.read_text() == "mine"
    other = workbooks.notebook_to_open("lock-pin", Path("my own folder"))
    assert other == tmp_path / "my own folder" / "lock-pin.ipynb"
    assert workbooks.notebook_to_open(str(other)) == other
    monkeypatch.chdir(other.parent)
    assert workbooks.notebook_to_open(".") == other
    with pytest.raises(ModuleError, match="The modules are"):
        workbooks.notebook_to_open("lock-pim")
    for missing in ("lock-pin-ruth.zip", "sequence.ipynb", "Downloads/lock-pin"):
        with pytest.raises(ModuleError, match="no such file or folder"):
            workbooks.notebook_to_open(missing)


def test_a_renamed_workbook_is_known_by_the_cell_that_opens_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = course_copy(tmp_path / "copy")
    (folder / "notes.ipynb").write_text('{"cells": [{"cell_type": "code", "source": ["print(1)"]}]}')
    (folder / "torn.ipynb").write_text('{"cells": [')
    assert run("status", str(folder)) == 0
    told = capsys.readouterr().out
    renamed = (folder / "lock-pin.ipynb").rename(folder / "my work (1).ipynb")
    assert workbooks.notebook_to_open(str(folder)) == renamed.resolve()
    assert run("status", str(folder)) == 0
    assert capsys.readouterr().out == told
    # Two of them: nobody can tell which is meant.
    (folder / "another.ipynb").write_bytes(renamed.read_bytes())
    assert run("status", str(folder)) == 1


def test_without_jupyterlab_the_remedy_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    with pytest.raises(ModuleError, match=r"trainkit-workbooks\[lab\]"):
        workbooks.lab_command(tmp_path / "x.ipynb", no_browser=True)


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl+C is sent as a POSIX signal")
def test_open_starts_jupyterlab_on_the_workbook_and_ctrl_c_ends_it(tmp_path: Path) -> None:
    folder = course_copy(tmp_path / "amir's copy")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    options = [f"--ServerApp.port={port}", "--IdentityProvider.token=t", "--allow-root"]
    process = subprocess.Popen(
        [sys.executable, "-m", "trainkit.cli", "open", str(folder), "--no-browser", "--", *options],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, "JUPYTER_RUNTIME_DIR": str(tmp_path / "runtime")},
        # What a shell has started in the background is deaf to Ctrl+C, and all that it starts.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        start_new_session=True,
    )
    try:
        page = ""
        deadline = time.monotonic() + 60
        while not page and time.monotonic() < deadline:
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/?token=t", timeout=20) as answer_:
                    page = answer_.url
            except OSError:
                time.sleep(0.3)
        # The start page is the workbook, alone on the screen.
        assert re.search(r"/doc/tree/lock-pin\.ipynb", page)
    finally:
        os.killpg(process.pid, signal.SIGINT)
        said, _ = process.communicate(timeout=60)
    assert f"Opening {folder / 'lock-pin.ipynb'}" in said
    assert "Traceback" not in said
    assert process.returncode == 0
