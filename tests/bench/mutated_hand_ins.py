"""Hand-ins with damage anywhere, taken in, read, marked and looked at: how many faults in how many.

    python tests/bench/mutated_hand_ins.py --n 10000

Journals of every module, as the workbook writes them, are damaged in one to eight places (bytes, lines, values in
their JSON), packed into zips that are damaged in turn, and judged by ``tests/grading/mutations.py``. A fault is
anything but a refusal in words: a crash, an intact line that is not read, a change before the last answer of which
nothing is said, a mark out of its bounds, a text that steers a terminal. Each is printed with the number that
repeats it: ``--first NUMBER --n 1``. The exit status is 1 where there is one.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.grading.mutations import Figures, Sheet, honest_journal, judge  # the way above has to be laid first
from trainkit import modules, packs
from trainkit_grading.course import packs as assessment
from trainkit_grading.course.seeds import Seed
from trainkit_grading.forms.generation import draw_forms

LENGTHS = (1, 2, 6, 25, 60)


def sheets() -> list[Sheet]:
    """Return one form with its keys of each module, drawn as a course draws them."""
    seed, made = Seed(bytes(range(32))), []
    for name in modules.names():
        blueprint = modules.load(name).blueprint
        pack = packs.load(assessment.find_pack(blueprint.assessed_on or blueprint.pack))
        form, known = next(draw_forms(seed, "figures", blueprint, pack, 1, ["amir"]))
        made.append(Sheet(form, known.keys, "figures", name, "amir"))
    return made


def main() -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(description="Damaged hand-ins in figures.")
    parser.add_argument("--n", type=int, default=10_000, help="how many damaged hand-ins")
    parser.add_argument("--first", type=int, default=0, help="number of the first; each is the seed of its own damage")
    chosen = parser.parse_args()
    forms = sheets()
    total, faulty = Figures(), 0
    with tempfile.TemporaryDirectory() as home:
        honest = {
            (sheet.module, length): honest_journal(
                Path(home, f"{sheet.module}-{length}"), sheet, random.Random(length), length
            )
            for sheet in forms
            for length in LENGTHS
        }
        began = time.perf_counter()
        for number in range(chosen.first, chosen.first + chosen.n):
            rng = random.Random(number)
            sheet = rng.choice(forms)
            figures = Figures()
            judge(sheet, honest[sheet.module, rng.choice(LENGTHS)], rng, figures)
            total.add(figures)
            for fault in figures.faults:
                print(f"number {number}, {sheet.module}: {fault}")
            faulty += bool(figures.faults)
        spent = time.perf_counter() - began
    print(
        f"n = {chosen.n} damaged hand-ins, seeds {chosen.first} to {chosen.first + chosen.n - 1}, {len(forms)} modules"
    )
    print(f"refused by the collector, in words:      {total.refused}")
    print(f"intact lines left among the damage:      {total.lines_kept}, all of them read where no fault is named")
    print(f"problems told of the journals:           {total.problems}")
    print(f"hand-ins with a fault:                   {faulty}")
    print(f"milliseconds a hand-in, on this machine: {1000 * spent / max(chosen.n, 1):.2f}")
    return 1 if faulty else 0


if __name__ == "__main__":
    raise SystemExit(main())
