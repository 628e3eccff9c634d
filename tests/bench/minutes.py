"""How long each assessment may take, estimated from what its questions ask; run as ``python tests/bench/minutes.py``.

Nobody has been timed. The estimate adds up, for every question of the pools that forms are drawn from:

* reading: every word of the page, and once more what there is to choose from, at :data:`READING` words a minute,
  slow reading by somebody who looks at each value;
* working: so many seconds for each line of the worked solution, and for each sign of arithmetic in it; what the
  solution says of an option that is wrong is no step of the way, so no more lines count than :data:`MOST_LINES`;
* answering: seconds by the kind of the question, for each thing to decide about, or for each action of a shortest
  safe play, which is taken half as often again by somebody who looks round.

The seconds are judgement (common practice, no source). A text is written at :data:`WRITING` words a minute, and
practical work is watched elsewhere, so it does not count. What blueprints state is held against it.
"""

from __future__ import annotations

import argparse
import statistics

from trainkit import modules, packs
from trainkit.items.kinds import Item, Key
from trainkit.pools.filling import Pools
from trainkit_grading.cli.simulate.playing import safe_way
from trainkit_grading.course import packs as course_packs
from trainkit_grading.course.seeds import Seed

READING = 150.0
WRITING = 12.0
TEXT_WORDS = 45
LINE, SIGN = 6.0, 4.0
MOST_LINES = 6
# Seconds for the answer as a whole, and for each thing to decide about.
ANSWERING = {
    "number": (10.0, 0.0),
    "choice": (4.0, 3.0),
    "several": (4.0, 5.0),
    "grid": (4.0, 6.0),
    "order": (4.0, 8.0),
    "insert": (10.0, 2.0),
    "point": (8.0, 0.0),
    "set": (12.0, 0.0),
    "actions": (10.0, 12.0),
}
LOOKS_ROUND = 1.5


def seconds(item: Item, key: Key) -> float:
    """Return how long one question may take, in seconds."""
    if item.kind == "observed":
        return 0.0
    parts = ("options", "cards", "written", "rows", "columns")
    choose = [entry.text for part in parts for entry in getattr(item, part, ())]
    page = " ".join([item.prompt, *(f"{line.label} {line.value}" for line in item.given), *choose])
    words = len(page.split()) + len(" ".join(choose).split())
    reading = 60 * words / READING
    if item.kind == "text":
        return reading + 60 * TEXT_WORDS / WRITING
    lines = key.working[:MOST_LINES]
    working = LINE * len(lines) + SIGN * sum(line.count(sign) for line in lines for sign in "×÷=+−")
    whole, each = ANSWERING[item.kind]
    if item.kind == "actions":
        return reading + whole + LOOKS_ROUND * each * len(safe_way(item))
    decide = max((len(getattr(item, part)) for part in parts if hasattr(item, part)), default=0)
    return reading + working + whole + each * decide


def main() -> None:
    """Print a line for each module."""
    parser = argparse.ArgumentParser(description="Estimated minutes of each assessment.")
    parser.add_argument("--items", action="store_true", help="say it for each question, too")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    print(f"Estimated minutes, not measured; seed {asked.seed}, every draw of every pool")
    secret = Seed(asked.seed.to_bytes(32, "big"))
    for module in modules.names():
        blueprint = modules.load(module).blueprint
        pack = packs.load(course_packs.find_pack(blueprint.assessed_on or blueprint.pack))
        whole = 0.0
        for pool in Pools.fill(secret, "minutes", blueprint, pack, 1).pools:
            mean = statistics.fmean(seconds(*pooled.draw) for pooled in pool.draws)
            whole += mean
            if asked.items:
                print(f"    {pool.planned.id:4}{pool.planned.template:42}{mean:5.0f} s   n = {len(pool.draws)}")
        print(f"  {module:20}{whole / 60:5.1f}   the blueprint says {blueprint.minutes}", flush=True)


if __name__ == "__main__":
    main()
