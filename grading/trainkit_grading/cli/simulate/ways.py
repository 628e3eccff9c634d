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
from typing import Any, Generic, TypeVar, assert_never, get_args

from trainkit.items import kinds, scenarios
from trainkit.items.kinds.number import WRONG_UNIT
from trainkit.items.marking import mark
from trainkit.items.misconceptions import all_misconceptions
from trainkit_grading.cli.simulate.playing import played_at_random, safe_way, way_to_show

# How many candidates are marked to find one that shows a misconception.
_TRIES = 40

I = TypeVar("I")  # noqa: E741 - item and key of one kind
K = TypeVar("K")


@dataclass(frozen=True, slots=True)
class Ways(Generic[I, K]):
    """The ways to answer one kind of item.

    Parameters
    ----------
    right, slipped, guessed : callable
        A right answer, one that went wrong in the writing, and a guess.
    wrong : callable
        Candidates that may show a misconception.
    shown : callable
        Codes of the misconceptions that an answer can show, as far as the key alone says it.
    """

    right: Callable[[I, K, random.Random], kinds.Response]
    slipped: Callable[[I, K, random.Random], kinds.Response]
    guessed: Callable[[I, random.Random], kinds.Response]
    wrong: Callable[[I, K, str, random.Random], Iterable[kinds.Response]]
    shown: Callable[[K], Iterable[str]]


def showing(item: kinds.Item, key: kinds.Key, code: str, rng: random.Random) -> kinds.Response | None:
    """Return an answer that shows a misconception, as marking recognises it, or None where none is found."""
    for _, candidate in zip(range(_TRIES), WAYS[key.kind].wrong(item, key, code, rng), strict=False):
        if mark(item, key, candidate).misconception == code:
            return candidate
    return None


def showing_both(item: kinds.Item, key: kinds.Key, held: Collection[str], rng: random.Random) -> kinds.Response | None:
    """Return a number that two held misconceptions lead to together, or None where no two of them do."""
    if not isinstance(key, kinds.NumberKey):
        return None
    found = [pair for pair in key.pairs if pair.first in held and pair.second in held]
    if not found:
        return None
    pair = rng.choice(found)
    candidate = _written(pair.value, key, rng)
    return candidate if mark(item, key, candidate).misconception == pair.first else None


# Numbers and settings


def _written(value: float, key: kinds.NumberKey, rng: random.Random) -> kinds.NumberResponse:
    """Write a number as closely as the key asks, in one of the ways in which people write it."""
    decimals = 0 if key.tolerance >= 0.5 else min(6, math.ceil(-math.log10(key.tolerance))) if key.tolerance else 6
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
        text = text.replace(".", ",") if rng.random() < 0.1 else text
    if key.quantity == "torque" and rng.random() < 0.1:
        return kinds.NumberResponse(text=f"{text} {key.unit}")
    return kinds.NumberResponse(text=text, unit=key.unit)


def _number_guessed(item: kinds.NumberItem, rng: random.Random) -> kinds.Response:
    # Someone who does not know writes down a number that stands there.
    shown = re.findall(r"\d+(?:[.,]\d+)?", " ".join([*(line.value for line in item.given), item.prompt])) or ["10"]
    return kinds.NumberResponse(text=rng.choice(shown), unit=rng.choice(item.units) if item.units else "")


def _number_wrong(
    item: kinds.NumberItem, key: kinds.NumberKey, code: str, rng: random.Random
) -> Iterable[kinds.Response]:
    if code == WRONG_UNIT:
        text = _written(key.answer, key, rng).text.partition(" ")[0]
        return [kinds.NumberResponse(text=text, unit=unit) for unit in item.units if unit != key.unit]
    return [_written(rule.value, key, rng) for rule in key.rules if rule.misconception == code]


def _by_rules(key: kinds.NumberKey | kinds.SetKey) -> list[str]:
    return [rule.misconception for rule in key.rules]


_NUMBER: Ways[kinds.NumberItem, kinds.NumberKey] = Ways(
    right=lambda _, key, rng: _written(key.answer, key, rng),
    slipped=lambda _, key, rng: _written(key.answer * rng.choice((0.1, 0.9, 1.1, 10.0)), key, rng),
    guessed=_number_guessed,
    wrong=_number_wrong,
    shown=lambda key: [*_by_rules(key), *([WRONG_UNIT] if key.quantity == "torque" else [])],
)


def _set_to(item: kinds.SetItem, value: float) -> kinds.SetResponse:
    scale = item.scale
    on_scale = scale.low + round((value - scale.low) / scale.step) * scale.step
    return kinds.SetResponse(value=round(min(scale.high, max(scale.low, on_scale)), 9))


def _set_right(item: kinds.SetItem, key: kinds.SetKey, _: random.Random) -> kinds.Response:
    nearest = _set_to(item, key.answer)
    return nearest if abs(nearest.value - key.answer) <= key.tolerance else kinds.SetResponse(value=key.answer)


_SET: Ways[kinds.SetItem, kinds.SetKey] = Ways(
    right=_set_right,
    slipped=lambda item, key, rng: _set_to(
        item, key.answer + (2 * key.tolerance + item.scale.step) * rng.choice((-1, 1))
    ),
    guessed=lambda item, rng: _set_to(item, rng.uniform(item.scale.low, item.scale.high)),
    wrong=lambda item, key, code, _: [_set_to(item, rule.value) for rule in key.rules if rule.misconception == code],
    shown=_by_rules,
)


# Options, places and grids


def _by_options(key: kinds.ChoiceKey | kinds.PointKey | kinds.SeveralKey | kinds.GridKey) -> Iterable[str]:
    return key.shows.values()


def _showing(key: kinds.ChoiceKey | kinds.PointKey | kinds.SeveralKey | kinds.GridKey, code: str) -> Iterable[str]:
    return (option for option, shows in key.shows.items() if shows == code)


_CHOICE: Ways[kinds.ChoiceItem, kinds.ChoiceKey] = Ways(
    right=lambda _, key, __: kinds.ChoiceResponse(option=key.right),
    slipped=lambda item, key, rng: kinds.ChoiceResponse(
        option=rng.choice([option.id for option in item.options if option.id != key.right])
    ),
    guessed=lambda item, rng: kinds.ChoiceResponse(option=rng.choice(item.options).id),
    wrong=lambda _, key, code, __: [kinds.ChoiceResponse(option=option) for option in _showing(key, code)],
    shown=_by_options,
)


def _point_slipped(item: kinds.PointItem, key: kinds.PointKey, rng: random.Random) -> kinds.Response:
    others = [target.id for target in item.targets if target.id not in key.right]
    return kinds.PointResponse(target=rng.choice(others or list(key.right)))


_POINT: Ways[kinds.PointItem, kinds.PointKey] = Ways(
    right=lambda _, key, rng: kinds.PointResponse(target=rng.choice(key.right)),
    slipped=_point_slipped,
    guessed=lambda item, rng: kinds.PointResponse(target=rng.choice(item.targets).id),
    wrong=lambda _, key, code, __: [kinds.PointResponse(target=target) for target in _showing(key, code)],
    shown=_by_options,
)


def _several(item: kinds.SeveralItem, taken: Collection[str]) -> kinds.SeveralResponse:
    return kinds.SeveralResponse(options=tuple(option.id for option in item.options if option.id in taken))


_SEVERAL: Ways[kinds.SeveralItem, kinds.SeveralKey] = Ways(
    right=lambda item, key, _: _several(item, key.right),
    slipped=lambda item, key, rng: _several(item, {*key.right} ^ {rng.choice(item.options).id}),
    guessed=lambda item, rng: _several(item, [option.id for option in item.options if rng.random() < 0.5]),
    wrong=lambda item, key, code, _: [_several(item, {*key.right} ^ {option}) for option in _showing(key, code)],
    shown=_by_options,
)


def _grid_slipped(item: kinds.GridItem, key: kinds.GridKey, rng: random.Random) -> kinds.Response:
    row = rng.choice(item.rows).id
    other = rng.choice([column.id for column in item.columns if column.id != key.right[row]])
    return kinds.GridResponse(rows={**key.right, row: other})


_GRID: Ways[kinds.GridItem, kinds.GridKey] = Ways(
    right=lambda _, key, __: kinds.GridResponse(rows=dict(key.right)),
    slipped=_grid_slipped,
    guessed=lambda item, rng: kinds.GridResponse(rows={row.id: rng.choice(item.columns).id for row in item.rows}),
    wrong=lambda _, key, code, __: [
        kinds.GridResponse(rows=key.right | dict([pair.split(" ")])) for pair in _showing(key, code)
    ],
    shown=_by_options,
)


# Orders


def _valid_order(cards: Iterable[str], bonds: Iterable[kinds.Bond], rng: random.Random) -> list[str]:
    """Return an order that breaks no bond, chosen step by step."""
    left = list(cards)
    pairs = [(bond.before, bond.after) for bond in bonds]
    order: list[str] = []
    while left:
        free = [card for card in left if not any(after == card and before in left for before, after in pairs)]
        order.append(rng.choice(free))
        left.remove(order[-1])
    return order


def _order_slipped(_: kinds.OrderItem, key: kinds.OrderKey, rng: random.Random) -> kinds.Response:
    order = _valid_order(key.cards, key.bonds, rng)
    at = rng.randrange(len(order) - 1)
    order[at], order[at + 1] = order[at + 1], order[at]
    return kinds.OrderResponse(cards=tuple(order))


def _order_wrong(_: kinds.OrderItem, key: kinds.OrderKey, code: str, rng: random.Random) -> Iterable[kinds.Response]:
    wanted = [bond for bond in key.bonds if bond.misconception == code]
    while wanted:
        bond = rng.choice(wanted)
        order = _valid_order(key.cards, key.bonds, rng)
        # The later step is done at once, before the one that it waits for.
        order.remove(bond.after)
        order.insert(order.index(bond.before), bond.after)
        yield kinds.OrderResponse(cards=tuple(order))


def _by_bonds(key: kinds.OrderKey | kinds.InsertKey) -> Iterable[str]:
    return (bond.misconception for bond in key.bonds if bond.misconception)


_ORDER: Ways[kinds.OrderItem, kinds.OrderKey] = Ways(
    right=lambda _, key, rng: kinds.OrderResponse(cards=tuple(_valid_order(key.cards, key.bonds, rng))),
    slipped=_order_slipped,
    guessed=lambda item, rng: kinds.OrderResponse(
        cards=tuple(rng.sample([card.id for card in item.cards], len(item.cards)))
    ),
    wrong=_order_wrong,
    shown=_by_bonds,
)


def _insert_slipped(item: kinds.InsertItem, key: kinds.InsertKey, rng: random.Random) -> kinds.Response:
    place = rng.choice(key.right) + rng.choice((-1, 1))
    return kinds.InsertResponse(place=min(len(item.written), max(0, place)))


def _insert_wrong(item: kinds.InsertItem, _: kinds.InsertKey, __: str, rng: random.Random) -> Iterable[kinds.Response]:
    places = range(len(item.written) + 1)
    return [kinds.InsertResponse(place=place) for place in rng.sample(places, len(places))]


_INSERT: Ways[kinds.InsertItem, kinds.InsertKey] = Ways(
    right=lambda _, key, rng: kinds.InsertResponse(place=rng.choice(key.right)),
    slipped=_insert_slipped,
    guessed=lambda item, rng: kinds.InsertResponse(place=rng.randint(0, len(item.written))),
    wrong=_insert_wrong,
    shown=_by_bonds,
)


# Scenarios and texts


def _actions_slipped(item: kinds.ActionsItem, _: kinds.ActionsKey, rng: random.Random) -> kinds.Response:
    way = list(safe_way(item))
    at = rng.randint(0, len(way))
    play, _log = scenarios.replay(item.model, item.scene, tuple(way[:at]))
    extra = rng.choice(play.actions) if not play.finished else ""
    # Once out of step the rest is done as it was learnt, whatever has happened meanwhile.
    return kinds.ActionsResponse(actions=tuple([*way[:at], *([extra] if extra else []), *way[at:]][: item.limit]))


def _actions_wrong(
    item: kinds.ActionsItem, _: kinds.ActionsKey, code: str, __: random.Random
) -> Iterable[kinds.Response]:
    way = way_to_show(item, code)
    return [kinds.ActionsResponse(actions=way)] if way is not None else []


def _of_its_area(key: kinds.ActionsKey) -> Iterable[str]:
    area = key.template.partition("/")[0]
    return (code for code, entry in all_misconceptions().items() if entry.area == area)


_ACTIONS: Ways[kinds.ActionsItem, kinds.ActionsKey] = Ways(
    right=lambda item, _, __: kinds.ActionsResponse(actions=safe_way(item)),
    slipped=_actions_slipped,
    guessed=lambda item, rng: played_at_random(item, (), rng),
    wrong=_actions_wrong,
    shown=_of_its_area,
)

_SENTENCES = (
    "I would stop, look at the mark again and only then go on.",
    "First lock out the starter, then bar by hand the stated way.",
    "The pin comes out before anything is tightened, or it carries the load.",
    "I ask the person in charge before I turn anything.",
)


def _text(item: kinds.TextItem, sentences: Iterable[str]) -> kinds.TextResponse:
    """Write so many whole sentences as there is room for, the first one cut off if it alone is too long."""
    text = ""
    for sentence in sentences:
        longer = f"{text} {sentence}".strip()
        if text and len(longer) > item.limit:
            break
        text = longer[: item.limit]
    return kinds.TextResponse(text=text)


def _text_slipped(item: kinds.TextItem, key: kinds.TextKey, rng: random.Random) -> kinds.Response:
    # One thing is forgotten in the writing.
    left_out = rng.randrange(len(key.working)) if key.working else 0
    known = (line for at, line in enumerate(key.working) if at != left_out)
    return _text(item, [rng.choice(_SENTENCES), *known])


_TEXT: Ways[kinds.TextItem, kinds.TextKey] = Ways(
    right=lambda item, key, rng: _text(item, [rng.choice(_SENTENCES), *key.working]),
    slipped=_text_slipped,
    guessed=lambda item, rng: _text(item, rng.sample(_SENTENCES, rng.randint(1, 2))),
    wrong=lambda _, __, ___, ____: (),
    shown=lambda _: (),
)


def ways_of(name: kinds.Name) -> Ways[Any, Any] | None:
    """Return the ways to answer a kind, or None where nobody answers it in a workbook."""
    match name:
        case "number":
            return _NUMBER
        case "choice":
            return _CHOICE
        case "several":
            return _SEVERAL
        case "order":
            return _ORDER
        case "insert":
            return _INSERT
        case "grid":
            return _GRID
        case "point":
            return _POINT
        case "set":
            return _SET
        case "actions":
            return _ACTIONS
        case "text":
            return _TEXT
        case "observed":
            return None  # a person watches it
        case _:
            assert_never(name)


WAYS: dict[str, Ways[Any, Any]] = {name: ways for name in get_args(kinds.Name) if (ways := ways_of(name))}
"""Those that are answered in a workbook, by their names."""
