"""What draws of a template give away: how often two are equal, what scores without knowledge, what is always right.

Nothing here knows the trade. A rule sees what an item shows, and at most which answers were right in other draws. Used
by the contract of all templates and by ``tests/bench/question_figures.py``.
"""

from __future__ import annotations

import math
import random
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from statistics import fmean

from scipy.stats import chi2

from trainkit.items.asking import asked
from trainkit.items.facts import Draw
from trainkit.items.kinds import (
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
    OrderItem,
    OrderKey,
    PointItem,
    PointKey,
    SetItem,
    SetKey,
    SeveralItem,
    SeveralKey,
)
from trainkit.items.marking import mark

# A stem that stands in fewer draws than this says little; else it is right in so large a part of them.
SEEN, RARELY, OFTEN = 0.1, 0.12, 0.6
# A rule without knowledge may score so much more than chance.
OVER_CHANCE = 0.06
MOST_WORDS = 60
# A prompt that asks for a limit, whose value is rounded to one side.
_LIMIT = re.compile(r"\b(largest|smallest|least|most|lowest|highest|at most|at least)\b", re.IGNORECASE)
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_ORDERS_BY_CHANCE = 8


@dataclass(frozen=True)
class Space:
    """How many equal pairs there are among so many draws."""

    draws: int
    distinct: int
    collisions: int

    @classmethod
    def of(cls, draws: Sequence[Draw]) -> Space:
        """Count the equal pairs among draws."""
        met = Counter(asked(item) for item, _ in draws)
        return cls(len(draws), len(met), sum(math.comb(count, 2) for count in met.values()))

    @property
    def pairs(self) -> int:
        """How many pairs of draws there are."""
        return math.comb(self.draws, 2)

    @property
    def effective(self) -> float:
        """The effective draw space: 1 over the chance that two draws are equal, or infinity where none were."""
        return self.pairs / self.collisions if self.collisions else math.inf

    @property
    def limits(self) -> tuple[float, float]:
        """The one-sided 95 % limits of the effective space, taking the number of equal pairs for a Poisson count."""
        least = chi2.ppf(0.05, 2 * self.collisions) / 2 if self.collisions else 0.0
        most = chi2.ppf(0.95, 2 * self.collisions + 2) / 2
        return self.pairs / most, self.pairs / least if least else math.inf


def stem(text: str) -> str:
    """Return a text with every number in it made alike.

    Examples
    --------
    >>> stem("Screws 1, 2 and 4: final.") == stem("Screws 3, 5 and 6: final.")
    True
    """
    return _NUMBER.sub("#", text)


Parts = list[tuple[str, str]]  # identifier and text of each thing that can be chosen, as they stand


def offered(item: Item) -> Parts:
    """Return what can be chosen; of a pattern of bolts only those that are not marked as done."""
    if isinstance(item, PointItem):
        bolts = (item.figure or {}).get("bolts", ())
        done = {bolt["id"] for bolt in bolts if "done" in bolt}
        return [(target.id, target.text) for target in item.targets if target.id not in done]
    if isinstance(item, ChoiceItem | SeveralItem):
        return [(option.id, option.text) for option in item.options]
    return []


def rights(key: Key) -> frozenset[str]:
    """Return what is right of the things that can be chosen."""
    if isinstance(key, ChoiceKey):
        return frozenset([key.right])
    return frozenset(key.right) if isinstance(key, SeveralKey | PointKey) else frozenset()


@dataclass(frozen=True)
class Stem:
    """An option without its numbers: in what part of the draws it stands, and in what part of those it is right."""

    text: str
    seen: float
    right: float
    stood: int  # how often it stood there

    @property
    def flagged(self) -> bool:
        """Whether it gives itself away."""
        return self.seen >= SEEN and not RARELY <= self.right <= OFTEN

    @property
    def surely(self) -> bool:
        """Whether it does so by more than so few draws leave open: by three standard errors."""
        low, high = (3 * math.sqrt(limit * (1 - limit) / self.stood) for limit in (RARELY, OFTEN))
        return self.seen >= SEEN and not RARELY - low <= self.right <= OFTEN + high


def stems(draws: Sequence[Draw]) -> list[Stem]:
    """Return the stems of all options, the most frequent first."""
    stood, right, within = Counter[str](), Counter[str](), Counter[str]()
    for item, key in draws:
        good = rights(key)
        for name, text in offered(item):
            stood[stem(text)] += 1
            right[stem(text)] += name in good
        within.update({stem(text) for _, text in offered(item)})
    return [
        Stem(text, count / len(draws), right[text] / stood[text], stood[text]) for text, count in within.most_common()
    ]


# --- chance ---------------------------------------------------------------------------------------------------------


def _several_share(taken: int, wrongly: int, right: int, others: int) -> float:
    return max(0.0, (taken / right if right else 1.0) - (wrongly / others if others else 0.0))


def _guess_of_size(item: Item, key: Key, size: int) -> float:
    """Return what a set of so many options taken by chance scores on average."""
    right, all_of_them = len(rights(key)), len(offered(item))
    others, ways = all_of_them - right, math.comb(all_of_them, size)
    return math.fsum(
        math.comb(right, hit) * math.comb(others, size - hit) / ways * _several_share(hit, size - hit, right, others)
        for hit in range(max(0, size - others), min(size, right) + 1)
    )


def chance(draws: Sequence[Draw]) -> float:
    """Return what guessing scores on average; where any number may be taken, guessing of the best size."""
    kind = draws[0].item.kind
    if kind in ("choice", "point"):
        return fmean(len(rights(key)) / len(offered(item)) for item, key in draws)
    if kind == "several":
        most = max(len(offered(item)) for item, _ in draws)
        return max(
            fmean(_guess_of_size(item, key, min(size, len(offered(item)))) for item, key in draws)
            for size in range(1, most)
        )
    if kind == "insert":
        return fmean(len(key.right) / (len(key.written) + 1) for _, key in draws if isinstance(key, InsertKey))
    if kind == "grid":
        return fmean(1 / len(item.columns) for item, _ in draws if isinstance(item, GridItem))
    if kind == "order":
        rng = random.Random(1)
        return fmean(
            mark(item, key, {"kind": "order", "cards": rng.sample(cards, len(cards))}).points / item.points
            for item, key in draws
            if isinstance(item, OrderItem)
            for cards in [[card.id for card in item.cards]] * _ORDERS_BY_CHANCE
        )
    return 0.0


# --- rules without knowledge ------------------------------------------------------------------------------------------

Rank = Callable[[str, Parts], float]


def _first_number(text: str) -> float:
    found = _NUMBER.search(text)
    return float(found[0]) if found else -1.0


def _last_number(text: str) -> float:
    found = _NUMBER.findall(text)
    return float(found[-1]) if found else -1.0


def _by_place(order: Callable[[str], float], place: int) -> Rank:
    """Rank the thing highest that stands at a place of the order, and what is near to it next."""

    def rank(text: str, parts: Parts) -> float:
        values = sorted({order(each) for _, each in parts}, reverse=True)
        return -abs(values.index(order(text)) - min(place % len(values), len(values) - 1))

    return rank


RANKS: dict[str, Rank] = {
    "first": lambda text, parts: -[each for _, each in parts].index(text),
    "last": lambda text, parts: [each for _, each in parts].index(text),
    "longest": lambda text, _: len(text),
    "shortest": lambda text, _: -len(text),
    **{
        f"{place} {number}": _by_place(order, at)
        for number, order in (("number", _first_number), ("last number", _last_number))
        for place, at in (("largest", 0), ("second largest", 1), ("smallest", -1), ("second smallest", -2))
    },
}


@dataclass(frozen=True)
class Learnt:
    """What somebody has learnt by heart of other draws: how often each stem, and each word of it, was right."""

    stems: dict[str, float]
    words: dict[str, float]

    @classmethod
    def of(cls, draws: Sequence[Draw]) -> Learnt:
        """Learn from draws."""
        tally: dict[str, list[int]] = defaultdict(lambda: [1, 1])
        words: dict[str, list[int]] = defaultdict(lambda: [1, 1])
        for item, key in draws:
            good = rights(key)
            for name, text in offered(item):
                tally[stem(text)][name in good] += 1
                for word in {*stem(text).lower().split()}:
                    words[word][name in good] += 1
        return cls(
            {text: yes / (no + yes) for text, (no, yes) in tally.items()},
            {word: math.log(yes / no) for word, (no, yes) in words.items()},
        )

    @property
    def ranks(self) -> dict[str, Rank]:
        """What it makes of an option."""
        usual = fmean(self.stems.values()) if self.stems else 0.0
        return {
            "learnt stem": lambda text, _: self.stems.get(stem(text), usual),
            "learnt words": lambda text, _: math.fsum(
                self.words.get(word, 0.0) for word in {*stem(text).lower().split()}
            ),
        }


def _chosen(draws: Sequence[Draw], rank: Rank) -> float:
    """Return what a rank scores: what ranks highest is taken; of several, so many as score best throughout."""
    sizes = range(1, 2 if draws[0].item.kind != "several" else max(len(offered(item)) for item, _ in draws))
    best = 0.0
    for size in sizes:
        scores = []
        for item, key in draws:
            parts, good = offered(item), rights(key)
            ranked = sorted(parts, key=lambda part: -rank(part[1], parts))
            if item.kind != "several":
                scores.append(float(ranked[0][0] in good))
                continue
            hit = sum(name in good for name, _ in ranked[:size])
            wrongly = min(size, len(parts)) - hit
            scores.append(_several_share(hit, wrongly, len(good), len(parts) - len(good)))
        best = max(best, fmean(scores))
    return best


def _numbers_shown(item: Item) -> Iterator[tuple[str, float]]:
    """Yield the numbers that an item shows, each by where it stands."""
    texts = [item.prompt, *(line.value for line in item.given)]
    for at, found in enumerate(_NUMBER.findall(" ".join(texts))[:8], start=1):
        yield f"copy number {at}", float(found)


def _numeric(train: Sequence[Draw], test: Sequence[Draw]) -> dict[str, float]:
    """Return what the most frequent number scores, and each number that can be copied."""

    def near(key: Key, value: float) -> bool:
        assert isinstance(key, NumberKey | SetKey)
        return abs(value - key.answer) <= key.tolerance + 1e-9

    met = Counter(key.answer for _, key in train if isinstance(key, NumberKey | SetKey))
    usual = met.most_common(1)[0][0]
    found = {"most frequent number": fmean(near(key, usual) for _, key in test)}
    copied: dict[str, list[bool]] = defaultdict(list)
    for item, key in test:
        for name, value in _numbers_shown(item):
            copied[name].append(near(key, value))
    return found | {name: sum(hits) / len(test) for name, hits in copied.items()}


def _placed(train: Sequence[Draw], test: Sequence[Draw]) -> dict[str, float]:
    """Return what a place in a written order scores: the first, the last, the most frequent one."""
    met = Counter(place for _, key in train if isinstance(key, InsertKey) for place in key.right)
    usual = met.most_common(1)[0][0]
    found: dict[str, list[bool]] = defaultdict(list)
    for item, key in test:
        assert isinstance(item, InsertItem)
        assert isinstance(key, InsertKey)
        for name, place in (("first", 0), ("last", len(item.written)), ("most frequent place", usual)):
            found[name].append(place in key.right)
    return {name: fmean(hits) for name, hits in found.items()}


def _ordered(test: Sequence[Draw]) -> dict[str, float]:
    """Return what orders score that only look at the cards; an order that is known by heart is knowledge."""
    ways: dict[str, Callable[[str], float | str]] = {
        "longest card first": lambda text: -len(text),
        "shortest card first": len,
        "by the alphabet": lambda text: text,
    }
    found: dict[str, list[float]] = defaultdict(list)
    for item, key in test:
        assert isinstance(item, OrderItem)
        assert isinstance(key, OrderKey)
        orders = {"as they stand": [card.id for card in item.cards]}
        for name, way in ways.items():
            orders[name] = [card.id for card in sorted(item.cards, key=lambda card: way(card.text))]
        for name, cards in orders.items():
            found[name].append(mark(item, key, {"kind": "order", "cards": cards}).points / item.points)
    return {name: fmean(points) for name, points in found.items()}


def _gridded(train: Sequence[Draw], test: Sequence[Draw]) -> dict[str, float]:
    """Return what one column for every row scores."""
    found = {}
    for column in {column.text for item, _ in train if isinstance(item, GridItem) for column in item.columns}:
        scores = []
        for item, key in test:
            assert isinstance(item, GridItem)
            assert isinstance(key, GridKey)
            names = {each.text: each.id for each in item.columns}
            scores.append(fmean(key.right[row.id] == names.get(column) for row in item.rows))
        found[f"always “{column}”"] = fmean(scores)
    return found


def scores(draws: Sequence[Draw]) -> dict[str, float]:
    """Return what each rule without knowledge scores, of 1; what is learnt is learnt on one half, tried on the other.

    Benches, texts and watched work are not guessed at here: their rules are in the tests of their modules.
    """
    half = len(draws) // 2
    train, test = draws[:half], draws[half:]
    item = draws[0].item
    if isinstance(item, ChoiceItem | SeveralItem | PointItem):
        ranks = RANKS | Learnt.of(train).ranks
        if isinstance(item, PointItem):
            ranks = {name: rank for name, rank in ranks.items() if name in ("first", "last", "learnt stem")}
        elif not any(_NUMBER.search(text) for each, _ in draws[:20] for _, text in offered(each)):
            ranks = {name: rank for name, rank in ranks.items() if "number" not in name}
        return {name: _chosen(test, rank) for name, rank in ranks.items()}
    if isinstance(item, NumberItem | SetItem):
        return _numeric(train, test)
    if isinstance(item, InsertItem):
        return _placed(train, test)
    if isinstance(item, OrderItem):
        return _ordered(test)
    return _gridded(train, test) if isinstance(item, GridItem) else {}


# --- what one item shows ----------------------------------------------------------------------------------------------


def words(item: Item) -> int:
    """Return how many words a prompt has outside its tables."""
    return len(item.prompt.split())


def rounded_wrongly(item: Item) -> bool:
    """Tell whether a limit is asked for, and its value rounded to the nearest step."""
    return isinstance(item, NumberItem) and bool(_LIMIT.search(item.prompt)) and "nearest" in item.to_nearest


@dataclass(frozen=True)
class Figures:
    """All that is measured of the draws of one template on one pack."""

    draws: Sequence[Draw]

    @cached_property
    def space(self) -> Space:
        """How often two draws are equal."""
        return Space.of(self.draws)

    @cached_property
    def chance(self) -> float:
        """What guessing scores."""
        return chance(self.draws)

    @cached_property
    def best(self) -> tuple[str, float]:
        """The best rule without knowledge, and what it scores."""
        return max(scores(self.draws).items(), key=lambda each: each[1], default=("none", 0.0))

    @property
    def guessable(self) -> bool:
        """Whether the best rule scores more over chance than it may, beyond what so few draws leave open.

        Allowed for are three standard errors of a score by chance in the half that is tried: the best of many rules
        is looked at.
        """
        error = math.sqrt(max(self.chance * (1 - self.chance), 0.01) / (len(self.draws) / 2))
        return self.best[1] > self.chance + OVER_CHANCE + 3 * error

    @cached_property
    def telling(self) -> list[Stem]:
        """The stems that give themselves away."""
        return [each for each in stems(self.draws) if each.flagged]

    @property
    def most_words(self) -> int:
        """The longest prompt, in words."""
        return max(words(item) for item, _ in self.draws)

    @property
    def rounding(self) -> int:
        """In how many draws a limit is rounded to the nearest step."""
        return sum(rounded_wrongly(item) for item, _ in self.draws)
