"""A second sort of simulated apprentices, to hold the diagnosis against.

It shares no code and no parameter with the diagnosis or with :mod:`trainkit_grading.cli.simulate`: it reads keys itself
and never marks an answer. Its learners hold a misconception 70 per cent of the time, have wrong ideas of their own that
stand in no catalogue, and get tired. Where the other simulator looks for an answer that marking recognises, these
simply think wrongly and write down what comes out.
"""

# ruff: noqa: ARG001 - every kind of item is answered through the same calls, whatever each of them needs

from __future__ import annotations

import hashlib
import json
import random
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from trainkit.items import kinds, scenarios
from trainkit.items.kinds import ActionsItem, Bond, Item, Key

STRENGTH = 0.7  # how often a held misconception is awake
PERSISTENCE = 0.9  # how often one's own wrong idea about a sort of question is followed
FRESH = 5  # items of a module before tiredness sets in
TIRING = 0.012  # what each further item adds to the chance of a careless answer


@dataclass(frozen=True)
class Learner:
    """Who answers: what is held, the templates about which there is a wrong idea of one's own, and carelessness."""

    held: frozenset[str]
    own_ideas: frozenset[str]
    careless: float
    mind: str  # tells one learner's own ideas from another's

    def answer(self, item: Item, key: Key, nth: int, rng: random.Random) -> kinds.Response | None:
        """Answer the nth item of a module."""
        kind = KINDS.get(item.kind)
        if kind is None:
            return None
        if rng.random() < self.careless + TIRING * max(0, nth - FRESH):
            return kind.carelessly(item, key, rng)
        awake = [code for code in sorted(self.held) if rng.random() < STRENGTH]
        if awake:
            rng.shuffle(awake)
            wrong = kind.wrongly(item, key, awake, rng)
            if wrong is not None:
                return wrong
        if key.template in self.own_ideas and rng.random() < PERSISTENCE:
            return kind.privately(item, key, self._whim(key.template), rng)
        return kind.rightly(item, key, rng)

    def _whim(self, about: str) -> int:
        """Return a number that stands for this learner's own idea about one sort of question."""
        return int.from_bytes(hashlib.sha256(f"{self.mind}/{about}".encode()).digest()[:6], "big")


def learners(size: int, codes: Sequence[str], templates: Sequence[str], rng: random.Random) -> list[Learner]:
    """Return learners with none to three misconceptions and none to three ideas of their own."""
    return [
        Learner(
            frozenset(rng.sample(list(codes), rng.randint(0, 3))),
            frozenset(rng.sample(list(templates), rng.randint(0, 3))),
            rng.uniform(0.01, 0.07),
            f"{number}/{rng.random()}",
        )
        for number in range(size)
    ]


@dataclass(frozen=True)
class Kind:
    """How one kind of item is answered; ``wrongly`` returns None where nothing that is awake matters."""

    rightly: Callable[[Any, Any, random.Random], kinds.Response]
    wrongly: Callable[[Any, Any, list[str], random.Random], kinds.Response | None]
    privately: Callable[[Any, Any, int, random.Random], kinds.Response | None]
    carelessly: Callable[[Any, Any, random.Random], kinds.Response | None]


# Numbers


def _figure(key: Any, value: float) -> kinds.NumberResponse:
    return kinds.NumberResponse(text=f"{value:.8g}", unit=key.unit)


def _number_rightly(item: Any, key: Any, rng: random.Random) -> Any:
    return _figure(key, key.answer)


def _number_wrongly(item: Any, key: Any, awake: list[str], rng: random.Random) -> Any:
    for both in key.pairs:
        if both.first in awake and both.second in awake:
            return _figure(key, both.value)
    for code in awake:
        if code == "right-number-wrong-unit" and key.quantity == "torque":
            units = [unit for unit in item.units if unit != key.unit]
            if units:
                return kinds.NumberResponse(text=f"{key.answer:.8g}", unit=rng.choice(units))
        for rule in key.rules:
            if rule.misconception == code:
                return _figure(key, rule.value)
    return None


def _number_privately(item: Any, key: Any, whim: int, rng: random.Random) -> Any:
    return _figure(key, key.answer * (0.55, 0.8, 1.25, 1.45, 1.7)[whim % 5])


def _number_carelessly(item: Any, key: Any, rng: random.Random) -> Any:
    text = f"{key.answer:.8g}"
    places = [at for at, sign in enumerate(text) if sign.isdigit()]
    at = rng.choice(places)
    other = rng.choice([digit for digit in "123456789" if digit != text[at]])
    return kinds.NumberResponse(text=text[:at] + other + text[at + 1 :], unit=key.unit)


# Hands and scales


def _stop(item: Any, value: float, turn: float | None) -> Any:
    scale = item.scale
    if turn is not None:
        value = scale.low + (value - scale.low) % turn
    steps = round((min(max(value, scale.low), scale.high) - scale.low) / scale.step)
    return kinds.SetResponse(value=scale.low + steps * scale.step)


def _set_rightly(item: Any, key: Any, rng: random.Random) -> Any:
    return _stop(item, key.answer, key.turn)


def _set_wrongly(item: Any, key: Any, awake: list[str], rng: random.Random) -> Any:
    for code in awake:
        for rule in key.rules:
            if rule.misconception == code:
                return _stop(item, rule.value, key.turn)
    return None


def _set_privately(item: Any, key: Any, whim: int, rng: random.Random) -> Any:
    return _stop(item, key.answer + item.scale.step * (5 + whim % 11), key.turn)


def _set_carelessly(item: Any, key: Any, rng: random.Random) -> Any:
    return _stop(item, key.answer + item.scale.step * rng.choice((-4, -2, -1, 1, 2, 4)), key.turn)


# One of several


def _names(item: Any) -> list[str]:
    return [option.id for option in getattr(item, "options", None) or item.targets]


def _right_ones(key: Any) -> list[str]:
    return [key.right] if isinstance(key.right, str) else list(key.right)


def _pick(item: Any, name: str) -> Any:
    return kinds.ChoiceResponse(option=name) if item.kind == "choice" else kinds.PointResponse(target=name)


def _one_rightly(item: Any, key: Any, rng: random.Random) -> Any:
    return _pick(item, rng.choice(_right_ones(key)))


def _one_wrongly(item: Any, key: Any, awake: list[str], rng: random.Random) -> Any:
    for code in awake:
        theirs = [name for name in _names(item) if key.shows.get(name) == code]
        if theirs:
            return _pick(item, rng.choice(theirs))
    return None


def _one_privately(item: Any, key: Any, whim: int, rng: random.Random) -> Any:
    # Goes by something that has nothing to do with the trade, such as how the words look.
    texts = {option.id: option.text for option in getattr(item, "options", None) or item.targets}
    return _pick(item, min(texts, key=lambda name: hashlib.sha256(f"{whim}{texts[name]}".encode()).digest()))


def _one_carelessly(item: Any, key: Any, rng: random.Random) -> Any:
    return _pick(item, rng.choice(_names(item)))


# Any number of several


def _taken(item: Any, names: set[str]) -> Any:
    return kinds.SeveralResponse(options=tuple(name for name in _names(item) if name in names))


def _several_rightly(item: Any, key: Any, rng: random.Random) -> Any:
    return _taken(item, set(key.right))


def _several_wrongly(item: Any, key: Any, awake: list[str], rng: random.Random) -> Any:
    turned = {name for name in _names(item) if key.shows.get(name) in awake}
    return _taken(item, set(key.right) ^ turned) if turned else None


def _several_privately(item: Any, key: Any, whim: int, rng: random.Random) -> Any:
    names = _names(item)
    return _taken(item, set(key.right) ^ {names[whim % len(names)]})


def _several_carelessly(item: Any, key: Any, rng: random.Random) -> Any:
    return _taken(item, set(key.right) ^ {rng.choice(_names(item))})


# Grids


def _grid_rightly(item: Any, key: Any, rng: random.Random) -> Any:
    return kinds.GridResponse(rows=dict(key.right))


def _grid_wrongly(item: Any, key: Any, awake: list[str], rng: random.Random) -> Any:
    rows = dict(key.right)
    for pair, code in key.shows.items():
        row, _, column = pair.partition(" ")
        if code in awake and rows[row] == key.right[row]:
            rows[row] = column
    return kinds.GridResponse(rows=rows) if rows != dict(key.right) else None


def _grid_privately(item: Any, key: Any, whim: int, rng: random.Random) -> Any:
    columns = [column.id for column in item.columns]
    # Everything of one sort goes into one column, whatever it is.
    return kinds.GridResponse(
        rows={row.id: columns[whim % len(columns)] if (whim >> at) % 3 == 0 else key.right[row.id]
              for at, row in enumerate(item.rows)}
    )  # fmt: skip


def _grid_carelessly(item: Any, key: Any, rng: random.Random) -> Any:
    rows = {**key.right, rng.choice(item.rows).id: rng.choice(item.columns).id}
    return kinds.GridResponse(rows=rows)


# Orders


def _lined_up(cards: Sequence[str], wishes: Sequence[tuple[str, str]], rng: random.Random) -> list[str]:
    """Return an order in which as many wishes as come easily are kept: always the card with the fewest left."""
    left, order = list(cards), []
    while left:
        waits = {card: sum(later == card and first in left for first, later in wishes) for card in left}
        fewest = min(waits.values())
        card = rng.choice([card for card in left if waits[card] == fewest])
        left.remove(card)
        order.append(card)
    return order


def _order_rightly(item: Any, key: Any, rng: random.Random) -> Any:
    order = _lined_up(list(key.cards), [(bond.before, bond.after) for bond in key.bonds], rng)
    return kinds.OrderResponse(cards=tuple(order))


def _order_wrongly(item: Any, key: Any, awake: list[str], rng: random.Random) -> Any:
    turned: list[Bond] = []
    for code in awake:
        theirs = [bond for bond in key.bonds if bond.misconception == code]
        if theirs:
            turned.append(rng.choice(theirs))
    if not turned:
        return None
    # The later step is pulled forward to just before the one that it should wait for.
    order = list(_order_rightly(item, key, rng).cards)
    for bond in turned:
        if order.index(bond.after) > order.index(bond.before):
            order.remove(bond.after)
            order.insert(order.index(bond.before), bond.after)
    return kinds.OrderResponse(cards=tuple(order))


def _order_privately(item: Any, key: Any, whim: int, rng: random.Random) -> Any:
    order = list(_order_rightly(item, key, rng).cards)
    card = sorted(order, key=lambda name: hashlib.sha256(f"{whim}{key.cards[name]}".encode()).digest())[0]
    order.remove(card)
    return kinds.OrderResponse(cards=(card, *order))


def _order_carelessly(item: Any, key: Any, rng: random.Random) -> Any:
    order = list(_order_rightly(item, key, rng).cards)
    card = order.pop(rng.randrange(len(order)))
    order.insert(rng.randint(0, len(order)), card)
    return kinds.OrderResponse(cards=tuple(order))


def _insert_rightly(item: Any, key: Any, rng: random.Random) -> Any:
    return kinds.InsertResponse(place=rng.choice(key.right))


def _insert_wrongly(item: Any, key: Any, awake: list[str], rng: random.Random) -> Any:
    written = list(key.written)
    for code in awake:
        for bond in key.bonds:
            if bond.misconception == code and key.missing == bond.before:
                return kinds.InsertResponse(place=written.index(bond.after) + 1)
            if bond.misconception == code and key.missing == bond.after:
                return kinds.InsertResponse(place=written.index(bond.before))
    return None


def _insert_privately(item: Any, key: Any, whim: int, rng: random.Random) -> Any:
    return kinds.InsertResponse(place=0 if whim % 2 else len(key.written))


def _insert_carelessly(item: Any, key: Any, rng: random.Random) -> Any:
    return kinds.InsertResponse(place=min(len(key.written), max(0, rng.choice(key.right) + rng.choice((-1, 1)))))


# Scenarios

MOST_PLAYS = 6000


@lru_cache(maxsize=256)
def _ends(model: str, scene: str, limit: int) -> tuple[tuple[str, ...], dict[str, tuple[str, ...]]]:
    """Return a shortest run of actions that ends well, and one to each misconception that a play can end with."""
    first = scenarios.begin(model, json.loads(scene))
    ways: dict[str, tuple[str, ...]] = {}
    well: tuple[str, ...] = ()
    waiting = deque([(first, tuple[str, ...]())])
    met = {first}
    while waiting and len(met) < MOST_PLAYS:
        play, way = waiting.popleft()
        for action in play.actions:
            after, _ = play.act(action)
            here = (*way, action)
            if len(here) > limit:
                continue
            if after.finished:
                end = after.verdict()
                if end.misconception is not None:
                    ways.setdefault(end.misconception, here)
                elif end.share >= 1.0 and not well:
                    well = here
            elif after not in met:
                met.add(after)
                waiting.append((after, here))
    return well, ways


def _known(item: ActionsItem) -> tuple[tuple[str, ...], dict[str, tuple[str, ...]]]:
    return _ends(item.model, json.dumps(item.scene, sort_keys=True), item.limit)


def _play_rightly(item: Any, key: Any, rng: random.Random) -> Any:
    return kinds.ActionsResponse(actions=_known(item)[0])


def _play_wrongly(item: Any, key: Any, awake: list[str], rng: random.Random) -> Any:
    ways = _known(item)[1]
    return next((kinds.ActionsResponse(actions=ways[code]) for code in awake if code in ways), None)


def _play_privately(item: Any, key: Any, whim: int, rng: random.Random) -> Any:
    well = _known(item)[0]
    return kinds.ActionsResponse(actions=well[: len(well) // 2], gave_up=True)


def _play_carelessly(item: Any, key: Any, rng: random.Random) -> Any:
    well = list(_known(item)[0])
    del well[rng.randrange(len(well))]
    return kinds.ActionsResponse(actions=tuple(well), gave_up=False)


KINDS = {
    "number": Kind(_number_rightly, _number_wrongly, _number_privately, _number_carelessly),
    "set": Kind(_set_rightly, _set_wrongly, _set_privately, _set_carelessly),
    "choice": Kind(_one_rightly, _one_wrongly, _one_privately, _one_carelessly),
    "point": Kind(_one_rightly, _one_wrongly, _one_privately, _one_carelessly),
    "several": Kind(_several_rightly, _several_wrongly, _several_privately, _several_carelessly),
    "grid": Kind(_grid_rightly, _grid_wrongly, _grid_privately, _grid_carelessly),
    "order": Kind(_order_rightly, _order_wrongly, _order_privately, _order_carelessly),
    "insert": Kind(_insert_rightly, _insert_wrongly, _insert_privately, _insert_carelessly),
    "actions": Kind(_play_rightly, _play_wrongly, _play_privately, _play_carelessly),
}
