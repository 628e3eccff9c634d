"""Pools: the shipped packs meet every wish, what fails costs one draw, and check tells what a pack lacks."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from trainkit import modules, packs, workbook
from trainkit.errors import DrawFault, ItemError, NotReadyError
from trainkit.items.facts import Draw
from trainkit.items.halfworked import half_worked
from trainkit.items.pacing import Pace, Stock
from trainkit.items.sequence import TEMPLATES
from trainkit.items.template import Redraw, Template, find, lacking
from trainkit.modules import Blueprint
from trainkit.notes import NotebookNote
from trainkit.packs import Pack
from trainkit.pools import Missing, Pools, askable, readiness, words
from trainkit.widgets.control import Control
from trainkit.widgets.practised import Practised

NAME = "sequence/why-before"
WHY = type(find(NAME))


class Open:
    """A seed that is no secret."""

    def stream(self, *labels: str | int) -> random.Random:
        return random.Random(str(labels))


def blueprint(*templates: str, shows: tuple[str, ...] = ()) -> Blueprint:
    items = [
        {"id": f"A{place}", "template": template, "shows": shows} for place, template in enumerate(templates, start=1)
    ]
    skill = {"id": "all", "name": "All of it", "templates": templates}
    return Blueprint.model_validate(
        {
            "format": 1,
            "module": "sequence",
            "title": "Order",
            "pack": "dunlin",
            "minutes": 5,
            "cut_score": 70,
            "objectives": ("Order",),
            "skills": (skill,),
            "items": items,
        },
    )


def fresh(name: str = "dunlin") -> Pack:
    """Return a pack of which nothing is known yet: what was found out about another object is not asked for."""
    return packs.load(name).model_copy()


def failing(monkeypatch: pytest.MonkeyPatch, when: Callable[[int], bool]) -> list[int]:
    """Let a template fail at some of its draws, counted from 0."""
    sketch, made = WHY.sketch, [0]

    def fails(of: Any, rng: random.Random, pack: Pack, shuffle: random.Random, /) -> Draw:
        made[0] += 1
        if when(made[0] - 1):
            raise ZeroDivisionError("division by\nzero")
        return sketch(of, rng, pack, shuffle)

    monkeypatch.setattr(WHY, "sketch", fails)
    return made


# The shipped packs


def test_dunlin_is_ready_and_meets_every_wish() -> None:
    """The capstone is assessed on another engine, so only there may a wish stay open; the check prints its seconds."""
    pack, begun = fresh(), time.process_time()
    found = [readiness(pack, modules.load(name).blueprint) for name in modules.names()]
    assert 0 < sum(each.seconds for each in found) <= time.process_time() - begun
    assert [(each.module, each.missing, each.faults) for each in found if not each.ready or each.faults] == []
    assert {each.module for each in found if each.not_askable} <= {"capstone"}


# Wishes


def test_a_wish_is_decided_once_for_a_pack_whatever_the_seed() -> None:
    wished = ("inch-for-foot", "clock-backwards", "rounds-on-the-way")
    convert = find("torque-units/convert")
    assert askable(convert, fresh(), wished) == askable(convert, fresh(), wished) == wished[::2]
    assert askable(convert, fresh(), ("clock-backwards",)) == ()
    assert askable(convert, fresh(), ()) == ()


def test_what_cannot_be_asked_is_told_in_words() -> None:
    found = readiness(fresh(), blueprint("torque-units/convert", shows=("clock-backwards",)))
    assert found.ready
    assert dict(found.not_askable) == {"A1": ("clock-backwards",)}
    (line,) = [line for line in words.lines(found) if "askable" in line]
    assert line.startswith("Not askable here: “")
    assert line.endswith("” (A1)")


# What a pack lacks


def test_all_that_is_missing_is_told_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    def needs_more(_of: object, _rng: object, pack: Pack, _shuffle: object, /) -> Draw:
        raise lacking(pack, "a step that tries the pin in and out", "Add the step")

    monkeypatch.setattr(WHY, "sketch", needs_more)
    asked = blueprint(NAME, "sequence/find-fault", NAME)
    with pytest.raises(NotReadyError, match="A1: a step that tries the pin in and out; A3: ") as refused:
        Pools.fill(Open(), "course", asked, fresh(), 1)
    missing = [each for each in refused.value.missing if isinstance(each, Missing)]
    assert [(each.item, each.template, each.needs) for each in missing] == [
        (item, NAME, "a step that tries the pin in and out") for item in ("A1", "A3")
    ]
    found = readiness(fresh(), asked)
    assert (found.ready, found.missing) == (False, tuple(missing))
    assert words.lines(found) == ["Missing: a step that tries the pin in and out (A1 and A3)"]
    assert found.as_data()["missing"][1]["item"] == "A3"


def test_what_is_asked_about_something_else_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    sketch = WHY.sketch

    def elsewhere(of: Any, rng: random.Random, pack: Pack, shuffle: random.Random, /) -> Draw:
        drawn = sketch(of, rng, pack, shuffle)
        return Draw(drawn.item, drawn.key, drawn.features, "an example engine")

    monkeypatch.setattr(WHY, "sketch", elsewhere)
    found = readiness(fresh(), blueprint(NAME, "sequence/find-fault"))
    assert [(each.item, each.about, each.always) for each in found.instead] == [("A1", "an example engine", True)]
    assert words.lines(found) == ["Drawn on an example engine: say why one step comes before another (A1)"]


# What fails


def test_a_draw_that_fails_costs_this_draw_and_is_told_of(monkeypatch: pytest.MonkeyPatch) -> None:
    failing(monkeypatch, lambda number: number % 3 == 1)
    filled = Pools.fill(Open(), "course", blueprint(NAME, NAME), fresh(), 1)
    assert [len(list(filled.form(person))) for person in ("amir", "lena", "zoë")] == [2, 2, 2]
    (fault,) = {fault for pool in filled.pools for fault in pool.faults}
    assert fault.startswith(f"{NAME}: A draw failed: ZeroDivisionError: division by zero. Report this")
    assert fault in readiness(fresh(), blueprint(NAME)).faults


def test_a_template_that_always_fails_is_missing_and_told_of(monkeypatch: pytest.MonkeyPatch) -> None:
    made = failing(monkeypatch, lambda _: True)
    found = readiness(fresh(), blueprint("sequence/put-in-order", NAME))
    assert [(each.item, each.needs) for each in found.missing] == [
        ("A2", "A draw failed: ZeroDivisionError: division by zero")
    ]
    assert made[0] < 10


def test_a_draw_that_only_asks_for_another_is_no_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    def unfit(*_: object) -> Draw:
        raise Redraw

    monkeypatch.setattr(WHY, "sketch", unfit)
    with pytest.raises(ItemError, match="found no draw in 400") as refused:
        find(NAME).draw(random.Random(1), fresh())
    assert refused.value.needs == "more different values for the question “say why one step comes before another”"


def test_practice_draws_again_where_a_draw_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    failing(monkeypatch, lambda number: number % 2 == 1)
    state = Practised("Say why", [find(NAME)], fresh(), random.Random(1))
    for ticket in range(8):
        assert state.hear({"type": "next", "ticket": ticket})["type"] == "next"


def test_practice_goes_on_with_what_can_be_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    failing(monkeypatch, lambda _: True)
    other: Template = next(each for each in TEMPLATES if each.name == "sequence/find-fault")
    state = Practised("Say why", [find(NAME), other], fresh(), random.Random(1))
    for ticket in range(4):
        assert state.hear({"type": "next", "ticket": ticket})["type"] == "next"
        assert state.key.template == other.name


def test_practice_that_cannot_go_on_says_so_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    state = Practised("Say why", [find(NAME)], fresh(), random.Random(1))
    failing(monkeypatch, lambda _: True)
    state._stocks[NAME]._ready.clear()
    reply = state.hear({"type": "next", "ticket": 1})
    assert reply == {
        "type": "refused",
        "text": "This kind of question is not available for this engine. Go on with the next part.",
        "ticket": 1,
    }


def test_a_stock_that_fails_gives_what_lies_ready(monkeypatch: pytest.MonkeyPatch) -> None:
    stock, pack = Stock(find(NAME)), fresh()
    stock.take(random.Random(1), pack, Pace())
    ready = len(stock._ready)
    assert ready > 0
    failing(monkeypatch, lambda _: True)
    for _ in range(ready):
        stock.take(random.Random(2), pack, Pace())
    with pytest.raises(DrawFault, match="division by zero"):
        stock.take(random.Random(3), pack, Pace())


def test_a_half_worked_example_looks_for_another_draw(monkeypatch: pytest.MonkeyPatch) -> None:
    convert = find("torque-units/convert")
    whole = half_worked("units", [convert], fresh())
    sketch, made = type(convert).sketch, [0]

    def fails(*given: Any) -> Draw:
        made[0] += 1
        if made[0] == 1:
            raise KeyError("lost")
        return sketch(*given)

    monkeypatch.setattr(type(convert), "sketch", fails)
    assert half_worked("units", [convert], fresh()).item != whole.item


@pytest.mark.parametrize("part", ["practice", "complete", "card", "warm_up", "instrument", "plot"])
def test_a_workbook_never_ends_in_a_traceback(part: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    book = workbook.Book(modules.load("tightening"), tmp_path)
    given = {"practice": ["next"], "complete": ["next"], "instrument": ["bolts"], "plot": ["preload"]}.get(part, [])
    given = [book.module.blueprint.skills[0].id] if given == ["next"] else given
    assert not isinstance(getattr(book, part)(*given), NotebookNote)

    def broken(*_: object, **__: object) -> Control:
        raise ArithmeticError("lost")

    home = {
        "practice": "trainkit.widgets.practised.Practised",
        "complete": "trainkit.widgets.completed.Completed",
        "card": "trainkit.cards.card",
        "warm_up": "trainkit.widgets.warming.WarmUp",
        "instrument": "trainkit.widgets.movable.movable",
        "plot": "trainkit.plots.plot",
    }[part]
    monkeypatch.setattr(home, broken)
    note = getattr(book, part)(*given)
    assert isinstance(note, NotebookNote)
    assert note.lines == (
        "This part is not available for this engine.",
        "Go on with the next part.",
        "Tell your instructor: ArithmeticError: lost",
    )
