"""How fast submissions are marked, and what bounds it; run as ``python tests/bench/marking_figures.py``.

In one run, on the same submissions and the same one core: nbgrader as it comes (a kernel that executes a comparable
notebook), trainkit's own marking, and the bare insertion of exactly the rows that marking has written. Everything is
measured in processes of their own, start-up apart; figures on one machine are worth only their ratios.

Marks are then compared, row by row, with what ``nbgrader autograde`` writes under trainkit's configuration.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import shutil
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench import marking_world
from tests.bench.marking_world import MODULE, World
from trainkit_grading.course.folder import Course

# What marking writes, in an order in which it can be written again.
TABLES = (
    "trainkit_person",
    "trainkit_entry",
    "trainkit_mark",
    "trainkit_note",
    "trainkit_shown",
    "student",
    "submitted_assignment",
    "submitted_notebook",
    "grade",
    "comment",
)
SAID = {
    "grade": "select s.student_id, c.name, g.auto_score, g.manual_score, g.extra_credit, g.needs_manual_grade "
    "from grade g join base_cell c on c.id = g.cell_id join submitted_notebook b on b.id = g.notebook_id "
    "join submitted_assignment s on s.id = b.assignment_id",
    "comment": "select s.student_id, c.name, m.auto_comment, m.manual_comment "
    "from comment m join base_cell c on c.id = m.cell_id join submitted_notebook b on b.id = m.notebook_id "
    "join submitted_assignment s on s.id = b.assignment_id",
    "submitted_notebook": "select s.student_id, b.flagged, b.late_submission_penalty "
    "from submitted_notebook b join submitted_assignment s on s.id = b.assignment_id",
    "submitted_assignment": "select student_id, timestamp, extension from submitted_assignment",
}


@dataclass(frozen=True)
class Cost:
    """Seconds a submission: by the clock, and of the processor alone, which other work on the machine changes less."""

    wall: float
    cpu: float

    def over(self, other: Cost) -> str:
        """Say how many times another cost this is."""
        return f"{self.wall / other.wall:.3g} by the clock, {self.cpu / other.cpu:.3g} by processor time"


def main() -> None:
    """Make the world, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=1000, help="submissions")
    parser.add_argument("--items", type=int, default=40, help="items of a form")
    parser.add_argument("--large", type=int, default=20_000, help="submissions of the large course; 0 for none")
    parser.add_argument("--stock", type=int, default=4, help="submissions that nbgrader marks as it comes, 2 or more")
    parser.add_argument("--compared", type=int, default=1000, help="submissions compared with nbgrader autograde")
    parser.add_argument("--repeats", type=int, default=3, help="how often each figure is taken")
    parser.add_argument("--seed", type=int, default=20270301)
    parser.add_argument("--core", type=int, default=0, help="the core that everything measured runs on")
    parser.add_argument("--work", type=Path, help="a folder to work in, which is kept; a course in it is used again")
    parser.add_argument("--child", nargs="+", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.child:
        _child(*asked.child)
        return
    if asked.work is not None:
        _report(asked, asked.work)
        return
    with tempfile.TemporaryDirectory() as home:
        _report(asked, Path(home))


def _report(asked: argparse.Namespace, home: Path) -> None:
    home.mkdir(parents=True, exist_ok=True)
    _say(f"{asked.count} submissions of {asked.items} items, seed {asked.seed}, one core (number {asked.core})")
    _say(f"load of the machine at the beginning: {_load()}, {os.cpu_count()} cores")
    world = _world(asked, home / "course")
    stock = _stock(asked, world, home / "stock")
    scores = _ours(asked, world, home, "scores")
    whole = _ours(asked, world, home, "whole")
    raw = _raw(asked, world, home)
    _say(f"throughput, scores: {stock.over(scores)} times nbgrader as it comes (goal 1000)")
    _say(f"throughput, with notebooks: {stock.over(whole)} times nbgrader as it comes (goal 150)")
    _say(f"scores against raw insertion of the same rows: {scores.over(raw)} times as long (goal 3)")
    if asked.large:
        _grow(asked, world, home)
    if asked.compared:
        _compare(asked, world, home)
    _say(f"load of the machine at the end: {_load()}")


def _world(asked: argparse.Namespace, folder: Path) -> World:
    if folder.is_dir():
        _say("the course of an earlier run is used again")
        people = tuple(marking_world.person(number) for number in range(asked.count))
        return World(Course.load(folder), people, asked.count)
    started = time.perf_counter()
    with marking_world.without_waiting_for_the_disk():
        world = marking_world.make(folder, asked.count, asked.items, asked.seed)
    _say(f"made the course in {time.perf_counter() - started:.0f} s; every form and every journal is another")
    return world


def _stock(asked: argparse.Namespace, world: World, folder: Path) -> Cost:
    """Measure nbgrader as it comes: one submission alone, then several, so that its start-up falls out."""
    shutil.rmtree(folder, ignore_errors=True)
    names = world.people[: asked.stock]
    marking_world.make_stock(world, folder, asked.stock, asked.items)
    alone, together = [], []
    for _ in range(asked.repeats):
        alone.append(_autograded(asked, folder, names[:1]))
        together.append(_autograded(asked, folder, names))
    one, many = _median(alone), _median(together)
    more = len(names) - 1
    each = Cost((many.wall - one.wall) / more, (many.cpu - one.cpu) / more)
    _say(f"nbgrader as it comes, a kernel and {asked.items} graded cells each: n = {len(names)}, {asked.repeats} times")
    _say(f"  {each.wall:.2f} s a submission, of them processor {each.cpu:.2f}; start-up {one.wall - each.wall:.1f} s")
    _say(f"  whole runs: one {_spread([c.wall for c in alone])} s, all {_spread([c.wall for c in together])} s")
    return each


def _autograded(asked: argparse.Namespace, folder: Path, names: Sequence[str]) -> Cost:
    shutil.rmtree(folder / "autograded", ignore_errors=True)
    shutil.rmtree(folder / "submitted", ignore_errors=True)
    for name in names:
        shutil.copytree(folder / "handed-in" / name, folder / "submitted" / name)
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.perf_counter()
    with _Pinned(asked.core):
        marking_world.run(folder, "nbgrader", "autograde", MODULE)
    wall = time.perf_counter() - begun
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return Cost(wall, after.ru_utime + after.ru_stime - used.ru_utime - used.ru_stime)


def _ours(asked: argparse.Namespace, world: World, home: Path, what: str) -> Cost:
    """Measure our marking on fresh copies of the course."""
    results = []
    for repeat in range(asked.repeats):
        course = _fresh(world.course, home / f"{what}-{repeat}")
        results.append(_measured(asked, what, course.folder))
        if repeat or what == "whole":
            shutil.rmtree(course.folder)
    count = asked.count - 1  # the first one is marked before the clock runs
    each = [Cost(result["wall"] / count, result["cpu"] / count) for result in results]
    name = {"scores": "scores into ledger and gradebook", "whole": "the same with readable notebooks"}[what]
    _say(f"trainkit, {name}: n = {count}, {asked.repeats} times")
    return _told(each, results)


def _raw(asked: argparse.Namespace, world: World, home: Path) -> Cost:
    """Insert the rows of one marking again, straight through the driver."""
    results = []
    for repeat in range(asked.repeats):
        path = home / f"raw-{repeat}.db"
        shutil.copy(world.course.gradebook, path)
        results.append(_measured(asked, "raw", home / "scores-0" / "gradebook.db", path))
        path.unlink()
    _say(f"raw insertion of the same {results[0]['rows']} rows, executemany in one transaction: {asked.repeats} times")
    return _told([Cost(result["wall"] / asked.count, result["cpu"] / asked.count) for result in results], results)


def _told(each: Sequence[Cost], results: Sequence[dict[str, Any]]) -> Cost:
    _say(
        f"  {_spread([1e3 * cost.wall for cost in each])} ms a submission, "
        f"of them processor {_spread([1e3 * cost.cpu for cost in each])}"
    )
    _say(
        f"  peak memory {max(result['peak'] for result in results):.0f} MB, "
        f"{max(result['before'] for result in results):.0f} MB before the clock ran"
    )
    return _median(each)


def _median(costs: Sequence[Cost]) -> Cost:
    return Cost(statistics.median(cost.wall for cost in costs), statistics.median(cost.cpu for cost in costs))


def _compare(asked: argparse.Namespace, world: World, home: Path) -> None:
    """Let nbgrader autograde, under trainkit's configuration, mark the same; compare row by row."""
    course = _fresh(world.course, home / "by-nbgrader")
    names = world.people[: asked.compared]
    for name in world.people[asked.compared :]:
        shutil.rmtree(course.submitted / name)
    begun = time.perf_counter()
    marking_world.run(course.folder, "nbgrader", "autograde", MODULE)
    took = time.perf_counter() - begun
    chosen = set(names)
    _say(f"nbgrader autograde under trainkit's configuration: {took / len(names):.2f} s a submission, n = {len(names)}")
    for table, query in SAID.items():
        with (
            sqlite3.connect(home / "scores-0" / "gradebook.db") as ours,
            sqlite3.connect(course.gradebook) as theirs,
        ):
            mine = sorted((row for row in ours.execute(query) if row[0] in chosen), key=repr)
            other = sorted(theirs.execute(query), key=repr)
        differing = sum(a != b for a, b in zip(mine, other, strict=False)) + abs(len(mine) - len(other))
        _say(f"  {table}: {len(mine)} rows, {differing} differ")
    shutil.rmtree(course.folder)


def _grow(asked: argparse.Namespace, world: World, home: Path) -> None:
    """Mark a quarter, a half and all of a large course."""
    _say("growth, scores alone; forms are used again under codes of their own, no journal is")
    for share in (4, 2, 1):
        count = asked.large // share
        shutil.rmtree(home / "large", ignore_errors=True)
        with marking_world.without_waiting_for_the_disk():
            large = marking_world.enlarge(world, home / "large", count, asked.seed + 1)
        result = _measured(asked, "scores", large.course.folder)
        _say(f"{count} submissions, load {_load()}")
        _told([Cost(result["wall"] / (count - 1), result["cpu"] / (count - 1))], [result])
        shutil.rmtree(large.course.folder)


def _fresh(course: Course, folder: Path) -> Course:
    shutil.rmtree(folder, ignore_errors=True)
    return Course.load(shutil.copytree(course.folder, folder, ignore=shutil.ignore_patterns("zips")))


def _measured(asked: argparse.Namespace, *what: str | Path) -> dict[str, Any]:
    command = [sys.executable, __file__, "--core", str(asked.core), "--child", str(asked.core), *map(str, what)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(done.stdout + done.stderr)
    result: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return result


def _child(core: str, what: str, *paths: str) -> None:
    """Do one thing on one core, and tell what it took."""
    os.sched_setaffinity(0, {int(core)})
    _forget_peak()
    print(json.dumps(_insert(*map(Path, paths)) if what == "raw" else _mark(Path(paths[0]), what == "whole")))


def _mark(folder: Path, notebooks: bool) -> dict[str, Any]:
    from trainkit_grading.marking import mark

    # Start-up apart, as with nbgrader: what is loaded for the first submission is loaded before the clock runs.
    mark.mark(Course.load(folder), [MODULE], apprentices=[marking_world.person(0)])
    if not notebooks:
        mark._write_notebooks = lambda *_: []
    before = _peak()
    wall, cpu = time.perf_counter(), time.process_time()
    outcome = mark.mark(Course.load(folder), [MODULE])
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    if not outcome.ok:
        raise SystemExit(str(outcome.findings[:5]))
    return {"wall": wall, "cpu": cpu, "before": before, "peak": _peak()}


def _peak() -> float:
    """Return the most memory that this process has used, in MB, since :func:`_forget_peak`."""
    status = Path("/proc/self/status").read_text("ascii")
    return int(status.partition("VmHWM:")[2].split()[0]) / 1024


def _forget_peak() -> None:
    # A process begins with the peak of whoever started it, which here has held a whole course.
    Path("/proc/self/clear_refs").write_text("5", "ascii")


def _insert(source: Path, target: Path) -> dict[str, Any]:
    from sqlalchemy import create_engine

    from trainkit_grading.ledger import versions

    engine = create_engine(f"sqlite:///{target}")
    with engine.begin() as connection:
        versions.ensure(connection)
    engine.dispose()
    rows = {}
    with sqlite3.connect(source) as read:
        for table in TABLES:
            rows[table] = read.execute(f"select * from {table}").fetchall()  # noqa: S608 - names from above
    write = sqlite3.connect(target, isolation_level=None)
    wall, cpu = time.perf_counter(), time.process_time()
    write.execute("begin immediate")
    for table, values in rows.items():
        if values:
            signs = ", ".join("?" * len(values[0]))
            write.executemany(f"insert into {table} values ({signs})", values)  # noqa: S608 - as above
    write.execute("commit")
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    connection.close()
    return {"wall": wall, "cpu": cpu, "before": 0.0, "peak": _peak(), "rows": sum(map(len, rows.values()))}


class _Pinned:
    """Run what is started inside on one core."""

    def __init__(self, core: int) -> None:
        self._core = core
        self._before: set[int] = set()

    def __enter__(self) -> None:
        self._before = os.sched_getaffinity(0)
        os.sched_setaffinity(0, {self._core})

    def __exit__(self, *_: object) -> None:
        os.sched_setaffinity(0, self._before)


def _spread(values: Sequence[float]) -> str:
    return f"{statistics.median(values):.3g} ({min(values):.3g} to {max(values):.3g})"


def _say(text: str) -> None:
    print(text, flush=True)


def _load() -> str:
    return "/".join(f"{value:.1f}" for value in os.getloadavg())


if __name__ == "__main__":
    main()
