"""What one list by heart earns where steps are put in order: ``python tests/bench/job_list_figures.py [DRAWS]``.

Two lists are tried on each pack: all steps as the pack writes them, and one right order of the standard variant with
the steps of other variants behind it. Printed is how many questions earn all points, and the points on average.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from pathlib import Path
from statistics import fmean

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.trainkit.second_ways.reading import PACKS, pack
from trainkit.items.kinds import OrderItem
from trainkit.items.marking import mark
from trainkit.items.template import find
from trainkit.packs import Pack

NAME, DRAWS = "sequence/put-in-order", 1_000


def shares(of: Pack, steps: list[str], draws: int) -> Iterator[float]:
    """Yield what each question earns that is answered by a list alone, of 1."""
    texts = [of.step(step).text.rstrip(".") for step in steps]
    for seed in range(draws):
        item, key = find(NAME).draw(random.Random(f"list {seed}"), of)
        assert isinstance(item, OrderItem)
        cards = sorted(item.cards, key=lambda card: texts.index(card.text))
        yield mark(item, key, {"kind": "order", "cards": [card.id for card in cards]}).points / item.points


def main(draws: int) -> None:
    """Print the figures."""
    for engine in PACKS:
        of = pack(engine)
        written = [step.id for step in of.steps]
        standard = list(of.procedure("").random_valid_order(random.Random(1)))
        behind = [step for step in written if step not in standard]
        for title, steps in (("all variants", written), ("the standard variant", [*standard, *behind])):
            found = list(shares(of, steps, draws))
            full = fmean(share == 1 for share in found)
            print(f"{engine:8} {title:22} all points {full:4.0%}, on average {fmean(found):4.0%}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else DRAWS)
