"""What hostile hand-ins cost the honest: collecting 1,000 zips alone, and beside 50 of the worst that were found.

``python tests/bench/collecting_figures.py``, a few minutes. Both runs are of copies of one course, in processes of
their own; the worst come from people on the roster, in their own names. Only the ratio is worth something.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench import marking_world, worst_zips
from trainkit_grading.course.folder import Course
from trainkit_grading.intake.collect import collect
from trainkit_grading.release.assign import identity


def main() -> None:
    """Make the course, collect twice, print."""
    parser = argparse.ArgumentParser(description="What hostile hand-ins cost the honest.")
    parser.add_argument("--honest", type=int, default=1000, help="honest hand-ins")
    parser.add_argument("--worst", type=int, default=50, help="hostile hand-ins")
    parser.add_argument("--items", type=int, default=6, help="items of a form")
    parser.add_argument("--repeats", type=int, default=3, help="how often each figure is taken")
    parser.add_argument("--seed", type=int, default=20270301)
    parser.add_argument("--each", action="store_true", help="also collect each kind of the worst by itself")
    parser.add_argument("--child", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.child:
        _child(asked.child)
        return
    with tempfile.TemporaryDirectory() as home:
        _report(asked, Path(home))


def _report(asked: argparse.Namespace, home: Path) -> None:
    load = os.getloadavg()[0]
    with marking_world.without_waiting_for_the_disk():
        world = marking_world.make(home / "course", asked.honest + asked.worst, asked.items, asked.seed)
    course = world.course
    seed, roster = course.seed(), course.roster()
    parts = {
        person.id: worst_zips.parts_of(
            course.name,
            person.id,
            identity(course, person, seed).code,
            (course.submitted / person.id / marking_world.MODULE / "answers.jsonl").read_bytes(),
        )
        for person in roster
    }
    shutil.rmtree(course.submitted)
    course.inbox.mkdir(exist_ok=True)
    honest = dict(list(parts.items())[: asked.honest])
    for person, held in honest.items():
        (course.inbox / f"{person}.zip").write_bytes(worst_zips.zipped(held))
    hostile = dict(list(parts.items())[asked.honest :])
    beside = shutil.copytree(course.folder, home / "beside")
    size = 0
    for person, content in worst_zips.worst(hostile):
        (beside / "inbox" / f"{person}.zip").write_bytes(content)
        size += len(content)
    print(f"n = {asked.honest} honest, {asked.worst} hostile ({size / 1e6:.1f} MB), {asked.repeats} times; ", end="")
    print(f"seed {asked.seed}; load {load:.1f}")
    alone, both = [], []
    for _ in range(asked.repeats):
        alone.append(_measured(course.folder, home / "run", honest))
        both.append(_measured(beside, home / "run", honest))
    for what in ("clock", "processor"):
        for name, runs in (("honest alone", alone), ("beside the worst", both)):
            print(f"{name}, by the {what}: {_spread([run[what] for run in runs])} s")
        ratios = [two[what] / one[what] for one, two in zip(alone, both, strict=True)]
        print(f"ratio by the {what}: {_spread(ratios)}; at most 2 is wanted")
    print(f"peak memory: {max(run['peak'] for run in alone):.0f} MB, {max(run['peak'] for run in both):.0f} MB")
    print(f"load at the end {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores")
    if asked.each:
        _each(course, home, hostile)


def _each(course: Course, home: Path, hostile: dict[str, dict[str, bytes]]) -> None:
    person, parts = next(iter(hostile.items()))
    for name, kind in worst_zips.KINDS.items():
        folder = shutil.copytree(course.folder, home / "one", ignore=shutil.ignore_patterns("*.zip"))
        (folder / "inbox" / f"{person}.zip").write_bytes(kind(parts))
        print(f"  {name}: {_measured(folder, home / 'run', {})['processor']:.2f} s of the processor")
        shutil.rmtree(folder)


def _spread(values: list[float]) -> str:
    return f"{statistics.median(values):.2f} ({min(values):.2f} to {max(values):.2f})"


def _measured(folder: Path, copy: Path, honest: dict[str, dict[str, bytes]]) -> dict[str, float]:
    shutil.rmtree(copy, ignore_errors=True)
    shutil.copytree(folder, copy)
    done = subprocess.run([sys.executable, __file__, "--child", str(copy)], capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(done.stdout + done.stderr)
    said = json.loads(done.stdout.splitlines()[-1])
    if not set(honest) <= set(said["taken"]):
        raise SystemExit(f"{len(set(honest) - set(said['taken']))} honest hand-ins were not taken.")
    return {name: said[name] for name in ("clock", "processor", "peak")}


def _child(folder: Path) -> None:
    course = Course.load(folder)
    # A process begins with the peak of whoever started it.
    Path("/proc/self/clear_refs").write_text("5", "ascii")
    clock, processor = time.perf_counter(), time.process_time()
    outcome = collect(course)
    clock, processor = time.perf_counter() - clock, time.process_time() - processor
    peak = int(Path("/proc/self/status").read_text("ascii").partition("VmHWM:")[2].split()[0]) / 1024
    taken = sorted({entry["apprentice"] for entry in outcome.data["taken"]})
    print(json.dumps({"clock": clock, "processor": processor, "peak": peak, "taken": taken}))


if __name__ == "__main__":
    main()
