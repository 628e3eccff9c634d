"""Whether every engine goes through: random packs, drawn from, built from, and whole courses made of them.

    python tests/bench/random_packs.py [PACKS] [BUILT] [COURSES]

So many packs are checked and three of every template drawn on each (300); from so many of them every module that is
ready is built, with forms for three people (30); and so many become whole courses of the course side, with every
module that check calls ready (10). An error that is no refusal with a rule and a remedy is a failure, and so is a
module that is ready and does not build. What cannot be asked is counted, with its reason.
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
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
                    refused[f"{name}: {error.rule}" if error.remedy else f"{name}: NO REMEDY"] += 1
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
    count = 0
    for number in numbers:
        ready = [module for module, missing in ready_modules(random_packs.pack(number)).items() if not missing]
        with tempfile.TemporaryDirectory() as folder:
            place = Path(folder) / "course"
            _run("new", str(place), "--defaults", *(f"--module={module}" for module in ready))
            (place / "packs").mkdir(exist_ok=True)
            (place / "packs" / "mine.toml").write_text(random_packs.text(number), "utf-8")
            settings = place / "course.toml"
            own = settings.read_text("utf-8").replace("attempt = 1\n", 'attempt = 1\npack = "packs/mine.toml"\n')
            settings.write_text(own, "utf-8")
            (place / "roster.csv").write_text(_ROSTER, "utf-8")
            _run("build", "--course", str(place))
            count += len(ready)
    return count


_ROSTER = "apprentice,name,cohort\namir,Amir Onslow,\nbea,Bea Lund,\ncho,Cho Park,\n"


def _run(*arguments: str) -> None:
    done = subprocess.run(
        [str(Path(sys.executable).with_name("trainkit-course")), *arguments],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, (arguments, done.stdout[-2000:], done.stderr[-2000:])


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
