"""How well the diagnosis finds what simulated apprentices hold; run as ``python tests/bench/diagnosis_figures.py``.

Simulated apprentices with none to three planted misconceptions go once through all modules, each with forms of its
blueprint. Two sorts of them: those of :mod:`trainkit_grading.cli.simulate`, and those of ``second_simulator.py`` beside
this file, which shares no code and no parameter with the diagnosis or with the first.

Every figure is *simulated*: it says how the diagnosis fares on apprentices who are as assumed, not on people.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench import second_simulator
from trainkit import modules, packs
from trainkit.items.kinds import Item, Key, Response
from trainkit.items.misconceptions import all_misconceptions
from trainkit.items.template import names as template_names
from trainkit.modules import Blueprint
from trainkit.packs import Pack
from trainkit.pools.filling import Pools
from trainkit_grading.cli import simulate
from trainkit_grading.course import packs as course_packs
from trainkit_grading.course.seeds import Seed
from trainkit_grading.diagnosis import Answer, Diagnosis, chances, diagnose

Form = tuple[
    tuple[str, int, Item, Key], ...
]  # what it is called, its place in its module, what is shown, what is right


def blueprints() -> Iterator[tuple[Blueprint, Pack]]:
    """Yield what is asked in one pass: every module that there is, with the pack that its assessment is drawn from."""
    for module in modules.names():
        blueprint = modules.load(module).blueprint
        yield blueprint, packs.load(course_packs.find_pack(blueprint.assessed_on or blueprint.pack))


def passes(seed: int, count: int) -> list[Form]:
    """Draw so many different passes through all modules."""
    whole: list[list[tuple[str, int, Item, Key]]] = [[] for _ in range(count)]
    secret = Seed(random.Random(f"passes {seed}").randbytes(32))
    for blueprint, pack in blueprints():
        start = time.perf_counter()
        pools = Pools.fill(secret, "figures", blueprint, pack, 1)
        for number, form in enumerate(whole):
            for nth, (planned, (item, key)) in enumerate(pools.form(f"apprentice {number}"), start=1):
                form.append((f"{blueprint.module} {planned.id}", nth, item, key))
        print(f"  {blueprint.module}: {len(blueprint.items)} items, {time.perf_counter() - start:.1f} s", flush=True)
    return [tuple(form) for form in whole]


@dataclass
class Tally:
    """What was planted and what was found."""

    people: int = 0
    hits: Counter[str] = field(default_factory=Counter)
    missed: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    false: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    people_with_false: int = 0
    chances: Counter[int] = field(default_factory=Counter)
    planted_twice: int = 0  # planted, and at least two chances
    told: float = 0.0
    answers: int = 0

    def count(self, held: frozenset[str], findings: Sequence[Diagnosis]) -> None:
        """Count one apprentice."""
        self.people += 1
        by_code = {finding.misconception: finding for finding in findings}
        labels = {code for code, finding in by_code.items() if finding.held}
        for code in held:
            finding = by_code.get(code)
            number = finding.chances if finding is not None else 0
            self.chances[min(number, 6)] += 1
            self.planted_twice += number >= 2
            if code in labels:
                self.hits[code] += 1
            else:
                self.missed[code][_why(finding)] += 1
        for code in labels - held:
            self.false[code].update(held or ["nobody planted"])
        self.people_with_false += bool(labels - held)
        self.told += len(labels - held)

    def report(self, title: str) -> None:
        """Print the figures."""
        hits, missed = sum(self.hits.values()), sum(sum(why.values()) for why in self.missed.values())
        planted, false = hits + missed, int(self.told)
        print(f"\n{title}: n = {self.people} simulated apprentices, {planted} planted misconceptions")
        print(f"  simulated precision   {_share(hits, hits + false)}")
        print(f"  simulated recall      {_share(hits, planted)}")
        print(f"  simulated recall where a pass gives two chances or more   {_share(hits, self.planted_twice)}")
        print(f"  simulated false labels for each apprentice   {false / self.people:.4f} ({false} in all)")
        print(f"  simulated apprentices with a false label     {_share(self.people_with_false, self.people)}")
        print("  chances of what was planted:", ", ".join(f"{k}: {n}" for k, n in sorted(self.chances.items())))
        why = Counter[str]()
        for reasons in self.missed.values():
            why.update(reasons)
        print("  why missed:", ", ".join(f"{reason}: {n}" for reason, n in why.most_common()))
        worst = sorted(self.missed, key=lambda code: -sum(self.missed[code].values()))
        for code in worst[:40]:
            print(f"    missed {code}: {dict(self.missed[code])}, found {self.hits[code]}")
        for code, others in sorted(self.false.items(), key=lambda entry: -entry[1].total())[:15]:
            print(f"    false {code}: planted instead {dict(others.most_common(4))}")


def _why(finding: Diagnosis | None) -> str:
    if finding is None or finding.chances == 0:
        return "no chance"
    if finding.chances == 1:
        return "one chance"
    return f"shown {len(finding.shown)} of {finding.chances}"


def _share(part: int, whole: int) -> str:
    """Return a share with its 95 per cent interval after Wilson."""
    if not whole:
        return "none"
    z, p = 1.96, part / whole
    middle = (p + z * z / (2 * whole)) / (1 + z * z / whole)
    half = z * (p * (1 - p) / whole + z * z / (4 * whole * whole)) ** 0.5 / (1 + z * z / whole)
    return f"{p:.3f} ({part} of {whole}; 95 % interval {middle - half:.3f} to {middle + half:.3f})"


def coverage(forms: Sequence[Form], codes: Sequence[str]) -> None:
    """Print which misconceptions get too few chances in a pass, and which cannot be told apart."""
    each: dict[str, list[int]] = {code: [] for code in codes}
    for form in forms:
        met = Counter(code for _, _, item, key in form for code in chances(item, key))
        for code in codes:
            each[code].append(met[code])
    print(f"\nChances in one pass over {len(forms)} forms, of {len(codes)} misconceptions of the catalogue")
    for least in (1, 2, 3):
        always = sum(min(found) >= least for found in each.values())
        mostly = sum(sum(number >= least for number in found) >= 0.9 * len(found) for found in each.values())
        print(f"  {least} or more: {always} in every pass, {mostly} in nine passes of ten or more")
    print("  that some pass gives fewer than two chances (share of passes; mean chances):")
    for code, found in sorted(each.items(), key=lambda entry: sum(entry[1])):
        few = sum(number < 2 for number in found)
        if few:
            area = all_misconceptions()[code].area
            print(f"    {code} ({area}): {few / len(found):.2f}; {sum(found) / len(found):.2f}")


def simulated_first(
    habits: simulate.Habits,
    forms: Sequence[Form],
    codes: Sequence[str],
    people: int,
    seed: int,
    everywhere: float = 0.0,
) -> Tally:
    """Let apprentices of the first sort answer; with ``everywhere`` a slip befalls what is held as well."""
    tally, rng = Tally(), random.Random(f"first {seed}")
    careless = simulate.Habits(skill=1.0, slip=1.0)
    for _ in range(people):
        held = frozenset(rng.sample(list(codes), rng.randint(0, 3)))
        who = simulate.Habits(
            skill=habits.skill, slip=habits.slip, guess=habits.guess, misconceptions=held, hold=habits.hold
        )

        def answer(item: Item, key: Key, _: int, who: simulate.Habits = who) -> Response | None:
            slipped = rng.random() < everywhere
            return simulate.answer(item, key, careless if slipped else who, rng)

        tally.count(held, diagnose(_answers(rng.choice(forms), answer)))
    return tally


def simulated_second(forms: Sequence[Form], codes: Sequence[str], people: int, seed: int) -> Tally:
    """Let learners of the second sort answer."""
    tally, rng = Tally(), random.Random(f"second {seed}")
    for learner in second_simulator.learners(people, codes, template_names(), rng):

        def answer(item: Item, key: Key, nth: int, who: second_simulator.Learner = learner) -> Response | None:
            return who.answer(item, key, nth, rng)

        tally.count(learner.held, diagnose(_answers(rng.choice(forms), answer)))
    return tally


def told_apart(forms: Sequence[Form], codes: Sequence[str], seed: int, each: int = 8) -> None:
    """Plant every misconception alone, and print which are not found and which are taken for another."""
    rng = random.Random(f"alone {seed}")
    missed: dict[str, int] = {}
    mistaken: Counter[tuple[str, str]] = Counter()
    for code in codes:
        who = simulate.Habits(skill=1.0, slip=0.0, hold=1.0, misconceptions=frozenset({code}))

        def answer(item: Item, key: Key, _: int, who: simulate.Habits = who) -> Response | None:
            return simulate.answer(item, key, who, rng)

        for _ in range(each):
            findings = diagnose(_answers(rng.choice(forms), answer))
            labels = {finding.misconception for finding in findings if finding.held}
            missed[code] = missed.get(code, 0) + (code not in labels)
            mistaken.update((code, other) for other in labels - {code})
    print(f"\nEach misconception alone, always held, no slips: {each} simulated apprentices for each of {len(codes)}")
    never = sorted(code for code, count in missed.items() if count == each)
    print(f"  never found ({len(never)}): {', '.join(never)}")
    partly = {code: count for code, count in missed.items() if 0 < count < each}
    print(
        f"  not always found ({len(partly)}): {', '.join(f'{code} {each - n} of {each}' for code, n in partly.items())}"
    )
    print(f"  taken for another as well ({len(mistaken)} pairs):")
    for (code, other), count in mistaken.most_common():
        print(f"    {code} also shows {other}: {count} of {each}")


def _answers(form: Form, answer: Callable[[Item, Key, int], Response | None]) -> Iterator[Answer]:
    for name, nth, item, key in form:
        yield Answer(name, item, key, answer(item, key, nth))


def main() -> None:
    """Print all figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--apprentices", type=int, default=1000)
    parser.add_argument("--forms", type=int, default=60, help="different passes, shared among the apprentices")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    print(f"Simulated figures of the diagnosis, seed {asked.seed}")
    forms = passes(asked.seed, asked.forms)
    codes = sorted(all_misconceptions())
    print(f"{len(forms)} different passes of {len(forms[0])} items")
    coverage(forms, codes)
    told_apart(forms, codes, asked.seed)
    always = simulate.Habits(skill=1.0, slip=0.05, hold=1.0)
    weak = simulate.Habits(skill=0.8, slip=0.05, guess=0.8, hold=1.0)
    runs: tuple[tuple[str, Callable[[], Tally]], ...] = (
        ("First simulator, held always, 5 % slips in what is known",
         lambda: simulated_first(always, forms, codes, asked.apprentices, asked.seed)),
        ("First simulator, held always, 5 % slips in every answer",
         lambda: simulated_first(always, forms, codes, asked.apprentices, asked.seed, everywhere=0.05)),
        ("First simulator, held always, 5 % slips, one item in five not known",
         lambda: simulated_first(weak, forms, codes, asked.apprentices, asked.seed)),
        ("Second simulator, held 70 % of the time, ideas of their own, tiredness",
         lambda: simulated_second(forms, codes, asked.apprentices, asked.seed)),
    )  # fmt: skip
    for title, run in runs:
        start = time.perf_counter()
        run().report(title)
        print(f"  ({time.perf_counter() - start:.0f} s)", flush=True)


if __name__ == "__main__":
    main()
