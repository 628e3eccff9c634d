"""Keys, forms and drawing in figures; run as ``python tests/bench/keys_and_forms.py``.

1. *Keys*: many draws of every template on both engines, each held against its second way (``second_ways``), and
   every answer that cannot be told from another.
2. *Forms*: how much of the variance of scores of equally able apprentices comes from the form that each of them has.
   The difficulty of items comes from a world of its own (``hidden_difficulty.py``), not from features of templates.
   Everything that comes from simulated apprentices is called *simulated*.
3. *Drawing*: how long forms with keys take, on one core.

The spreads of the simulated world were chosen before the first run; how its structure is measured was changed after it.
Both are printed with the results. Other spreads give other shares.
"""

from __future__ import annotations

import argparse
import platform
import random
import statistics
import sys
import time
from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench.hidden_difficulty import MAIN, SETTINGS, TOLD, World, counted, explained
from tests.trainkit.second_ways import ways
from tests.trainkit.second_ways.reading import PACKS, collisions, pack
from trainkit import modules
from trainkit.errors import ItemError
from trainkit.items.asking import asked
from trainkit.items.facts import Draw
from trainkit.items.template import find, names
from trainkit.modules import Blueprint, PlannedItem
from trainkit.packs import Pack
from trainkit_grading.course.seeds import Seed
from trainkit_grading.forms.generation import draw_forms

SECRET = 20270301  # the course's seed of these figures, as a number

Drawn = tuple[PlannedItem, Draw]


# 1. Keys


@dataclass
class Tally:
    """What was found about one template on one engine."""

    draws: int = 0
    apart: int = 0
    collide: int = 0
    questions: set[str] = field(default_factory=set)
    example: str = ""


def keys(draws: int, wanted: Collection[str] = ()) -> None:
    """Hold draws against their second ways, and print a line for each template and engine."""
    print(f"KEYS: {draws} draws of every template on every engine that it can ask about, seeds 0 to {draws - 1}")
    print(f"{'template':42}{'engine':9}{'draws':>7}{'questions':>11}{'disagree':>10}{'collide':>9}")
    total = Counter[str]()
    for name, way in sorted(ways().items()):
        if wanted and name not in wanted:
            continue
        for engine in PACKS:
            tally = Tally()
            try:
                for seed in range(draws):
                    item, key = find(name).draw(random.Random(seed), pack(engine))
                    tally.draws += 1
                    tally.questions.add(asked(item))
                    try:
                        way(item, key, engine)
                    except AssertionError as error:
                        tally.apart += 1
                        tally.example = tally.example or f"seed {seed}: {error}"
                    met = collisions(item, key)
                    tally.collide += bool(met)
                    tally.example = tally.example or (f"seed {seed}: {met[0]}" if met else "")
            except ItemError as error:
                print(f"{name:42}{engine:9} nothing to ask: {error.rule}", flush=True)
                continue
            total.update(draws=tally.draws, apart=tally.apart, collide=tally.collide, templates=1)
            figures = f"{tally.draws:7}{len(tally.questions):11}{tally.apart:10}{tally.collide:9}"
            print(f"{name:42}{engine:9}{figures}{'   ' + tally.example if tally.example else ''}", flush=True)
    missing = sorted(set(names()) - set(ways()))
    print(f"Templates without a second way: {', '.join(missing) or 'none'}")
    print(
        f"Total: {total['draws']} draws over {total['templates']} pairs of template and engine, "
        f"{total['apart']} disagree, {total['collide']} collide\n"
    )


# 2. Forms


def blueprints() -> list[tuple[Blueprint, Pack]]:
    """Return the blueprint of every module, with the pack that its assessment is drawn from."""
    plans = [modules.load(module).blueprint for module in modules.names()]
    return [(plan, pack(plan.assessed_on or plan.pack)) for plan in plans]


def balanced(secret: Seed, count: int) -> Iterator[list[Drawn]]:
    """Yield forms as a course draws them, over all modules."""
    people = [f"apprentice {number}" for number in range(count)]
    parts = [
        (blueprint.items, draw_forms(secret, "figures", blueprint, of, 1, people)) for blueprint, of in blueprints()
    ]
    for _ in people:
        form: list[Drawn] = []
        for planned, drawn in parts:
            shown, known = next(drawn)
            form += [
                (plan, Draw(entry.item, known.keys[entry.id], known.facts[entry.id].features))
                for plan, entry in zip(planned, shown.items, strict=True)
            ]
        yield form


def plain(secret: Seed, count: int) -> Iterator[list[Drawn]]:
    """Yield forms of the same blueprints drawn without pools: whatever comes first."""
    parts = blueprints()
    for number in range(count):
        form: list[Drawn] = []
        for blueprint, of in parts:
            for planned in blueprint.items:
                stream = secret.stream("plain", blueprint.module, number, planned.id)
                form.append((planned, find(planned.template).draw(stream, of)))
        yield form


def stated(forms: Iterable[list[Drawn]]) -> list[float]:
    """Return how hard forms are by the features that templates state, weighed by points."""
    return [
        sum(planned.points * find(planned.template).difficulty(drawn.features) for planned, drawn in form)
        for form in forms
    ]


def forms(count: int) -> None:
    """Print how much of the variance of simulated scores the form explains, as drawn and without pools."""
    secret = Seed(SECRET.to_bytes(32, "big"))
    print(f"FORMS: {count} simulated apprentices, all equally able, each with a form over all modules; seed {SECRET}")
    sets = {"as drawn": list(balanced(secret, count)), "without pools": list(plain(secret, count))}
    for name, drawn in sets.items():
        found = stated(drawn)
        print(
            f"{name}: stated difficulty of a form, mean {statistics.fmean(found):.2f}, "
            f"standard deviation {statistics.pstdev(found):.3f}; {_shared(drawn)}"
        )
    world = World(entry for form in sets["without pools"] for entry in form)
    papers = {name: world.papers(drawn) for name, drawn in sets.items()}
    for line in TOLD:
        print(f"  {line}")
    print("Share of the variance of simulated scores that the form explains, with its 95 % interval:")
    print("  expected score and variance of every form are known; 2,000 resamplings of the forms make the interval")
    print("  counted from scores: variance components of 100 simulated sittings of every form")
    for setting in SETTINGS:
        for name, paper in papers.items():
            means, noise = paper.scores(*setting)
            share, low, high = explained(means, noise, seed=SECRET)
            by_scores = counted(paper.sat(*setting, sittings=100, seed=SECRET))
            mark = "  <- main" if setting == MAIN else ""
            print(
                f"  structure {setting[0]:.2f}, hidden {setting[1]:.2f}, {name:13}: {share:7.2%} "
                f"({low:.2%} to {high:.2%}); counted from scores {by_scores:7.2%}; "
                f"mean score {means.mean() / paper.points[0].sum():.1%}{mark}",
                flush=True,
            )
    print()


def _shared(drawn: list[list[Drawn]]) -> str:
    """Say how often two people find the same question in the same place."""
    rng = random.Random(1)
    met = pairs = 0
    prints = [[asked(item) for _, (item, _) in form] for form in drawn[:200]]
    for _ in range(2000):
        one, other = rng.sample(prints, 2)
        met += sum(a == b for a, b in zip(one, other, strict=True))
        pairs += len(one)
    return f"two people share {met / pairs:.1%} of their questions, place by place"


# 3. Drawing


def drawing(count: int) -> None:
    """Print how long forms with keys take."""
    secret = Seed(bytes(32))
    parts = blueprints()
    people = [f"p{number}" for number in range(count)]
    start = time.process_time()
    items = sum(
        len(form.items) for blueprint, of in parts for form, _ in draw_forms(secret, "timing", blueprint, of, 2, people)
    )
    spent = time.process_time() - start
    print(
        f"DRAWING: {count} forms of {items // count} items with keys: {spent:.1f} s of one core, reference pools known"
    )
    print(f"  {1000 * spent / items:.3f} ms an item\n")


def cold(count: int) -> None:
    """Print how long the first forms of this process take, with everything still to be worked out."""
    secret = Seed(bytes(32))
    start = time.process_time()
    people = [f"p{number}" for number in range(count)]
    items = sum(
        len(form.items)
        for blueprint, of in blueprints()
        for form, _ in draw_forms(secret, "timing", blueprint, of, 1, people)
    )
    spent = time.process_time() - start
    print(f"DRAWING, from nothing: {count} forms of {items // count} items with keys: {spent:.1f} s of one core\n")


def machine() -> str:
    """Return what the figures were made on."""
    model = next(
        (
            line.partition(":")[2].strip()
            for line in (Path("/proc/cpuinfo").read_text() if Path("/proc/cpuinfo").exists() else "").splitlines()
            if line.startswith("model name")
        ),
        platform.processor() or "unknown processor",
    )
    return f"{model}, Python {platform.python_version()}, {platform.system()}; other work may run beside it"


def main() -> None:
    """Read the options and print the figures."""
    parser = argparse.ArgumentParser(description="Keys, forms and drawing in figures.")
    parser.add_argument("--draws", type=int, default=10_000, help="draws of every template on each engine")
    parser.add_argument("--forms", type=int, default=1_000, help="simulated apprentices, each with a form")
    parser.add_argument("--templates", nargs="*", default=(), help="keys of these templates alone: lock-pin/what-next")
    parser.add_argument("--only", choices=("keys", "forms", "drawing"), help="one part alone")
    options = parser.parse_args()
    print(f"Machine: {machine()}\n")
    if options.only in (None, "drawing"):
        cold(options.forms)
        drawing(options.forms)
    if options.only in (None, "keys"):
        keys(options.draws, options.templates)
    if options.only in (None, "forms"):
        forms(options.forms)


if __name__ == "__main__":
    main()
