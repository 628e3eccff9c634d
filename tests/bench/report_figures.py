"""How long the three reports take over ten thousand people; run as ``python tests/bench/report_figures.py``.

The course is made by ``report_world.py``, or taken from ``--course FOLDER`` (it is copied, never changed). Each report
is written in a process of its own, on one core. CPU seconds stand beside the wall's, because a busy machine makes the
latter longer; how busy it is, is told by a loop that is timed before and after. Figures are worth most as ratios to it.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

SEED = 20270301
LOOPS = 3_000_000


def loop() -> float:
    """Return the CPU seconds of a loop that is always the same: the measure of the machine at this moment."""
    begin = time.process_time()
    total = 0
    for number in range(LOOPS):
        total += number & 7
    assert total
    return time.process_time() - begin


def one_report(kind: str, folder: Path) -> dict[str, float]:
    """Write one report, in this process."""
    from trainkit_grading.course.folder import Course
    from trainkit_grading.reports import score_sheet
    from trainkit_grading.reports.coordinator import report as coordinators
    from trainkit_grading.reports.instructor import report as instructors
    from trainkit_grading.support.outcome import Outcome

    writers: dict[str, Callable[[Course], Outcome]] = {
        "coordinator": coordinators.write_coordinator_report,
        "instructor": instructors.write_instructor_report,
        "score sheet": score_sheet.report,
    }

    course = Course.load(folder)
    wall, cpu = time.perf_counter(), time.process_time()
    outcome = writers[kind](course)
    cpu, wall = time.process_time() - cpu, time.perf_counter() - wall
    assert outcome.ok, outcome.findings
    page = Path(outcome.data["html"])
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {"cpu": cpu, "wall": wall, "page": page.stat().st_size / 1e6, "peak": peak}


def one_person(folder: Path, times: int) -> dict[str, float]:
    """Read everything about one person from the ledger, again and again, each time about another one."""
    from trainkit_grading.course.folder import Course
    from trainkit_grading.ledger.book import Ledger
    from trainkit_grading.ledger.entries import Entry
    from trainkit_grading.nbgrader_bridge import gradebook
    from trainkit_grading.reports.coordinator.evidence import Evidences

    course = Course.load(folder)
    people = [person.id for person in course.roster()]
    chosen = people[:: max(1, len(people) // times)][:times]
    ledger_ms, evidence_ms = [], []
    with gradebook.opened(course) as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        evidences = Evidences(course, ledger)
        for who in chosen:
            begin = time.process_time()
            entries = list(ledger.entries(Entry, apprentice=who))
            ledger_ms.append(1000 * (time.process_time() - begin))
            counting = {entry.module: entry.number for entry in entries if entry.kind == "marked"}
            begin = time.process_time()
            evidences.of(who, counting)
            evidence_ms.append(1000 * (time.process_time() - begin))
    # The first one compiles statements and opens the files of forms.
    return {
        "n": len(chosen),
        "ledger": statistics.median(ledger_ms[1:]),
        "ledger_most": max(ledger_ms[1:]),
        "evidence": statistics.median(evidence_ms[1:]),
    }


def apart(*words: str) -> dict[str, float]:
    """Run a part of this file in a process of its own, on one core."""
    command = [sys.executable, __file__, *words]
    if shutil.which("taskset"):
        command = ["taskset", "-c", str(min(os.sched_getaffinity(0))), *command]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, default=10_000)
    parser.add_argument("--course", type=Path, help="a course that report_world.py has made")
    parser.add_argument("--times", type=int, default=3, help="how often each report is written")
    parser.add_argument("--part", nargs=2, metavar=("WHAT", "FOLDER"), help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.part:
        what, folder = asked.part[0], Path(asked.part[1])
        print(json.dumps(one_person(folder, 200) if what == "person" else one_report(what, folder)))
        return
    with tempfile.TemporaryDirectory() as home:
        folder = Path(home) / "course"
        if asked.course:
            shutil.copytree(asked.course, folder)
        else:
            from tests.bench.marking_world import without_waiting_for_the_disk
            from tests.bench.report_world import make

            with without_waiting_for_the_disk():
                make(folder, asked.people, SEED)
        people = sum(1 for line in (folder / "roster.csv").open(encoding="utf-8")) - 1
        noise = [loop()]
        print(f"{people:,} people, seed {SEED}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
        for kind in ("coordinator", "instructor", "score sheet"):
            found = [apart("--part", kind, str(folder)) for _ in range(asked.times)]
            best = min(found, key=lambda one: one["cpu"])
            noise.append(loop())
            print(
                f"{kind}: CPU {best['cpu']:.1f} s (median {statistics.median(one['cpu'] for one in found):.1f}), "
                f"wall {min(one['wall'] for one in found):.1f} s, page {best['page']:.2f} MB, "
                f"peak {best['peak']:.0f} MB, n = {asked.times}"
            )
        one = apart("--part", "person", str(folder))
        noise.append(loop())
        print(
            f"one apprentice: ledger {one['ledger']:.1f} ms (at most {one['ledger_most']:.1f}), "
            f"evidence with questions and answers {one['evidence']:.1f} ms, CPU, n = {one['n']:.0f}"
        )
        print(
            f"machine: the same loop took {min(noise):.2f} to {max(noise):.2f} s of CPU; "
            f"a report is worth {best['cpu'] / statistics.median(noise):.0f} such loops"
        )


if __name__ == "__main__":
    main()
