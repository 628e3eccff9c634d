"""An archive holds everything its figures rest on, opens to the same, and is refused where a byte is another."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sqlalchemy import select

from trainkit_grading.course.folder import Course
from trainkit_grading.errors import ArchiveError, CourseError
from trainkit_grading.keeping import verify
from trainkit_grading.keeping.archive.opening import open_archive
from trainkit_grading.keeping.archive.packing import archive
from trainkit_grading.keeping.forget.forget import forget
from trainkit_grading.keeping.manifest import MANIFEST
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.ledger.tables import LEDGER
from trainkit_grading.marking.mark import mark
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.reports.exports.export import export
from trainkit_grading.reports.score_sheet import report
from trainkit_grading.results import agreement

from .ledgers import rows_of
from .makers import MODULE, ON_BOTH, Run, entries, ledger_of
from .packed import member, members_of, zipped
from .test_forgetting import EVERYTHING, WHY, _used, _used_there, used  # noqa: F401 - fixtures of the course both are about
from .used import GONE, STAYS, clock, naming, sheet_of, written

Inside = list[tuple[zipfile.ZipInfo, bytes]]
Change = Callable[[Inside], object]
HERE = pytest.mark.parametrize("where", ["sqlite"])
FROZEN = Path(__file__).parent / "frozen"
pytestmark = pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning:nbgrader")  # of nbgrader's own relations


@pytest.fixture(scope="module")
def packed(_used: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:  # noqa: F811 - pytest takes it by this name
    """An archive to be tried with."""
    file = tmp_path_factory.mktemp("packed") / "saltmere.zip"
    assert archive(Course.load(_used), file).ok
    return file


def figures(course: Course) -> dict[str, bytes]:
    """Every figure that goes out, as bytes."""
    assert report(course, clock=clock).ok
    assert export(course, clock=clock).ok
    names = ("results", "marks", "readiness", "observations")
    return {"sheet": (course.report / "marks.csv").read_bytes()} | {
        name: (course.folder / "export" / f"{name}.csv").read_bytes() for name in names
    }


def ledger_rows(course: Course) -> dict[str, Any]:
    with gradebook.opened(course) as engine, engine.connect() as connection:
        return {table.name: rows_of(connection, table) for table in LEDGER.sorted_tables}


@ON_BOTH
def test_it_opens_to_the_same_figures(used: Course, tmp_path: Path) -> None:  # noqa: F811 - a fixture
    before, marks, rows = figures(used), sheet_of(used), ledger_rows(used)
    file = tmp_path / "a file.zip"
    done = archive(used, file)
    assert done.ok, done.findings
    assert not done.findings
    # The same course gives the same bytes; nothing but archive/ changes in it.
    assert archive(used).ok
    assert (used.folder / "archive" / "saltmere.zip").read_bytes() == file.read_bytes()
    # Nothing that it was made from is needed any more.
    shutil.rmtree(used.folder)
    opened = open_archive(file, tmp_path / "years later")
    assert opened.ok, opened.findings
    assert not opened.findings
    assert "Its figures come out the same again." in opened.done
    course = Course.load(tmp_path / "years later")
    assert figures(course) == before
    after = sheet_of(course)
    for name in ("points", "answered", "critical", "shown"):
        np.testing.assert_array_equal(getattr(after, name), getattr(marks, name))
    assert ledger_rows(course) == rows
    assert verify.prove(course).ok
    assert agreement.compare(course) == ()
    # Marks stand in a file and the disk is nobody's, whatever it was before; packs are its own.
    assert (course.database, course.exchange_root) == ("", None)
    entry = course.module(MODULE)
    assert Path(course.pack_of(entry, course.workbook(entry).blueprint)).is_relative_to(course.folder)
    assert mark(course).ok
    written(course)
    # Packed again it opens again.
    assert archive(course, tmp_path / "again.zip").ok
    assert open_archive(tmp_path / "again.zip", tmp_path / "later still").ok
    assert figures(Course.load(tmp_path / "later still")) == before


@HERE
def test_what_marks_come_from_is_in_it(used: Course, packed: Path) -> None:  # noqa: F811 - a fixture
    inside = members_of(packed)
    manifest = json.loads(inside[f"saltmere/{MANIFEST}"])
    known = entries(used, Entry)
    hashes = {entry.provenance.pack for entry in known if entry.provenance.pack}
    assert hashes
    for digest in hashes:
        assert hashlib.sha256(inside[f"saltmere/{manifest['packs'][digest]}"]).hexdigest() == digest
    for digest in {entry.provenance.module for entry in known if entry.provenance.module}:
        assert f"saltmere/{manifest['modules'][digest]}" in inside
    software = json.loads(inside["saltmere/archived/software.json"])
    assert {"trainkit-workbooks", "trainkit-grading", "nbgrader"} <= software["distributions"].keys()
    with ledger_of(used) as ledger:
        assert (manifest["entries"], manifest["last_seal"]) == (len(known), ledger.end()[1])
    for path, said in manifest["files"].items():
        content = inside[f"saltmere/{path}"]
        assert (len(content), hashlib.sha256(content).hexdigest()) == (said["bytes"], said["sha256"])
    assert "trainkit-course archive --open" in inside["saltmere/ARCHIVE.txt"].decode()
    for left_out in ("autograded/", "zips/", "inbox/", ".log", ".trainkit-lock"):
        assert not [name for name in inside if left_out in name.removeprefix("saltmere/")]


@HERE
def test_without_its_seed_seals_prove_nothing_and_the_rest_works(used: Course, tmp_path: Path) -> None:  # noqa: F811
    before = figures(used)
    file = tmp_path / "open.zip"
    assert archive(used, file, with_seed=False).ok
    assert used.seed_file.read_bytes().strip() not in b"".join(members_of(file).values())
    opened = open_archive(file, tmp_path / "opened")
    assert opened.ok, opened.findings
    assert any("seals cannot be proven" in line for line in opened.done)
    course = Course.load(tmp_path / "opened")
    assert figures(course) == before
    # What needs no seed is still found out.
    with gradebook.opened(course) as engine, engine.begin() as connection:
        connection.exec_driver_sql("DROP TRIGGER trainkit_note_changed")
        number = connection.execute(select(LEDGER.tables["trainkit_note"].c.entry)).scalars().first()
        connection.exec_driver_sql(f"UPDATE trainkit_note SET text = 'x' WHERE entry = {number}")  # noqa: S608 - a number
    assert not verify.prove(course).ok
    # With the seed put back, all of it is proven.
    shutil.copy(used.seed_file, file.with_name("seed"))
    assert open_archive(file, tmp_path / "again").ok
    again = Course.load(tmp_path / "again")
    (again.keys / "without-seed").unlink()
    again.seed_file.write_bytes(file.with_name("seed").read_bytes())
    assert verify.prove(again).ok


@HERE
def test_links_are_not_followed_and_told(used: Course, tmp_path: Path) -> None:  # noqa: F811 - a fixture
    secret = tmp_path / "secret"
    secret.write_text("nobody's business", "utf-8")
    (used.folder / "link.txt").symlink_to(secret)
    (used.folder / "modules" / "linked").symlink_to(tmp_path)
    done = archive(used, tmp_path / "x.zip")
    assert {finding.place for finding in done.findings} == {"link.txt", "modules/linked"}
    assert b"nobody's business" not in b"".join(members_of(tmp_path / "x.zip").values())


@HERE
def test_whoever_was_forgotten_is_in_no_new_archive(used: Course, tmp_path: Path) -> None:  # noqa: F811 - a fixture
    assert archive(used).ok
    done = forget(used, GONE, WHY)
    # The archive of before is not touched; it is told of.
    assert [f.place for f in done.findings if f.severity == "warning"] == ["archive/saltmere.zip"]
    assert archive(used).ok
    opened = open_archive(used.folder / "archive" / "saltmere.zip", tmp_path / "opened")
    assert opened.ok, opened.findings
    assert not list(naming(tmp_path / "opened", EVERYTHING))
    assert sorted(sheet_of(Course.load(tmp_path / "opened")).people) == ["", STAYS]


def remade(file: Path, into: Path, change: Change) -> Path:
    """Pack an archive again with something changed in it."""
    with zipfile.ZipFile(file) as opened:
        inside = [(info, opened.read(info)) for info in opened.infolist()]
    change(inside)
    return zipped(into, {}, *inside)


@pytest.mark.parametrize("name", ["gradebook.db", "roster.csv", "keys/seed", "archived/figures/marks.csv"])
def test_a_changed_byte_is_refused_with_its_name(packed: Path, tmp_path: Path, name: str) -> None:
    def change(inside: Inside) -> None:
        for place, (info, content) in enumerate(inside):
            if info.filename == f"saltmere/{name}":
                at = len(content) // 2
                inside[place] = (info, content[:at] + bytes([content[at] ^ 1]) + content[at + 1 :])

    with pytest.raises(ArchiveError, match=name):
        open_archive(remade(packed, tmp_path / "x.zip", change), tmp_path / "opened")
    assert not (tmp_path / "opened").exists()
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".opening")]


def test_whatever_byte_of_the_file_is_changed(packed: Path, tmp_path: Path) -> None:
    """A byte anywhere: the archive is refused, or the byte was one that says nothing of any file."""
    data = packed.read_bytes()
    said = members_of(packed)
    rng = np.random.default_rng(20270301)
    refused = 0
    for at in rng.integers(0, len(data), 40).tolist():
        file, folder = tmp_path / "x.zip", tmp_path / f"opened {at}"
        file.write_bytes(data[:at] + bytes([data[at] ^ 0x10]) + data[at + 1 :])
        try:
            open_archive(file, folder)
        except ArchiveError:
            refused += 1
            assert not folder.exists()
        else:
            for name, content in said.items():
                path = folder / name.removeprefix("saltmere/")
                assert name.endswith(MANIFEST) or path.read_bytes() == content
            shutil.rmtree(folder)
    assert refused > 30


def _saying(change: Callable[[dict[str, Any]], None]) -> Change:
    """Change the manifest."""

    def changed(inside: Inside) -> None:
        manifest = json.loads(inside[0][1])
        change(manifest)
        inside[0] = (inside[0][0], json.dumps(manifest).encode())

    return changed


def _adding(path: str, content: bytes = b"x", mode: int = 0o100644) -> Change:
    def change(inside: Inside) -> None:
        said = {"bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
        _saying(lambda manifest: manifest["files"].update({path: said}))(inside)
        _unsaid(f"saltmere/{path}", content, mode)(inside)

    return change


def _unsaid(name: str, content: bytes = b"x", mode: int = 0o100644) -> Change:
    """Add a member of which the manifest says nothing."""
    info = member(name, mode, compress_type=zipfile.ZIP_DEFLATED)
    return lambda inside: inside.append((info, content))


HOSTILE: dict[str, tuple[Change, str]] = {
    "traversal": (_adding("../outside.txt"), "leaves the folder"),
    "deep traversal": (_adding("forms/../../outside.txt"), "leaves the folder"),
    "absolute": (_adding("/etc/outside"), "leaves the folder"),
    "backslash": (_adding("..\\outside.txt"), "not every system"),
    "drive": (_adding("C:outside.txt"), "not every system"),
    "control": (_adding("a\nb"), "not every system"),
    "link": (_adding("keys/link", b"/etc/passwd", 0o120777), "link"),
    "device": (_adding("dev", b"", 0o020644), "link"),
    "in a file": (_adding("roster.csv/x"), "lies in a file"),
    "capitals": (_adding("ROSTER.csv"), "twice"),
    "bomb": (_adding("nothing", b"\0" * 200_000_000), "far more"),
    "missing": (lambda inside: inside.pop(5), "not in the archive"),
    "twice": (lambda inside: inside.append((member(inside[3][0].filename), inside[3][1])), "twice"),
    "beside": (_unsaid("saltmere/more.txt"), "not in the manifest"),
    "elsewhere": (_unsaid("other/more.txt"), "not in the folder"),
    "no manifest": (lambda inside: inside.pop(0), "no archive of a course"),
    "no format": (_saying(lambda manifest: manifest.update(format="two")), "format"),
    "a newer format": (
        _saying(lambda manifest: manifest.update(format=2, more=1)),
        "has format 2, and this release of trainkit reads 1. Nothing was unpacked. Install the release",
    ),
}


@pytest.mark.filterwarnings("ignore:Duplicate name")  # zipfile's own, of what the test makes
@pytest.mark.parametrize("kind", HOSTILE)
def test_what_no_archive_has_is_refused(packed: Path, tmp_path: Path, kind: str) -> None:
    change, rule = HOSTILE[kind]
    home = tmp_path / "home"
    home.mkdir()
    file = remade(packed, tmp_path / "x.zip", change)
    with pytest.raises(ArchiveError, match=rule):
        open_archive(file, home / "opened")
    assert not list(home.iterdir())
    assert {path.name for path in tmp_path.iterdir()} == {"home", "x.zip"}


def test_a_size_that_lies_is_refused(packed: Path, tmp_path: Path) -> None:
    """The directory of a zip can say any size; what comes out is counted."""
    data = bytearray(packed.read_bytes())
    with zipfile.ZipFile(packed) as opened:
        info = opened.getinfo("saltmere/gradebook.db")
    at = data.rindex(b"PK\x01\x02", 0, data.rindex(b"saltmere/gradebook.db"))
    struct.pack_into("<I", data, at + 24, info.file_size - 4096)
    file = tmp_path / "x.zip"
    file.write_bytes(data)
    with pytest.raises(ArchiveError, match=r"gradebook\.db"):
        open_archive(file, tmp_path / "opened")


def test_where_it_cannot_be_opened(packed: Path, tmp_path: Path, command: Run) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("x", "utf-8")
    with pytest.raises(ArchiveError, match="new or an empty folder"):
        open_archive(packed, tmp_path / "full")
    with pytest.raises(CourseError, match=r"nowhere\.zip': This is not there"):
        open_archive(tmp_path / "nowhere.zip", tmp_path / "a")
    (tmp_path / "x.zip").write_bytes(b"no zip")
    with pytest.raises(ArchiveError, match="no whole zip"):
        open_archive(tmp_path / "x.zip", tmp_path / "a")
    said = command("archive", "--open", packed, tmp_path / "opened", "--json")
    assert json.loads(said.stdout)["seed"] is True
    assert oct((tmp_path / "opened" / "keys" / "seed").stat().st_mode)[-3:] == "600"
    command("archive", "--open", packed, status=1)
    command("archive", packed, tmp_path / "full", status=1)


def test_the_archive_of_this_format_opens(tmp_path: Path) -> None:
    """It was packed by the release that began this format, and is never packed again."""
    file = FROZEN / "archive-1.zip"
    opened = open_archive(file, tmp_path / "opened")
    assert opened.ok, opened.findings
    said = json.loads((FROZEN / "archive-1.json").read_text("utf-8"))
    course = Course.load(tmp_path / "opened")
    proven = verify.prove(course)
    assert (proven.ok, proven.data["entries"], proven.data["seal"]) == (True, said["entries"], said["seal"])
    found = {row["apprentice"]: row for row in report(course, clock=clock).data["results"]}
    assert {name: (row["points"], row["verdict"], row["attempt"]) for name, row in found.items()} == {
        name: tuple(of) for name, of in said["results"].items()
    }
    with zipfile.ZipFile(io.BytesIO(file.read_bytes())) as inside:
        assert json.loads(inside.read(f"saltmere/{MANIFEST}"))["format"] == 1
