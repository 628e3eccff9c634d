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
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from trainkit.items.facts import Draw
from trainkit.items.kinds import Item, Key
from trainkit.modules import PlannedItem

Drawn = tuple[PlannedItem, Draw]

# Part of the answer that is right by itself, for kinds that are marked in parts.
PARTS = {"order": 4, "several": 3, "grid": 5, "actions": 3, "text": 4, "observed": 6}


ABILITY = 0.8
LEVELS = 0.7  # standard deviation of the levels of templates, in logits
# Standard deviations of structure and hidden part within a template, in logits; each pair is a world of its own.
MAIN = (0.2, 0.1)
SETTINGS = ((0.1, 0.1), (0.2, 0.0), (0.2, 0.1), (0.2, 0.2), (0.3, 0.1), (0.3, 0.3), (0.5, 0.0), (0.5, 0.5))
TOLD = (
    f"ability {ABILITY} logits for everybody; levels of templates: standard deviation {LEVELS}",
    "structure (reading, digits, arithmetic) and hidden part (a hash): standard deviations within a template, logits",
    "guessing among the options of a choice or of places; orders, lists, grids and scenarios earn in parts",
)


@dataclass(frozen=True)
class Papers:
    """Forms as the world sees them: a row for each form, a column for each item.

    ``more`` and ``hidden`` are structure and hidden part, both with a standard deviation of 1 within a template.
    """

    points: np.ndarray
    parts: np.ndarray
    guess: np.ndarray
    level: np.ndarray
    more: np.ndarray
    hidden: np.ndarray

    def right(self, structure: float, hidden: float) -> np.ndarray:
        """Return the chance of a right answer, or of a right part, to each item."""
        hard = self.level + structure * self.more + hidden * self.hidden
        by_skill = 1 / (1 + np.exp(hard - ABILITY))
        return np.asarray(self.guess + (1 - self.guess) * by_skill)

    def scores(self, structure: float, hidden: float) -> tuple[np.ndarray, np.ndarray]:
        """Return the expected score of each form, and the variance of a score about it."""
        right = self.right(structure, hidden)
        return (self.points * right).sum(axis=1), (self.points**2 * right * (1 - right) / self.parts).sum(axis=1)

    def sat(self, structure: float, hidden: float, sittings: int, seed: int) -> np.ndarray:
        """Return the scores of so many sittings of each form: a row for each form."""
        rng = np.random.default_rng(seed)
        right = self.right(structure, hidden)
        parts = self.parts.astype(int)
        rows = [(rng.binomial(parts, right) / parts * self.points).sum(axis=1) for _ in range(sittings)]
        return np.array(rows).T


class World:
    """What is usual for each template, by draws without any trimming."""

    def __init__(self, reference: Iterable[Drawn]) -> None:
        seen: dict[str, list[tuple[float, ...]]] = defaultdict(list)
        for planned, (item, key) in reference:
            seen[planned.template].append(read_off(item, key))
        self._usual = {template: np.mean(rows, axis=0) for template, rows in seen.items()}
        off = np.concatenate([np.array(rows) - self._usual[template] for template, rows in seen.items()])
        self._worth = 1 / off.std(axis=0)
        self._worth /= (off @ self._worth).std()

    def papers(self, forms: Sequence[Sequence[Drawn]]) -> Papers:
        """Return forms as this world sees them."""
        table = np.array([[self._seen(*entry) for entry in form] for form in forms])
        return Papers(*(table[:, :, at] for at in range(table.shape[2])))

    def _seen(self, planned: PlannedItem, drawn: Draw) -> tuple[float, ...]:
        item, key = drawn
        options = len(getattr(item, "options", ()) or getattr(item, "targets", ()))
        return (
            planned.points,
            PARTS.get(item.kind, 1),
            1 / options if item.kind in ("choice", "point") and options else 0.0,
            LEVELS * chance("level", planned.template),
            float((np.array(read_off(item, key)) - self._usual[planned.template]) @ self._worth),
            chance("page", shown(item)),
        )


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


def counted(scores: np.ndarray) -> float:
    """Return the same share as it is counted from scores: variance components of a one-way layout."""
    within = scores.var(axis=1, ddof=1).mean()
    between = scores.mean(axis=1).var(ddof=1) - within / scores.shape[1]
    return float(between / (between + within))
