"""Questions without a kernel: readable as text and as HTML, and no word of an item is markup."""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.trainkit.asked import CLOCK, GOOD, GRID, NASTY, NUMBER, ORDER, POINT, TEXT, WRENCH, say
from tests.trainkit.given_out import CHOICE, journal_in
from trainkit.items.kinds import (
    Card,
    ChoiceItem,
    Given,
    GridItem,
    InsertItem,
    Item,
    NumberItem,
    ObservedItem,
    Option,
    OrderItem,
    PointItem,
    Scale,
    SetItem,
    SeveralItem,
    TextItem,
)
from trainkit.items.reading import read_response
from trainkit.widgets import paper
from trainkit.widgets.assessed import Assessed


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002 - the base class's
        self.tags.append(tag)


@pytest.mark.parametrize(
    "item",
    [
        NumberItem(prompt=NASTY, given=(Given(label=NASTY, value=NASTY),), units=(NASTY[:8],), to_nearest=NASTY),
        ChoiceItem(prompt=NASTY, options=(Option(id="a", text=NASTY), Option(id="b", text="x"))),
        SeveralItem(prompt=NASTY, options=(Option(id="a", text=NASTY), Option(id="b", text="x"))),
        OrderItem(prompt=NASTY, cards=tuple(Card(id=name, text=NASTY) for name in "abc")),
        InsertItem(prompt=NASTY, written=(Card(id="a", text=NASTY),) * 2, missing=Card(id="m", text=NASTY)),
        ChoiceItem(
            prompt="x",
            options=CHOICE.options,
            figure={"draw": "clock", "seen_from": "front", "name": NASTY, "marks": [{"at": "1:00", "label": NASTY}]},
        ),
        ChoiceItem(prompt="x", options=CHOICE.options, figure={"draw": NASTY}),
        GridItem(prompt=NASTY, rows=(Option(id="a", text=NASTY),) * 2, columns=(Option(id="b", text=NASTY),) * 2),
        PointItem(prompt=NASTY, targets=(Option(id="a", text=NASTY), Option(id="b", text="x"))),
        SetItem(prompt=NASTY, scale=Scale(low=0, high=1, step=0.5, unit=NASTY)),
        TextItem(prompt=NASTY),
        ObservedItem(prompt=NASTY, steps=(Option(id="a", text=NASTY),), critical=("a",)),
    ],
)
def test_no_word_of_an_item_is_markup_on_paper(item: Item) -> None:
    tags = _Tags()
    tags.feed(paper.item_html(NASTY, item, NASTY))
    assert not {"img", "script"} & set(tags.tags)
    assert item.prompt in paper.item_text("Question A1", item)


def test_an_answered_question_is_readable_on_paper(tmp_path: Path) -> None:
    for place, (item, response) in enumerate(GOOD, start=1):
        question = Assessed(f"A{place}", item, journal_in(tmp_path))
        assert "Not answered." in question.text()
        say(question, type="save", response=response)
        words = paper.answer_words(item, read_response(response))
        assert words in question.text()
        assert "UTC" in question.html()
    assert "31\u2009lbf·ft" in Assessed("A1", NUMBER, journal_in(tmp_path)).text()
    assert "1. Step d; 2. Step a" in Assessed("A4", ORDER, journal_in(tmp_path)).text()
    assert "UTC: 2:45" in Assessed("A7", CLOCK, journal_in(tmp_path)).text()
    assert "42.5\u2009N·m" in Assessed("A8", WRENCH, journal_in(tmp_path)).text()
    assert "Seal: renew" in Assessed("A9", GRID, journal_in(tmp_path)).text()
    assert "<b>" not in Assessed("A10", TEXT, journal_in(tmp_path)).html()


def test_on_paper_a_setting_says_its_scale_and_a_grid_has_boxes(tmp_path: Path) -> None:
    assert (
        "Set the hand of the clock, in steps of 15\u2009minutes." in Assessed("A1", CLOCK, journal_in(tmp_path)).text()
    )
    wrench = "Set the scale, from 20 to 100\u2009N·m in steps of 0.5\u2009N·m."
    assert wrench in Assessed("A1", WRENCH, journal_in(tmp_path)).html()
    html = Assessed("A1", GRID, journal_in(tmp_path)).html()
    assert html.count("☐") == len(GRID.rows) * len(GRID.columns)
    assert html.count('scope="col"') == len(GRID.columns)
    assert "Choose for each one of: renew; refit." in Assessed("A1", GRID, journal_in(tmp_path)).text()


def test_a_place_to_point_to_stands_in_the_picture_under_its_name(tmp_path: Path) -> None:
    shown = Assessed("A1", POINT, journal_in(tmp_path)).shown()
    for target in POINT.targets:
        assert f'data-target="{target.id}"' in shown["control"]["figure"]
    assert shown["figure"] == ""  # drawn once, in the control
    shown = Assessed("A2", CLOCK.model_copy(update={"figure": POINT.figure}), journal_in(tmp_path)).shown()
    assert shown["control"]["figure"].startswith("<svg")  # beside the hand that is set by it
    assert shown["figure"] == ""
    assert Assessed("A3", CLOCK, journal_in(tmp_path)).shown()["control"]["figure"] == ""
