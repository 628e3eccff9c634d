"""Kill five commands at hundreds of steps; run as ``python tests/bench/kills.py [KILLS]``, without a number 300.

The kills are those of ``tests/grading/test_killed_anywhere.py``, spread evenly over all steps of marking, collecting,
entering a sheet, forgetting somebody and packing an archive. It ends with status 0 where nothing that was acknowledged
was lost and each command, given again, came to what it comes to undisturbed.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
COMMANDS = 5


def main() -> int:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    begun = time.monotonic()
    environment = {**os.environ, "TRAINKIT_KILLS": str(-(-kills // COMMANDS))}
    test = "tests/grading/test_killed_anywhere.py"
    words = [sys.executable, "-m", "pytest", "-q", "--no-header", "-n0", "--durations=5", test]
    status = subprocess.run(words, cwd=ROOT, env=environment, check=False).returncode
    print(f"{COMMANDS * -(-kills // COMMANDS)} kills in {time.monotonic() - begun:.0f} s, status {status}")
    return status


if __name__ == "__main__":
    sys.exit(main())
