from __future__ import annotations

import base64
import json
import os
import sqlite3
import stat
import subprocess
import sys
import zipfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from trainkit import modules
from trainkit import packs as shipped_packs
from trainkit.errors import ModuleError
from trainkit_grading.course import folder as courses
from trainkit_grading.course import packs
from trainkit_grading.course.folder import Course, CourseModule, Limits
from trainkit_grading.course.seeds import Seed
from trainkit_grading.errors import CourseError, SeedError
from trainkit_grading.forms import leaks
from trainkit_grading.release import init
from trainkit_grading.release.build import build
from trainkit_grading.support import files

from .makers import Bench, module_toml, refused

POSIX = pytest.mark.skipif(os.name != "posix", reason="permissions are those of POSIX")
LOCK_PIN = CourseModule(name="lock-pin")


def found(folder: Path) -> Course:
    return init.create(folder, "saltmere", "Saltmere “2027”", modules=[LOCK_PIN])


def test_a_new_course_reads_back(tmp_path: Path) -> None:
    made = found(tmp_path / "Kurs für Œuvre's")
    assert Course.load(made.folder) == made
    assert made.title == "Saltmere “2027”"
    assert len(made.roster()) == 0
    assert made.exchange_root is None
    compile(made.nbgrader_config.read_text("utf-8"), "nbgrader_config.py", "exec")
    with pytest.raises(AttributeError):
        made.name = "other"  # type: ignore[misc]  # that it is refused is the point
    with pytest.raises(CourseError, match="lock-pin"):
        made.module("sequence")


def test_every_setting_is_read(tmp_path: Path) -> None:
    made = found(tmp_path / "course")
    made.file.write_text(
        """
        format = 1
        name = "saltmere"
        title = "Saltmere"
        [[modules]]
        name = "lock-pin"
        due = 2027-04-01T16:00:00+01:00
        attempt = 2
        pack = "packs/ours.toml"
        folder = "modules/lock-pin"
        [exchange]
        root = "../exchange disk"
        [limits]
        hand_in_bytes = 20000
        hand_in_files = 7
        """,
        "utf-8",
    )
    read = Course.load(made.folder)
    module = read.module("lock-pin")
    assert module.due == datetime(2027, 4, 1, 15, tzinfo=UTC)
    assert (module.attempt, module.pack, module.folder) == (2, "packs/ours.toml", "modules/lock-pin")
    assert read.exchange_root == made.folder / "../exchange disk"
    assert read.limits == Limits(hand_in_bytes=20000, hand_in_files=7)


def test_all_wrong_settings_are_told_at_once(tmp_path: Path) -> None:
    made = found(tmp_path / "course")
    made.file.write_text(
        """
        format = 2
        name = "Salt mere"
        titel = "Saltmere"
        [[modules]]
        name = "Lock Pin"
        attempt = 0
        due = "2027-04-01"
        [[modules]]
        name = "sequence"
        due = 2027-04-01T16:00:00
        [limits]
        hand_in_files = "many"
        """,
        "utf-8",
    )
    course, findings = courses.read_course(made.folder)
    assert course is None
    assert sorted(finding.place for finding in findings) == sorted(
        f"course.toml {key}"
        for key in (
            "format",
            "name",
            "titel",
            "title",
            "modules.1.name",
            "modules.1.attempt",
            "modules.1.due",
            "modules.2.due",
            "limits.hand_in_files",
        )
    )
    text = {finding.place: finding.text for finding in findings}
    assert "zone" in text["course.toml modules.2.due"]
    assert "spelling" in text["course.toml titel"]
    with pytest.raises(CourseError, match=r"Salt mere.*zone|zone.*Salt mere"):
        Course.load(made.folder)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"format = 1\nname = ", "TOML"),
        (b"\xff\xfe", "UTF-8"),
        (b'format = 1\nname = "a"\ntitle = "A"\nmodules = []', "table"),
        (b'format = 1\nname = "a"\ntitle = "A"\n[[modules]]\nname="x"\n[[modules]]\nname="x"', "twice"),
        (b'format = 1\nname = "a"\ntitle = "A\\n"\n[[modules]]\nname="x"', "title"),
    ],
)
def test_unusable_settings(tmp_path: Path, content: bytes, says: str) -> None:
    tmp_path.joinpath("course.toml").write_bytes(content)
    with pytest.raises(CourseError, match=says):
        Course.load(tmp_path)


def test_no_course_here_says_how_to_make_one(tmp_path: Path) -> None:
    for folder in (tmp_path, tmp_path / "absent"):
        with pytest.raises(CourseError, match="trainkit-course new"):
            Course.load(folder)


@pytest.mark.parametrize("sign", list("[]*?{}%#"))
def test_a_folder_in_which_nbgrader_finds_nothing(tmp_path: Path, sign: str) -> None:
    folder = tmp_path / f"course {sign}"
    with pytest.raises(CourseError, match="nbgrader finds no files"):
        found(folder)
    assert not folder.exists()


def test_a_course_can_be_moved(tmp_path: Path) -> None:
    found(tmp_path / "here").folder.rename(tmp_path / "there")
    moved = Course.load(tmp_path / "there")
    assert moved.folder == tmp_path / "there"
    assert moved.seed() == Seed.read(tmp_path / "there/keys/seed")


def test_new_keeps_what_is_there_and_never_makes_a_second_course(tmp_path: Path) -> None:
    made = found(tmp_path)
    seed = made.seed_file.read_bytes()
    made.roster_file.write_text("apprentice,name\namir,Amir\n", "utf-8")
    with pytest.raises(CourseError, match="already"):
        found(tmp_path)
    # Cut off before its last step, the same call goes on and keeps seed and roster.
    made.file.unlink()
    again = found(tmp_path)
    assert again.seed_file.read_bytes() == seed
    assert len(again.roster()) == 1


@pytest.mark.parametrize("name", ["", "Salt", "salt mere", "-salt", "s" * 41, "salt/mere", "ſalt"])
def test_a_name_that_no_form_can_carry(tmp_path: Path, name: str) -> None:
    with pytest.raises(CourseError, match="small letters"):
        init.create(tmp_path / "course", name, modules=[LOCK_PIN])
    assert not (tmp_path / "course").exists()


@POSIX
@pytest.mark.skipif(os.name == "posix" and os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_not_be_written(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(CourseError, match="may not read or write"):
        found(tmp_path / "course")


# ---- the pack that the items are drawn from


def assessed_on(pack: str) -> str:
    return module_toml().replace('pack = "dunlin"', f'pack = "dunlin"\nassessed_on = "{pack}"')


@pytest.mark.parametrize(
    ("of_course", "kept_for_assessment", "expected"),
    [
        ("", "", "dunlin"),
        ("", "curlew", packs.find_pack("curlew")),
        ("dunlin", "curlew", "dunlin"),
        ("curlew", "", packs.find_pack("curlew")),
        ("packs/ours.toml", "curlew", Path("/course/packs/ours.toml")),
    ],
)
def test_the_courses_own_pack_comes_before_that_of_the_assessment_before_that_of_practice(
    of_course: str, kept_for_assessment: str, expected: object
) -> None:
    blueprint = modules.load("lock-pin").blueprint.model_copy(update={"assessed_on": kept_for_assessment})
    course = Course(folder=Path("/course"), name="saltmere", title="Saltmere", modules=(LOCK_PIN,))
    assert course.pack_of(LOCK_PIN.model_copy(update={"pack": of_course}), blueprint) == expected


def test_a_blueprint_names_the_pack_it_is_assessed_on(bench: Bench) -> None:
    path = bench.module / "module.toml"
    path.write_text(assessed_on("curlew"), "utf-8")
    assert modules.load(bench.module).blueprint.pack == "dunlin"
    made = build(bench.course)
    assert made.ok
    assert {entry["pack"] for entry in made.data["modules"].values()} == {"curlew"}
    shown = bench.course.source.joinpath(bench.module.name, "forms.json").read_text("utf-8")
    assert "Curlew" in shown
    assert "Dunlin" not in shown
    path.write_text(assessed_on("heron"), "utf-8")
    assert "heron" in refused(build(bench.course))
    path.write_text(assessed_on("../curlew.toml"), "utf-8")
    with pytest.raises(ModuleError, match="assessed_on"):
        modules.load(bench.module)


def test_apprentices_have_every_pack_that_a_module_practises_on() -> None:
    blueprints = [modules.load(name).blueprint for name in modules.names()]
    assert {blueprint.pack for blueprint in blueprints} <= set(shipped_packs.shipped())
    kept = {blueprint.assessed_on for blueprint in blueprints} - {""}
    assert kept == {"curlew"}
    assert kept <= set(packs.names())


# ---- the seed


@POSIX
def test_the_seed_is_its_owners_alone(tmp_path: Path) -> None:
    made = found(tmp_path / "course")
    assert stat.S_IMODE(made.seed_file.stat().st_mode) == 0o600
    assert stat.S_IMODE(made.keys.stat().st_mode) == 0o700
    made.seed_file.chmod(0o640)
    with pytest.raises(SeedError, match="chmod 600"):
        made.seed()
    made.seed_file.chmod(0o600)
    made.keys.chmod(0o755)
    with pytest.raises(SeedError, match="chmod 700"):
        made.seed()


def test_a_seed_that_cannot_be_used(tmp_path: Path) -> None:
    made = found(tmp_path / "course")
    good = made.seed_file.read_text("ascii")
    for bad in ("", good[:-2], good.upper(), "z" * 64):
        made.seed_file.write_text(bad, "ascii")
        with pytest.raises(SeedError, match="64"):
            made.seed()
    made.seed_file.unlink()
    with pytest.raises(SeedError, match="backup"):
        made.seed()
    made.seed_file.symlink_to(tmp_path / "elsewhere")
    with pytest.raises(SeedError):
        made.seed()


def test_a_seed_never_shows_itself_and_no_other_course_has_it(tmp_path: Path) -> None:
    seed = found(tmp_path / "course").seed()
    assert seed != found(tmp_path / "other").seed()
    assert seed.secret.hex() not in repr(seed) + str(seed)


def test_streams_are_keyed_and_independent() -> None:
    seed, other = Seed(bytes(32)), Seed(bytes(31) + b"\1")
    labels = [("draw", "amir"), ("shuffle", "amir"), ("draw", "amir", 1), ("dra", "wamir"), ("draw", "ami", "r")]
    starts = [keyed.stream(*names).getrandbits(256) for keyed in (seed, other) for names in labels]
    assert len(set(starts)) == len(starts)
    assert seed.stream("draw", "amir").getrandbits(256) == starts[0]


def test_the_streams_are_what_they_are_said_to_be() -> None:
    """A second way to the same numbers: RFC 2104 by hand, over the text that the labels are written as."""
    import hashlib
    import random

    secret = bytes(range(32))
    message = b'["trainkit", 1, "stream", "draw", "amir", 3]'
    key = secret.ljust(64, b"\0")
    inner = hashlib.sha256(bytes(byte ^ 0x36 for byte in key) + message).digest()
    outer = hashlib.sha256(bytes(byte ^ 0x5C for byte in key) + inner).digest()
    assert Seed(secret).stream("draw", "amir", 3).random() == random.Random(outer).random()


def test_codes_use_signs_that_cannot_be_confused() -> None:
    seed = Seed(bytes(32))
    codes = {seed.code("form", str(number), length=8) for number in range(500)}
    assert len(codes) == 500
    assert not set("".join(codes)) & set("01OIU")
    assert all(len(code) == 8 and code.upper() == code and code.isalnum() for code in codes)


# ---- writing without halves


def test_an_interrupted_write_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "file"
    files.write_atomically(path, "old")

    def stop(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stop)
    with pytest.raises(KeyboardInterrupt):
        files.write_atomically(path, "new")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("steps", [0, 1, 2])
def test_a_swap_that_was_cut_off_is_settled(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, steps: int) -> None:
    """Whichever rename the end came at, the next command finds the whole old folder or the whole new one."""
    target = tmp_path / "submitted" / "o'brien" / "lock-pin"
    target.mkdir(parents=True)
    target.joinpath("answers.jsonl").write_text("old")
    taken: list[Any] = []
    rename = Path.rename

    def cut_off(self: Path, to: Path) -> Path:
        if len(taken) == steps:
            raise KeyboardInterrupt
        taken.append(self)
        return rename(self, to)

    with files.scratch(tmp_path) as work:
        new = work / "submission"
        new.mkdir()
        new.joinpath("answers.jsonl").write_text("new")
        monkeypatch.setattr(Path, "rename", cut_off)
        try:
            files.swap_in(tmp_path, new, target)
        except KeyboardInterrupt:
            assert steps < 2
        monkeypatch.setattr(Path, "rename", rename)
    with files.held(tmp_path):
        assert target.joinpath("answers.jsonl").read_text() == ("new" if steps == 2 else "old")
    assert not (tmp_path / files.WORK_FOLDER).exists()


def test_two_commands_never_work_in_one_folder_at_once(tmp_path: Path) -> None:
    waiting = (
        "import sys; from pathlib import Path; from trainkit_grading.support.files import held\n"
        "with held(Path(sys.argv[1]), wait=0.3): print('in')\n"
    )
    start = [sys.executable, "-c", waiting, str(tmp_path)]
    with files.held(tmp_path):
        other = subprocess.run(start, capture_output=True, text=True, check=False)
    assert other.returncode == 1
    assert "Another command is working" in other.stderr
    assert subprocess.run(start, capture_output=True, text=True, check=True).stdout == "in\n"


# ---- what must not be given out


def test_leaks_are_named_each(tmp_path: Path) -> None:
    seed = Seed(os.urandom(32))
    home = tmp_path / "release" / "lock-pin"
    (home / "deep").mkdir(parents=True)
    (home / "lock-pin.ipynb").write_text("{}")
    (home / "picture.svg").write_text("<svg/>")
    assert leaks.found_in(home, seed) == ()
    assert leaks.found_in(tmp_path / "absent", seed) == ()
    (home / "deep" / "Answers.JSONL").write_text("")
    (home / "identity.json").write_text("{}")
    (home / "lock-pin-amir-K7.handin.zip").write_text("")
    (home / "notes.txt").write_text(f"seed: {seed.secret.hex().upper()}")
    (home / "copy.bak").write_text('{"keys": {"A1": {"template": "a/b", "working": ["x"]}}}')
    (home / "pasted.ipynb").write_text(json.dumps({"cells": ['{"keys": {"A1": {"template": "a/b", "working": []}}}']}))
    (home / "link").symlink_to(tmp_path)
    places = [finding.place for finding in leaks.found_in(home, seed, tmp_path)]
    assert sorted(places) == sorted(
        f"release/lock-pin/{name}"
        for name in (
            "deep/Answers.JSONL",
            "identity.json",
            "lock-pin-amir-K7.handin.zip",
            "notes.txt",
            "copy.bak",
            "pasted.ipynb",
            "link",
        )
    )
    (tmp_path / "linked").symlink_to(home)
    assert len(leaks.found_in(tmp_path / "linked", seed)) == 1


def test_what_is_hidden_in_a_file_of_another_kind_is_found(tmp_path: Path) -> None:
    seed = Seed(bytes(range(40, 72)))
    home = tmp_path / "release"
    home.mkdir()
    curlew = Path(packs.find_pack("curlew")).read_bytes()
    with zipfile.ZipFile(home / "a.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("harmless.txt", "no key")
        archive.writestr("deep/engine.txt", curlew)
    (home / "b.ipynb").write_bytes(b'{"x": "' + base64.b64encode(seed.secret) + b'"}')
    (home / "c.bin").write_bytes(b"..." + seed.secret + b"...")
    (home / "d.txt").write_bytes(b"\r\n".join(b"    " + line for line in curlew.splitlines()[30:90]))
    with sqlite3.connect(home / "e.dat") as connection:
        connection.execute("create table grade (points)")
    connection.close()
    (home / "f.zip").write_bytes(b"PK\x03\x04 and no more")
    (home / "g.toml").write_bytes((Path(str(shipped_packs.__file__)).parent / "data" / "dunlin.toml").read_bytes())
    found = {finding.place: finding.text for finding in leaks.found_in(home, seed, home)}
    assert sorted(found) == ["a.zip", "b.ipynb", "c.bin", "d.txt", "e.dat"]
    assert "pack curlew" in found["a.zip"]
    assert "pack curlew" in found["d.txt"]
    assert "secret seed" in found["b.ipynb"]
    assert "secret seed" in found["c.bin"]
    assert "database" in found["e.dat"]
