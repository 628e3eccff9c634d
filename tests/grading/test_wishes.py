"""What an engine cannot show is left out of every form alike and told of; what fails costs only itself."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest

from trainkit.items.facts import Draw
from trainkit.items.template import find
from trainkit.packs import Pack
from trainkit_grading.forms.generation import Drawing, write
from trainkit_grading.intake.collect import collect
from trainkit_grading.marking.mark import mark
from trainkit_grading.record.provenance import module_digest
from trainkit_grading.release.build import build
from trainkit_grading.release.check import check
from trainkit_grading.reports.instructor.report import write_instructor_report

from .makers import MODULE, PEOPLE, Bench, edited, give_out, key_file, module_toml, refused, text_of, tree

WISHED = 'shows = ["clean-after-mating", "clock-backwards"]\n'
# An order of steps is never about a clock face.
LEFT_OUT = {"A1": ("clock-backwards",)}
WHY = "sequence/why-before"


def wishing(bench: Bench) -> Bench:
    text = module_toml().replace("points = 1\n", f"points = 1\n{WISHED}", 1)
    bench.module.joinpath("module.toml").write_text(text, "utf-8")
    return bench


def head_of(bench: Bench) -> dict[str, Any]:
    head: dict[str, Any] = json.loads(bench.course.key_file(MODULE, 1).read_bytes().splitlines()[0])
    return head


def test_what_cannot_be_asked_is_recorded_with_the_keys_and_told(bench: Bench) -> None:
    outcome = build(wishing(bench).course)
    assert outcome.ok
    (note,) = outcome.findings
    assert (note.severity, note.place) == ("note", f"{MODULE} A1")
    assert note.text.startswith("Not askable here: “")
    head = head_of(bench)
    assert (head["format"], head["not_askable"]) == (3, {"A1": ["clock-backwards"]})
    keys = key_file(bench.course)
    assert keys.not_askable == LEFT_OUT
    assert all("clean-after-mating" in own.facts["A1"].could_show for own in keys.forms.values())
    assert build(bench.course).findings == outcome.findings


def test_the_digest_covers_it_and_is_as_it_was_where_nothing_is_left_out(bench: Bench) -> None:
    build(bench.course)
    head, keys = head_of(bench), key_file(bench.course)
    assert "not_askable" not in head
    assert head["format"] == 3  # for the spoken checks alone
    assert module_digest(MODULE, keys.plan, {}) != module_digest(MODULE, keys.plan, LEFT_OUT)
    # As in the ledgers of running courses.
    assert module_digest("m", (), {}) == "2e6f4c9739f7d56b1369da40e34036f77a100fc3ded277fc4dd13df59a3f33e6"


def test_who_joins_late_gets_the_same_sort_of_item(bench: Bench) -> None:
    give_out(wishing(bench).course)
    # As if the software could not show the other one, either, when the first forms were drawn.
    keys = key_file(bench.course)
    both = {"A1": ("clean-after-mating", "clock-backwards")}
    built = (bench.course.source / MODULE / "forms.json").read_bytes()
    from trainkit_grading.forms.generation import read_forms

    forms = read_forms(bench.course.forms_file(MODULE, 1))
    assert forms is not None
    write(bench.course, Drawing(forms, keys.model_copy(update={"not_askable": both})))
    bench.write_roster((*PEOPLE, *((f"late{number}", f"Late {number}") for number in range(12))))
    assert build(bench.course).ok
    assert (bench.course.source / MODULE / "forms.json").read_bytes() != built
    after = key_file(bench.course)
    assert after.not_askable == both
    late = [own for own in after.forms.values() if own.apprentice.startswith("late")]
    assert not all("clean-after-mating" in own.facts["A1"].could_show for own in late)


def test_the_instructor_reads_what_is_not_askable(bench: Bench, tmp_path: Path) -> None:
    give_out(wishing(bench).course)
    bench.hand_in("amir", tmp_path / "laptop")
    assert collect(bench.course).ok
    assert mark(bench.course).ok
    assert write_instructor_report(bench.course).ok
    page = text_of((bench.course.report / "class.html").read_text("utf-8"))
    assert "Not askable here" in page
    assert "Order on the bench, A1" in page


def failing(monkeypatch: pytest.MonkeyPatch, every: int) -> None:
    """Let one template fail unexpectedly at every so many draws."""
    kind, made = type(find(WHY)), [0]
    sketch = kind.sketch

    def fails(of: Any, rng: random.Random, pack: Pack, shuffle: random.Random, /) -> Draw:
        made[0] += 1
        if made[0] % every == 0:
            raise ZeroDivisionError("division by zero")
        return sketch(of, rng, pack, shuffle)

    monkeypatch.setattr(kind, "sketch", fails)


def test_a_draw_that_fails_is_told_of_and_costs_nothing_else(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    failing(monkeypatch, 4)
    outcome = build(bench.course)
    assert outcome.ok
    assert outcome.data["modules"][MODULE]["forms"] == 3
    (told,) = outcome.findings
    assert (told.severity, told.place) == ("warning", f"{MODULE} A2")
    assert f"{WHY}: A draw failed: ZeroDivisionError: division by zero. Report this to" in told.text


def test_a_template_that_always_fails_costs_its_module_alone(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    course = edited(bench.course, more='\n[[modules]]\nname = "turning-direction"\n')
    failing(monkeypatch, 1)
    outcome = build(course)
    assert list(outcome.data["modules"]) == ["turning-direction"]
    assert "A draw failed: ZeroDivisionError" in refused(outcome)
    assert [finding.place for finding in outcome.findings] == [f"{MODULE} A2"]
    # The check says the same before anything is built, and tells how long each module took.
    looked = check(course.folder)
    assert [finding.place for finding in looked.findings if finding.severity == "refused"] == [f"{MODULE} A2"]
    assert [(each["module"], each["ready"]) for each in looked.data["modules"]] == [
        (MODULE, False),
        ("turning-direction", True),
    ]


def test_a_module_that_fails_in_any_way_never_stops_the_others(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    course = edited(bench.course, more='\n[[modules]]\nname = "turning-direction"\n')
    from trainkit_grading.release import build as building

    graded = building.graded_notebook

    def breaks(module: Any, about: Any = None) -> str:
        if module.blueprint.module == MODULE:
            raise RuntimeError("lost")
        return graded(module, about)

    monkeypatch.setattr(building, "graded_notebook", breaks)
    outcome = build(course)
    assert list(outcome.data["modules"]) == ["turning-direction"]
    assert "The module failed unexpectedly: RuntimeError: lost. Report this to the makers" in refused(outcome)


def test_what_is_out_stays_where_nothing_can_be_drawn_any_more(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A later release may have lost a template: only somebody who joins late cannot be helped."""
    give_out(bench.course)
    before = tree(bench.course.folder)
    failing(monkeypatch, 1)
    outcome = build(bench.course)
    assert outcome.ok
    assert ["nobody can join late" in finding.text for finding in outcome.findings] == [True]
    assert tree(bench.course.folder) == before
    bench.write_roster((*PEOPLE, ("late", "Late")))
    assert "A draw failed" in refused(build(bench.course))
