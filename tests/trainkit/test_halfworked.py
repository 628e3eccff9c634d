"""Half-worked examples: what is begun never states the answer, and is the same for everybody."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from trainkit import modules, packs
from trainkit.errors import ItemError
from trainkit.items import marking, template
from trainkit.items.halfworked import HalfWorked, half_worked, tells
from trainkit.items.kinds import (
    ActionsKey,
    Card,
    ChoiceItem,
    ChoiceKey,
    InsertItem,
    InsertKey,
    NumberKey,
    Option,
    OrderItem,
    OrderKey,
    PointItem,
    PointKey,
    SetKey,
    SeveralItem,
    SeveralKey,
)
from trainkit.widgets.completed import Completed
from trainkit.widgets.control import Control
from trainkit.workbook import Book

# Every skill of every module but the two whose only template is a bench that is played.
SKILLS = [
    (module, skill.id)
    for module in modules.names()
    for skill in modules.load(module).blueprint.skills
    if skill.templates != ("lock-pin/pin-the-engine",)
]


def found(module: str, skill: str) -> HalfWorked:
    chosen = modules.load(module).blueprint.skill(skill)
    return half_worked(skill, [template.find(name) for name in chosen.templates], packs.load("dunlin"))


def numbers(text: str) -> set[Fraction]:
    return {Fraction(each) for each in re.findall(r"\d+(?:\.\d+)?", text)}


@pytest.mark.parametrize(("module", "skill"), SKILLS, ids=[f"{module}-{skill}" for module, skill in SKILLS])
def test_what_can_be_uncovered_never_states_the_answer(module: str, skill: str) -> None:
    """Told apart by plain looking, not by the rules of the module itself."""
    example = found(module, skill)
    item, key = example.item, example.key
    assert 1 <= example.begun <= example.quiet < len(key.working)
    for line in key.working[: example.quiet]:
        if isinstance(key, NumberKey):
            assert Fraction(str(abs(key.answer))) not in numbers(line)
            assert not numbers(line) & numbers(key.shown)
        elif isinstance(key, SetKey):
            assert key.shown.split(",")[0] not in line
        elif isinstance(item, ChoiceItem | SeveralItem):
            right = {key.right} if isinstance(key, ChoiceKey) else set(key.right)  # type: ignore[union-attr]  # several
            for option in item.options:
                assert option.id not in right or option.text.casefold().rstrip(".") not in line.casefold()
        elif isinstance(item, PointItem) and isinstance(key, PointKey):
            for target in item.targets:
                assert target.id not in key.right or target.text.casefold() not in line.casefold()
        elif isinstance(item, OrderItem):
            assert not all(card.text.rstrip(".") in line for card in item.cards)


@pytest.mark.parametrize(("module", "skill"), SKILLS, ids=[f"{module}-{skill}" for module, skill in SKILLS])
def test_it_is_the_same_every_time(module: str, skill: str) -> None:
    assert found(module, skill) == found(module, skill)


def test_the_pack_changes_it() -> None:
    dunlin = packs.load("dunlin")
    other = dunlin.model_copy(update={"name": "another"})
    templates = [template.find("turning-direction/shaft-sense")]
    assert half_worked("shafts", templates, dunlin) != half_worked("shafts", templates, other)


def test_a_bench_cannot_be_begun_in_lines() -> None:
    with pytest.raises(ItemError, match="working of two lines or more"):
        half_worked("pinning", [template.find("lock-pin/pin-the-engine")], packs.load("dunlin"))


def options(*texts: str) -> tuple[Option, ...]:
    return tuple(Option(id=name, text=text) for name, text in zip("abcdef", texts, strict=False))


WORKING: dict[str, Any] = {"template": "t/t", "working": ("One.", "Two.")}
CHOICE = ChoiceItem(prompt="?", options=options("Clockwise: one change", "Anticlockwise: no change"))
CARDS = tuple(Card(id=name, text=f"Step {name}") for name in "abc")
ORDER = OrderItem(prompt="?", cards=CARDS)
INSERT = InsertItem(prompt="?", written=CARDS[:2], missing=CARDS[2])


@pytest.mark.parametrize(
    ("item", "key", "line", "told"),
    [
        (CHOICE, ChoiceKey(right="a", **WORKING), "So it turns clockwise.", True),
        (CHOICE, ChoiceKey(right="a", **WORKING), "So it turns anticlockwise.", False),
        (CHOICE, ChoiceKey(right="b", **WORKING), "There is no change.", False),
        (CHOICE, NumberKey(answer=0.6, unit="N·m", tolerance=0.02, shown="0.60 N·m", **WORKING), "= 0.6144 N·m", True),
        (CHOICE, NumberKey(answer=0.6, unit="N·m", tolerance=0.02, shown="0.60 N·m", **WORKING), "= 0.7 N·m", False),
        (CHOICE, NumberKey(answer=-1.8, unit="°", tolerance=0.1, shown="1.8° early", **WORKING), "1.8° early", True),
        (CHOICE, SetKey(answer=1.5, tolerance=0.05, turn=12, shown="1:30", **WORKING), "6:00 becomes 1:30.", True),
        (CHOICE, SetKey(answer=0.0, tolerance=0.05, turn=12, shown="12:00", **WORKING), "It stands at 12:00.", True),
        (CHOICE, SetKey(answer=1.5, tolerance=0.05, turn=12, shown="1:30", **WORKING), "6:00 is the start.", False),
        (CHOICE, SetKey(answer=42.5, tolerance=0.2, shown="42.5 N·m", **WORKING), "It is 42.5 N·m.", True),
        (ORDER, OrderKey(cards={}, bonds=(), **WORKING), "Step a comes before step b.", False),
        (ORDER, OrderKey(cards={}, bonds=(), **WORKING), "Step a; step c; step b.", True),
        (
            INSERT,
            InsertKey(right=(1,), written=("a", "b"), missing="c", cards={}, bonds=(), **WORKING),
            "Behind step a and before step b.",
            True,
        ),
        (
            INSERT,
            InsertKey(right=(1,), written=("a", "b"), missing="c", cards={}, bonds=(), **WORKING),
            "Step a comes before step c.",
            False,
        ),
        # In doubt it does: the working of a bench is a whole way.
        (CHOICE, ActionsKey(model="lock-pin", **WORKING), "1. Bar on a little.", True),
        (
            SeveralItem(prompt="?", options=options("10.1 kgf·m, wrench at 99 N·m", "20 lbf·ft, at 30 N·m")),
            SeveralKey(right=("a",), **WORKING),
            "10.1 kgf·m = 99.05 N·m, so 99 N·m is right.",
            True,
        ),
    ],
)
def test_lines_that_tell(item: Any, key: Any, line: str, told: bool) -> None:
    assert tells(item, key, line) is told


def completed(module: str, skill: str) -> Completed:
    chosen = modules.load(module).blueprint.skill(skill)
    return Completed(skill, chosen.name, [template.find(name) for name in chosen.templates], packs.load("dunlin"))


def test_hints_uncover_line_after_line_and_stop_before_the_answer() -> None:
    example = completed("turning-direction", "how-far")
    quiet = found("turning-direction", "how-far").quiet
    before = example.shown()["begun"]
    assert before["more"]
    assert before["note"] == ""
    for count in range(len(before["lines"]) + 1, quiet + 1):
        reply = example.hear({"type": "hint", "ticket": 1})
        assert reply["type"] == "hint"
        assert reply["begun"]["lines"] == list(example.key.working[:count])
    assert not reply["begun"]["more"]
    assert "yours" in reply["begun"]["note"]
    assert example.hear({"type": "hint", "ticket": 2})["begun"] == reply["begun"]


def test_checking_explains_the_remaining_lines() -> None:
    example = completed("turning-direction", "how-far")
    begun = len(example.uncovered)
    assert isinstance(example.key, NumberKey)
    wrong = {"kind": "number", "text": "1", "unit": example.key.unit}
    told = example.hear({"type": "save", "response": wrong, "ticket": 1})["explained"]
    assert (told["verdict"], told["from"]) == ("not yet", begun + 1)
    assert told["working"] == list(example.key.working[begun:])
    right = {"kind": "number", "text": f"{example.key.answer:g}", "unit": example.key.unit}
    told = example.hear({"type": "save", "response": right, "ticket": 2})["explained"]
    assert told["verdict"] == marking.mark(example.item, example.key, right).verdict == "right"


def test_the_door_shows_it_and_paper_keeps_the_answer_to_itself(tmp_path: Path) -> None:
    control = Book(modules.load("turning-direction"), tmp_path).complete("how-far")
    assert isinstance(control, Control)
    state: Any = control.state
    assert isinstance(state.key, NumberKey)
    for form in (state.text(), state.html()):
        assert "Begun for you:" in form
        assert "the same for everybody" in form
        assert state.key.working[-1] not in form
        assert state.key.shown not in form
