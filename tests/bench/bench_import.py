"""How long ``import trainkit`` takes in a fresh process, against a process that imports nothing."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

RUNS = 15


def seconds(statement: str) -> float:
    """Return the wall time of a fresh interpreter that runs one statement."""
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", statement], check=True)
    return time.perf_counter() - start


def test_import() -> None:
    nothing, ours = [], []
    for _ in range(RUNS):  # in turn, so that a busy moment meets both
        nothing.append(seconds("pass"))
        ours.append(seconds("import trainkit"))
    bare, full = statistics.median(nothing), statistics.median(ours)
    print(f"\nn = {RUNS}: bare interpreter {bare:.3f} s, with import trainkit {full:.3f} s, ratio {full / bare:.2f}")
    print(f"import trainkit alone: {full - bare:.3f} s; spread {min(ours):.3f} to {max(ours):.3f} s")
    assert full - bare < 1.0  # a broken lazy import costs seconds; the figure itself is printed, not tested
