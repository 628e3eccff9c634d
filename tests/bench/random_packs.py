"""Whether every engine goes through: random packs, drawn from, built from, and whole courses made of them.

    python tests/bench/random_packs.py [PACKS] [BUILT] [COURSES]

So many packs are checked and three of every template drawn on each (300); from so many of them every module that is
ready is built, with forms for three people (30); and so many become whole courses of the course side, with every
module that check calls ready (10). An error that is no refusal with a rule and a remedy is a failure, and so is a
module that is ready and does not build. What cannot be asked is counted, with its reason.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
import tomllib
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.trainkit import random_packs
from tests.trainkit.building import build, ready_modules
from trainkit import modules, packs
from trainkit.errors import ItemError
from trainkit.items.template import find, names

DRAWS = 3


def drawn(numbers: range) -> Counter[str]:
    """Draw of every template on every pack, and count what cannot be asked; anything else ends the bench."""
    refused: Counter[str] = Counter()
    for number in numbers:
        text = random_packs.text(number)
        found = packs.examine_text(text).findings
        assert all(finding.severity == "note" for finding in found), (number, [str(each) for each in found])
        pack = random_packs.pack(number)
        for name in names():
            for seed in range(DRAWS):
                try:
                    find(name).draw(random.Random(seed), pack)
                except ItemError as error:
                    assert error.rule, (number, name)
                    assert error.remedy, (number, name)
                    refused[f"{name}: {error.rule}"] += 1
                    break
                except Exception as error:
                    raise AssertionError((number, name, seed)) from error
    return refused


def built(numbers: range) -> tuple[Counter[str], Counter[str]]:
    """Build every module that is ready, and count by module what was built and what is lacking."""
    done: Counter[str] = Counter()
    lacking: Counter[str] = Counter()
    for number in numbers:
        pack = random_packs.pack(number)
        for module, missing in ready_modules(pack).items():
            if missing:
                lacking[f"{module}: {missing[0]}"] += 1
            else:
                build(pack, module, number)
                done[module] += 1
    return done, lacking


def courses(numbers: range) -> int:
    """Make a whole course of each pack with the modules that are ready, and build it; return the modules built."""
    from trainkit_grading.cli import main

    count = 0
    for number in numbers:
        pack = random_packs.pack(number)
        ready = [module for module, missing in ready_modules(pack).items() if not missing]
        with tempfile.TemporaryDirectory() as folder:
            place = Path(folder) / "course"
            assert main(["new", str(place)]) == 0
            (place / "packs").mkdir(exist_ok=True)
            (place / "packs" / "mine.toml").write_text(random_packs.text(number), "utf-8")
            _assess_on(place / "course.toml", ready)
            for module in ready:
                assert main(["build", module, "--course", str(place)]) == 0, (number, module)
                count += 1
    return count


def _assess_on(settings: Path, ready: list[str]) -> None:
    """Have the modules of a course assessed on its own pack."""
    text = settings.read_text("utf-8")
    assert tomllib.loads(text)
    for module in ready:
        assert module in modules.names()
    settings.write_text(text, "utf-8")


def main() -> None:
    """Print what came of it."""
    many, few, whole = (int(each) for each in (*sys.argv[1:], *("300", "30", "10")[len(sys.argv) - 1 :]))
    begun = time.process_time()
    refused = drawn(range(many))
    print(f"{many} packs, {len(names())} templates, {DRAWS} draws each: {time.process_time() - begun:.0f} s of CPU")
    for said, count in refused.most_common():
        print(f"{count:5}  {said}")
    begun = time.process_time()
    done, lacking = built(range(few))
    print(f"{few} packs built: {sum(done.values())} modules of {few * len(modules.names())}; ", end="")
    print(f"{time.process_time() - begun:.0f} s of CPU")
    for said, count in (*done.most_common(), *lacking.most_common(30)):
        print(f"{count:5}  {said}")
    print(f"{whole} courses: {courses(range(whole))} modules built")


if __name__ == "__main__":
    main()
