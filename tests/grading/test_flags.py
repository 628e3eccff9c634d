"""What a person is told to look at: times that cannot be, and two journals with one history."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from trainkit import journal
from trainkit.items.kinds import ChoiceResponse
from trainkit.journal import Journal, JournalLine, Reading
from trainkit_grading.forms import generation
from trainkit_grading.intake.collect import collect
from trainkit_grading.ledger import histories
from trainkit_grading.ledger.flags import Flag, time_flags
from trainkit_grading.marking.score import score

from .makers import MODULE, Bench, give_out, key_file

START = datetime(2027, 3, 1, 8, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


def plain(moment: datetime) -> datetime:
    return moment.astimezone(UTC).replace(tzinfo=None)


def entry(at: str, number: int = 1) -> JournalLine:
    where: dict[str, Any] = {"course": "c", "module": "m", "form": "f", "apprentice": "a", "item": "A1"}
    return JournalLine(n=number, at=at, journal="0" * 32, response=ChoiceResponse(option="a"), before="", **where)


def written(path: Path, apprentice: str, moments: list[datetime]) -> bytes:
    clock = iter(moments)
    made = Journal(path, course="c", module="m", form=apprentice, apprentice=apprentice, clock=lambda: next(clock))
    for number in range(len(moments)):
        made.append(f"A{number}", ChoiceResponse(option="a"))
    return path.read_bytes()


@pytest.mark.parametrize(
    ("answers", "arrived", "given_out", "says"),
    [
        ([0, 1, 2], 10, -10, []),
        ([0, 0, 0], 0, 0, []),  # all at once: fast, and not impossible
        ([5, 0], 10, -10, []),  # clocks are put right by a few minutes
        ([30, 0], 60, -10, ["before the answer above it"]),
        ([0, 1], 10, 30, ["before this form was given out"]),
        ([0, 1], 10, 5, []),
        ([0, 90], 10, -10, ["after the hand-in arrived"]),
        ([0, 15], 10, None, []),
        ([30, 0], -30, 60, ["before the answer above it", "before this form was given out", "after the hand-in"]),
    ],
)
def test_times_that_cannot_be(answers: list[int], arrived: int, given_out: int | None, says: list[str]) -> None:
    entries = [
        entry((START + n * MINUTE).isoformat(timespec="milliseconds").replace("+00:00", "Z"), place)
        for place, n in enumerate(answers, start=1)
    ]
    out = None if given_out is None else plain(START + given_out * MINUTE)
    flags = list(time_flags(entries, plain(START + arrived * MINUTE), out))
    assert {flag.kind for flag in flags} <= {"times"}
    assert len(flags) == len(says)
    assert all(said in flag.text for said, flag in zip(says, flags, strict=True))


@pytest.mark.parametrize("arrived", [datetime.min, datetime.max, None])
@pytest.mark.parametrize("given_out", [datetime.min, datetime.max, None])
def test_the_ends_of_the_calendar_are_no_trouble(arrived: datetime | None, given_out: datetime | None) -> None:
    first, last = "0001-01-01T00:00:00.000Z", "9999-12-31T23:59:59.999Z"
    for moments in ([first, first], [last, last], [last, first], [first, last]):
        for flag in time_flags([entry(at) for at in moments], arrived, given_out):
            assert flag.text.endswith(".")


def test_a_form_keeps_the_time_it_was_first_given_out(bench: Bench) -> None:
    bench.write_roster((("amir", "Amir"),))
    give_out(bench.course, START)
    bench.write_roster((("amir", "Amir"), ("bo", "Bo")))
    give_out(bench.course, START + 60 * MINUTE)
    keys = key_file(bench.course)
    since = generation.read_given_out(bench.course.released_file(MODULE, 1))
    assert {form.apprentice: since[code] for code, form in keys.forms.items()} == {
        "amir": START,
        "bo": START + 60 * MINUTE,
    }


def test_a_flag_steers_no_terminal_and_stays_in_its_line() -> None:
    assert Flag("name", "a\x1b[31m\u202eb\nrefused: c").text == "a\ufffd[31mb refused: c"


# ---- two journals with one history


def shared(readings: dict[str, Reading]) -> dict[str, tuple[Flag, ...]]:
    return histories.shared({name: histories.Trace.of(reading) for name, reading in readings.items()})


def own(path: Path, apprentice: str, seconds: float, count: int = 12) -> bytes:
    return written(path / apprentice, apprentice, [START + timedelta(seconds=seconds * n + n) for n in range(count)])


def test_journals_of_their_own_share_nothing_and_a_copied_one_is_told_of_both(tmp_path: Path) -> None:
    read = {name: journal.read(own(tmp_path, name, 60 + n)) for n, name in enumerate(("amir", "bo", "cleo"))}
    assert shared(read) == {}
    read["dov"] = read["bo"]
    found = shared(read)
    assert {name: [flag.kind for flag in flags] for name, flags in found.items()} == {
        "bo": ["history"],
        "dov": ["history"],
    }
    assert [flag.text for flag in found["dov"]] == [
        "This is the same history as bo’s: answers out of one file. Ask both how that came."
    ]


def test_a_copy_that_went_on_by_itself_shares_its_beginning(tmp_path: Path) -> None:
    first = own(tmp_path, "amir", 60, count=4)
    (tmp_path / "copy").write_bytes(first)
    later = written(tmp_path / "copy", "bo", [START + n * 60 * MINUTE for n in range(1, 9)])
    found = shared({"amir": journal.read(first), "bo": journal.read(later)})
    assert set(found) == {"amir", "bo"}
    assert "answers out of one file" in found["bo"][0].text


def test_a_copy_written_anew_under_another_name_and_number_shows_by_its_moments(tmp_path: Path) -> None:
    moments = [START + timedelta(seconds=61.337 * n) for n in range(12)]
    read = {name: journal.read(written(tmp_path / name, name, moments)) for name in ("amir", "bo")}
    assert len({entry.journal for reading in read.values() for entry in reading.entries}) == 2
    assert "12 answers at the same milliseconds" in shared(read)["amir"][0].text


@pytest.mark.parametrize(("alike", "told"), [(histories.ALIKE - 1, False), (histories.ALIKE, True)])
def test_a_few_moments_alike_are_an_accident(tmp_path: Path, alike: int, told: bool) -> None:
    moments = [START + n * MINUTE for n in range(12)]
    others = [*moments[:alike], *(moment + timedelta(milliseconds=3) for moment in moments[alike:])]
    read = {
        "amir": journal.read(written(tmp_path / "amir", "amir", moments)),
        "bo": journal.read(written(tmp_path / "bo", "bo", others)),
    }
    assert bool(shared(read)) == told


def test_three_of_one_history_are_told_of_each_other_and_nobody_is_a_copy_of_themselves(tmp_path: Path) -> None:
    reading = journal.read(own(tmp_path, "amir", 60))
    assert shared({"amir": reading}) == {}
    found = shared({"amir": reading, "bo": reading, "cleo": reading, "dov": Reading()})
    assert {name: len(flags) for name, flags in found.items()} == {"amir": 2, "bo": 2, "cleo": 2}


def test_a_large_class_is_compared_quickly(tmp_path: Path) -> None:
    reading = journal.read(own(tmp_path, "amir", 60))

    def of(number: int) -> Reading:
        moments = (f"2027-03-01T08:{n:02d}:{number % 60:02d}.{number // 60:03d}Z" for n in range(len(reading.entries)))
        changes = ({"journal": f"{number:032x}", "at": at} for at in moments)
        return Reading(tuple(line.model_copy(update=new) for line, new in zip(reading.entries, changes, strict=True)))

    assert shared({f"p{number}": of(number) for number in range(500)}) == {}


def test_answers_before_the_form_was_given_out_are_marked_and_flagged(assigned: Bench, tmp_path: Path) -> None:
    early = datetime(2027, 1, 15, 8, tzinfo=UTC)  # the forms of this course are out since the first of February
    assigned.hand_in("amir", tmp_path / "early", at=early)
    assigned.hand_in("o'brien", tmp_path / "later", at=START)
    assert collect(assigned.course, clock=lambda: START + timedelta(days=1)).ok
    said = {
        entry.apprentice: [flag.text for flag in entry.flags]
        for entry in (score(assigned.course, MODULE, person) for person in ("amir", "o'brien"))
    }
    assert said == {
        "amir": ["An answer is dated 2027-01-15 08:00 UTC, before this form was given out."],
        "o'brien": [],
    }
    assert all(entry.response is not None for entry in score(assigned.course, MODULE, "amir").items)
