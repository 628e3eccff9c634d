"""Practice and examples never show what somebody's own assessment asks."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from trainkit import modules, packs, workbook
from trainkit.errors import ItemError
from trainkit.forms import Form, FormItem
from trainkit.items.asking import asked
from trainkit.items.halfworked import half_worked
from trainkit.items.kinds import KINDS, Item
from trainkit.items.template import find
from trainkit.modules import Blueprint
from trainkit.packs import Pack
from trainkit.widgets.completed import Completed
from trainkit.widgets.practised import Practised
from trainkit_grading.course import packs as own_packs
from trainkit_grading.course.seeds import Seed
from trainkit_grading.forms.examples import half_worked_in
from trainkit_grading.forms.generation import draw_forms

SEED = Seed(bytes(32))
PEOPLE = tuple(f"apprentice {number}" for number in range(12))
QUESTIONS = 5


def assessed_on(blueprint: Blueprint) -> Pack:
    return packs.load(own_packs.find_pack(blueprint.assessed_on or blueprint.pack))


def in_short(form: Form) -> frozenset[str]:
    return frozenset(asked(entry.item) for entry in form.items)


def next_questions(practice: Practised, count: int) -> list[str]:
    found = [asked(practice.item)]
    for _ in range(count - 1):
        practice.hear({"type": "next", "ticket": 1})
        found.append(asked(practice.item))
    return found


@pytest.mark.parametrize("module", modules.names())
def test_twelve_people_meet_no_question_of_their_own_form(module: str) -> None:
    blueprint = modules.load(module).blueprint
    practised = packs.load(blueprint.pack)
    shown = half_worked_in(blueprint, practised)
    assert shown
    for person, (form, _) in zip(
        PEOPLE, draw_forms(SEED, "saltmere", blueprint, assessed_on(blueprint), 1, PEOPLE, shown), strict=True
    ):
        own = in_short(form)
        assert not own & shown
        for skill in blueprint.skills:
            templates = [find(name) for name in skill.templates if not KINDS[find(name).kind].by_person]
            rng = random.Random(f"{person} {skill.id}")
            practice = Practised(skill.name, templates, practised, rng, own)
            assert not own & set(next_questions(practice, QUESTIONS))


@pytest.mark.parametrize("name", ["torque-units/convert", "lash-and-timing/lash-degrees", "sequence/why-before"])
def test_practice_draws_again_where_it_would_show_an_assessed_question(name: str) -> None:
    pack, template = packs.load("dunlin"), find(name)
    # What practice would show is the assessment: it shows something else, and goes on doing so.
    before = next_questions(Practised("A skill", [template], pack, random.Random(7)), QUESTIONS)
    after = next_questions(Practised("A skill", [template], pack, random.Random(7), frozenset(before)), QUESTIONS)
    assert not set(before) & set(after)


def test_a_skill_of_which_everything_is_assessed_says_so() -> None:
    class Everything(frozenset[str]):
        def __contains__(self, _: object) -> bool:
            return True

        def __bool__(self) -> bool:
            return True

    with pytest.raises(ItemError, match="stands in the assessment"):
        Practised("Convert", [find("torque-units/convert")], packs.load("dunlin"), random.Random(1), Everything())


@pytest.mark.parametrize("module", modules.names())
def test_the_half_worked_example_gives_way_to_the_assessment(module: str) -> None:
    blueprint, pack = modules.load(module).blueprint, packs.load("dunlin")
    for skill in blueprint.skills:
        templates = [find(name) for name in skill.templates]
        try:
            usual = half_worked(skill.id, templates, pack).item
        except ItemError:
            continue
        assert Completed(skill.id, skill.name, templates, pack).item == usual
        other = Completed(skill.id, skill.name, templates, pack, frozenset({asked(usual)})).item
        assert asked(other) != asked(usual)


def test_no_form_takes_what_the_workbook_works() -> None:
    """All questions of one form are called worked: nobody gets one of them, and every form is whole."""
    blueprint, pack = modules.load("torque-units").blueprint, packs.load("dunlin")
    usual = dict(zip(PEOPLE, draw_forms(SEED, "saltmere", blueprint, pack, 1, PEOPLE), strict=True))
    worked = in_short(usual[PEOPLE[0]][0])
    for form, keys in draw_forms(SEED, "saltmere", blueprint, pack, 1, PEOPLE, worked):
        assert not in_short(form) & worked
        assert len(form.items) == len(blueprint.items)
        assert keys.keys.keys() == {entry.id for entry in form.items}


def test_a_workbook_knows_its_own_form(tmp_path: Path) -> None:
    """A form of before holds the half-worked example: the workbook then shows another."""
    loaded = modules.load("torque-units")
    pack = packs.load("dunlin")
    skill = next(each for each in loaded.blueprint.skills if half_worked_of(each.id, each.templates, pack) is not None)
    usual = half_worked_of(skill.id, skill.templates, pack)
    assert usual is not None
    form = Form(code="OLDFORM1", items=(FormItem(id="A1", item=usual),))
    book = workbook.Book(loaded, tmp_path)
    assert asked(book.complete(skill.id).state.item) == asked(usual)  # type: ignore[union-attr]  # a control
    book.form = form
    assert asked(book.complete(skill.id).state.item) != asked(usual)  # type: ignore[union-attr]  # a control


def half_worked_of(name: str, templates: tuple[str, ...], pack: Pack) -> Item | None:
    try:
        return half_worked(name, [find(each) for each in templates], pack).item
    except ItemError:
        return None
