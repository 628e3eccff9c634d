"""A workbook is somebody else's file: what no honest one holds is refused, quickly and in words."""

from __future__ import annotations

import contextlib
import io
import random
import re
import resource
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from trainkit_grading.errors import CourseError, PackSheetError
from trainkit_grading.pack_xlsx import take_in
from trainkit_grading.pack_xlsx.out import book_of

from .packed import members_of, zipped
from .sheets import START

HONEST = book_of(START, "start.toml")
GEARS = "xl/worksheets/sheet6.xml"

Parts = dict[str, bytes]


def parts() -> Parts:
    return members_of(io.BytesIO(HONEST))


def in_sheet(old: str, new: str) -> Callable[[Parts], None]:
    def change(given: Parts) -> None:
        text = given[GEARS].decode()
        assert re.search(old, text), old
        given[GEARS] = re.sub(old, lambda _: new, text, count=1).encode()

    return change


def added(name: str, data: bytes = b"<a/>") -> Callable[[Parts], None]:
    return lambda given: given.__setitem__(name, data)


def before(name: str, words: bytes) -> Callable[[Parts], None]:
    def change(given: Parts) -> None:
        body = given[name].partition(b"?>")[2] if given[name].startswith(b"<?") else given[name]
        given[name] = b'<?xml version="1.0"?>' + words + body

    return change


LAUGHS = b'<!DOCTYPE a [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>'
OUTSIDE = b'<!DOCTYPE a [<!ENTITY a SYSTEM "file:///etc/passwd">]>'
FAR = '<row r="1048576"><c r="XFD1048576" t="n"><v>1</v></c></row></sheetData>'

HOSTILE: dict[str, tuple[Callable[[Parts], object], str]] = {
    "macros": (added("xl/vbaProject.bin", b"MZ"), "macros"),
    "links-to-other-workbooks": (added("xl/externalLinks/externalLink1.xml"), "links to other workbooks"),
    "embedded-files": (added("xl/embeddings/oleObject1.bin", b"MZ"), "embedded files"),
    "connections": (added("xl/connections.xml"), "connections"),
    "a-bomb": (added("xl/media/image1.xml", b"<a>" + b" " * 60_000_000 + b"</a>"), "Unpacked"),
    "endless-elements": (
        added("xl/theme/theme2.xml", b"<a>" + b"<b/>" * 2_000_000 + b"</a>"),
        "nested so deeply or so long",
    ),
    "deep-nesting": (added("xl/theme/theme2.xml", b"<a>" * 5000 + b"</a>" * 5000), "nested so deeply"),
    "entities": (before(GEARS, LAUGHS), "entities"),
    "outside-entities": (before("xl/workbook.xml", OUTSIDE), "entities"),
    "a-document-type-in-utf-16": (
        added(
            "xl/styles.xml",
            ('<?xml version="1.0" encoding="utf-16"?>' + LAUGHS.decode() + "<a>&b;</a>").encode("utf-16"),
        ),
        "entities",
    ),
    "a-cell-far-away": (in_sheet("</sheetData>", FAR), "at most 30000 rows"),
    "a-wide-row": (in_sheet("</row>", '<c r="XFD1"><v>1</v></c></row>'), "100 columns"),
    "too-many-parts": (lambda given: given.update({f"xl/x{n}.bin": b"" for n in range(500)}), "few parts"),
    "the-same-part-twice": (lambda given: given.update({GEARS.upper(): b"<a/>"}), "each once"),
    "damaged-xml": (in_sheet("</sheetData>", ""), "damaged"),
    "no-sheets": (lambda given: given.pop("xl/workbook.xml"), "no sheets"),
    "a-shared-text-that-is-not-there": (
        in_sheet('t="inlineStr"><is><t>crank', 't="s"><v>77</v></c><c><is><t>crank'),
        "",
    ),
    "a-number-that-is-none": (in_sheet("<v>32</v>", "<v>many</v>"), "cannot be read"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_workbook_is_refused(tmp_path: Path, name: str) -> None:
    change, says = HOSTILE[name]
    given = parts()
    change(given)
    file = zipped(tmp_path / "bad.xlsx", given)
    began, memory = time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises(PackSheetError) as caught:
        take_in(file, tmp_path / "pack.toml")
    assert says in str(caught.value)
    assert caught.value.remedy
    # Not a measurement: a bomb that went off would take minutes and gigabytes.
    assert time.process_time() - began < 30
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - memory < 800_000
    assert not (tmp_path / "pack.toml").exists()


@pytest.mark.parametrize(
    "change",
    [
        in_sheet("<dimension [^>]*/>", '<dimension ref="A1:XFD1048576"/>'),
        in_sheet("</sheetData>", '<row r="1048576" ht="12"/></sheetData>'),
        in_sheet("</row>", '<c r="XFD1" s="1"/></row>'),
        in_sheet("<sheetFormatPr", "<sheetPr/><sheetFormatPr"),
    ],
    ids=["a-huge-dimension", "a-last-row-with-a-height", "a-format-far-away", "properties-twice"],
)
def test_sizes_that_a_file_claims_cost_nothing(tmp_path: Path, change: Callable[[Parts], object]) -> None:
    given = parts()
    change(given)
    began = time.process_time()
    assert take_in(zipped(tmp_path / "odd.xlsx", given), tmp_path / "pack.toml").ok
    assert time.process_time() - began < 20


def test_what_is_no_workbook_is_refused(tmp_path: Path) -> None:
    for content in (b"", b"PK", b"id;name\n", HONEST[: len(HONEST) // 2], b"\xd0\xcf\x11\xe0" + bytes(512)):
        file = tmp_path / "no.xlsx"
        file.write_bytes(content)
        with pytest.raises(PackSheetError, match=r"no workbook|no sheets"):
            take_in(file, tmp_path / "pack.toml")
    for name in ("macros.xlsm", "old.xls", "table.csv", "pack.toml"):
        (tmp_path / name).write_bytes(HONEST)
        with pytest.raises(PackSheetError, match="xlsx"):
            take_in(tmp_path / name, tmp_path / "new.toml")
    with pytest.raises(CourseError, match="not there"):
        take_in(tmp_path / "missing.xlsx", tmp_path / "new.toml")
    (tmp_path / "large.xlsx").write_bytes(HONEST + bytes(9_000_000))
    with pytest.raises(PackSheetError, match="at most"):
        take_in(tmp_path / "large.xlsx", tmp_path / "new.toml")


def test_a_size_that_lies_is_counted(tmp_path: Path) -> None:
    """The zip says that a part is small; what comes out of it counts, or the zip is refused as damaged."""
    given = parts()
    given["xl/media/image1.xml"] = b"<a>" + b" " * 50_000_000 + b"</a>"
    file = zipped(tmp_path / "lie.xlsx", given)
    content = file.read_bytes()
    lie = content.replace((50_000_007).to_bytes(4, "little"), (100).to_bytes(4, "little"))
    assert lie != content
    file.write_bytes(lie)
    with pytest.raises(PackSheetError):
        take_in(file, tmp_path / "pack.toml")


def test_damage_of_any_kind_is_told_and_never_a_traceback(tmp_path: Path) -> None:
    rng = random.Random(7)
    names = [name for name in parts() if name.endswith((".xml", ".rels"))]
    for number in range(40):
        given = parts()
        name = rng.choice([GEARS, *names])
        data = bytearray(given[name])
        for _ in range(rng.randrange(1, 6)):
            place = rng.randrange(len(data))
            match rng.randrange(3):
                case 0:
                    data[place] = rng.choice(b'"<>&/ 0A')
                case 1:
                    del data[place : place + rng.randrange(30)]
                case _:
                    data[place:place] = rng.choice([b"<c/>", b"99999999999", b"-1", b' r="ZZZ0"', b"</row>", b"\xff"])
            if not data:
                break
        given[name] = bytes(data)
        # Anything else that is raised here fails the test; most damage is a finding, or none.
        with contextlib.suppress(PackSheetError):
            take_in(zipped(tmp_path / "d.xlsx", given), tmp_path / f"{number}.toml")
