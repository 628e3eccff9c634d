"""Several processes that score: they end with the one that began them, however that ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from trainkit_grading.intake.collect import collect

from .makers import MODULE, Bench

# Scores with two processes, says who they are after the first result, and waits.
AT_WORK = """
import multiprocessing, sys, time
from trainkit_grading.course.folder import Course
from trainkit_grading.marking import worker_pool
from trainkit_grading.marking.score import Scorer
from trainkit_grading.support.outcome import quiet

if __name__ == "__main__":
    worker_pool._CHUNK = 1
    course = Course.load(sys.argv[1])
    scorer = Scorer(course, sys.argv[2])
    names = [person.id for person in course.roster()]
    items = {item.id: item.points for item in course.workbook(course.module(sys.argv[2])).blueprint.items}
    results = worker_pool.score_all(scorer, items, names, names, 2, quiet, [])
    next(results)
    print(*[child.pid for child in multiprocessing.active_children()], flush=True)
    time.sleep(600)
"""


def _alive(pid: int) -> bool:
    try:
        stat = Path(f"/proc/{pid}/stat").read_text()
    except OSError:
        return False
    return stat.rpartition(")")[2].split()[0] != "Z"


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processes are looked up under /proc")
def test_processes_that_score_end_with_the_one_that_was_killed(assigned: Bench, tmp_path: Path) -> None:
    assigned.hand_in("amir", tmp_path / "home", at=datetime(2027, 3, 1, 8, tzinfo=UTC))
    assert collect(assigned.course, clock=lambda: datetime(2027, 3, 2, 8, tzinfo=UTC)).ok
    script = tmp_path / "at_work.py"
    script.write_text(AT_WORK, "utf-8")
    start = [sys.executable, str(script), str(assigned.course.folder), MODULE]
    with subprocess.Popen(start, stdout=subprocess.PIPE, text=True) as parent:
        try:
            assert parent.stdout is not None
            children = [int(pid) for pid in parent.stdout.readline().split()]
            assert children
            assert all(_alive(pid) for pid in children)
        finally:
            os.kill(parent.pid, signal.SIGKILL)
    until = time.monotonic() + 60
    while any(_alive(pid) for pid in children) and time.monotonic() < until:
        time.sleep(0.1)
    left = [pid for pid in children if _alive(pid)]
    for pid in left:
        os.kill(pid, signal.SIGKILL)
    assert not left
