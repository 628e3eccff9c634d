"""How each kind of item is answered: rightly, with a slip, by a guess, or by a held misconception.

A way that shows a misconception is checked by marking it, so that what a simulated apprentice is said to believe is
what an instructor will see. A guess looks at the item only.
"""

from __future__ import annotations

import math
import random
import re
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from typing import Any

from trainkit.items import scenarios
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
    Bond,
    ChoiceKey,
    GridKey,
    InsertKey,
    Key,
    NumberKey,
    OrderKey,
    PointKey,
    SetKey,
    SeveralKey,
    TextKey,
)
from trainkit.items.marking import mark
from trainkit.items.responses import (
    ActionsResponse,
    ChoiceResponse,
    GridResponse,
    InsertResponse,
    NumberResponse,
    OrderResponse,
    PointResponse,
    Response,
    SetResponse,
    SeveralResponse,
    TextResponse,
)
from trainkit_grading.cli.simulate.playing import played_at_random, safe_way, way_to_show

__all__ = ["WAYS", "WRONG_UNIT", "Ways", "showing", "showing_both"]

WRONG_UNIT = "right-number-wrong-unit"
# How many candidates are marked to find one that shows a misconception.
_TRIES = 40


@dataclass(frozen=True, slots=True)
class Ways:
    """The ways to answer one kind of item; ``wrong`` yields candidates that may show a misconception."""

    right: Callable[[Any, Any, random.Random], Response]
    slipped: Callable[[Any, Any, random.Random], Response]
    guessed: Callable[[Any, random.Random], Response]
    wrong: Callable[[Any, Any, str, random.Random], Iterable[Response]]


def showing(item: Any, key: Key, code: str, rng: random.Random) -> Response | None:
    """Return an answer that shows a misconception, as marking recognises it, or None where none is found."""
    for _, candidate in zip(range(_TRIES), WAYS[key.kind].wrong(item, key, code, rng), strict=False):
        if mark(item, key, candidate).misconception == code:
            return candidate
    return None


def showing_both(item: Any, key: Key, held: Collection[str], rng: random.Random) -> Response | None:
    """Return a number that two held misconceptions lead to together, or None where no two of them do."""
    if not isinstance(key, NumberKey):
        return None
    found = [pair for pair in key.pairs if pair.first in held and pair.second in held]
    if not found:
        return None
    pair = rng.choice(found)
    candidate = _written(pair.value, key, rng)
    return candidate if mark(item, key, candidate).misconception == pair.first else None


# Numbers and settings


def _written(value: float, key: NumberKey, rng: random.Random) -> NumberResponse:
    """Write a number as closely as the key asks, in one of the ways in which people write it."""
    decimals = 0 if key.tolerance >= 0.5 else min(6, math.ceil(-math.log10(key.tolerance))) if key.tolerance else 6
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
        text = text.replace(".", ",") if rng.random() < 0.1 else text
    if key.quantity == "torque" and rng.random() < 0.1:
        return NumberResponse(text=f"{text} {key.unit}")
    return NumberResponse(text=text, unit=key.unit)


def _number_right(_: NumberItem, key: NumberKey, rng: random.Random) -> Response:
    return _written(key.answer, key, rng)


def _number_slipped(_: NumberItem, key: NumberKey, rng: random.Random) -> Response:
    return _written(key.answer * rng.choice((0.1, 0.9, 1.1, 10.0)), key, rng)


def _number_guessed(item: NumberItem, rng: random.Random) -> Response:
    # Someone who does not know writes down a number that stands there.
    shown = re.findall(r"\d+(?:[.,]\d+)?", " ".join([*(line.value for line in item.given), item.prompt])) or ["10"]
    return NumberResponse(text=rng.choice(shown), unit=rng.choice(item.units) if item.units else "")


def _number_wrong(item: NumberItem, key: NumberKey, code: str, rng: random.Random) -> Iterable[Response]:
    if code == WRONG_UNIT:
        text = _written(key.answer, key, rng).text.partition(" ")[0]
        return [NumberResponse(text=text, unit=unit) for unit in item.units if unit != key.unit]
    return [_written(rule.value, key, rng) for rule in key.rules if rule.misconception == code]


def _set_to(item: SetItem, value: float) -> SetResponse:
    scale = item.scale
    on_scale = scale.low + round((value - scale.low) / scale.step) * scale.step
    return SetResponse(value=round(min(scale.high, max(scale.low, on_scale)), 9))


def _set_right(item: SetItem, key: SetKey, _: random.Random) -> Response:
    nearest = _set_to(item, key.answer)
    return nearest if abs(nearest.value - key.answer) <= key.tolerance else SetResponse(value=key.answer)


def _set_slipped(item: SetItem, key: SetKey, rng: random.Random) -> Response:
    off = (2 * key.tolerance + item.scale.step) * rng.choice((-1, 1))
    return _set_to(item, key.answer + off)


def _set_guessed(item: SetItem, rng: random.Random) -> Response:
    return _set_to(item, rng.uniform(item.scale.low, item.scale.high))


def _set_wrong(item: SetItem, key: SetKey, code: str, _: random.Random) -> Iterable[Response]:
    return [_set_to(item, rule.value) for rule in key.rules if rule.misconception == code]


# Options, places and grids


def _choice_right(_: ChoiceItem, key: ChoiceKey, __: random.Random) -> Response:
    return ChoiceResponse(option=key.right)


def _choice_slipped(item: ChoiceItem, key: ChoiceKey, rng: random.Random) -> Response:
    return ChoiceResponse(option=rng.choice([option.id for option in item.options if option.id != key.right]))


def _choice_guessed(item: ChoiceItem, rng: random.Random) -> Response:
    return ChoiceResponse(option=rng.choice(item.options).id)


def _choice_wrong(_: ChoiceItem, key: ChoiceKey, code: str, __: random.Random) -> Iterable[Response]:
    return [ChoiceResponse(option=option) for option, shows in key.shows.items() if shows == code]


def _point_right(_: PointItem, key: PointKey, rng: random.Random) -> Response:
    return PointResponse(target=rng.choice(key.right))


def _point_slipped(item: PointItem, key: PointKey, rng: random.Random) -> Response:
    others = [target.id for target in item.targets if target.id not in key.right]
    return PointResponse(target=rng.choice(others or list(key.right)))


def _point_guessed(item: PointItem, rng: random.Random) -> Response:
    return PointResponse(target=rng.choice(item.targets).id)


def _point_wrong(_: PointItem, key: PointKey, code: str, __: random.Random) -> Iterable[Response]:
    return [PointResponse(target=target) for target, shows in key.shows.items() if shows == code]


def _several(item: SeveralItem, taken: Iterable[str]) -> SeveralResponse:
    wanted = set(taken)
    return SeveralResponse(options=tuple(option.id for option in item.options if option.id in wanted))


def _several_right(item: SeveralItem, key: SeveralKey, _: random.Random) -> Response:
    return _several(item, key.right)


def _several_slipped(item: SeveralItem, key: SeveralKey, rng: random.Random) -> Response:
    return _several(item, {*key.right} ^ {rng.choice(item.options).id})


def _several_guessed(item: SeveralItem, rng: random.Random) -> Response:
    return _several(item, [option.id for option in item.options if rng.random() < 0.5])


def _several_wrong(item: SeveralItem, key: SeveralKey, code: str, _: random.Random) -> Iterable[Response]:
    return [_several(item, {*key.right} ^ {option}) for option, shows in key.shows.items() if shows == code]


def _grid_right(_: GridItem, key: GridKey, __: random.Random) -> Response:
    return GridResponse(rows=dict(key.right))


def _grid_slipped(item: GridItem, key: GridKey, rng: random.Random) -> Response:
    row = rng.choice(item.rows).id
    other = rng.choice([column.id for column in item.columns if column.id != key.right[row]])
    return GridResponse(rows={**key.right, row: other})


def _grid_guessed(item: GridItem, rng: random.Random) -> Response:
    return GridResponse(rows={row.id: rng.choice(item.columns).id for row in item.rows})


def _grid_wrong(_: GridItem, key: GridKey, code: str, __: random.Random) -> Iterable[Response]:
    for pair, shows in key.shows.items():
        if shows == code:
            row, column = pair.split(" ")
            yield GridResponse(rows={**key.right, row: column})


# Orders


def _valid_order(cards: Iterable[str], bonds: Iterable[Bond], rng: random.Random) -> list[str]:
    """Return an order that breaks no bond, chosen step by step."""
    left = list(cards)
    pairs = [(bond.before, bond.after) for bond in bonds]
    order: list[str] = []
    while left:
        free = [card for card in left if not any(after == card and before in left for before, after in pairs)]
        order.append(rng.choice(free))
        left.remove(order[-1])
    return order


def _order_right(_: OrderItem, key: OrderKey, rng: random.Random) -> Response:
    return OrderResponse(cards=tuple(_valid_order(key.cards, key.bonds, rng)))


def _order_slipped(_: OrderItem, key: OrderKey, rng: random.Random) -> Response:
    order = _valid_order(key.cards, key.bonds, rng)
    at = rng.randrange(len(order) - 1)
    order[at], order[at + 1] = order[at + 1], order[at]
    return OrderResponse(cards=tuple(order))


def _order_guessed(item: OrderItem, rng: random.Random) -> Response:
    cards = [card.id for card in item.cards]
    return OrderResponse(cards=tuple(rng.sample(cards, len(cards))))


def _order_wrong(_: OrderItem, key: OrderKey, code: str, rng: random.Random) -> Iterable[Response]:
    wanted = [bond for bond in key.bonds if bond.misconception == code]
    while wanted:
        bond = rng.choice(wanted)
        order = _valid_order(key.cards, key.bonds, rng)
        # The later step is done at once, before the one that it waits for.
        order.remove(bond.after)
        order.insert(order.index(bond.before), bond.after)
        yield OrderResponse(cards=tuple(order))


def _insert_right(_: InsertItem, key: InsertKey, rng: random.Random) -> Response:
    return InsertResponse(place=rng.choice(key.right))


def _insert_slipped(item: InsertItem, key: InsertKey, rng: random.Random) -> Response:
    place = rng.choice(key.right) + rng.choice((-1, 1))
    return InsertResponse(place=min(len(item.written), max(0, place)))


def _insert_guessed(item: InsertItem, rng: random.Random) -> Response:
    return InsertResponse(place=rng.randint(0, len(item.written)))


def _insert_wrong(item: InsertItem, _: InsertKey, __: str, rng: random.Random) -> Iterable[Response]:
    places = list(range(len(item.written) + 1))
    return [InsertResponse(place=place) for place in rng.sample(places, len(places))]


# Scenarios and texts


def _actions_right(item: ActionsItem, _: ActionsKey, __: random.Random) -> Response:
    return ActionsResponse(actions=safe_way(item))


def _actions_slipped(item: ActionsItem, _: ActionsKey, rng: random.Random) -> Response:
    way = list(safe_way(item))
    at = rng.randint(0, len(way))
    play, _log = scenarios.replay(item.model, item.scene, tuple(way[:at]))
    extra = rng.choice(play.actions) if not play.finished else ""
    # Once out of step the rest is done as it was learnt, whatever has happened meanwhile.
    return ActionsResponse(actions=tuple([*way[:at], *([extra] if extra else []), *way[at:]][: item.limit]))


def _actions_guessed(item: ActionsItem, rng: random.Random) -> Response:
    return played_at_random(item, (), rng)


def _actions_wrong(item: ActionsItem, _: ActionsKey, code: str, __: random.Random) -> Iterable[Response]:
    way = way_to_show(item, code)
    return [ActionsResponse(actions=way)] if way is not None else []


_SENTENCES = (
    "I would stop, look at the mark again and only then go on.",
    "First lock out the starter, then bar by hand the stated way.",
    "The pin comes out before anything is tightened, or it carries the load.",
    "I ask the person in charge before I turn anything.",
)


def _text(item: TextItem, sentences: Iterable[str]) -> TextResponse:
    """Write so many whole sentences as there is room for, the first one cut off if it alone is too long."""
    text = ""
    for sentence in sentences:
        longer = f"{text} {sentence}".strip()
        if text and len(longer) > item.limit:
            break
        text = longer[: item.limit]
    return TextResponse(text=text)


def _text_right(item: TextItem, key: TextKey, rng: random.Random) -> Response:
    return _text(item, [rng.choice(_SENTENCES), *key.working])


def _text_slipped(item: TextItem, key: TextKey, rng: random.Random) -> Response:
    # One thing is forgotten in the writing.
    left_out = rng.randrange(len(key.working)) if key.working else 0
    known = (line for at, line in enumerate(key.working) if at != left_out)
    return _text(item, [rng.choice(_SENTENCES), *known])


def _text_guessed(item: TextItem, rng: random.Random) -> Response:
    return _text(item, rng.sample(_SENTENCES, rng.randint(1, 2)))


def _text_wrong(_: TextItem, __: TextKey, ___: str, ____: random.Random) -> Iterable[Response]:
    return ()


# Observed work has no entry: a person watches it, nobody answers it in a workbook.
WAYS: dict[str, Ways] = {
    "number": Ways(_number_right, _number_slipped, _number_guessed, _number_wrong),
    "set": Ways(_set_right, _set_slipped, _set_guessed, _set_wrong),
    "choice": Ways(_choice_right, _choice_slipped, _choice_guessed, _choice_wrong),
    "point": Ways(_point_right, _point_slipped, _point_guessed, _point_wrong),
    "several": Ways(_several_right, _several_slipped, _several_guessed, _several_wrong),
    "grid": Ways(_grid_right, _grid_slipped, _grid_guessed, _grid_wrong),
    "order": Ways(_order_right, _order_slipped, _order_guessed, _order_wrong),
    "insert": Ways(_insert_right, _insert_slipped, _insert_guessed, _insert_wrong),
    "actions": Ways(_actions_right, _actions_slipped, _actions_guessed, _actions_wrong),
    "text": Ways(_text_right, _text_slipped, _text_guessed, _text_wrong),
}
