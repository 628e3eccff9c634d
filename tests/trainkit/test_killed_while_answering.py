"""No answer that was acknowledged is lost, at whatever moment the process that writes it is killed."""

from __future__ import annotations

import os
import random
import shutil
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.trainkit.answering import release
from tests.trainkit.killing import Parent, Ran, steps, times
from trainkit.items.kinds import ChoiceResponse
from trainkit.journal import read

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows has neither fork nor SIGKILL")

SEED = 20270302
KILLS = 100  # of each way
ANSWERS = 9


@pytest.fixture(scope="module")
def parent() -> Iterator[Parent]:
    with Parent("tests.trainkit.answering") as made:
        yield made


def saved(ran: Ran) -> list[tuple[int, str, str]]:
    """Return the answers that a child was told are saved: number, item and option."""
    words = [line.split() for line in ran.told if line.startswith("saved ")]
    return [(int(number), item, option) for _, number, item, option in words]


def held(folder: Path) -> list[tuple[int, str, str]]:
    """Return the answers that the file holds."""
    found = []
    for entry in read(folder / "answers.jsonl").entries:
        assert isinstance(entry.response, ChoiceResponse)
        found.append((entry.n, entry.item, entry.response.option))
    return found


@pytest.mark.parametrize("way", ["by_journal", "by_control"])
def test_no_acknowledged_answer_is_lost(tmp_path: Path, parent: Parent, way: str) -> None:
    """Every child goes on with the file that the one killed before it has left."""
    clean = tmp_path / "clean"
    clean.mkdir()
    release(clean)
    parent.prepare(way, folder=str(clean), answers=1)  # what is loaded late is loaded now
    (clean / "answers.jsonl").unlink()
    last = parent.run(way, folder=str(clean), answers=ANSWERS, count=True).steps
    seconds = parent.run(way, folder=str(clean), answers=ANSWERS).seconds
    assert last > 5 * ANSWERS
    assert len(held(clean)) == 2 * ANSWERS

    rng = random.Random(SEED)
    # More answers than there are steps or time for, so that each child is killed at them and none comes to its end.
    kills = [*steps(rng, KILLS // 2, last), *times(rng, KILLS // 2, seconds)]
    rng.shuffle(kills)
    fell: Counter[str] = Counter()
    folder = tmp_path / "home"
    expected: list[tuple[int, str, str]] = []
    for number, kill in enumerate(kills):
        if number % 20 == 0:  # the first answer of a file is a moment of its own
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir()
            release(folder)
            parent.prepare("open_book", folder=str(folder))
            expected = []
        ran = parent.run(way, folder=str(folder), answers=20 * ANSWERS, **kill)
        assert ran.killed
        where = f"seed {SEED}, kill {number} ({kill}), acknowledged {saved(ran)}"
        expected += saved(ran)
        found = held(folder)
        assert found[: len(expected)] == expected, where
        # An answer may be on the disk before anybody was told, and no more than one is on its way at a time.
        assert len(found) <= len(expected) + 1, where
        problems = read(folder / "answers.jsonl").problems
        assert {problem.kind for problem in problems} <= {"torn", "unreadable"}, where
        fell["acknowledged"] += len(saved(ran))
        fell["on the disk, nobody told"] += len(found) - len(expected)
        fell["torn"] += any(problem.kind == "torn" for problem in problems)
        fell["killed"] += 1
        expected = found
    print(f"Kills while answering {way}: {dict(fell)}")
    assert fell["killed"] == KILLS
    assert min(fell["torn"], fell["on the disk, nobody told"], fell["acknowledged"]) >= 1, fell
