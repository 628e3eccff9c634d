from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import nbformat
import pytest

from trainkit.forms import Forms, Identity
from trainkit_grading.course.folder import Course
from trainkit_grading.errors import BuildError, CourseError
from trainkit_grading.forms import generation
from trainkit_grading.nbgrader_bridge import steps
from trainkit_grading.release import assign as assigning
from trainkit_grading.release import build as building
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import build

from .makers import (
    MODULE,
    PEOPLE,
    Bench,
    asked,
    forms_in,
    give_out,
    module_toml,
    notebook,
    refused,
    set_to,
    tree,
)
from .packed import members_of

Change = Callable[[dict[str, Any]], object]


def authored(bench: Bench, change: Change) -> None:
    content = notebook(("A1", "A2", "A3"))
    change(content)
    bench.module.joinpath(f"{MODULE}.ipynb").write_text(json.dumps(content), "utf-8")


# ---- build


def test_the_source_is_a_graded_notebook_and_forms(bench: Bench) -> None:
    outcome = build(bench.course)
    assert outcome.ok
    assert outcome.data["modules"][MODULE] == {"attempt": 1, "forms": 3, "pack": "dunlin"}
    home = bench.course.source / MODULE
    assert sorted(path.name for path in home.iterdir()) == [f"{MODULE}.ipynb", "forms.json"]
    made = nbformat.read(home / f"{MODULE}.ipynb", as_version=4)
    nbformat.validate(made)
    graded = [cell for cell in made.cells if "nbgrader" in cell.metadata]
    assert [(cell.source, cell.metadata.nbgrader.grade_id, cell.metadata.nbgrader.points) for cell in graded] == [
        ('book.ask("A1")', "A1", 1.0),
        ('book.ask("A2")', "A2", 2.0),
        ('book.ask("A3")', "A3", 3.0),
    ]
    for cell in graded:
        said = cell.metadata.nbgrader
        assert (said.grade, said.solution, said.locked, said.task, said.schema_version) == (True, False, True, False, 3)
        assert cell.metadata.deletable is False
        assert cell.metadata.editable is False
        assert cell.metadata.jupyter.source_hidden is True
        assert cell.outputs == []
    # A worked example keeps its output.
    assert [cell.outputs[0].text for cell in made.cells if cell.get("outputs")] == ["a worked example\n"]
    assert made.metadata.kernelspec.name == "python3"


def test_what_can_be_read_without_a_kernel_stays_and_nothing_else(bench: Bench) -> None:
    control = {"application/vnd.jupyter.widget-view+json": {"model_id": "x"}}

    def outputs(content: dict[str, Any]) -> None:
        def shown(**data: Any) -> dict[str, Any]:
            return {"output_type": "display_data", "metadata": {}, "data": data}

        def cell(source: str, *given: dict[str, Any]) -> dict[str, Any]:
            return {"cell_type": "code", "metadata": {}, "source": source, "outputs": [*given], "execution_count": 9}

        text = {"text/plain": "worked"}
        content["metadata"]["widgets"] = {"state": "old"}
        content["cells"] += [
            cell("book.practice('order')", shown(**text)),
            cell("show()", shown(**text, **control), shown(**control)),
            cell("2 + 2", {"output_type": "execute_result", "execution_count": 9, "metadata": {}, "data": text}),
            cell("1 / 0", {"output_type": "error", "ename": "E", "evalue": "", "traceback": ["/home/author"]}),
        ]

    authored(bench, outputs)
    made = nbformat.reads(building.graded_notebook(bench.course.workbook(bench.course.modules[0])), as_version=4)
    by_source = {cell["source"]: cell for cell in made["cells"]}
    assert by_source["book.practice('order')"]["outputs"] == []
    assert [output["data"] for output in by_source["show()"]["outputs"]] == [{"text/plain": "worked"}]
    assert by_source["2 + 2"]["outputs"][0]["execution_count"] is None
    assert by_source["1 / 0"]["outputs"] == []
    assert {cell.get("execution_count") for cell in made["cells"]} == {None}
    assert "widgets" not in made["metadata"]


def test_building_changes_nothing_authored_and_again_no_byte(bench: Bench) -> None:
    authored = tree(bench.module)
    build(bench.course)
    assert tree(bench.module) == authored
    before = tree(bench.course.folder)
    times = {path: path.stat().st_mtime_ns for path in bench.course.source.rglob("*")}
    build(bench.course)
    assert tree(bench.course.folder) == before
    assert {path: path.stat().st_mtime_ns for path in bench.course.source.rglob("*")} == times


def test_cells_without_names_get_the_same_ones_every_time(bench: Bench) -> None:
    def nameless(content: dict[str, Any]) -> None:
        content["nbformat_minor"] = 4
        for cell in content["cells"]:
            cell.pop("id", None)

    authored(bench, nameless)
    texts = {building.graded_notebook(bench.course.workbook(bench.course.modules[0])) for _ in range(3)}
    assert len(texts) == 1


def _drop(number: int) -> Change:
    return lambda content: content["cells"].pop(number)


def _source(number: int, text: str) -> Change:
    return lambda content: content["cells"][number].update(source=text)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        pytest.param(_drop(4), ["A2: No cell asks this item"], id="item without a cell"),
        pytest.param(_source(4, "book.ask('A9')"), ["no item 'A9'", "A2: No cell asks"], id="cell without an item"),
        pytest.param(_source(4, 'book.ask("A1")'), ["asked twice", "A2: No cell asks"], id="twice"),
        pytest.param(_source(4, 'x = 1\nbook.ask("A2")'), ["nothing else"], id="more than the question"),
        pytest.param(_source(0, "book = 1"), [f'workbook.open("{MODULE}")', "opened before it asks"], id="not opened"),
        pytest.param(
            _source(0, 'book = workbook.open("lock-pin")'), ["opens 'lock-pin', the blueprint is"], id="other"
        ),
        pytest.param(
            lambda content: content["cells"][2]["metadata"].update(nbgrader={"grade": True, "grade_id": "x"}),
            ["Only a cell with book.ask is graded"],
            id="graded without a question",
        ),
        pytest.param(lambda content: content.update(cells="none"), ["format 4"], id="no cells"),
        pytest.param(lambda content: content.update(nbformat=3), ["format 4"], id="old format"),
        pytest.param(
            lambda content: content["cells"][1].update(cell_type="poem"), ["notebook of format 4.5"], id="no notebook"
        ),
    ],
)
def test_notebook_and_blueprint_fit_both_ways(bench: Bench, change: Change, says: list[str]) -> None:
    authored(bench, change)
    told = refused(build(bench.course))
    for words in says:
        assert words in told
    assert not bench.course.source.exists()


def test_a_wrong_module_costs_no_other(bench: Bench) -> None:
    other = bench.course.folder / "modules" / "bench-other"
    shutil.copytree(bench.module, other)
    (other / f"{MODULE}.ipynb").rename(other / "bench-other.ipynb")
    (other / "module.toml").write_text(module_toml(module="bench-other").replace("why-before", "no-such"), "utf-8")
    with bench.course.file.open("a", encoding="utf-8") as stream:
        stream.write('\n[[modules]]\nname = "bench-other"\nfolder = "modules/bench-other"\n')
    outcome = build(Course.load(bench.course.folder))
    told = refused(outcome)
    assert "no-such" in told
    assert "module.toml" in told
    assert set(outcome.data["modules"]) == {MODULE}
    assert (bench.course.source / MODULE / "forms.json").is_file()


def test_wrong_roster_lines_cost_nobody_else_their_form(bench: Bench) -> None:
    with bench.course.roster_file.open("a", encoding="utf-8") as stream:
        stream.write("../x,Climber\nzoë,Zoë\n")
    outcome = build(bench.course)
    assert "roster.csv line 5" in refused(outcome)
    assert outcome.data["modules"][MODULE]["forms"] == 4


def test_nothing_to_build(bench: Bench) -> None:
    bench.write_roster(())
    assert "Nobody is on the roster" in refused(build(bench.course))
    with pytest.raises(CourseError, match="runs bench-order"):
        build(bench.course, ["lock-pin"])
    bench.write_roster(PEOPLE)
    bench.module.joinpath("module.toml").write_text(module_toml(pack="no-such-pack"), "utf-8")
    assert "no-such-pack" in refused(build(bench.course))
    shutil.rmtree(bench.module)
    assert "module.toml" in refused(build(bench.course))


def test_a_broken_notebook_is_told(bench: Bench) -> None:
    path = bench.module / f"{MODULE}.ipynb"
    for content in (b"", b"[]", b"\xff", b"[" * 100_000, b'{"cells": [1], "nbformat": 4}'):
        path.write_bytes(content)
        assert f"{MODULE}.ipynb" in refused(build(bench.course))
    path.unlink()
    with pytest.raises(BuildError, match="authored notebook"):
        building.graded_notebook(bench.course.workbook(bench.course.modules[0]))


@pytest.mark.parametrize("moment", range(6))
def test_a_build_that_is_stopped_goes_on(bench: Bench, monkeypatch: pytest.MonkeyPatch, moment: int) -> None:
    """Stopped at any file it writes, each file is the old or the new one, and building again gives the whole."""
    build(bench.course)
    whole = tree(bench.course.folder)
    for folder in (bench.course.source, bench.course.folder / "forms", bench.course.keys / MODULE):
        shutil.rmtree(folder)
    calls = 0
    sync = os.fsync

    def stop(descriptor: int) -> None:
        nonlocal calls
        calls += 1
        if calls > moment:
            raise KeyboardInterrupt
        sync(descriptor)

    monkeypatch.setattr(os, "fsync", stop)
    if moment < 4:  # four files: keys, forms, forms.json, the notebook
        with pytest.raises(KeyboardInterrupt):
            build(bench.course)
    monkeypatch.setattr(os, "fsync", sync)
    assert {path: whole[path] for path in tree(bench.course.folder)} == tree(bench.course.folder)
    assert build(bench.course).ok
    assert tree(bench.course.folder) == whole


# ---- what strays in


@pytest.mark.parametrize("folder", ["source", "release"])
@pytest.mark.parametrize("name", ["answers.jsonl", "deep/ANSWERS.jsonl", "identity.json", "x.handin.zip"])
def test_a_stray_journal_makes_build_and_assign_refuse(assigned: Bench, folder: str, name: str) -> None:
    stray = assigned.course.folder / folder / MODULE / name
    stray.parent.mkdir(exist_ok=True)
    stray.write_bytes(b"{}\n")
    before = tree(assigned.course.folder)
    told = refused(assign(assigned.course))
    assert f"{folder}/{MODULE}/{name}" in told
    if folder == "source":
        assert f"{folder}/{MODULE}/{name}" in refused(build(assigned.course))
    assert tree(assigned.course.folder) == before
    stray.unlink()
    assert assign(assigned.course).ok


def test_a_link_or_a_key_in_the_source_makes_assign_refuse(assigned: Bench) -> None:
    home = assigned.course.source / MODULE
    home.joinpath("hints").symlink_to(assigned.course.keys)
    assert "link" in refused(assign(assigned.course))
    home.joinpath("hints").unlink()
    shutil.copy(assigned.course.key_file(MODULE, 1), home / "notes.json")
    assert "holds keys" in refused(assign(assigned.course))
    home.joinpath("notes.json").write_text("x" + assigned.course.seed().secret.hex() + "y", "ascii")
    assert "secret seed" in refused(assign(assigned.course))


# ---- assign


def test_the_release_is_nbgraders_and_the_gradebook_knows_the_items(assigned: Bench) -> None:
    release = assigned.course.release / MODULE
    assert sorted(path.name for path in release.iterdir()) == [f"{MODULE}.ipynb", "forms.json"]
    made = nbformat.read(release / f"{MODULE}.ipynb", as_version=4)
    graded = [cell for cell in made.cells if "nbgrader" in cell.metadata]
    assert [cell.metadata.nbgrader.grade_id for cell in graded] == ["A1", "A2", "A3"]
    assert all(cell.metadata.nbgrader.checksum for cell in graded)
    # Cautions can be read before anything is run; questions are empty.
    assert [cell.source for cell in made.cells if cell.get("outputs")] == ["book.cautions()"]
    query = "select base_cell.name, max_score from grade_cells join base_cell using (id) order by base_cell.name"
    assert asked(assigned.course.gradebook, query) == [("A1", 1.0), ("A2", 2.0), ("A3", 3.0)]
    assert len(asked(assigned.course.gradebook, "select version_num from alembic_version")) == 1


def test_our_gradebook_is_the_one_that_nbgrader_would_make(bench: Bench, tmp_path: Path) -> None:
    def shape(path: Path) -> dict[str, Any]:
        tables = asked(path, "select name, sql from sqlite_master order by name")
        versions = asked(path, "select version_num from alembic_version")
        # How the version table's column is spelled out may differ in spaces alone.
        return {"tables": [(name, " ".join((sql or "").split())) for name, sql in tables], "versions": versions}

    with steps.prepared():
        from nbgrader.api import Gradebook

        steps.found_gradebook(bench.course)
        Gradebook(f"sqlite:///{tmp_path / 'theirs.db'}").close()
    assert shape(bench.course.gradebook) == shape(tmp_path / "theirs.db")


def test_each_zip_holds_one_apprentices_form(assigned: Bench) -> None:
    everything = forms_in(assigned.course.release / MODULE)
    for identifier, name in PEOPLE:
        inside = members_of(assigned.course.zips / MODULE / f"{identifier}.zip")
        names = [f"{MODULE}/{name}" for name in (f"{MODULE}.ipynb", "forms.json", "identity.json")]
        assert sorted(inside) == names
        released, forms_text, identity = (inside[name] for name in names)
        forms = Forms.model_validate_json(forms_text, strict=False)
        who = Identity.model_validate_json(identity)
        assert released == (assigned.course.release / MODULE / f"{MODULE}.ipynb").read_bytes()
        assert (who.course, who.apprentice, who.name) == ("saltmere", identifier, name)
        assert [form.code for form in forms.forms] == [everything.of(identifier).code]
        assert forms.of(identifier) == everything.of(identifier)
    seed = assigned.course.seed()
    assert len({assigning.identity(assigned.course, one, seed).code for one in assigned.course.roster()}) == 3


def test_assigning_again_changes_no_byte_of_what_is_out(assigned: Bench) -> None:
    def out() -> dict[str, bytes]:
        course = assigned.course
        return {**tree(course.release), **tree(course.zips), **tree(course.folder / "forms"), **tree(course.keys)}

    before = out()
    assert assign(assigned.course).ok
    assert out() == before


def test_a_late_joiner_changes_nobody_elses_zip(assigned: Bench) -> None:
    before = tree(assigned.course.zips)
    assigned.write_roster((*PEOPLE, ("zoë", "Zoë")))
    given = assign(assigned.course)
    assert given.ok
    assert any("Forms added for Zoë" in finding.text for finding in given.findings)
    after = tree(assigned.course.zips)
    assert {path: after[path] for path in before} == before
    assert set(after) - set(before) == {f"{MODULE}/zoë.zip"}


def test_once_out_a_changed_module_is_told_of_and_nothing_is_touched(assigned: Bench) -> None:
    before = tree(assigned.course.folder)
    assigned.module.joinpath("module.toml").write_text(module_toml().replace("points = 2", "points = 5"), "utf-8")
    outcome = build(assigned.course)
    assert outcome.ok
    assert ["attempt = 2" in finding.text for finding in outcome.findings] == [True]
    after = tree(assigned.course.folder)
    changed = {path for path in after if after[path] != before.get(path)}
    assert changed == {f"modules/{MODULE}/module.toml"}


def test_a_new_attempt_gives_new_forms_and_keeps_the_old_keys(assigned: Bench) -> None:
    first = generation.read_forms(assigned.course.forms_file(MODULE, 1))
    course = set_to(assigned.course, attempt="2")
    assert "attempt 2 of this one is not" in refused(assign(course))
    released = forms_in(give_out(course).release / MODULE)
    assert first is not None
    assert released.attempt == 2
    assert {form.code for form in released.forms}.isdisjoint(form.code for form in first.forms)
    assert generation.read_forms(course.forms_file(MODULE, 1)) == first
    assert generation.read_keys(course.key_file(MODULE, 1)) is not None


def test_a_module_whose_files_do_not_belong_together_is_refused(assigned: Bench) -> None:
    assigned.course.forms_file(MODULE, 1).unlink()
    assert f"trainkit-course build {MODULE}" in refused(assign(assigned.course))
    give_out(assigned.course)
    source = assigned.course.source / MODULE / "forms.json"
    source.write_text(source.read_text("utf-8").replace("Order on the bench", "Another"), "utf-8")
    assert "belong together" in refused(assign(assigned.course))


def test_due_dates_reach_forms_and_gradebook(assigned: Bench) -> None:
    course = set_to(assigned.course, attempt="1\ndue = 2027-04-01T16:00:00+02:00")
    give_out(course)
    assert asked(course.gradebook, "select duedate from assignment")[0][0].startswith("2027-04-01 14:00:00")
    assert forms_in(course.release / MODULE).due == "2027-04-01T16:00:00+02:00"


def test_a_failing_configuration_is_told(assigned: Bench) -> None:
    assigned.course.nbgrader_config.write_text("1 / 0\n", "utf-8")
    assert "ZeroDivisionError" in refused(assign(assigned.course))
    assigned.course.nbgrader_config.unlink()
    assert "nbgrader_config.py" in refused(assign(assigned.course))


def test_what_nbgrader_refuses_is_told_in_its_words(assigned: Bench) -> None:
    broken = assigned.course.source / MODULE / f"{MODULE}.ipynb"
    content = json.loads(broken.read_text("utf-8"))
    content["cells"][3]["metadata"]["nbgrader"]["grade_id"] = "A2"
    broken.write_text(json.dumps(content), "utf-8")
    before = tree(assigned.course.release)
    assert "Duplicate grade id: A2" in refused(assign(assigned.course))
    assert tree(assigned.course.release) == before


def test_an_interrupted_assign_leaves_the_old_release(assigned: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    assigned.write_roster((*PEOPLE, ("zoë", "Zoë")))
    build(assigned.course)
    before = tree(assigned.course.release)

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    for module, place in ((generation, "record_release"), (generation, "only"), (assigning, "workbook_zip")):
        with monkeypatch.context() as patch:
            patch.setattr(module, place, stop)
            with pytest.raises(KeyboardInterrupt):
                assign(assigned.course)
        assert module is assigning or tree(assigned.course.release) == before
    assert assign(assigned.course).ok
    assert set(tree(assigned.course.zips)) == {f"{MODULE}/{name}.zip" for name in ("amir", "o'brien", "さくら", "zoë")}


@pytest.mark.skipif(os.name != "posix", reason="nbgrader's shared disk needs POSIX")
def test_the_shared_disk(assigned: Bench, tmp_path: Path) -> None:
    shared = tmp_path / "exchange disk"
    course = set_to(assigned.course, root='"../exchange disk"')
    shared.mkdir()
    outcome = assign(course)
    assert outcome.ok
    assert outcome.data["modules"][MODULE]["shared_disk"] is True
    out = shared / "saltmere" / "outbound" / MODULE
    assert tree(out) == tree(course.release / MODULE)
    moment = out.stat().st_mtime_ns
    assert assign(course).ok
    assert out.stat().st_mtime_ns == moment  # the same again is not copied again while apprentices may be fetching
    course.nbgrader_config.write_text(course.nbgrader_config.read_text() + "c.CourseDirectory.course_id = ''\n")
    (out / "forms.json").write_text("stale")
    assert "course id" in refused(assign(course)).casefold()
