"""Hand-ins of honest people: whose they are, which one counts, and what a stop half-way leaves."""

from __future__ import annotations

import json
import os
import shutil
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from trainkit import handin, journal
from trainkit_grading.course.folder import Course
from trainkit_grading.errors import CourseError
from trainkit_grading.intake import receipts
from trainkit_grading.intake.collect import collect
from trainkit_grading.support import files

from .makers import MODULE, NOON, PEOPLE, Bench, answered, forms_in, give_out, laid, refused, set_to, still, tree
from .packed import zipped


def test_everybody_hands_in_by_zip(assigned: Bench, tmp_path: Path) -> None:
    for identifier, _ in PEOPLE:
        assigned.hand_in(identifier, tmp_path / identifier)
    outcome = collect(assigned.course, clock=still(NOON))
    assert outcome.ok
    assert [taken["apprentice"] for taken in outcome.data["taken"]]
    assert outcome.data["missing"] == {MODULE: []}
    released = tree(assigned.course.release / MODULE)
    for identifier, _ in PEOPLE:
        home = laid(assigned.course, identifier)
        assert sorted(path.name for path in home.iterdir()) == [
            "answers.jsonl",
            f"{MODULE}.ipynb",
            "forms.json",
            "submission_secret.txt",
            "timestamp.txt",
        ]
        # The pristine notebook, this apprentice's form alone, and the journal as it was handed in, byte for byte.
        assert (home / f"{MODULE}.ipynb").read_bytes() == released[f"{MODULE}.ipynb"]
        forms = forms_in(home)
        assert len(forms.forms) == 1
        assert forms.of(identifier) == forms.forms[0]
        assert (home / "answers.jsonl").read_bytes() == (tmp_path / identifier / MODULE / "answers.jsonl").read_bytes()
        assert (home / "timestamp.txt").read_text() == "2027-03-01 12:00:00.000000 UTC"


def test_nbgrader_reads_the_time_that_was_stamped(assigned: Bench, tmp_path: Path) -> None:
    from trainkit_grading.nbgrader_bridge import steps

    assigned.hand_in("o'brien", tmp_path / "home")
    moment = datetime(2027, 3, 1, 23, 59, 59, 123456, tzinfo=UTC)
    collect(assigned.course, clock=still(moment))
    with steps.prepared():
        from nbgrader.coursedir import CourseDirectory

        coursedir = CourseDirectory(root=str(assigned.course.folder))
        read = coursedir.get_existing_timestamp(str(laid(assigned.course, "o'brien")))
    assert read == moment.replace(tzinfo=None)


def test_collecting_again_changes_nothing(assigned: Bench, tmp_path: Path) -> None:
    assigned.hand_in("amir", tmp_path / "home")
    collect(assigned.course, clock=still(NOON))
    before = tree(assigned.course.folder)
    outcome = collect(assigned.course, clock=still(NOON + timedelta(hours=1)))
    assert outcome.ok
    assert outcome.data["taken"] == []
    assert outcome.data["unchanged"] == 1
    assert tree(assigned.course.folder) == before


def test_a_later_hand_in_is_laid_and_the_earlier_kept(assigned: Bench, tmp_path: Path) -> None:
    folder = assigned.unpack("amir", tmp_path / "home")
    written = assigned.answer(folder, items=("A1",))
    first = handin.pack(folder).read_bytes()
    (assigned.course.inbox / "one.zip").write_bytes(first)
    collect(assigned.course, clock=still(NOON))
    assert answered(assigned.course, "amir") == 1
    written.append("A1", written.latest()["A1"].response)
    (assigned.course.inbox / "two.zip").write_bytes(handin.pack(folder).read_bytes())
    collect(assigned.course, clock=still(NOON + timedelta(hours=1)))
    assert answered(assigned.course, "amir") == 2
    kept = receipts.kept(assigned.course, "amir", MODULE)
    assert [(receipt.number, receipt.answers, receipt.arrived) for receipt in kept] == [
        (1, 1, NOON),
        (2, 2, NOON + timedelta(hours=1)),
    ]
    assert (laid(assigned.course, "amir") / "timestamp.txt").read_text().startswith("2027-03-01 13:00")
    assert [len(journal.read(receipts.journal_of(assigned.course, receipt)).entries) for receipt in kept] == [1, 2]
    # An old copy that turns up again, under any name, is known.
    (assigned.course.inbox / "three.zip").write_bytes(first)
    outcome = collect(assigned.course, clock=still(NOON + timedelta(hours=2)))
    assert outcome.data["unchanged"] == 3
    assert answered(assigned.course, "amir") == 2


def test_an_earlier_state_that_comes_late_does_not_replace_the_later(assigned: Bench, tmp_path: Path) -> None:
    folder = assigned.unpack("amir", tmp_path / "home")
    written = assigned.answer(folder, items=("A1",))
    early = handin.pack(folder).read_bytes()
    written.append("A1", written.latest()["A1"].response)
    (assigned.course.inbox / "late state.zip").write_bytes(handin.pack(folder).read_bytes())
    collect(assigned.course, clock=still(NOON))
    (assigned.course.inbox / "early state.zip").write_bytes(early)
    outcome = collect(assigned.course, clock=still(NOON + timedelta(hours=1)))
    assert outcome.ok
    assert any("earlier state" in finding.text for finding in outcome.findings)
    assert answered(assigned.course, "amir") == 2
    assert [receipt.older for receipt in receipts.kept(assigned.course, "amir", MODULE)] == [False, True]


def test_lateness_is_told(assigned: Bench, tmp_path: Path) -> None:
    course = set_to(assigned.course, attempt="1\ndue = 2027-03-01T10:00:00Z")
    assigned.hand_in("amir", tmp_path / "home")
    outcome = collect(course, clock=still(NOON))
    assert outcome.ok
    assert any("2\u2009h after it was due" in finding.text for finding in outcome.findings)


def test_the_log_tells_each_hand_in_and_each_refusal_once(assigned: Bench, tmp_path: Path) -> None:
    assigned.hand_in("amir", tmp_path / "home")
    (assigned.course.inbox / "broken.zip").write_bytes(b"no zip")
    for hour in range(3):
        collect(assigned.course, clock=still(NOON + timedelta(hours=hour)))
    lines = [json.loads(line) for line in assigned.course.arrivals_log.read_text("utf-8").splitlines()]
    assert [line.get("apprentice", line.get("refused")) for line in lines] == ["amir", "inbox/broken.zip"]
    assert lines[0]["told_by"] == "personal code"
    # Torn and cut short, the log is made good again.
    data = assigned.course.arrivals_log.read_bytes()
    assigned.course.arrivals_log.write_bytes(data[: len(data.splitlines(keepends=True)[0]) // 2])
    collect(assigned.course, clock=still(NOON))
    again = assigned.course.arrivals_log.read_text("utf-8").splitlines()[1:]
    assert [json.loads(line) for line in again] == lines


def test_a_file_name_decides_nothing(assigned: Bench, tmp_path: Path) -> None:
    made = assigned.hand_in("amir", tmp_path / "home")
    made.rename(made.with_name(f"{MODULE}-o'brien-ZZZZZZZZ.handin.zip"))
    outcome = collect(assigned.course)
    assert [taken["apprentice"] for taken in outcome.data["taken"]] == ["amir"]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"code": "A" * 16}, "personal code"),
        ({"code": ""}, "personal code"),
        ({"code": "é"}, "personal code"),
        ({"apprentice": "o'brien"}, "personal code"),
        ({"apprentice": "mallory"}, "Nobody on the roster"),
        ({"apprentice": "../amir"}, "Nobody on the roster"),
        ({"course": "another"}, "course saltmere"),
        ({"apprentice": 7}, "not as it was given out"),
        ({"more": 1}, "not as it was given out"),
    ],
)
def test_an_identity_is_checked(assigned: Bench, parts: dict[str, bytes], change: dict[str, Any], says: str) -> None:
    identity = json.loads(parts["identity.json"]) | change
    zipped(assigned.course.inbox / "x.zip", parts | {"identity.json": json.dumps(identity).encode()})
    outcome = collect(assigned.course)
    assert says in refused(outcome)
    assert not assigned.course.submitted.exists()


def test_without_an_identity_the_instructor_says_who_it_is(assigned: Bench, parts: dict[str, bytes]) -> None:
    path = zipped(assigned.course.inbox / f"{MODULE}-amir-X.handin.zip", {"answers.jsonl": parts["answers.jsonl"]})
    assert "--apprentice" in refused(collect(assigned.course))
    with pytest.raises(CourseError, match="roster"):
        collect(assigned.course, path, "nobody")
    with pytest.raises(CourseError, match="--from"):
        collect(assigned.course, None, "amir")
    outcome = collect(assigned.course, path, "amir")
    assert outcome.ok
    assert outcome.data["taken"][0]["told_by"] == "instructor"


def test_a_journal_that_speaks_of_another_is_taken_and_told(assigned: Bench, tmp_path: Path) -> None:
    """The code decides; what the journal claims is for a person to look at."""
    theirs = assigned.unpack("o'brien", tmp_path / "theirs")
    assigned.answer(theirs)
    mine = assigned.unpack("amir", tmp_path / "mine")
    shutil.copy(theirs / "answers.jsonl", mine / "answers.jsonl")
    shutil.copy(handin.pack(mine), assigned.course.inbox / "copied.zip")
    outcome = collect(assigned.course)
    assert outcome.ok
    assert outcome.data["taken"][0]["apprentice"] == "amir"
    told = [finding.text for finding in outcome.findings if finding.severity == "warning"]
    assert any("o'brien" in text for text in told)
    assert any("form" in text for text in told)


def test_a_torn_or_tampered_journal_is_taken_with_what_is_readable(assigned: Bench, parts: dict[str, bytes]) -> None:
    lines = parts["answers.jsonl"].splitlines(keepends=True)
    content = lines[0] + b"not an answer\n" + lines[2] + lines[1][:40]
    zipped(assigned.course.inbox / "x.zip", parts | {"answers.jsonl": content})
    outcome = collect(assigned.course)
    assert outcome.ok
    assert outcome.data["taken"][0]["answers"] == 2
    assert any("line 2" in finding.text for finding in outcome.findings)
    assert (laid(assigned.course, "amir") / "answers.jsonl").read_bytes() == content


@pytest.mark.parametrize(
    "content", [b"", b"\n\n", b"rubbish\n", b"{}\n", b"[" * 50_000, b"\0" * 1000, b'{"format":1}\n']
)
def test_a_journal_without_an_answer(assigned: Bench, parts: dict[str, bytes], content: bytes) -> None:
    zipped(assigned.course.inbox / "x.zip", parts | {"answers.jsonl": content})
    assert "no readable answer" in refused(collect(assigned.course))


def test_a_journal_of_another_course_or_module(assigned: Bench, parts: dict[str, bytes]) -> None:
    for number, (old, new, says) in enumerate(
        (
            (b'"course":"saltmere"', b'"course":"elsewhere"', "no answer in this journal is of it"),
            (f'"module":"{MODULE}"'.encode(), b'"module":"lock-pin"', "runs bench-order"),
        )
    ):
        content = parts["answers.jsonl"].replace(old, new)
        assert content != parts["answers.jsonl"]
        zipped(assigned.course.inbox / f"{number}.zip", parts | {"answers.jsonl": content})
        assert says in refused(collect(assigned.course))


def test_a_module_that_is_not_out_takes_nothing(assigned: Bench, parts: dict[str, bytes]) -> None:
    shutil.rmtree(assigned.course.release)
    zipped(assigned.course.inbox / "x.zip", parts)
    assert "has not been given out" in refused(collect(assigned.course))


def test_an_answer_to_the_attempt_before(assigned: Bench, parts: dict[str, bytes]) -> None:
    first = json.loads(parts["answers.jsonl"].splitlines()[0])["form"]
    course = give_out(set_to(assigned.course, attempt="2"))
    zipped(course.inbox / "x.zip", parts)
    outcome = collect(course)
    assert outcome.ok
    assert (outcome.data["taken"][0]["attempt"], outcome.data["taken"][0]["form"]) == (1, first)
    forms = forms_in(laid(course, "amir"))
    assert (forms.attempt, forms.of("amir").code) == (1, first)


def test_an_unknown_folder_among_the_submissions_is_told(assigned: Bench) -> None:
    (assigned.course.submitted / "stranger" / MODULE).mkdir(parents=True)
    outcome = collect(assigned.course)
    assert [finding.place for finding in outcome.findings] == ["submitted/stranger"]


@pytest.mark.parametrize("moment", range(14))
def test_stopped_at_any_step_the_next_collecting_ends_as_if_never_stopped(
    assigned: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, moment: int
) -> None:
    """Every step that writes ends in a rename or a sync; the end comes before each of them in turn."""
    for identifier in ("amir", "o'brien"):
        assigned.hand_in(identifier, tmp_path / identifier)
    twin = Course.load(shutil.copytree(assigned.course.folder, tmp_path / "twin"))
    assert collect(twin, clock=still(NOON)).ok
    calls = 0
    rename, sync = Path.rename, os.fsync

    def counted(work: Callable[..., Any]) -> Callable[..., Any]:
        def step(*given: Any) -> Any:
            nonlocal calls
            calls += 1
            if calls > moment:
                raise KeyboardInterrupt
            return work(*given)

        return step

    with monkeypatch.context() as patch:
        patch.setattr(Path, "rename", counted(rename))
        patch.setattr(os, "fsync", counted(sync))
        try:
            collect(assigned.course, clock=still(NOON))
        except KeyboardInterrupt:
            pass
        else:
            assert moment >= calls
    # Whatever lies under submitted/ is whole.
    for path in assigned.course.submitted.glob("*/*"):
        assert len(list(path.iterdir())) == 5
    assert collect(assigned.course, clock=still(NOON)).ok
    wanted = {k: v for k, v in tree(twin.folder).items() if k not in (".trainkit-lock",)}
    assert {k: v for k, v in tree(assigned.course.folder).items() if k not in (".trainkit-lock",)} == wanted


def test_what_was_lost_under_submitted_is_laid_again(assigned: Bench, tmp_path: Path) -> None:
    assigned.hand_in("amir", tmp_path / "home")
    collect(assigned.course, clock=still(NOON))
    before = tree(assigned.course.submitted)
    (laid(assigned.course, "amir") / "answers.jsonl").write_text("scribbled over")
    collect(assigned.course, clock=still(NOON + timedelta(hours=1)))
    assert tree(assigned.course.submitted) == before
    shutil.rmtree(assigned.course.submitted)
    collect(assigned.course, clock=still(NOON + timedelta(hours=2)))
    assert tree(assigned.course.submitted) == before
    assert not (assigned.course.folder / files.WORK_FOLDER / "old").exists()


def test_a_record_that_cannot_be_read_is_told(assigned: Bench, tmp_path: Path) -> None:
    assigned.hand_in("amir", tmp_path / "home")
    collect(assigned.course)
    (record,) = assigned.course.arrivals.rglob(receipts.RECORD_FILE)
    record.write_text("{}")
    with pytest.raises(CourseError, match="backup"):
        collect(assigned.course)


def test_hundreds_of_hand_ins_are_looked_at_quickly(assigned: Bench, parts: dict[str, bytes]) -> None:
    """Collecting again with nothing new is what happens most: it reads, and writes nothing."""
    for number in range(300):
        zipped(assigned.course.inbox / f"{number}.zip", parts)
    collect(assigned.course)
    began = time.perf_counter()
    outcome = collect(assigned.course)
    assert outcome.data["unchanged"] == 300
    assert time.perf_counter() - began < 20
