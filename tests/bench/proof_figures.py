"""What proving costs a report over many people; run as ``python tests/bench/proof_figures.py --people 10000``.

The course is made by ``marking_world.py``: everybody has a form, keys and a journal of their own, and a receipt in the
chain. The score sheet is written without a proof, with the first one (marking has noted what it worked out, seals are
computed), with the next one (nothing is new), and with one that works all marks out again. CPU seconds of one process.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from unittest import mock

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

FORMS = 24
ITEMS = 12
SEED = 20270301


def receipts_of(folder: Path, people: tuple[str, ...]) -> None:
    """Keep what everybody handed in as collecting does, without waiting for the disk each time."""
    from tests.bench.marking_world import MODULE
    from trainkit_grading.course.folder import Course
    from trainkit_grading.intake import chain, receipts
    from trainkit_grading.support.files import held

    course = Course.load(folder)
    links = chain.Chain(course, course.seed())
    now = datetime(2027, 3, 2, 8, tzinfo=UTC)
    codes = {name: code for code, name in _people(course).items()}
    taken = []
    with held(folder):
        for name in people:
            journal = (course.submitted / name / MODULE / "answers.jsonl").read_bytes()
            receipt = links.linked(
                receipts.Receipt(
                    number=1,
                    apprentice=name,
                    module=MODULE,
                    attempt=1,
                    form=codes[name],
                    arrived=now,
                    collected=now,
                    how="zip",
                    told_by="personal code",
                    place=f"{name}.zip",
                    digest=receipts.content_digest(journal),
                    answers=journal.count(b"\n"),
                )
            )
            receipts.keep(course, receipt, journal)
            taken.append(receipt)
        links.note(taken)


def _people(course: object) -> dict[str, str]:
    from tests.bench.marking_world import MODULE
    from trainkit_grading.course.folder import Course
    from trainkit_grading.forms.store import open_keys

    assert isinstance(course, Course)
    kept = open_keys(course.key_file(MODULE, 1))
    assert kept is not None
    return kept.head.people


def timed(folder: Path, *, proving: bool) -> float:
    """Write the score sheet and return the CPU seconds that it took."""
    from trainkit_grading.course.folder import Course
    from trainkit_grading.reports import score_sheet
    from trainkit_grading.results.proof import Proof

    course = Course.load(folder)
    nothing = Proof(1, "", datetime.now(UTC))
    stand_in = mock.patch.object(score_sheet, "prove", return_value=nothing)
    begin = time.process_time()
    if proving:
        outcome = score_sheet.report(course)
    else:
        with stand_in:
            outcome = score_sheet.report(course)
    spent = time.process_time() - begin
    assert not [finding for finding in outcome.findings if finding.place == "proof"], outcome.findings
    return spent


def main() -> None:
    from tests.bench.marking_world import enlarge, make, without_waiting_for_the_disk
    from trainkit_grading.course.folder import Course
    from trainkit_grading.marking.mark import mark

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, default=10_000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as home:
        folder = Path(home) / "course"
        with without_waiting_for_the_disk():
            world = enlarge(make(Path(home) / "small", FORMS, ITEMS, SEED), folder, asked.people, SEED)
            receipts_of(folder, world.people)
            begin = time.process_time()
            outcome = mark(Course.load(folder))
            marking = time.process_time() - begin
            assert len(outcome.data["submissions"]) == asked.people, outcome.findings[:3]
        without = min(timed(folder, proving=False) for _ in range(3))
        first = timed(folder, proving=True)
        again = min(timed(folder, proving=True) for _ in range(3))
        Course.load(folder).proven_file.unlink()
        everything = timed(folder, proving=True)
        print(f"{asked.people:,} people, {ITEMS} items, one module; marking took {marking:.1f} s of CPU")
        print(f"score sheet without a proof: {without:.2f} s")
        for what, spent in (("first proof", first), ("next proof", again), ("all worked out again", everything)):
            print(f"{what}: {spent:.2f} s, {spent / without:.1f} times that")


if __name__ == "__main__":
    main()
