"""Right and wrong answers to questions of every kind, and how a keyboard gives them.

A right answer is read off the key; a way through a scenario is searched by playing it.
"""

from __future__ import annotations

import re
from collections import deque
from dataclasses import dataclass

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
from trainkit.items import Item, Key, scenarios
from trainkit.items.item import (
    ActionsItem,
    ChoiceItem,
    GridItem,
    InsertItem,
    NumberItem,
    OrderItem,
    PointItem,
    SetItem,
    SeveralItem,
    TextItem,
)
from trainkit.items.key import (
    ActionsKey,
    ChoiceKey,
    GridKey,
    InsertKey,
    NumberKey,
    OrderKey,
    PointKey,
    SetKey,
    SeveralKey,
    TextKey,
)


@dataclass(frozen=True)
class Given:
    """What is going to be answered to one item."""

    response: dict[str, object]


def pinned_safely(item: ActionsItem) -> tuple[str, ...]:
    """Find a shortest way that earns everything by plain search over what can be played, not by the solver."""
    offered = {option.id for option in item.actions}
    start = scenarios.begin(item.model, item.scene)
    seen, front = {start}, deque([(start, ())])
    while front:
        play, done = front.popleft()
        if play.finished:
            if play.verdict().share == 1:
                return done
            continue
        for action in play.actions:
            after, _felt = play.act(action)
            if action in offered and after not in seen and len(done) < item.limit:
                seen.add(after)
                front.append((after, (*done, action)))
    raise AssertionError("no safe way found")


def right_order(key: OrderKey) -> list[str]:
    """Put cards in order by taking, again and again, the first one that waits for nothing that is left."""
    left, order = list(key.cards), []
    while left:
        free = next(c for c in left if not any(b.after == c and b.before in left for b in key.bonds))
        order.append(free)
        left.remove(free)
    return order


def right_answer(item: Item, key: Key) -> Given:
    match item, key:
        case NumberItem(), NumberKey():
            # As a person writes it: the number of the shown answer, with a comma where that cannot be taken for
            # thousands, and the unit beside it.
            number = re.split(r"[^\d.]", key.shown)[0]
            if len(number.partition(".")[2]) != 3:
                number = number.replace(".", ",")
            return Given({"kind": "number", "text": number, "unit": key.unit})
        case ChoiceItem(), ChoiceKey():
            return Given({"kind": "choice", "option": key.right})
        case SeveralItem(), SeveralKey():
            return Given({"kind": "several", "options": list(key.right)})
        case OrderItem(), OrderKey():
            return Given({"kind": "order", "cards": right_order(key)})
        case InsertItem(), InsertKey():
            return Given({"kind": "insert", "place": key.right[0]})
        case ActionsItem(), ActionsKey():
            return Given({"kind": "actions", "actions": list(pinned_safely(item))})
        case PointItem(), PointKey():
            return Given({"kind": "point", "target": key.right[0]})
        case SetItem(), SetKey():
            return Given({"kind": "set", "value": on_scale(item, key.answer)})
        case GridItem(), GridKey():
            return Given({"kind": "grid", "rows": dict(key.right)})
        case TextItem(), TextKey():
            return Given({"kind": "text", "text": "Because it would shear: the torque goes through it. 1 0 0 x dd"})
        case _:
            raise AssertionError(f"no keyboard for {item.kind}")


def on_scale(item: SetItem, value: float) -> float:
    """Return the nearest place of a scale, as a hand can be set to it."""
    scale = item.scale
    steps = round((value - scale.low) / scale.step)
    return round(
        scale.low + (steps % round((scale.high - scale.low) / scale.step) if scale.round else steps) * scale.step, 6
    )


def wrong_answer(item: Item, key: Key) -> Given:
    """Answer as somebody with a wrong idea does: another option, or the cards the wrong way round."""
    match item, key:
        case ChoiceItem(), ChoiceKey():
            return Given({"kind": "choice", "option": next(o.id for o in item.options if o.id != key.right)})
        case OrderItem(), OrderKey():
            return Given({"kind": "order", "cards": right_order(key)[::-1]})
        case NumberItem(), NumberKey():
            return Given({"kind": "number", "text": "1", "unit": key.unit})
        case SeveralItem(), SeveralKey():
            first = item.options[0].id
            taken = [option for option in key.right if option != first] + [first] * (first not in key.right)
            return Given({"kind": "several", "options": taken})
        case PointItem(), PointKey():
            return Given({"kind": "point", "target": next(t.id for t in item.targets if t.id not in key.right)})
        case SetItem(), SetKey() if item.scale.round:
            away = key.answer + (item.scale.high - item.scale.low) / 3
            return Given({"kind": "set", "value": on_scale(item, away)})
        case GridItem(), GridKey():
            return Given({"kind": "grid", "rows": dict.fromkeys(key.right, item.columns[0].id)})
        case _:
            return right_answer(item, key)


def give(page: Page, lab: Lab, name: str, item: Item, given: Given) -> None:
    """Give an answer by keyboard alone."""
    question = lab.question(name)
    answer = given.response
    match answer["kind"]:
        case "number":
            # Where only one unit is asked there is none to pick.
            unit = str(answer["unit"]) if isinstance(item, NumberItem) and len(item.units) > 1 else ""
            answer_number(page, question, str(answer["text"]), unit)
        case "choice":
            answer_choice(page, question, str(answer["option"]))
        case "several":
            answer_several(page, question, list(answer["options"]))  # type: ignore[call-overload] # a list, see above
        case "insert":
            answer_insert(page, question, int(str(answer["place"])))
        case "order":
            assert isinstance(item, OrderItem)
            texts = {card.id: card.text for card in item.cards}
            answer_order(page, question, [texts[card] for card in answer["cards"]])  # type: ignore[attr-defined] # a list
        case "point":
            answer_point(page, question, str(answer["target"]))
        case "set":
            assert isinstance(item, SetItem)
            answer_set(page, question, float(str(answer["value"])), item.scale.step, item.scale.low)
        case "grid":
            assert isinstance(item, GridItem)
            rows = {row.id: row.text for row in item.rows}
            columns = {column.id: column.text for column in item.columns}
            chosen = answer["rows"].items()  # type: ignore[attr-defined] # a mapping, see above
            answer_grid(page, question, {rows[row]: columns[column] for row, column in chosen})
        case "text":
            answer_text(page, question, str(answer["text"]))
        case "actions":
            play_actions(page, question, list(answer["actions"]))  # type: ignore[call-overload] # a list, see above
