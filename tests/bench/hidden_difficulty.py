"""A simulated world in which items are hard for reasons of its own, to hold forms against.

Apprentices answer by an item-response model: the chance of a right answer grows with ability less difficulty, and a
guess among options can be right. The difficulty of an item is made of three parts, none of which asks a template:

* a level of each template, by a hash of its name;
* **structure**: words to read, digits on the page, and signs of arithmetic in the worked solution; one more of a sort
  is worth the same everywhere, and what counts is by how much a draw differs from other draws of its template;
* a **hidden** part, by a hash of everything that the item shows: no feature whatever can know it.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from statistics import NormalDist
from typing import ClassVar

import numpy as np

from trainkit.items.item import Item
from trainkit.items.key import Key
from trainkit.modules import PlannedItem

Drawn = tuple[PlannedItem, Item, Key]

# Part of the answer that is right by itself, for kinds that are marked in parts.
PARTS = {"order": 4, "several": 3, "grid": 5, "actions": 3}


class World:
    """How hard items are, and how apprentices of one ability fare with them.

    Parameters
    ----------
    reference : iterable
        Draws without any trimming: what is usual for each template.
    structure, hidden : float
        Standard deviations of the two parts within a template, in logits.
    """

    ABILITY: ClassVar[float] = 0.8
    LEVELS: ClassVar[float] = 0.7  # standard deviation of the levels of templates, in logits
    MAIN: ClassVar[tuple[float, float]] = (0.2, 0.1)
    # Structure and hidden part, each pair a world of its own.
    SETTINGS: ClassVar[tuple[tuple[float, float], ...]] = (
        (0.1, 0.1), (0.2, 0.0), (0.2, 0.1), (0.2, 0.2), (0.3, 0.1), (0.3, 0.3), (0.5, 0.0), (0.5, 0.5),
    )  # fmt: skip

    def __init__(self, reference: Iterable[Drawn], structure: float, hidden: float) -> None:
        self.structure, self.hidden = structure, hidden
        seen: dict[str, list[tuple[float, ...]]] = defaultdict(list)
        for planned, item, key in reference:
            seen[planned.template].append(read_off(item, key))
        self._usual = {template: np.mean(rows, axis=0) for template, rows in seen.items()}
        off = np.concatenate([np.array(rows) - self._usual[template] for template, rows in seen.items()])
        self._worth = 1 / off.std(axis=0)
        self._worth /= (off @ self._worth).std()

    @classmethod
    def told(cls) -> Iterator[str]:
        """Yield the settings in words."""
        yield f"ability {cls.ABILITY} logits for everybody; levels of templates: standard deviation {cls.LEVELS}"
        yield "structure (reading, digits, arithmetic) and hidden part (a hash of the page): spread, logits"
        yield "guessing among the options of a choice or of places; orders, lists, grids and scenarios earn in parts"

    def difficulty(self, planned: PlannedItem, item: Item, key: Key) -> float:
        """Return how hard an item is, in logits."""
        more = float((np.array(read_off(item, key)) - self._usual[planned.template]) @ self._worth)
        level = self.LEVELS * chance("level", planned.template)
        return level + self.structure * more + self.hidden * chance("page", shown(item))

    def scores(self, forms: Sequence[Sequence[Drawn]]) -> tuple[np.ndarray, np.ndarray]:
        """Return the expected score of each form, and the variance of a score about it."""
        means, noise = [], []
        for form in forms:
            points = np.array([planned.points for planned, _, _ in form])
            right = np.array([self.right(*entry) for entry in form])
            parts = np.array([PARTS.get(item.kind, 1) for _, item, _ in form])
            means.append(float(points @ right))
            noise.append(float((points**2) @ (right * (1 - right) / parts)))
        self._most = float(sum(planned.points for planned, _, _ in forms[0]))
        return np.array(means), np.array(noise)

    def mean_share(self, means: np.ndarray) -> float:
        """Return the mean score as a part of all points."""
        return float(means.mean() / self._most)

    def right(self, planned: PlannedItem, item: Item, key: Key) -> float:
        """Return the chance of a right answer, or of a right part."""
        by_skill = 1 / (1 + math.exp(self.difficulty(planned, item, key) - self.ABILITY))
        options = len(getattr(item, "options", ()) or getattr(item, "targets", ()))
        guess = 1 / options if item.kind in ("choice", "point") and options else 0.0
        return guess + (1 - guess) * by_skill

    def sit(self, form: Sequence[Drawn], rng: np.random.Generator, times: int) -> np.ndarray:
        """Return the scores of so many sittings of one form."""
        total = np.zeros(times)
        for planned, item, key in form:
            parts = PARTS.get(item.kind, 1)
            total += planned.points * rng.binomial(parts, self.right(planned, item, key), times) / parts
        return total


def read_off(item: Item, key: Key) -> tuple[float, ...]:
    """Return words to read, digits on the page, and signs of arithmetic in the worked solution."""
    parts = ("options", "cards", "written", "targets", "rows")
    choose = [entry.text for part in parts for entry in getattr(item, part, ())]
    page = " ".join([item.prompt, *(f"{line.label} {line.value}" for line in item.given), *choose])
    return (
        len(page.split()),
        sum(map(str.isdigit, page)),
        sum(line.count(sign) for line in key.working for sign in "×÷=+−/"),
    )


def shown(item: Item) -> str:
    """Return everything on the page, in one text that does not hang on the order of options."""
    data = item.model_dump(mode="json", exclude={"points"})
    for part in ("options", "cards", "rows"):
        if part in data:
            data[part] = sorted(entry["text"] for entry in data[part])
    return json.dumps(data, sort_keys=True)


def chance(*labels: str) -> float:
    """Return a standard normal number that hangs on nothing but the labels."""
    digest = hashlib.blake2b("\0".join(labels).encode(), digest_size=8, person=b"hidden").digest()
    return NormalDist().inv_cdf((int.from_bytes(digest, "big") + 0.5) / 2**64)


def explained(means: np.ndarray, noise: np.ndarray, seed: int, resamplings: int = 2000) -> tuple[float, float, float]:
    """Return the share of the variance that the form explains, with its 95 % interval.

    By the law of total variance, from expected score and variance about it of every form: nothing is estimated but
    which forms there are, and over these is resampled.
    """

    def share(at: np.ndarray) -> float:
        between = means[at].var(ddof=1)
        return float(between / (between + noise[at].mean()))

    rng = np.random.default_rng(seed)
    found = [share(rng.integers(0, len(means), len(means))) for _ in range(resamplings)]
    low, high = np.percentile(found, (2.5, 97.5))
    return share(np.arange(len(means))), float(low), float(high)


def sittings_explained(world: World, forms: Sequence[Sequence[Drawn]], sittings: int, seed: int) -> float:
    """Return the same share as it is counted from scores: variance components of a one-way layout."""
    rng = np.random.default_rng(seed)
    table = np.array([world.sit(form, rng, sittings) for form in forms])
    within = table.var(axis=1, ddof=1).mean()
    between = table.mean(axis=1).var(ddof=1) - within / sittings
    return float(between / (between + within))
