"""What the questions give away; run as ``python tests/bench/question_figures.py [TEMPLATES] [PACKS] [DRAWS] [SEED]``.

TEMPLATES is a part of their names (``torque-units``, ``next-bolt``; ``all`` for all of them, which is the default),
PACKS are names or paths with commas between them. For each template and pack is printed:

* the effective draw space, 1 over the chance that two draws are equal, with the number of equal pairs that it was
  counted from and its one-sided 95 % limits: so many draws cannot see far beyond a third of their pairs;
* what guessing scores and what the best rule without knowledge scores, in per cent of the points;
* flags: STEM for an option that is right too seldom or too often, ROUND for a limit that is rounded to the nearest
  step, LONG for a prompt of more than 60 words, GUESS for a rule that scores over chance, SPACE for a space that is
  below 2,000 for certain, and ``space`` for one that is below 1,000,000 for certain;
* of what part of the draws is not about the pack itself.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.trainkit.guessing import MOST_WORDS, Figures
from tests.trainkit.second_ways.reading import PACKS, pack
from trainkit import packs
from trainkit.errors import ItemError
from trainkit.items.facts import Draw
from trainkit.items.template import find, names
from trainkit.packs import Pack

MANY, ENOUGH = 1_000_000, 2_000
STEMS_SHOWN = 4
DRAWS = 3_000
# A bench is searched while it is drawn.
SLOW = {"lock-pin/pin-the-engine": 10}


def drawn(name: str, of: Pack, count: int, seed: int) -> list[Draw]:
    """Draw a template so many times; each draw has a seed of its own."""
    template = find(name)
    return [template.draw(random.Random(f"{seed} {name} {of.name} {number}"), of) for number in range(count)]


def amount(value: float) -> str:
    """Write an effective space."""
    return "∞" if math.isinf(value) else f"{float(f'{value:.2g}'):,.0f}"


def flags(found: Figures) -> Iterator[str]:
    """Yield what is amiss."""
    most = found.space.limits[1]
    if most < MANY:
        yield "SPACE" if most < ENOUGH else "space"
    if found.guessable:
        yield "GUESS"
    if found.telling:
        yield "STEM"
    if found.rounding:
        yield f"ROUND {found.rounding}"
    if found.most_words > MOST_WORDS:
        yield f"LONG {found.most_words}"


def line(name: str, engine: str, found: Figures, seconds: float) -> str:
    """Return the figures of one template on one pack."""
    space, (rule, score) = found.space, found.best
    low, high = (amount(limit) for limit in space.limits)
    instead = sum(bool(draw.instead) for draw in found.draws) / len(found.draws)
    return (
        f"{name:38} {engine:8} n {space.draws:5} distinct {space.distinct:5} equal pairs {space.collisions:6} "
        f"eff {amount(space.effective):>10} ({low} to {high})  chance {found.chance:4.0%} best {score:4.0%} ({rule})  "
        f"instead {instead:4.0%}  words {found.most_words:3}  {seconds / space.draws * 1000:.1f} ms  "
        f"{' '.join(flags(found))}"
    )


def main(arguments: Sequence[str]) -> None:
    """Print the figures."""
    wanted, engines, count, seed, *_ = [*arguments, *("all", ",".join(PACKS), str(DRAWS), "1")[len(arguments) :]]
    chosen = [name for name in names() if wanted == "all" or any(part in name for part in wanted.split(","))]
    print(f"n {count}, seed {seed}; effective space with its one-sided 95 % limits; scores in per cent of the points")
    refused: Counter[str] = Counter()
    for name in chosen:
        for engine in engines.split(","):
            of = pack(engine) if engine in PACKS else packs.load(engine)
            begun = time.process_time()
            try:
                found = Figures(drawn(name, of, int(count) // SLOW.get(name, 1), int(seed)))
            except ItemError as error:
                print(f"{name:38} {of.name:8} refused: {error.rule}")
                refused[of.name] += 1
                continue
            print(line(name, of.name, found, time.process_time() - begun), flush=True)
            for each in found.telling[:STEMS_SHOWN]:
                print(f"{'':10} in {each.seen:4.0%} of the draws, right in {each.right:4.0%}: {each.text[:120]}")
    print(f"refused: {dict(refused)}")


if __name__ == "__main__":
    main(sys.argv[1:])
