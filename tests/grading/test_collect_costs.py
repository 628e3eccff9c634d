"""What a hand-in may cost, and that a bad one costs only itself."""

from __future__ import annotations

import io
import stat
import struct
import time
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.bench.worst_zips import listing
from trainkit_grading.course.folder import Limits
from trainkit_grading.errors import HandInError
from trainkit_grading.intake import readers
from trainkit_grading.intake.collect import collect
from trainkit_grading.intake.readers.base import HandIn
from trainkit_grading.intake.readers.costs import Budget, files_listed
from trainkit_grading.intake.readers.zips import read_zip
from trainkit_grading.support.files import held
from trainkit_grading.support.outcome import Finding

from .makers import NOON, PEOPLE, Bench, refused
from .packed import member, members_of, nest, zipped

HONEST = tuple(identifier for identifier, _ in PEOPLE)


@pytest.fixture
def everybody(assigned: Bench, tmp_path: Path) -> dict[str, bytes]:
    """Return the hand-in files of everybody."""
    made = {name: assigned.hand_in(name, tmp_path / name) for name in HONEST}
    held_in = {name: path.read_bytes() for name, path in made.items()}
    for path in made.values():
        path.unlink()
    return held_in


def folders(everybody: dict[str, bytes]) -> dict[str, bytes]:
    return {
        f"{name}/{inside}": content
        for name, packed in everybody.items()
        for inside, content in members_of(io.BytesIO(packed)).items()
    }


def taken(bench: Bench, path: Path) -> tuple[list[str], str]:
    """Collect a zip; return whose hand-ins were taken, and what was refused."""
    outcome = collect(bench.course, path)
    return sorted(entry["apprentice"] for entry in outcome.data["taken"]), refused(outcome)


Info = tuple[zipfile.ZipInfo, bytes]
BAD: tuple[tuple[str, Info, str], ...] = (
    ("climbing", (member("amir/../x"), b""), "leaves it"),
    ("link", (member("amir/notes.txt", stat.S_IFLNK | 0o777), b"/etc/passwd"), "a link"),
    ("device", (member("amir/x", stat.S_IFCHR | 0o644), b""), "a device"),
    ("twin", (member("amir/answers.jsonl"), b"{}"), "a name of its own"),
    ("twin in other words", (member("amir/./identity.json"), b"{}"), "a name of its own"),
    ("too large", (member("amir/video.mp4"), bytes(51_000_000)), "at most"),
)


@pytest.mark.parametrize(("bad", "says"), [pytest.param(bad, says, id=name) for name, bad, says in BAD])
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_bad_member_costs_only_the_hand_in_it_lies_in(
    assigned: Bench, everybody: dict[str, bytes], tmp_path: Path, bad: Info, says: str
) -> None:
    path = zipped(tmp_path / "all.zip", folders(everybody), bad)
    people, told = taken(assigned, path)
    assert people == sorted(set(HONEST) - {"amir"})
    assert "all.zip › amir" in told
    assert says in told


@pytest.mark.parametrize("name", ["C:\\amir\\answers.jsonl", "/amir/answers.jsonl", "..\\amir\\answers.jsonl", "c:x"])
def test_a_name_that_leads_elsewhere_costs_nobody_anything(
    assigned: Bench, everybody: dict[str, bytes], tmp_path: Path, name: str
) -> None:
    people, told = taken(assigned, zipped(tmp_path / "all.zip", folders(everybody), (member(name), b"x")))
    assert people == sorted(HONEST)
    assert "leaves it" in told
    assert told.count("\n") == 0


def test_twins_among_zips_cost_only_themselves(
    assigned: Bench, everybody: dict[str, bytes], tmp_path: Path, recwarn: pytest.WarningsRecorder
) -> None:
    inner = {f"{name}.zip": packed for name, packed in everybody.items()}
    path = zipped(tmp_path / "all.zip", inner, (member("amir.zip"), everybody["o'brien"]))
    recwarn.pop(UserWarning)  # zipfile warns of what is wanted here
    people, told = taken(assigned, path)
    assert people == sorted(set(HONEST) - {"amir"})
    assert "all.zip › amir.zip" in told


@pytest.mark.parametrize("nested", [True, False], ids=["zips", "folders"])
def test_a_wrong_checksum_costs_only_its_hand_in(
    assigned: Bench, everybody: dict[str, bytes], tmp_path: Path, nested: bool
) -> None:
    inner = {f"{name}.zip": packed for name, packed in everybody.items()} if nested else folders(everybody)
    data = bytearray(zipped(tmp_path / "all.zip", inner).read_bytes())
    name = next(name for name in inner if name.startswith("amir") and not name.endswith("identity.json")).encode()
    entry = data.rindex(name) - 46
    assert data[entry : entry + 4] == b"PK\x01\x02"
    struct.pack_into("<L", data, entry + 16, 7)
    (tmp_path / "all.zip").write_bytes(data)
    people, told = taken(assigned, tmp_path / "all.zip")
    assert people == sorted(set(HONEST) - {"amir"})
    assert "damaged" in told


def read(content: bytes, limits: Limits | None = None, budget: Budget | None = None) -> tuple[list[HandIn], list[str]]:
    found = list(read_zip(io.BytesIO(content), "x.zip", NOON, limits or Limits(), budget))
    return (
        [entry for entry in found if isinstance(entry, HandIn)],
        [entry.text for entry in found if isinstance(entry, Finding)],
    )


def test_zips_that_list_many_files_stop_nobody(assigned: Bench, everybody: dict[str, bytes], tmp_path: Path) -> None:
    """Ninety zips with 100,000 files each took 90 seconds, with the course locked."""
    inner = {f"{name}.zip": packed for name, packed in everybody.items()}
    inner |= dict.fromkeys((f"{number}/a.zip" for number in range(90)), listing(100_000))
    path = zipped(tmp_path / "all.zip", inner)
    before = time.process_time()
    people, told = taken(assigned, path)
    assert time.process_time() - before < 10
    assert people == sorted(HONEST)
    assert "at most 200 files" in told


@pytest.mark.parametrize("files", [0, 1, 2, 199, 200, 201, 70_000])
def test_files_are_counted_as_zipfile_counts_them(files: int) -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as made:
        made.comment = b"PK\x05\x06 and more"[4:]
        for number in range(files):
            made.writestr(f"{number:05d}", b"")
    with zipfile.ZipFile(buffer) as packed:
        assert files_listed(buffer, "x.zip", Limits(), 80_000) == len(packed.infolist()) == files
    if files > 200:
        with pytest.raises(HandInError, match="at most 200 files"):
            files_listed(buffer, "x.zip", Limits(), 200)


def with_a_second_end(content: bytes, **changes: int) -> bytes:
    """Return a zip with the second end that programs write for large zips."""
    at = content.rindex(b"PK\x05\x06")
    count, size, offset = struct.unpack("<HLL", content[at + 10 : at + 20])
    said = {"length": 44, "size": size, "place": at, "old": 0xFFFFFFFF} | changes
    second = struct.pack("<4sQ2H2L4Q", b"PK\x06\x06", said["length"], 45, 45, 0, 0, count, count, said["size"], offset)
    locator = struct.pack("<4sLQL", b"PK\x06\x07", 0, said["place"], 1)
    end = bytearray(content[at:])
    struct.pack_into("<LL", end, 12, said["old"], 0xFFFFFFFF)
    return content[:at] + second + locator + bytes(end)


def test_a_large_zips_second_end_is_read(parts: dict[str, bytes], tmp_path: Path) -> None:
    content = zipped(tmp_path / "x.zip", parts).read_bytes()
    taken_in, told = read(with_a_second_end(content))
    assert [entry.journal for entry in taken_in] == [parts["answers.jsonl"]]
    assert not told


@pytest.mark.parametrize(
    "changes", [{"length": 60}, {"place": 3}, {"old": 46}, {"size": 2**40}, {"size": 2**63}], ids=str
)
def test_a_second_end_on_which_readers_disagree_is_refused(
    parts: dict[str, bytes], tmp_path: Path, changes: dict[str, int]
) -> None:
    taken_in, told = read(with_a_second_end(zipped(tmp_path / "x.zip", parts).read_bytes(), **changes))
    assert not taken_in
    assert len(told) == 1


def test_the_greedy_ones_are_refused_and_not_those_beside_them(parts: dict[str, bytes], tmp_path: Path) -> None:
    """The small are read first, and what is spent is not opened any more."""
    inner = {f"{number}.zip": bytes(4_000_000) for number in range(9)}
    small = zipped(tmp_path / "one.zip", parts).read_bytes()
    content = zipped(tmp_path / "all.zip", inner | {f"z{number}.zip": small for number in range(3)}).read_bytes()
    taken_in, told = read(content)
    assert len(taken_in) == 3
    assert sum("unpacks to at most" in text for text in told) == 1
    assert sum("used up" in text for text in told) == 3
    assert sum("is none" in text for text in told) == 5


def test_what_takes_too_long_is_given_up(parts: dict[str, bytes], tmp_path: Path) -> None:
    small = zipped(tmp_path / "one.zip", parts).read_bytes()
    content = zipped(tmp_path / "all.zip", {f"{number}.zip": small for number in range(9)}).read_bytes()
    seconds: Iterator[float] = iter(range(0, 900, 5))
    taken_in, told = read(content, budget=Budget.of(len(content), Limits(), lambda: next(seconds)))
    assert 0 < len(taken_in) < 9
    assert len(taken_in) + len(told) == 9
    assert all("takes too long" in text for text in told)


def test_ten_thousand_bad_names_are_not_told_one_by_one(parts: dict[str, bytes], tmp_path: Path) -> None:
    bad = {f"C:/{number}/answers.jsonl": b"" for number in range(4_000)}
    content = zipped(tmp_path / "all.zip", bad | {f"good/{name}": content for name, content in parts.items()})
    taken_in, told = read(content.read_bytes())
    assert len(taken_in) == 1
    assert len(told) == 101
    assert told[-1].startswith("3900 more refusals are not listed")


def test_second_halves_that_some_systems_pack_are_no_hand_ins(
    assigned: Bench, everybody: dict[str, bytes], tmp_path: Path
) -> None:
    inner = {f"{name}.zip": packed for name, packed in everybody.items()}
    inner |= {f"__MACOSX/._{name}": b"\0\5\x16\7" for name in inner}
    outcome = collect(assigned.course, zipped(tmp_path / "all.zip", inner))
    assert outcome.ok
    assert len(outcome.data["taken"]) == 3


def test_the_course_is_free_while_hand_ins_are_read(
    assigned: Bench, everybody: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, packed in everybody.items():
        (assigned.course.inbox / f"{name}.zip").write_bytes(packed)
    read_before: Callable[[Path, Limits], Iterator[HandIn | Finding]] = readers.from_path
    free = []

    def watched(path: Path, limits: Limits) -> Iterator[HandIn | Finding]:
        for found in read_before(path, limits):
            with held(assigned.course.folder, wait=0):
                free.append(found.place)
            yield found

    monkeypatch.setattr(readers, "from_path", watched)
    assert len(collect(assigned.course).data["taken"]) == len(free) == 3


def test_folders_on_the_shared_disk_nested_to_no_end(tmp_path: Path, parts: dict[str, bytes]) -> None:
    inbound = tmp_path / "inbound"
    for name in ("amir+bench-order+now", "zoe+bench-order+now"):
        (inbound / name).mkdir(parents=True)
        (inbound / name / "answers.jsonl").write_bytes(parts["answers.jsonl"])
    nest(inbound / "amir+bench-order+now")
    for number in range(130):
        (inbound / f"odd {number}").touch()
    found = list(readers.from_exchange(inbound, Limits()))
    assert [entry.user for entry in found if isinstance(entry, HandIn)] == ["zoe"]
    told = [entry.text for entry in found if isinstance(entry, Finding)]
    assert any("at most 20 deep" in text for text in told)
    assert told[-1].startswith("30 more refusals")
