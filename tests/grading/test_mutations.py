"""Damage anywhere in a hand-in costs what it hit, and nothing else."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from trainkit import journal
from trainkit_grading.course.folder import Course

from .makers import MODULE, form_of, keys_of
from .mutations import Figures, Sheet, honest_journal, judge, mutated_journal


@pytest.fixture(scope="module")
def sheet(_given_out: Path) -> Sheet:
    course = Course.load(_given_out)
    form = form_of(course, "amir")
    return Sheet(form, dict(keys_of(course, form.code)), course.name, MODULE, "amir")


@pytest.fixture(scope="module")
def journals(sheet: Sheet, tmp_path_factory: pytest.TempPathFactory) -> list[bytes]:
    home = tmp_path_factory.mktemp("honest")
    return [honest_journal(home / str(n), sheet, random.Random(n), n) for n in (1, 2, 6, 25)]


def test_an_honest_journal_is_read_whole(journals: list[bytes]) -> None:
    for content in journals:
        reading = journal.read(content)
        assert (len(reading.entries), reading.problems) == (content.count(b"\n"), ())


@settings(max_examples=400, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 2**32 - 1))
def test_damage_costs_only_what_it_hit(sheet: Sheet, journals: list[bytes], chance: int) -> None:
    rng = random.Random(chance)
    figures = Figures()
    judge(sheet, rng.choice(journals), rng, figures)
    assert figures.faults == []


@settings(max_examples=200)
@given(st.lists(st.binary(max_size=60), max_size=4), st.integers(0, 6))
def test_lines_of_anything_among_the_lines_cost_none_of_them(
    journals: list[bytes], odd: list[bytes], place: int
) -> None:
    lines = journals[2].splitlines()
    strange = [line.replace(b"\n", b" ") for line in odd]
    content = b"\n".join([*lines[:place], *strange, *lines[place:]]) + b"\n"
    assert [entry.n for entry in journal.read(content).entries] == list(range(1, len(lines) + 1))


def test_the_same_chance_gives_the_same_damage(journals: list[bytes]) -> None:
    assert mutated_journal(journals[2], random.Random(7)) == mutated_journal(journals[2], random.Random(7))
    assert len({mutated_journal(journals[2], random.Random(n)) for n in range(50)}) > 40


def test_the_judge_notices_a_reader_that_loses_a_line(
    sheet: Sheet, journals: list[bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A judge that finds nothing shows nothing: here a reader stops at the first line that is no answer."""
    honest = journal.read

    def stops(content: bytes) -> journal.Reading:
        whole = honest(content)
        first = min((one.line for one in whole.problems if one.kind == "unreadable"), default=None)
        return whole if first is None else journal.Reading(whole.entries[: first - 1], whole.problems)

    figures = Figures()
    monkeypatch.setattr(journal, "read", stops)
    for chance in range(60):
        judge(sheet, journals[3], random.Random(chance), figures)
    assert "an intact line is not read" in figures.faults
