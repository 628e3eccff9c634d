"""An apprentice's copy of a small workbook with a question of each kind, as a course zip holds it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

from playwright.sync_api import Locator

from tests.browser.lab import expect_status
from tests.trainkit.draws import drawn
from tests.trainkit.given_out import identify, release
from trainkit import lockpin
from trainkit.items import scenarios, template
from trainkit.items.kinds import (
    ActionsItem,
    Card,
    ChoiceItem,
    Given,
    GridItem,
    InsertItem,
    Item,
    NumberItem,
    Option,
    OrderItem,
    PointItem,
    Scale,
    SetItem,
    SeveralItem,
    TextItem,
)
from trainkit.items.lock_pin_scenario import PinPlay
from trainkit.journal import Reading, read

STEPS = (
    "Isolate and lock out the starting system",
    "Bar forward until the mark stands at 2:10",
    "Press the lock pin in",
    "Take the barring tool off",
    "Take the lock pin out",
)


def _bench() -> ActionsItem:
    item, _ = drawn("lock-pin/pin-the-engine", seed=3)
    assert isinstance(item, ActionsItem)
    return item


def safe_way(item: ActionsItem) -> list[str]:
    """Return actions that end well, found by the model's own search."""
    play = scenarios.begin(item.model, item.scene)
    assert isinstance(play, PinPlay)
    return [action.value for action in lockpin.shortest_way(play.state) or ()]


BENCH = _bench()
ITEMS = (
    NumberItem(
        prompt="The sheet prints 47 N·m. Your wrench reads lbf·ft.\n\nWhat do you set?",
        given=(Given(label="Printed", value="47 N·m"), Given(label="Step of the wrench", value="1 lbf·ft")),
        units=("N·m", "lbf·ft", "lbf·in"),
        to_nearest="to the nearest 1 lbf·ft, the step of the wrench",
        points=2,
    ),
    ChoiceItem(
        prompt="The crank turns clockwise, seen from the front. Which way does the idler turn, seen from the front?",
        figure={
            "draw": "gear-train",
            "seen_from": "front",
            "gears": [
                {"id": "crank", "name": "crank gear", "teeth": 42, "turns": "clockwise"},
                {"id": "idler", "name": "idler gear", "teeth": 28, "witness": "2:00"},
            ],
            "meshes": [{"driver": "crank", "driven": "idler"}],
        },
        options=(
            Option(id="cw", text="Clockwise"),
            Option(id="acw", text="Anticlockwise"),
            Option(id="still", text="It stands still"),
        ),
    ),
    OrderItem(
        prompt="Put these steps in an order that can hurt neither the engine nor a person.",
        cards=tuple(Card(id=f"s{number}", text=text) for number, text in enumerate(STEPS)),
    ),
    SeveralItem(
        prompt="Which of these are used once only? There may be more than one.",
        options=(
            Option(id="seal", text="Flange seal"),
            Option(id="nut", text="Locking nut"),
            Option(id="gear", text="Gear"),
        ),
    ),
    InsertItem(
        prompt="One step is missing.",
        written=(Card(id="a", text=STEPS[1]), Card(id="b", text=STEPS[2]), Card(id="c", text=STEPS[4])),
        missing=Card(id="m", text=STEPS[3]),
    ),
    BENCH,
    PointItem(
        prompt="All screws are snug. Which screw comes after screw 1?",
        figure={
            "draw": "bolts",
            "noun": "screw",
            "circle": 120.0,
            "bolts": [
                {"id": "1", "x": 0.0, "y": 60.0, "done": 1},
                {"id": "2", "x": 60.0, "y": 0.0},
                {"id": "3", "x": 0.0, "y": -60.0},
                {"id": "4", "x": -60.0, "y": 0.0},
            ],
        },
        targets=tuple(Option(id=str(number), text=f"Screw {number}") for number in range(1, 5)),
    ),
    SetItem(
        prompt="A mark stands at 2:15, seen from the flywheel end. Where does it stand, seen from the front?",
        scale=Scale(low=0.0, high=12.0, step=0.25, unit="o'clock", round=True),
    ),
    SetItem(prompt="Set the wrench.", scale=Scale(low=20.0, high=100.0, step=0.5, unit="N·m")),
    GridItem(
        prompt="What becomes of each part?",
        rows=(Option(id="seal", text="Flange seal"), Option(id="gear", text="Drive gear")),
        columns=(Option(id="renew", text="Renew"), Option(id="refit", text="Refit"), Option(id="stays", text="Stays")),
    ),
    TextItem(prompt="Say why the pin comes out before the final torque.", limit=200),
)
PRACTISED = {"convert": "torque-units/convert"}


def added(source: str, name: str, **metadata: object) -> dict[str, Any]:
    """Return a cell of code as somebody adds one."""
    return {
        **{"cell_type": "code", "id": name, "metadata": metadata},
        **{"source": source, "outputs": [], "execution_count": None},
    }


def write_notebook(path: Path, cells: Sequence[dict[str, Any]]) -> None:
    """Write a notebook of these cells."""
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    content = {"nbformat": 4, "nbformat_minor": 5, "metadata": {"kernelspec": kernel}, "cells": list(cells)}
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(content), "utf-8")


def _module(practised: Mapping[str, str]) -> str:
    """Return the blueprint: one skill for each template that is practised."""
    skills = ", ".join(
        f'{{ id = "{skill}", name = "{template.find(name).skill.capitalize()}", templates = ["{name}"] }}'
        for skill, name in practised.items()
    )
    return f"""
format = 1
module = "controls"
title = "Controls"
pack = "dunlin"
minutes = 10
cut_score = 50
objectives = ["Answer questions of each kind"]
skills = [{skills}]
items = [{{ id = "A1", template = "torque-units/convert" }}]
"""


def _cells(practised: Mapping[str, str], asked: int) -> tuple[str, ...]:
    return (
        "from pathlib import Path\n\nfrom trainkit import modules, workbook\n\n"
        'book = workbook.Book(modules.load(Path("controls")), Path())\nbook.summary()',
        *(f'book.practice("{skill}")' for skill in practised),
        *(f'book.ask("A{number}")' for number in range(1, asked + 1)),
        "book.finish()",
    )


@dataclass(frozen=True)
class Copy:
    """An apprentice's copy of the workbook: where it lies, and its path below the server's folder."""

    folder: Path
    path: str

    def answers(self) -> Reading:
        """Read what is on the disk."""
        return read(self.folder / "answers.jsonl")

    def answer(self, item: str) -> dict[str, object]:
        """Return the last recorded answer to an item as plain data."""
        return self.answers().latest()[item].response.model_dump(mode="json")

    def expect_saved(self, question: Locator, press: Literal["click", "tap"] | None = None, **answer: object) -> None:
        """Press the button that saves with mouse or finger, if told so; expect this answer as saved and on the disk."""
        if press:
            getattr(question.get_by_role("button", name="Save answer"), press)()
        expect_status(question, "saved")
        assert self.answer(str(question.get_attribute("data-name"))) == answer


def write_copy(
    folder: Path,
    apprentice: str = "zoë o'neill",
    items: Sequence[Item] = ITEMS,
    practised: Mapping[str, str] = MappingProxyType(PRACTISED),
) -> None:
    """Write an apprentice's copy, as a course zip holds it; ``practised`` names a template for each skill."""
    (folder / "controls").mkdir(parents=True)
    (folder / "controls" / "module.toml").write_text(_module(practised), "utf-8")
    release(folder, items, [apprentice], module="controls", title="Controls")
    identify(folder, apprentice, "Zoë O'Neill")
    cells = [
        added(source, f"cell-{number}", deletable=False, editable=False, jupyter={"source_hidden": number > 0})
        for number, source in enumerate(_cells(practised, len(items)))
    ]
    write_notebook(folder / "controls.ipynb", cells)
