"""How a keyboard gives an answer to a question of any kind."""

from __future__ import annotations

from playwright.sync_api import Page

from tests.browser.by_keyboard import (
    answer_choice,
    answer_grid,
    answer_insert,
    answer_number,
    answer_order,
    answer_point,
    answer_set,
    answer_several,
    answer_text,
    play_actions,
)
from tests.browser.lab import Lab
from tests.trainkit.answers import Given
from trainkit.items.kinds import GridItem, Item, NumberItem, OrderItem, SetItem


def give(page: Page, lab: Lab, name: str, item: Item, given: Given) -> None:
    """Give an answer by keyboard alone."""
    question = lab.question(name)
    answer = given
    match answer["kind"]:
        case "number":
            # Where only one unit is asked there is none to pick.
            unit = str(answer["unit"]) if isinstance(item, NumberItem) and len(item.units) > 1 else ""
            answer_number(page, question, answer["text"], unit)
        case "choice":
            answer_choice(page, question, str(answer["option"]))
        case "several":
            answer_several(page, question, list(answer["options"]))
        case "insert":
            answer_insert(page, question, int(str(answer["place"])))
        case "order":
            assert isinstance(item, OrderItem)
            texts = {card.id: card.text for card in item.cards}
            answer_order(page, question, [texts[card] for card in answer["cards"]])
        case "point":
            answer_point(page, question, str(answer["target"]))
        case "set":
            assert isinstance(item, SetItem)
            answer_set(page, question, float(str(answer["value"])), item.scale.step, item.scale.low)
        case "grid":
            assert isinstance(item, GridItem)
            rows = {row.id: row.text for row in item.rows}
            columns = {column.id: column.text for column in item.columns}
            chosen = answer["rows"].items()
            answer_grid(page, question, {rows[row]: columns[column] for row, column in chosen})
        case "text":
            answer_text(page, question, answer["text"])
        case "actions":
            play_actions(page, question, list(answer["actions"]))
