"""A module that is practised on an engine of the instructor's: its pack goes out with it, and no other does."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.trainkit.plain_engine import plain
from trainkit import modules, packs, workbook
from trainkit_grading.course import packs as assessment
from trainkit_grading.course.folder import Course
from trainkit_grading.intake.collect import collect
from trainkit_grading.marking.mark import mark
from trainkit_grading.release.build import build, graded_notebook
from trainkit_grading.release.check import check

from .makers import MODULE, PEOPLE, Bench, edited, give_out, notebook, refused, tree
from .packed import members_of

HERON = plain("heron")


def practised(bench: Bench, on: str = "packs/heron.toml", content: str | bytes = HERON, more: str = "") -> Bench:
    """Name a pack to practise on in course.toml, and write it."""
    home = bench.course.folder / "packs"
    home.mkdir(exist_ok=True)
    (home / "heron.toml").write_bytes(content if isinstance(content, bytes) else content.encode())
    line = f'folder = "modules/{MODULE}"\n'
    return Bench(edited(bench.course, (line, f'{line}practise_on = "{on}"\n{more}')))


def test_it_lies_beside_the_notebook_wherever_the_module_goes(bench: Bench, tmp_path: Path) -> None:
    (tmp_path / "disk").mkdir()
    edited(bench.course, ('root = ""', f'root = "{(tmp_path / "disk").as_posix()}"'))
    bench = practised(bench)
    give_out(bench.course)
    homes = (bench.course.source, bench.course.release, tmp_path / "disk" / "saltmere" / "outbound")
    for home in homes:
        assert (home / MODULE / "pack.toml").read_text("utf-8") == HERON
    for person, _ in PEOPLE:
        inside = members_of(bench.course.zips / MODULE / f"{person}.zip")
        assert inside[f"{MODULE}/pack.toml"].decode() == HERON
    # An apprentice's workbook is about it; the assessment is drawn from the other one.
    folder = bench.unpack("amir", tmp_path / "laptop")
    book = workbook.Book(modules.load(bench.module), folder)
    assert book.pack.name == "heron"
    assert book.forms is not None
    assert book.forms.pack == "dunlin"
    assert book.form is not None


def test_hand_ins_and_marks_are_as_without_it(bench: Bench, tmp_path: Path) -> None:
    bench = practised(bench)
    give_out(bench.course)
    assert sorted(members_of(bench.hand_in("amir", tmp_path / "laptop"))) == ["answers.jsonl", "identity.json"]
    assert collect(bench.course).ok
    outcome = mark(bench.course)
    assert outcome.ok
    assert not [finding for finding in outcome.findings if "pack" in finding.text]


def test_building_again_changes_nothing_and_without_it_the_file_goes(bench: Bench) -> None:
    plain = bench.course.file.read_text("utf-8")
    bench = practised(bench)
    assert build(bench.course).ok
    before = tree(bench.course.source)
    assert build(bench.course).ok
    assert tree(bench.course.source) == before
    bench.course.file.write_text(plain, "utf-8")
    assert build(Course.load(bench.course.folder)).ok
    assert "pack.toml" not in {path.name for path in bench.course.source.rglob("*")}


def test_forms_and_keys_are_the_same_with_it_and_without(bench: Bench) -> None:
    assert build(bench.course).ok
    before = {name: tree(bench.course.folder / name) for name in ("forms", "keys")}
    assert build(practised(bench).course).ok
    assert {name: tree(bench.course.folder / name) for name in ("forms", "keys")} == before


def test_what_was_shown_of_the_other_engine_is_taken_out_and_cautions_are_the_own_ones(bench: Bench) -> None:
    content = notebook(("A1", "A2", "A3"))
    example: dict[str, Any] = {"output_type": "stream", "name": "stdout", "text": ["42 teeth\n"]}
    content["cells"].append(
        {
            **{"cell_type": "code", "metadata": {}, "source": "print(book.pack.gears[0].teeth)", "id": "example"},
            **{"outputs": [example], "execution_count": 1},
        }
    )
    bench.module.joinpath(f"{MODULE}.ipynb").write_text(json.dumps(content), "utf-8")
    module = modules.load(bench.module)
    pack = packs.load_text(HERON)
    shown = {cell["id"]: cell.get("outputs") for cell in json.loads(graded_notebook(module, pack))["cells"]}
    assert shown["example"] == []
    (cautions,) = shown["cautions"]
    told = "".join(cautions["data"]["text/plain"])
    assert pack.cautions[0].text in told
    assert pack.notice in told
    assert json.loads(graded_notebook(module))["cells"][-1]["outputs"] == [example]


ASSESSED = Path(assessment.find_pack("curlew")).read_text("utf-8")


@pytest.mark.parametrize(
    ("on", "content"),
    [
        pytest.param("curlew", HERON, id="by name"),
        pytest.param("packs/heron.toml", ASSESSED, id="a copy"),
        pytest.param("packs/heron.toml", f"# mine\n{ASSESSED}".replace('"curlew"', '"heron"', 1), id="renamed"),
    ],
)
def test_a_pack_that_is_kept_for_assessment_never_goes_out(bench: Bench, on: str, content: str) -> None:
    bench = practised(bench, on, content)
    assert "no assessment of the course is drawn from it" in refused(build(bench.course))
    assert not bench.course.source.exists() or "pack.toml" not in {p.name for p in bench.course.source.rglob("*")}
    assert "no assessment of the course is drawn from it" in refused(check(bench.course.folder))


def test_nor_does_one_that_another_module_of_the_course_is_assessed_on(bench: Bench) -> None:
    bench = practised(bench, more='\n[[modules]]\nname = "sequence"\npack = "packs/heron.toml"\n')
    assert "no assessment of the course is drawn from it" in refused(build(bench.course, [MODULE]))


def test_a_pack_of_the_course_that_strayed_into_a_folder_stops_the_module(bench: Bench) -> None:
    """Whatever file it is in: as it is, and with the backslashes of a notebook's text."""
    line = f'folder = "modules/{MODULE}"\n'
    (bench.course.folder / "packs").mkdir(exist_ok=True)
    (bench.course.folder / "packs" / "heron.toml").write_text(HERON, "utf-8")
    course = edited(bench.course, (line, f'{line}pack = "packs/heron.toml"\n'))
    home = course.source / MODULE
    home.mkdir(parents=True, exist_ok=True)
    part = HERON[len(HERON) // 3 : len(HERON) // 2]
    for name, content in (("notes.txt", part), ("notes.ipynb", json.dumps({"cells": [part.splitlines(True)]}))):
        (home / name).write_text(content, "utf-8")
        told = refused(build(course, [MODULE]))
        assert f"{MODULE}/{name}" in told
        assert "holds the pack packs/heron.toml" in told
        assert "holds the pack packs/heron.toml" in refused(check(course.folder))
        (home / name).unlink()
    assert build(course, [MODULE]).ok


def test_the_engine_that_everybody_has_may_be_practised_though_it_is_assessed(bench: Bench) -> None:
    bench = practised(bench, "dunlin")
    assert build(bench.course).ok
    laid = (bench.course.source / MODULE / "pack.toml").read_bytes()
    assert laid == packs.bytes_of("dunlin")[0]


@pytest.mark.parametrize(
    ("on", "content", "says"),
    [
        pytest.param("packs/none.toml", HERON, "A pack is a TOML file", id="no file"),
        pytest.param("heron", HERON, "one of those installed", id="no name"),
        pytest.param("packs/heron.toml", b"\xff", "UTF-8", id="no text"),
        pytest.param("packs/heron.toml", HERON.replace('driver = "crank"', 'driver = "krank"'), "krank", id="broken"),
    ],
)
def test_one_that_cannot_be_used_is_told_by_check_and_build(
    bench: Bench, on: str, content: str | bytes, says: str
) -> None:
    bench = practised(bench, on, content)
    assert says in refused(check(bench.course.folder))
    assert says in refused(build(bench.course))


def test_check_tells_what_cannot_be_practised_with_it(bench: Bench) -> None:
    text = bench.module.joinpath("module.toml").read_text("utf-8")
    skill = '[[skills]]\nid = "watched"\nname = "Watched work"\ntemplates = ["capstone/observed-work"]\n\n'
    bench.module.joinpath("module.toml").write_text(text.replace("[[items]]", skill + "[[items]]", 1), "utf-8")
    uncritical = re.sub(r"(?m)^critical = true.*\n", "", HERON)
    found = check(practised(bench, "packs/heron.toml", uncritical).course.folder)
    assert not [each for each in found.findings if each.severity == "refused"]
    (warning,) = [finding for finding in found.findings if "nothing to practise" in finding.text]
    assert warning.severity == "warning"
    assert "Watched work" in warning.text
    assert "Safe order" not in warning.text


def test_it_is_in_a_new_course_file_and_read_back(bench: Bench) -> None:
    from trainkit_grading.release.init import settings_text

    course = practised(bench).course
    assert 'practise_on = "packs/heron.toml"' in settings_text(course)
    assert course.module(MODULE).practise_on == "packs/heron.toml"
