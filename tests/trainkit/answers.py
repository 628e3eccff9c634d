"""Right and wrong answers to questions of every kind.

A right answer is read off the key; a way through a scenario is searched by playing it.
"""

from __future__ import annotations

import re
from collections import deque
from typing import Any

from trainkit.items import scenarios
from trainkit.items.kinds import (
    ActionsItem,
    ActionsKey,
    ChoiceItem,
    ChoiceKey,
    GridItem,
    GridKey,
    InsertItem,
    InsertKey,
    Item,
    Key,
    NumberItem,
    NumberKey,
    ObservedItem,
    ObservedKey,
    OrderItem,
    OrderKey,
    PointItem,
    PointKey,
    SetItem,
    SetKey,
    SeveralItem,
    SeveralKey,
    TextItem,
    TextKey,
)

Given = dict[str, Any]


def pinned_safely(item: ActionsItem) -> tuple[str, ...]:
    """Find a shortest way that earns everything by plain search over what can be played, not by the solver."""
    offered = {option.id for option in item.actions}
    start = scenarios.begin(item.model, item.scene)
    done: tuple[str, ...] = ()
    seen, front = {start}, deque([(start, done)])
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


def right_answer(item: Item, key: Key) -> Given:  # noqa: C901 - one short case for each kind of answer
    match item, key:
        case NumberItem(), NumberKey():
            # As a person writes it: the number of the shown answer, with a comma where that cannot be taken for
            # thousands, and the unit beside it.
            number = re.split(r"[^\d.]", key.shown.removeprefix("-"))[0]
            if len(number.partition(".")[2]) != 3:
                number = number.replace(".", ",")
            sign = "-" if key.shown.startswith("-") else ""
            return {"kind": "number", "text": sign + number, "unit": key.unit}
        case ChoiceItem(), ChoiceKey():
            return {"kind": "choice", "option": key.right}
        case SeveralItem(), SeveralKey():
            return {"kind": "several", "options": list(key.right)}
        case OrderItem(), OrderKey():
            return {"kind": "order", "cards": right_order(key)}
        case InsertItem(), InsertKey():
            return {"kind": "insert", "place": key.right[0]}
        case ActionsItem(), ActionsKey():
            return {"kind": "actions", "actions": list(pinned_safely(item))}
        case PointItem(), PointKey():
            return {"kind": "point", "target": key.right[0]}
        case SetItem(), SetKey():
            return {"kind": "set", "value": on_scale(item, key.answer)}
        case GridItem(), GridKey():
            return {"kind": "grid", "rows": dict(key.right)}
        case TextItem(), TextKey():
            return {"kind": "text", "text": "Because it would shear: the torque goes through it. 1 0 0 x dd"}
        case ObservedItem(), ObservedKey():
            return {
                "kind": "observed",
                "observer": "Ines",
                "steps": dict.fromkeys((s.id for s in item.steps), "unprompted"),
            }
        case _:
            raise AssertionError(f"no answer of the kind {item.kind}")


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
            return {"kind": "choice", "option": next(o.id for o in item.options if o.id != key.right)}
        case OrderItem(), OrderKey():
            return {"kind": "order", "cards": right_order(key)[::-1]}
        case NumberItem(), NumberKey():
            return {"kind": "number", "text": "1", "unit": key.unit}
        case SeveralItem(), SeveralKey():
            first = item.options[0].id
            taken = [option for option in key.right if option != first] + [first] * (first not in key.right)
            return {"kind": "several", "options": taken}
        case PointItem(), PointKey():
            return {"kind": "point", "target": next(t.id for t in item.targets if t.id not in key.right)}
        case SetItem(), SetKey() if item.scale.round:
            away = key.answer + (item.scale.high - item.scale.low) / 3
            return {"kind": "set", "value": on_scale(item, away)}
        case GridItem(), GridKey():
            columns = [column.id for column in item.columns]
            return {"kind": "grid", "rows": {row: columns[columns[0] == right] for row, right in key.right.items()}}
        case _:
            return right_answer(item, key)
