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
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from trainkit import handin, journal
from trainkit_grading.course.folder import Course, Limits
from trainkit_grading.errors import CourseError
from trainkit_grading.intake import readers, receipts
from trainkit_grading.intake.collect import collect
from trainkit_grading.support import files
from trainkit_grading.support.outcome import Outcome

from .makers import MODULE, PEOPLE, Bench, forms_in, tree

NOON = datetime(2027, 3, 1, 12, tzinfo=UTC)


def at(moment: datetime) -> Callable[[], datetime]:
    return lambda: moment


def refusals(outcome: Outcome) -> str:
    assert not outcome.ok
    return " | ".join(f"{f.place}: {f.text}" for f in outcome.findings if f.severity == "refused")


def laid(course: Course, apprentice: str) -> Path:
    return course.submitted / apprentice / MODULE


def answered(course: Course, apprentice: str) -> int:
    return len(journal.read(laid(course, apprentice) / "answers.jsonl").entries)


def zipped(path: Path, members: dict[str, bytes], **more: Any) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content, **more)
    return path


@pytest.fixture
def parts(assigned: Bench, tmp_path: Path) -> dict[str, bytes]:
    """What an honest hand-in of Amir's holds."""
    folder = assigned.unpack("amir", tmp_path / "amir")
    assigned.answer(folder)
    return {name: (folder / name).read_bytes() for name in ("answers.jsonl", "identity.json")}


# ---- the honest way


def test_everybody_hands_in_by_zip(assigned: Bench, tmp_path: Path) -> None:
    for identifier, _ in PEOPLE:
        assigned.hand_in(identifier, tmp_path / identifier)
    outcome = collect(assigned.course, clock=at(NOON))
    assert outcome.ok
    assert [taken["apprentice"] for taken in outcome.data["taken"]]
    assert outcome.data["missing"] == {MODULE: []}
    released = tree(assigned.course.release / MODULE)
    for identifier, _ in PEOPLE:
        home = laid(assigned.course, identifier)
        assert sorted(path.name for path in home.iterdir()) == [
            "answers.jsonl",
            f"{MODULE}.ipynb",
            "forms.json",
            "submission_secret.txt",
            "timestamp.txt",
        ]
        # The pristine notebook, this apprentice's form alone, and the journal as it was handed in, byte for byte.
        assert (home / f"{MODULE}.ipynb").read_bytes() == released[f"{MODULE}.ipynb"]
        forms = forms_in(home)
        assert len(forms.forms) == 1
        assert forms.of(identifier)
        assert (home / "answers.jsonl").read_bytes() == (tmp_path / identifier / MODULE / "answers.jsonl").read_bytes()
        assert (home / "timestamp.txt").read_text() == "2027-03-01 12:00:00.000000 UTC"


def test_nbgrader_reads_the_time_that_was_stamped(assigned: Bench, tmp_path: Path) -> None:
    from trainkit_grading.nbgrader_bridge import steps

    assigned.hand_in("o'brien", tmp_path / "home")
    moment = datetime(2027, 3, 1, 23, 59, 59, 123456, tzinfo=UTC)
    collect(assigned.course, clock=at(moment))
    with steps.prepared():
        from nbgrader.coursedir import CourseDirectory

        coursedir = CourseDirectory(root=str(assigned.course.folder))
        read = coursedir.get_existing_timestamp(str(laid(assigned.course, "o'brien")))
    assert read == moment.replace(tzinfo=None)


def test_collecting_again_changes_nothing(assigned: Bench, tmp_path: Path) -> None:
    assigned.hand_in("amir", tmp_path / "home")
    collect(assigned.course, clock=at(NOON))
    before = tree(assigned.course.folder)
    outcome = collect(assigned.course, clock=at(NOON + timedelta(hours=1)))
    assert outcome.ok
    assert outcome.data["taken"] == []
    assert outcome.data["unchanged"] == 1
    assert tree(assigned.course.folder) == before


def test_a_later_hand_in_is_laid_and_the_earlier_kept(assigned: Bench, tmp_path: Path) -> None:
    folder = assigned.unpack("amir", tmp_path / "home")
    written = assigned.answer(folder, items=("A1",))
    first = handin.pack(folder).read_bytes()
    (assigned.course.inbox / "one.zip").write_bytes(first)
    collect(assigned.course, clock=at(NOON))
    assert answered(assigned.course, "amir") == 1
    written.append("A1", written.latest()["A1"].response)
    (assigned.course.inbox / "two.zip").write_bytes(handin.pack(folder).read_bytes())
    collect(assigned.course, clock=at(NOON + timedelta(hours=1)))
    assert answered(assigned.course, "amir") == 2
    kept = receipts.kept(assigned.course, "amir", MODULE)
    assert [(receipt.number, receipt.answers, receipt.arrived) for receipt in kept] == [
        (1, 1, NOON),
        (2, 2, NOON + timedelta(hours=1)),
    ]
    assert (laid(assigned.course, "amir") / "timestamp.txt").read_text().startswith("2027-03-01 13:00")
    assert [len(journal.read(receipts.journal_of(assigned.course, receipt)).entries) for receipt in kept] == [1, 2]
    # An old copy that turns up again, under any name, is known.
    (assigned.course.inbox / "three.zip").write_bytes(first)
    outcome = collect(assigned.course, clock=at(NOON + timedelta(hours=2)))
    assert outcome.data["unchanged"] == 3
    assert answered(assigned.course, "amir") == 2


def test_an_earlier_state_that_comes_late_does_not_replace_the_later(assigned: Bench, tmp_path: Path) -> None:
    folder = assigned.unpack("amir", tmp_path / "home")
    written = assigned.answer(folder, items=("A1",))
    early = handin.pack(folder).read_bytes()
    written.append("A1", written.latest()["A1"].response)
    (assigned.course.inbox / "late state.zip").write_bytes(handin.pack(folder).read_bytes())
    collect(assigned.course, clock=at(NOON))
    (assigned.course.inbox / "early state.zip").write_bytes(early)
    outcome = collect(assigned.course, clock=at(NOON + timedelta(hours=1)))
    assert outcome.ok
    assert any("earlier state" in finding.text for finding in outcome.findings)
    assert answered(assigned.course, "amir") == 2
    assert [receipt.older for receipt in receipts.kept(assigned.course, "amir", MODULE)] == [False, True]


def test_lateness_is_told(assigned: Bench, tmp_path: Path) -> None:
    text = assigned.course.file.read_text("utf-8").replace("attempt = 1", "attempt = 1\ndue = 2027-03-01T10:00:00Z")
    assigned.course.file.write_text(text, "utf-8")
    assigned.hand_in("amir", tmp_path / "home")
    outcome = collect(Course.load(assigned.course.folder), clock=at(NOON))
    assert outcome.ok
    assert any("2\u2009h after it was due" in finding.text for finding in outcome.findings)


def test_the_log_tells_each_hand_in_and_each_refusal_once(assigned: Bench, tmp_path: Path) -> None:
    assigned.hand_in("amir", tmp_path / "home")
    (assigned.course.inbox / "broken.zip").write_bytes(b"no zip")
    for hour in range(3):
        collect(assigned.course, clock=at(NOON + timedelta(hours=hour)))
    lines = [json.loads(line) for line in assigned.course.arrivals_log.read_text("utf-8").splitlines()]
    assert [line.get("apprentice", line.get("refused")) for line in lines] == ["amir", "inbox/broken.zip"]
    assert lines[0]["told_by"] == "personal code"
    # Torn and cut short, the log is made good again.
    data = assigned.course.arrivals_log.read_bytes()
    assigned.course.arrivals_log.write_bytes(data[: len(data.splitlines(keepends=True)[0]) // 2])
    collect(assigned.course, clock=at(NOON))
    again = assigned.course.arrivals_log.read_text("utf-8").splitlines()[1:]
    assert [json.loads(line) for line in again] == lines


# ---- who it is


def test_a_file_name_decides_nothing(assigned: Bench, tmp_path: Path) -> None:
    made = assigned.hand_in("amir", tmp_path / "home")
    made.rename(made.with_name(f"{MODULE}-o'brien-ZZZZZZZZ.handin.zip"))
    outcome = collect(assigned.course)
    assert [taken["apprentice"] for taken in outcome.data["taken"]] == ["amir"]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"code": "A" * 16}, "personal code"),
        ({"code": ""}, "personal code"),
        ({"code": "é"}, "personal code"),
        ({"apprentice": "o'brien"}, "personal code"),
        ({"apprentice": "mallory"}, "Nobody on the roster"),
        ({"apprentice": "../amir"}, "Nobody on the roster"),
        ({"course": "another"}, "course saltmere"),
        ({"apprentice": 7}, "not as it was given out"),
        ({"more": 1}, "not as it was given out"),
    ],
)
def test_an_identity_is_checked(assigned: Bench, parts: dict[str, bytes], change: dict[str, Any], says: str) -> None:
    identity = json.loads(parts["identity.json"]) | change
    zipped(assigned.course.inbox / "x.zip", parts | {"identity.json": json.dumps(identity).encode()})
    outcome = collect(assigned.course)
    assert says in refusals(outcome)
    assert not assigned.course.submitted.exists()


def test_without_an_identity_the_instructor_says_who_it_is(assigned: Bench, parts: dict[str, bytes]) -> None:
    path = zipped(assigned.course.inbox / f"{MODULE}-amir-X.handin.zip", {"answers.jsonl": parts["answers.jsonl"]})
    assert "--apprentice" in refusals(collect(assigned.course))
    with pytest.raises(CourseError, match="roster"):
        collect(assigned.course, path, "nobody")
    with pytest.raises(CourseError, match="--from"):
        collect(assigned.course, None, "amir")
    outcome = collect(assigned.course, path, "amir")
    assert outcome.ok
    assert outcome.data["taken"][0]["told_by"] == "instructor"


def test_a_journal_that_speaks_of_another_is_taken_and_told(assigned: Bench, tmp_path: Path) -> None:
    """The code decides; what the journal claims is for a person to look at."""
    theirs = assigned.unpack("o'brien", tmp_path / "theirs")
    assigned.answer(theirs)
    mine = assigned.unpack("amir", tmp_path / "mine")
    shutil.copy(theirs / "answers.jsonl", mine / "answers.jsonl")
    shutil.copy(handin.pack(mine), assigned.course.inbox / "copied.zip")
    outcome = collect(assigned.course)
    assert outcome.ok
    assert outcome.data["taken"][0]["apprentice"] == "amir"
    told = [finding.text for finding in outcome.findings if finding.severity == "warning"]
    assert any("o'brien" in text for text in told)
    assert any("form" in text for text in told)


def test_a_torn_or_tampered_journal_is_taken_with_what_is_readable(assigned: Bench, parts: dict[str, bytes]) -> None:
    lines = parts["answers.jsonl"].splitlines(keepends=True)
    content = lines[0] + b"not an answer\n" + lines[2] + lines[1][:40]
    zipped(assigned.course.inbox / "x.zip", parts | {"answers.jsonl": content})
    outcome = collect(assigned.course)
    assert outcome.ok
    assert outcome.data["taken"][0]["answers"] == 2
    assert any("line 2" in finding.text for finding in outcome.findings)
    assert (laid(assigned.course, "amir") / "answers.jsonl").read_bytes() == content


@pytest.mark.parametrize(
    "content", [b"", b"\n\n", b"rubbish\n", b"{}\n", b"[" * 50_000, b"\0" * 1000, b'{"format":1}\n']
)
def test_a_journal_without_an_answer(assigned: Bench, parts: dict[str, bytes], content: bytes) -> None:
    zipped(assigned.course.inbox / "x.zip", parts | {"answers.jsonl": content})
    assert "no readable answer" in refusals(collect(assigned.course))


def test_a_journal_of_another_course_or_module(assigned: Bench, parts: dict[str, bytes]) -> None:
    for number, (old, new, says) in enumerate(
        (
            (b'"course":"saltmere"', b'"course":"elsewhere"', "no answer in this journal is of it"),
            (f'"module":"{MODULE}"'.encode(), b'"module":"lock-pin"', "runs bench-order"),
        )
    ):
        content = parts["answers.jsonl"].replace(old, new)
        assert content != parts["answers.jsonl"]
        zipped(assigned.course.inbox / f"{number}.zip", parts | {"answers.jsonl": content})
        assert says in refusals(collect(assigned.course))


def test_a_module_that_is_not_out_takes_nothing(assigned: Bench, parts: dict[str, bytes]) -> None:
    shutil.rmtree(assigned.course.release)
    zipped(assigned.course.inbox / "x.zip", parts)
    assert "has not been given out" in refusals(collect(assigned.course))


def test_an_answer_to_the_attempt_before(assigned: Bench, parts: dict[str, bytes]) -> None:
    from trainkit_grading.release.assign import assign
    from trainkit_grading.release.build import build

    first = json.loads(parts["answers.jsonl"].splitlines()[0])["form"]
    text = assigned.course.file.read_text("utf-8").replace("attempt = 1", "attempt = 2")
    assigned.course.file.write_text(text, "utf-8")
    course = Course.load(assigned.course.folder)
    assert build(course).ok
    assert assign(course).ok
    zipped(course.inbox / "x.zip", parts)
    outcome = collect(course)
    assert outcome.ok
    assert (outcome.data["taken"][0]["attempt"], outcome.data["taken"][0]["form"]) == (1, first)
    forms = forms_in(laid(course, "amir"))
    assert (forms.attempt, forms.of("amir").code) == (1, first)


def test_an_unknown_folder_among_the_submissions_is_told(assigned: Bench) -> None:
    (assigned.course.submitted / "stranger" / MODULE).mkdir(parents=True)
    outcome = collect(assigned.course)
    assert [finding.place for finding in outcome.findings] == ["submitted/stranger"]


# ---- what no honest hand-in has


def _info(name: str, mode: int = 0o100644, **more: Any) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)
    info.create_system = 3
    info.external_attr = mode << 16
    for key, value in more.items():
        setattr(info, key, value)
    return info


def hostile(path: Path, parts: dict[str, bytes], *extra: tuple[zipfile.ZipInfo, bytes]) -> Path:
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
        for info, content in extra:
            archive.writestr(info, content)
    return path


@pytest.mark.parametrize(
    ("info", "says"),
    [
        pytest.param(_info("link", stat.S_IFLNK | 0o777), "a link", id="link"),
        pytest.param(_info("x", stat.S_IFCHR | 0o644), "a device", id="character device"),
        pytest.param(_info("x", stat.S_IFBLK | 0o644), "a device", id="block device"),
        pytest.param(_info("x", stat.S_IFIFO | 0o644), "a pipe", id="pipe"),
        pytest.param(_info("x", stat.S_IFSOCK | 0o644), "a socket", id="socket"),
        pytest.param(_info("../keys/seed"), "leaves it", id="climbing"),
        pytest.param(_info("a/../../../x"), "leaves it", id="climbing from inside"),
        pytest.param(_info("..\\keys\\seed"), "leaves it", id="climbing with backslashes"),
        pytest.param(_info("/etc/x"), "leaves it", id="absolute"),
        pytest.param(_info("\\\\server\\x"), "leaves it", id="network path"),
        pytest.param(_info("C:\\x"), "leaves it", id="drive"),
        pytest.param(_info("c:x"), "leaves it", id="drive relative"),
    ],
)
def test_a_hostile_member_makes_the_zip_refused(
    assigned: Bench, parts: dict[str, bytes], info: zipfile.ZipInfo, says: str
) -> None:
    before = tree(assigned.course.folder)
    hostile(assigned.course.inbox / "x.zip", parts, (info, b"/etc/passwd"))
    assert says in refusals(collect(assigned.course))
    after = tree(assigned.course.folder)
    assert set(after) - set(before) == {"inbox/x.zip", "arrivals.jsonl"}


def test_the_journal_itself_may_be_no_link(assigned: Bench, parts: dict[str, bytes]) -> None:
    link = _info("answers.jsonl", stat.S_IFLNK | 0o777)
    hostile(assigned.course.inbox / "x.zip", {"identity.json": parts["identity.json"]}, (link, b"../../keys/seed"))
    assert "a link" in refusals(collect(assigned.course))


def test_two_members_of_one_name(assigned: Bench, parts: dict[str, bytes]) -> None:
    with pytest.warns(UserWarning, match="Duplicate"):
        hostile(assigned.course.inbox / "x.zip", parts, (_info("answers.jsonl"), b"other"))
    assert "name of its own" in refusals(collect(assigned.course))
    (assigned.course.inbox / "x.zip").unlink()
    hostile(assigned.course.inbox / "x.zip", parts, (_info("./answers.jsonl"), b"other"))
    assert "name of its own" in refusals(collect(assigned.course))


def test_an_encrypted_or_oddly_packed_member(assigned: Bench, parts: dict[str, bytes]) -> None:
    path = zipped(assigned.course.inbox / "x.zip", parts)
    data = bytearray(path.read_bytes())
    at_entry = data.index(b"PK\x01\x02")
    data[at_entry + 8] |= 1
    path.write_bytes(data)
    assert "encrypted" in refusals(collect(assigned.course))
    zipped(path, parts, compress_type=zipfile.ZIP_LZMA)
    assert "packed as zips usually are" in refusals(collect(assigned.course))


def small(course: Course, **limits: int) -> Course:
    text = course.file.read_text("utf-8")
    for key, value in limits.items():
        old = getattr(course.limits, key)
        text = text.replace(f"{key} = {old}", f"{key} = {value}")
    course.file.write_text(text, "utf-8")
    return Course.load(course.folder)


def test_too_many_members(assigned: Bench, parts: dict[str, bytes]) -> None:
    course = small(assigned.course, hand_in_files=20)
    zipped(course.inbox / "x.zip", parts | {f"extra{n}": b"" for n in range(19)})
    assert "at most 20 files" in refusals(collect(course))
    zipped(course.inbox / "x.zip", parts | {f"extra{n}": b"" for n in range(18)})
    assert collect(course).ok


def test_a_table_of_contents_that_would_fill_the_memory(
    assigned: Bench, parts: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A zip of a few megabytes may list a hundred thousand members: refused before the list is read."""
    course = small(assigned.course, hand_in_files=2)
    zipped(course.inbox / "x.zip", parts | {f"{n:060d}": b"" for n in range(2000)})
    read: list[str] = []
    monkeypatch.setattr(zipfile.ZipFile, "_RealGetContents", lambda _: read.append("the list"))
    assert "at most 2 files" in refusals(collect(course))
    assert read == []


def test_what_is_read_into_memory_is_limited(assigned: Bench, parts: dict[str, bytes]) -> None:
    """A journal of 45 MB is within what a hand-in may hold, and still no more is read than a journal may have."""
    zipped(assigned.course.inbox / "x.zip", parts | {"answers.jsonl": bytes(45_000_000)})
    tracemalloc.start()
    try:
        assert "at most" in refusals(collect(assigned.course))
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
    assert "bomb.zip" in refusals(collect(assigned.course))
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
    assert "liar.zip" in refusals(collect(assigned.course))


def test_a_journal_larger_than_any_honest_one(assigned: Bench, parts: dict[str, bytes]) -> None:
    content = parts["answers.jsonl"] + b"\n" * journal.FILE_LIMIT
    zipped(assigned.course.inbox / "x.zip", parts | {"answers.jsonl": content})
    assert "at most" in refusals(collect(assigned.course))


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
    assert collect(assigned.course, clock=at(NOON)).ok
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
    inner["Mallory - 666/evil.zip"] = hostile(tmp_path / "evil.zip", {}, (_info("../x"), b"x")).read_bytes()
    inner["Nested - 667/deep.zip"] = zipped(tmp_path / "deep.zip", inner).read_bytes()
    path = zipped(tmp_path / "all hand-ins.zip", inner)
    outcome = collect(assigned.course, path)
    assert "evil.zip" in refusals(outcome)
    assert "deep.zip" in refusals(outcome)  # a zip in a zip in a zip is looked at no further
    assert sorted(taken["apprentice"] for taken in outcome.data["taken"]) == sorted(i for i, _ in PEOPLE)


def test_a_platforms_zip_of_everybodys_folders(assigned: Bench, tmp_path: Path) -> None:
    members: dict[str, bytes] = {}
    for identifier, name in PEOPLE:
        with zipfile.ZipFile(assigned.hand_in(identifier, tmp_path / identifier)) as archive:
            members |= {f"{name}/{member}": archive.read(member) for member in archive.namelist()}
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
    assert "no such file" in refusals(collect(assigned.course, tmp_path / name))


def test_links_on_the_way_are_not_followed(assigned: Bench, tmp_path: Path) -> None:
    made = assigned.hand_in("amir", tmp_path / "home")
    elsewhere = made.rename(tmp_path / "elsewhere.zip")
    (assigned.course.inbox / "link.zip").symlink_to(elsewhere)
    (tmp_path / "folder").mkdir()
    (assigned.course.inbox / "linked folder").symlink_to(tmp_path / "folder")
    told = refusals(collect(assigned.course))
    assert "inbox/link.zip" in told
    assert "inbox/linked folder" in told
    (tmp_path / "link to inbox").symlink_to(assigned.course.inbox)
    assert "not followed" in refusals(collect(assigned.course, tmp_path / "link to inbox"))
    assert not assigned.course.submitted.exists()


def test_a_pipe_in_the_inbox_stops_nothing(assigned: Bench, tmp_path: Path) -> None:
    if not hasattr(os, "mkfifo"):
        pytest.skip("this system has no pipes in folders")
    os.mkfifo(assigned.course.inbox / "pipe.zip")
    assigned.hand_in("amir", tmp_path / "home")
    outcome = collect(assigned.course)
    assert "pipe.zip" in refusals(outcome)
    assert len(outcome.data["taken"]) == 1


def test_one_bad_hand_in_stops_no_other(assigned: Bench, tmp_path: Path, parts: dict[str, bytes]) -> None:
    inbox = assigned.course.inbox
    hostile(inbox / "0 climbing.zip", parts, (_info("../x"), b""))
    (inbox / "1 broken.zip").write_bytes(b"PK\x05\x06" + bytes(18))
    (inbox / "2 empty.zip").write_bytes(b"")
    (inbox / "3 cut.zip").write_bytes(zipped(tmp_path / "y.zip", parts).read_bytes()[:-30])
    (inbox / "4 folder.zip").mkdir()
    zipped(inbox / "5 none.zip", {"readme.txt": b"hello"})
    assigned.hand_in("o'brien", tmp_path / "home")
    outcome = collect(assigned.course)
    told = refusals(outcome)
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


# ---- the shared disk


@pytest.fixture
def disk(assigned: Bench) -> Bench:
    """The same course with a shared disk on which it has been given out."""
    from trainkit_grading.release.assign import assign

    text = assigned.course.file.read_text("utf-8").replace('root = ""', 'root = "../exchange disk"')
    assigned.course.file.write_text(text, "utf-8")
    (assigned.course.folder.parent / "exchange disk").mkdir()
    course = Course.load(assigned.course.folder)
    assert assign(course).ok
    return Bench(course)


def inbound(bench: Bench) -> Path:
    assert bench.course.exchange_root is not None
    return bench.course.exchange_root / "saltmere" / "inbound"


def submit(bench: Bench, apprentice: str, work: Path) -> Path:
    """Hand in with nbgrader's own step, and return the folder it made."""
    from trainkit_grading.nbgrader_bridge import steps

    with steps.prepared():
        from nbgrader.auth import Authenticator
        from nbgrader.coursedir import CourseDirectory
        from nbgrader.exchange.default import ExchangeSubmit
        from traitlets.config import Config

        config = Config()
        config.Exchange.root = str(bench.course.exchange_root)
        config.Exchange.cache = str(work / "cache")
        before = set(inbound(bench).iterdir())
        step = ExchangeSubmit(
            coursedir=CourseDirectory(
                root=str(work), course_id="saltmere", assignment_id=MODULE, student_id=apprentice
            ),
            authenticator=Authenticator(config=config),
            config=config,
        )
        step.assignment_dir = str(work)
        step.start()
    (made,) = set(inbound(bench).iterdir()) - before
    return made


POSIX = pytest.mark.skipif(os.name != "posix", reason="nbgrader's shared disk needs POSIX")


@POSIX
def test_what_nbgrader_submitted_is_collected(disk: Bench, tmp_path: Path) -> None:
    folder = disk.unpack("o'brien", tmp_path / "work")
    written = disk.answer(folder, items=("A1",))
    first = submit(disk, "o'brien", tmp_path / "work")
    # A time of the apprentice's own making counts for nothing.
    (first / "timestamp.txt").write_text("2001-01-01 00:00:00 UTC")
    outcome = collect(disk.course)
    assert outcome.ok
    (taken,) = outcome.data["taken"]
    assert (taken["apprentice"], taken["told_by"], taken["how"]) == ("o'brien", "folder on the shared disk", "exchange")
    arrived = datetime.fromisoformat(taken["arrived"])
    assert abs(arrived - datetime.now(UTC)) < timedelta(minutes=5)
    home = laid(disk.course, "o'brien")
    secret = (first / "submission_secret.txt").read_text()
    assert (home / "submission_secret.txt").read_text() == secret
    time.sleep(1.1)  # nbgrader names its folders by the second
    written.append("A1", written.latest()["A1"].response)
    submit(disk, "o'brien", tmp_path / "work")
    outcome = collect(disk.course)
    assert outcome.ok
    assert (len(outcome.data["taken"]), outcome.data["unchanged"]) == (1, 1)
    assert answered(disk.course, "o'brien") == 2


@POSIX
def test_a_moment_on_the_disk_cannot_be_set_back(disk: Bench, tmp_path: Path) -> None:
    folder = disk.unpack("amir", tmp_path / "work")
    disk.answer(folder)
    made = submit(disk, "amir", tmp_path / "work")
    for path in (made / "answers.jsonl", made):
        os.utime(path, (1_000_000_000, 1_000_000_000))
    outcome = collect(disk.course)
    arrived = datetime.fromisoformat(outcome.data["taken"][0]["arrived"])
    assert abs(arrived - datetime.now(UTC)) < timedelta(minutes=5)


def _fake(bench: Bench, name: str, content: bytes) -> Path:
    folder = inbound(bench) / name
    folder.mkdir()
    (folder / "answers.jsonl").write_bytes(content)
    return folder


@POSIX
def test_links_planted_on_the_disk(disk: Bench, tmp_path: Path, parts: dict[str, bytes]) -> None:
    stamp = "2027-03-01 12:00:00 UTC"
    answers = parts["answers.jsonl"]
    seed = disk.course.seed_file
    _fake(disk, f"amir+{MODULE}+{stamp}+a", answers).joinpath("gradebook.db").symlink_to(disk.course.gradebook)
    direct = inbound(disk) / f"amir+{MODULE}+{stamp}+b"
    direct.mkdir()
    (direct / "answers.jsonl").symlink_to(seed)
    (tmp_path / "real").mkdir()
    (tmp_path / "real" / "answers.jsonl").write_bytes(answers)
    (inbound(disk) / f"amir+{MODULE}+{stamp}+c").symlink_to(tmp_path / "real")
    hard = inbound(disk) / f"amir+{MODULE}+{stamp}+d"
    hard.mkdir()
    os.link(tmp_path / "real" / "answers.jsonl", hard / "answers.jsonl")
    piped = inbound(disk) / f"amir+{MODULE}+{stamp}+e"
    piped.mkdir()
    os.mkfifo(piped / "answers.jsonl")
    secret = _fake(disk, f"amir+{MODULE}+{stamp}+f", answers)
    (secret / "submission_secret.txt").symlink_to(seed)
    outcome = collect(disk.course)
    told = refusals(outcome)
    for letter in "abcdef":
        assert f"+{letter}: " in told
    assert not disk.course.submitted.exists()
    assert not disk.course.arrivals.exists()


@POSIX
def test_a_folder_that_becomes_a_link_while_it_is_read(
    disk: Bench, tmp_path: Path, parts: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever swaps the folder after it was looked at gets what was looked at, never what the link leads to."""
    from trainkit_grading.intake.readers import folders

    victim = tmp_path / "victim"
    victim.mkdir()
    (victim / "answers.jsonl").write_bytes(parts["answers.jsonl"] * 2)
    folder = _fake(disk, f"amir+{MODULE}+2027-03-01 12:00:00 UTC+a", parts["answers.jsonl"])
    look = folders._look_through

    def swap(path: Path, *more: Any) -> None:
        look(path, *more)
        folder.rename(tmp_path / "moved")
        folder.symlink_to(victim)

    monkeypatch.setattr(folders, "_look_through", swap)
    collect(disk.course)
    assert (laid(disk.course, "amir") / "answers.jsonl").read_bytes() == parts["answers.jsonl"]


@POSIX
def test_names_on_the_disk(disk: Bench, parts: dict[str, bytes], monkeypatch: pytest.MonkeyPatch) -> None:
    stamp = "2027-03-01 12:00:00 UTC"
    _fake(disk, f"mallory+{MODULE}+{stamp}+x", parts["answers.jsonl"])
    _fake(disk, f"amir+no-such-module+{stamp}+x", parts["answers.jsonl"])
    _fake(disk, "rubbish", parts["answers.jsonl"])
    (inbound(disk) / f"amir+{MODULE}+{stamp}+empty").mkdir()
    outcome = collect(disk.course)
    told = refusals(outcome)
    assert "'mallory': Nobody on the roster" in told
    assert "no-such-module" in told
    assert "inbound/rubbish" in told
    assert "holds answers.jsonl; this one does not" in told
    assert outcome.data["taken"] == []
    # A folder named for one apprentice that another one owns.
    import pwd

    real = pwd.getpwuid(os.getuid())
    monkeypatch.setattr(pwd, "getpwuid", lambda _: type(real)(("o'brien", *real[1:])))
    _fake(disk, f"amir+{MODULE}+{stamp}+y", parts["answers.jsonl"])
    assert "belongs to o'brien" in refusals(collect(disk.course))


@POSIX
def test_too_much_on_the_disk(disk: Bench, parts: dict[str, bytes]) -> None:
    course = small(disk.course, hand_in_files=10, hand_in_bytes=10_000)
    many = _fake(disk, f"amir+{MODULE}+t+many", parts["answers.jsonl"])
    for number in range(10):
        (many / str(number)).touch()
    large = _fake(disk, f"amir+{MODULE}+t+large", parts["answers.jsonl"])
    (large / "video").write_bytes(bytes(10_001))
    told = refusals(collect(course))
    assert told.count("at most 10 files and 10000 bytes") == 2


# ---- stopped half-way


@pytest.mark.parametrize("moment", range(14))
def test_stopped_at_any_step_the_next_collecting_ends_as_if_never_stopped(
    assigned: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, moment: int
) -> None:
    """Every step that writes ends in a rename or a sync; the end comes before each of them in turn."""
    for identifier in ("amir", "o'brien"):
        assigned.hand_in(identifier, tmp_path / identifier)
    twin = Course.load(shutil.copytree(assigned.course.folder, tmp_path / "twin"))
    assert collect(twin, clock=at(NOON)).ok
    calls = 0
    rename, sync = Path.rename, os.fsync

    def counted(work: Callable[..., Any]) -> Callable[..., Any]:
        def step(*given: Any) -> Any:
            nonlocal calls
            calls += 1
            if calls > moment:
                raise KeyboardInterrupt
            return work(*given)

        return step

    with monkeypatch.context() as patch:
        patch.setattr(Path, "rename", counted(rename))
        patch.setattr(os, "fsync", counted(sync))
        try:
            collect(assigned.course, clock=at(NOON))
        except KeyboardInterrupt:
            pass
        else:
            assert moment >= calls
    # Whatever lies under submitted/ is whole.
    for path in assigned.course.submitted.glob("*/*"):
        assert len(list(path.iterdir())) == 5
    assert collect(assigned.course, clock=at(NOON)).ok
    wanted = {k: v for k, v in tree(twin.folder).items() if k not in (".trainkit-lock",)}
    assert {k: v for k, v in tree(assigned.course.folder).items() if k not in (".trainkit-lock",)} == wanted


def test_what_was_lost_under_submitted_is_laid_again(assigned: Bench, tmp_path: Path) -> None:
    assigned.hand_in("amir", tmp_path / "home")
    collect(assigned.course, clock=at(NOON))
    before = tree(assigned.course.submitted)
    (laid(assigned.course, "amir") / "answers.jsonl").write_text("scribbled over")
    collect(assigned.course, clock=at(NOON + timedelta(hours=1)))
    assert tree(assigned.course.submitted) == before
    shutil.rmtree(assigned.course.submitted)
    collect(assigned.course, clock=at(NOON + timedelta(hours=2)))
    assert tree(assigned.course.submitted) == before
    assert not (assigned.course.folder / files.WORK_FOLDER / "old").exists()


def test_a_record_that_cannot_be_read_is_told(assigned: Bench, tmp_path: Path) -> None:
    assigned.hand_in("amir", tmp_path / "home")
    collect(assigned.course)
    (record,) = assigned.course.arrivals.rglob(receipts.RECORD_FILE)
    record.write_text("{}")
    with pytest.raises(CourseError, match="backup"):
        collect(assigned.course)


def test_hundreds_of_hand_ins_are_looked_at_quickly(assigned: Bench, parts: dict[str, bytes]) -> None:
    """Collecting again with nothing new is what happens most: it reads, and writes nothing."""
    for number in range(300):
        zipped(assigned.course.inbox / f"{number}.zip", parts)
    collect(assigned.course)
    began = time.perf_counter()
    outcome = collect(assigned.course)
    assert outcome.data["unchanged"] == 300
    assert time.perf_counter() - began < 20


# ---- names, depth and mass


def test_a_refused_hand_in_says_whose_it_says_it_is(assigned: Bench, parts: dict[str, bytes]) -> None:
    zipped(assigned.course.inbox / "x.zip", parts | {"answers.jsonl": b"rubbish\n"})
    outcome = collect(assigned.course, clock=at(NOON))
    assert "inbox/x.zip, by its word from amir: " in refusals(outcome)
    (line,) = [json.loads(line) for line in assigned.course.arrivals_log.read_text("utf-8").splitlines()]
    assert line["refused"] == "inbox/x.zip, by its word from amir"
    assert datetime.fromisoformat(line["at"]) == NOON
    assert "no readable answer" in line["reason"]


@pytest.mark.skipif(os.name != "posix", reason="names of files are text elsewhere")
def test_names_that_are_no_text_or_steer_a_terminal(
    assigned: Bench, parts: dict[str, bytes], command: Callable[..., Any]
) -> None:
    inbox = os.fsencode(assigned.course.inbox)
    good = zipped(assigned.course.inbox / "good.zip", parts).read_bytes()
    Path(os.fsdecode(inbox + b"/\xff\xfe.zip")).write_bytes(b"no zip")
    (assigned.course.inbox / "a\x1b[2J\u202e\nrefused: b.zip").write_bytes(b"no zip")
    (assigned.course.inbox / "good.zip").unlink()
    Path(os.fsdecode(inbox + b"/taken \xff\x1b.zip")).write_bytes(good)
    said = command("collect", "--course", assigned.course.folder)
    assert said.returncode == 1, said.stderr
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
    here = os.open(assigned.course.inbox, os.O_RDONLY)
    try:
        for _ in range(700):
            os.mkdir("d", dir_fd=here)
            below = os.open("d", os.O_RDONLY, dir_fd=here)
            os.close(here)
            here = below
    finally:
        os.close(here)
    outcome = collect(assigned.course)
    assert "nested more than 20 deep" in refusals(outcome)
    assert len(outcome.data["taken"]) == 1


def test_many_large_journals_in_one_small_zip(assigned: Bench, parts: dict[str, bytes], tmp_path: Path) -> None:
    """Each is within what a journal may have; together they would fill the memory, so the rest is refused."""
    large = parts["answers.jsonl"] + (b" " * 9999 + b"\n") * 300
    members = {
        f"{number}/{name}": large if name == "answers.jsonl" else b"{}" for number in range(40) for name in parts
    }
    path = zipped(tmp_path / "all.zip", members)
    assert path.stat().st_size < 2_000_000
    course = small(assigned.course, hand_in_bytes=9_000_000)
    found = list(readers.from_path(path, course.limits))
    taken = [entry for entry in found if isinstance(entry, readers.HandIn)]
    assert sum(len(entry.journal) for entry in taken) <= 9_000_000
    assert len(taken) == 2
    assert "at most 9000000 bytes together" in refusals(collect(course, path))


def test_a_zip_in_a_zip_is_one_hand_in(assigned: Bench, parts: dict[str, bytes], tmp_path: Path) -> None:
    two = {f"{number}/{name}": content for number in range(2) for name, content in parts.items()}
    inner = zipped(tmp_path / "inner.zip", two).read_bytes()
    one = zipped(tmp_path / "one.zip", parts).read_bytes()
    outcome = collect(assigned.course, zipped(tmp_path / "all.zip", {"a.zip": inner, "b.zip": one}))
    assert "A zip in a zip holds one hand-in" in refusals(outcome)
    assert len(outcome.data["taken"]) == 1


@POSIX
def test_folders_nested_to_no_end_on_the_disk(disk: Bench, parts: dict[str, bytes]) -> None:
    course = small(disk.course, hand_in_files=10_000)
    folder = _fake(disk, f"amir+{MODULE}+2027-03-01 12:00:00 UTC+deep", parts["answers.jsonl"])
    here = os.open(folder, os.O_RDONLY)
    try:
        for _ in range(700):
            os.mkdir("d", dir_fd=here)
            below = os.open("d", os.O_RDONLY, dir_fd=here)
            os.close(here)
            here = below
    finally:
        os.close(here)
    outcome = collect(course)
    # However deep the system can look: it is taken with its answers, or refused in words.
    assert outcome.data["taken"] or "+deep: " in refusals(outcome)
