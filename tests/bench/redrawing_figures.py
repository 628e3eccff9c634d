"""How many questions drawing again finds: ``python tests/bench/redrawing_figures.py [DRAWS] [TEMPLATES] [PACKS]``.

Of each template and pack DRAWS draws are made (10,000 without saying), and each in turn is what a form shows: it is
found where one of the others, by its words, its data, or its data without its options, gives an answer that earns all
the points. Printed is the part that is found so, and what follows for 10,000 draws where fewer were made: a question
met with chance p in each draw is found with 1 - (1 - p) ** 10,000. MORE says that it is more than 1 in 20.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.grading.attacks.redrawing import Redrawn
from tests.trainkit.second_ways.reading import PACKS, pack
from trainkit.errors import ItemError
from trainkit.items.template import find, names

DRAWS = 10_000
# A person judges the answers to these; there is no key to read off.
BY_PERSON = ("text", "observed")
SLOW = {"lock-pin/pin-the-engine": 10}


def within(found: float, draws: int) -> float:
    """Return the part that is found within 10,000 draws, from what is found within fewer; all questions taken alike."""
    return 1 - math.pow(1 - found, DRAWS / draws)


def main(arguments: Sequence[str]) -> None:
    """Print the figures."""
    wanted, part, engines, *_ = [*arguments, *(str(DRAWS), "", ",".join(PACKS))[len(arguments) :]]
    for name in (name for name in names() if part in name and find(name).kind not in BY_PERSON):
        count = int(wanted) // SLOW.get(name, 1)
        for engine in engines.split(","):
            begun = time.process_time()
            try:
                found = Redrawn.of(name, pack(engine), count, "bench").met_again() / count
            except ItemError as error:
                print(f"{name:38} {engine:8} refused: {error.rule}", flush=True)
                continue
            many = within(found, count)
            print(
                f"{name:38} {engine:8} found {found:6.2%} of {count} draws, within {DRAWS:,}: {many:6.1%} "
                f"{'MORE' if many >= 0.05 else ''}  {(time.process_time() - begun) / count * 1000:.1f} ms",
                flush=True,
            )


if __name__ == "__main__":
    main(sys.argv[1:])
