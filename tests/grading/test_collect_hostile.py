"""Hand-ins that no honest person sends: refused in words, and never a danger to what is there."""

from __future__ import annotations

import io
import json
import os
import random
import shutil
import stat
import struct
import time
import tracemalloc
import zipfile
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from trainkit_grading.course.folder import Limits
from trainkit_grading.intake import readers, receipts
from trainkit_grading.intake.collect import collect

from .makers import MODULE, NOON, PEOPLE, Bench, Run, laid, refused, set_to, still, tree
from .packed import member, members_of, nest, zipped


@pytest.mark.parametrize(
    ("info", "says"),
    [
        pytest.param(member("link", stat.S_IFLNK | 0o777), "a link", id="link"),
        pytest.param(member("answers.jsonl", stat.S_IFLNK | 0o777), "a link", id="link for a journal"),
        pytest.param(member("x", stat.S_IFCHR | 0o644), "a device", id="character device"),
        pytest.param(member("x", stat.S_IFBLK | 0o644), "a device", id="block device"),
        pytest.param(member("x", stat.S_IFIFO | 0o644), "a pipe", id="pipe"),
        pytest.param(member("x", stat.S_IFSOCK | 0o644), "a socket", id="socket"),
        pytest.param(member("../keys/seed"), "leaves it", id="climbing"),
        pytest.param(member("a/../../../x"), "leaves it", id="climbing from inside"),
        pytest.param(member("..\\keys\\seed"), "leaves it", id="climbing with backslashes"),
        pytest.param(member("/etc/x"), "leaves it", id="absolute"),
        pytest.param(member("\\\\server\\x"), "leaves it", id="network path"),
        pytest.param(member("C:\\x"), "leaves it", id="drive"),
        pytest.param(member("c:x"), "leaves it", id="drive relative"),
    ],
)
def test_a_hostile_member_makes_the_zip_refused(
    assigned: Bench, parts: dict[str, bytes], info: zipfile.ZipInfo, says: str
) -> None:
    before = tree(assigned.course.folder)
    honest = {name: content for name, content in parts.items() if name != info.filename}
    zipped(assigned.course.inbox / "x.zip", honest, (info, b"/etc/passwd"))
    assert says in refused(collect(assigned.course))
    after = tree(assigned.course.folder)
    assert set(after) - set(before) == {"inbox/x.zip", "arrivals.jsonl"}


def test_too_many_members(assigned: Bench, parts: dict[str, bytes]) -> None:
    course = set_to(assigned.course, hand_in_files="20")
    zipped(course.inbox / "x.zip", parts | {f"extra{n}": b"" for n in range(19)})
    assert "at most 20 files" in refused(collect(course))
    zipped(course.inbox / "x.zip", parts | {f"extra{n}": b"" for n in range(18)})
    assert collect(course).ok


def test_a_table_of_contents_that_would_fill_the_memory(
    assigned: Bench, parts: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A zip of a few megabytes may list a hundred thousand members: refused before the list is read."""
    course = set_to(assigned.course, hand_in_files="2")
    zipped(course.inbox / "x.zip", parts | {f"{n:060d}": b"" for n in range(2000)})
    read: list[str] = []
    monkeypatch.setattr(zipfile.ZipFile, "_RealGetContents", lambda _: read.append("the list"))
    assert "at most 2 files" in refused(collect(course))
    assert read == []


def test_what_is_read_into_memory_is_limited(assigned: Bench, parts: dict[str, bytes]) -> None:
    """A journal of 45 MB is within what a hand-in may hold, and still no more is read than a journal may have."""
    zipped(assigned.course.inbox / "x.zip", parts | {"answers.jsonl": bytes(45_000_000)})
    tracemalloc.start()
    try:
        assert "at most" in refused(collect(assigned.course))
        assert tracemalloc.get_traced_memory()[1] < 30_000_000
    finally:
        tracemalloc.stop()


def test_a_bomb_is_refused_without_being_unpacked(assigned: Bench, parts: dict[str, bytes]) -> None:
    path = assigned.course.inbox / "bomb.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("identity.json", parts["identity.json"])
        with archive.open("answers.jsonl", "w", force_zip64=True) as stream:
            for _ in range(100):
                stream.write(bytes(1_000_000))
    assert path.stat().st_size < 200_000
    began = time.perf_counter()
    assert "bomb.zip" in refused(collect(assigned.course))
    assert time.perf_counter() - began < 2


def test_a_bomb_that_lies_about_its_size(assigned: Bench, parts: dict[str, bytes]) -> None:
    """The table says a few bytes, the content unpacks to many: what is read is limited, whatever the table says."""
    path = assigned.course.inbox / "liar.zip"
    zipped(path, {"identity.json": parts["identity.json"], "answers.jsonl": bytes(30_000_000)})
    data = bytearray(path.read_bytes())
    for signature, offset in ((b"PK\x01\x02", 24), (b"PK\x03\x04", 22)):
        start = data.index(signature, data.index(signature) + 1)
        assert struct.unpack_from("<I", data, start + offset) == (30_000_000,)
        struct.pack_into("<I", data, start + offset, 500)
    path.write_bytes(data)
    assert "liar.zip" in refused(collect(assigned.course))


def test_other_members_are_never_taken(assigned: Bench, parts: dict[str, bytes]) -> None:
    """An apprentice who zips the whole folder by hand is served; of it, only the answers are taken."""
    extra = {
        "lock-pin.ipynb": b"not even json",
        f"{MODULE}.ipynb": b'{"cells": []}',
        "json.py": b"raise SystemExit",
        "forms.json": b"{}",
        "timestamp.txt": b"2020-01-01 00:00:00 UTC",
        ".ipynb_checkpoints/x": b"x",
    }
    members = {f"My work/{name}": content for name, content in (parts | extra).items()}
    zipped(assigned.course.inbox / "x.zip", members)
    assert collect(assigned.course, clock=still(NOON)).ok
    home = laid(assigned.course, "amir")
    assert not (home / "json.py").exists()
    assert (home / f"{MODULE}.ipynb").read_bytes() == (
        assigned.course.release / MODULE / f"{MODULE}.ipynb"
    ).read_bytes()
    assert (home / "timestamp.txt").read_text().startswith("2027")


def test_a_platforms_zip_of_everybodys_zips(assigned: Bench, tmp_path: Path) -> None:
    inner = {
        f"{name} - 4711/{identifier}.zip": assigned.hand_in(identifier, tmp_path / identifier).read_bytes()
        for identifier, name in PEOPLE
    }
    shutil.rmtree(assigned.course.inbox)
    inner["Mallory - 666/evil.zip"] = zipped(tmp_path / "evil.zip", {}, (member("../x"), b"x")).read_bytes()
    inner["Nested - 667/deep.zip"] = zipped(tmp_path / "deep.zip", inner).read_bytes()
    path = zipped(tmp_path / "all hand-ins.zip", inner)
    outcome = collect(assigned.course, path)
    assert "evil.zip" in refused(outcome)
    assert "deep.zip" in refused(outcome)  # a zip in a zip in a zip is looked at no further
    assert sorted(taken["apprentice"] for taken in outcome.data["taken"]) == sorted(i for i, _ in PEOPLE)


def test_a_platforms_zip_of_everybodys_folders(assigned: Bench, tmp_path: Path) -> None:
    members = {
        f"{name}/{inside}": content
        for identifier, name in PEOPLE
        for inside, content in members_of(assigned.hand_in(identifier, tmp_path / identifier)).items()
    }
    outcome = collect(assigned.course, zipped(tmp_path / "all.zip", members))
    assert outcome.ok
    assert len(outcome.data["taken"]) == 3


def test_a_folder_of_zips_and_unpacked_hand_ins(assigned: Bench, tmp_path: Path) -> None:
    home = tmp_path / "from the stick"
    for identifier, _ in PEOPLE:
        (home / identifier).mkdir(parents=True)
        made = assigned.hand_in(identifier, tmp_path / "work" / identifier)
        if identifier == "amir":
            with zipfile.ZipFile(made) as archive:
                archive.extractall(home / identifier)
        else:
            made.rename(home / identifier / made.name)
    (home / "notes.txt").write_text("not a hand-in")
    outcome = collect(assigned.course, home)
    assert outcome.ok
    assert len(outcome.data["taken"]) == 3


@pytest.mark.parametrize("name", ["absent", "absent.zip"])
def test_a_source_that_is_not_there(assigned: Bench, tmp_path: Path, name: str) -> None:
    assert "no such file" in refused(collect(assigned.course, tmp_path / name))


def test_links_on_the_way_are_not_followed(assigned: Bench, tmp_path: Path) -> None:
    made = assigned.hand_in("amir", tmp_path / "home")
    elsewhere = made.rename(tmp_path / "elsewhere.zip")
    (assigned.course.inbox / "link.zip").symlink_to(elsewhere)
    (tmp_path / "folder").mkdir()
    (assigned.course.inbox / "linked folder").symlink_to(tmp_path / "folder")
    told = refused(collect(assigned.course))
    assert "inbox/link.zip" in told
    assert "inbox/linked folder" in told
    (tmp_path / "link to inbox").symlink_to(assigned.course.inbox)
    assert "not followed" in refused(collect(assigned.course, tmp_path / "link to inbox"))
    assert not assigned.course.submitted.exists()


def test_a_pipe_in_the_inbox_stops_nothing(assigned: Bench, tmp_path: Path) -> None:
    if not hasattr(os, "mkfifo"):
        pytest.skip("this system has no pipes in folders")
    os.mkfifo(assigned.course.inbox / "pipe.zip")
    assigned.hand_in("amir", tmp_path / "home")
    outcome = collect(assigned.course)
    assert "pipe.zip" in refused(outcome)
    assert len(outcome.data["taken"]) == 1


def test_one_bad_hand_in_stops_no_other(assigned: Bench, tmp_path: Path, parts: dict[str, bytes]) -> None:
    inbox = assigned.course.inbox
    zipped(inbox / "0 climbing.zip", parts, (member("../x"), b""))
    (inbox / "1 broken.zip").write_bytes(b"PK\x05\x06" + bytes(18))
    (inbox / "2 empty.zip").write_bytes(b"")
    (inbox / "3 cut.zip").write_bytes(zipped(tmp_path / "y.zip", parts).read_bytes()[:-30])
    (inbox / "4 folder.zip").mkdir()
    zipped(inbox / "5 none.zip", {"readme.txt": b"hello"})
    assigned.hand_in("o'brien", tmp_path / "home")
    outcome = collect(assigned.course)
    told = refused(outcome)
    assert all(f"{number} " in told for number in (0, 1, 2, 3, 5))
    assert [taken["apprentice"] for taken in outcome.data["taken"]] == ["o'brien"]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 2**32 - 1))
def test_a_damaged_zip_never_stops_the_reading(tmp_path_factory: pytest.TempPathFactory, chance: int) -> None:
    """Bytes changed, cut out or doubled anywhere: every outcome is a hand-in or a refusal that can be shown."""
    rng = random.Random(chance)
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", rng.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED))) as archive:
        archive.writestr("answers.jsonl", b'{"format": 1}\n' * rng.randrange(1, 40))
        archive.writestr("identity.json", b"{}")
    data = bytearray(buffer.getvalue())
    for _ in range(rng.randrange(1, 6)):
        spot = rng.randrange(len(data))
        if rng.random() < 0.7:
            data[spot] = rng.randrange(256)
        elif rng.random() < 0.5:
            del data[spot : spot + rng.randrange(1, 40)]
        else:
            data[spot:spot] = data[spot : spot + rng.randrange(1, 40)]
        if not data:
            break
    path = tmp_path_factory.mktemp("damaged") / "x.zip"
    path.write_bytes(data)
    found = list(readers.from_path(path, Limits()))
    assert found
    for entry in found:
        assert isinstance(entry, readers.HandIn) or (entry.severity == "refused" and entry.text)


def test_a_refused_hand_in_says_whose_it_says_it_is(assigned: Bench, parts: dict[str, bytes]) -> None:
    zipped(assigned.course.inbox / "x.zip", parts | {"answers.jsonl": b"rubbish\n"})
    outcome = collect(assigned.course, clock=still(NOON))
    assert "inbox/x.zip, by its word from amir: " in refused(outcome)
    (line,) = [json.loads(line) for line in assigned.course.arrivals_log.read_text("utf-8").splitlines()]
    assert line["refused"] == "inbox/x.zip, by its word from amir"
    assert datetime.fromisoformat(line["at"]) == NOON
    assert "no readable answer" in line["reason"]


@pytest.mark.skipif(os.name != "posix", reason="names of files are text elsewhere")
def test_names_that_are_no_text_or_steer_a_terminal(assigned: Bench, parts: dict[str, bytes], command: Run) -> None:
    inbox = os.fsencode(assigned.course.inbox)
    good = zipped(assigned.course.inbox / "good.zip", parts).read_bytes()
    Path(os.fsdecode(inbox + b"/\xff\xfe.zip")).write_bytes(b"no zip")
    (assigned.course.inbox / "a\x1b[2J\u202e\nrefused: b.zip").write_bytes(b"no zip")
    (assigned.course.inbox / "good.zip").unlink()
    Path(os.fsdecode(inbox + b"/taken \xff\x1b.zip")).write_bytes(good)
    said = command("collect", "--course", assigned.course.folder, status=1)
    assert not said.stderr
    assert not {sign for sign in said.stdout if sign in "\x1b\u202e"}
    assert said.stdout.count("✗ refused") == 2
    (receipt,) = receipts.kept(assigned.course, "amir", MODULE)
    assert receipt.place == "inbox/taken \ufffd\ufffd.zip"
    again = command("collect", "--json", "--course", assigned.course.folder)
    assert json.loads(again.stdout)["unchanged"] == 1


@pytest.mark.skipif(os.name != "posix", reason="names this long need a way round elsewhere")
def test_folders_nested_to_no_end(assigned: Bench, tmp_path: Path) -> None:
    assigned.hand_in("amir", tmp_path / "home")
    nest(assigned.course.inbox)
    outcome = collect(assigned.course)
    assert "nested more than 20 deep" in refused(outcome)
    assert len(outcome.data["taken"]) == 1


def test_many_large_journals_in_one_small_zip(assigned: Bench, parts: dict[str, bytes], tmp_path: Path) -> None:
    """Each is within what a journal may have; together they would fill the memory, so the rest is refused."""
    large = parts["answers.jsonl"] + (b" " * 9999 + b"\n") * 300
    members = {
        f"{number}/{name}": large if name == "answers.jsonl" else b"{}" for number in range(40) for name in parts
    }
    path = zipped(tmp_path / "all.zip", members)
    assert path.stat().st_size < 2_000_000
    course = set_to(assigned.course, hand_in_bytes="9_000_000")
    found = list(readers.from_path(path, course.limits))
    taken = [entry for entry in found if isinstance(entry, readers.HandIn)]
    assert sum(len(entry.journal) for entry in taken) <= 9_000_000
    assert len(taken) == 2
    assert "at most 9000000 bytes together" in refused(collect(course, path))


def test_a_zip_in_a_zip_is_one_hand_in(assigned: Bench, parts: dict[str, bytes], tmp_path: Path) -> None:
    two = {f"{number}/{name}": content for number in range(2) for name, content in parts.items()}
    inner = zipped(tmp_path / "inner.zip", two).read_bytes()
    one = zipped(tmp_path / "one.zip", parts).read_bytes()
    outcome = collect(assigned.course, zipped(tmp_path / "all.zip", {"a.zip": inner, "b.zip": one}))
    assert "A zip in a zip holds one hand-in" in refused(outcome)
    assert len(outcome.data["taken"]) == 1
