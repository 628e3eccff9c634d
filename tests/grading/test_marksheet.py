"""Marks as columns, and sums that the database makes, against the entries of the ledger read one by one."""

from __future__ import annotations

import math
import random

import pytest
from sqlalchemy import Connection

from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import MarkRow, Note
from trainkit_grading.ledger.kinds import Changed, Marked, OnPaper
from trainkit_grading.ledger.tables import PERSON
from trainkit_grading.results import aggregates, marksheet

from .ledgers import FROM, SEED
from .makers import ON_BOTH

MODULE = "bench-order"
ITEMS = (
    ("A1", "order/put-in-order", "order", 3.0),
    ("A2", "units/convert", "number", 2.0),
    ("A3", "pin/play", "actions", 4.0),
    ("A4", "why/explain", "text", 5.0),
)
CODES = ("inverse-factor", "wrong-end", "not-held")


def entry(rng: random.Random, name: str, attempt: int) -> Marked:
    """An entry with marks at random, as marking might make it."""
    rows: list[MarkRow] = []
    could: dict[str, tuple[str, ...]] = {}
    for item, template, kind, out_of in ITEMS:
        silent = rng.random() < 0.2
        waits = kind == "text" and not silent
        code = rng.choice(CODES) if not silent and not waits and rng.random() < 0.5 else ""
        if kind != "actions" and kind != "text":
            could[item] = tuple(sorted({*rng.sample(CODES, rng.randint(0, 2)), *filter(None, [code])}))
        rows.append(
            MarkRow(
                item,
                template,
                kind,
                None if silent else f'{{"kind":"{kind}"}}',
                "" if silent else f"2027-03-01T08:{rng.randint(10, 59)}:00Z",
                0.0 if silent or waits else round(rng.random() * out_of, 2),
                out_of,
                "no answer" if silent else "waiting" if waits else "in part",
                "Said.",
                code,
                critical=bool(code) and rng.random() < 0.5,
            )
        )
    return Marked(
        name,
        MODULE,
        attempt,
        f"F{attempt}-{name}",
        provenance=FROM,
        marks=tuple(rows),
        notes=(Note("name", f"of {name}"),) if rng.random() < 0.4 else (),
        critical=("A1", "A3"),
        could=could,
    )


def filled(empty: Connection) -> tuple[Ledger, list[Marked]]:
    """Write two attempts of twenty people, of which one counts; return the entries that do."""
    rng = random.Random(7)
    ledger = Ledger(empty, SEED)
    names = [f"p{number:02d}" for number in range(20)]
    added = ledger.add([entry(rng, name, attempt) for name in names for attempt in (1, 2)])
    counting = [rng.choice(added[2 * place : 2 * place + 2]) for place in range(20)]
    ledger.show(MODULE, {one.apprentice: one.number for one in counting})
    ledger.add(
        [Changed(one.apprentice, MODULE, one.attempt, item="A4", field="points", after=3.5) for one in counting[:5]]
    )
    return ledger, counting


@ON_BOTH
def test_columns_hold_what_the_entries_say(empty: Connection) -> None:
    ledger, counting = filled(empty)
    sheet = marksheet.read_marksheet(ledger, empty, MODULE)
    assert sheet.people == tuple(one.apprentice for one in counting)
    assert sheet.entries == tuple(one.number for one in counting)
    assert [(c.item, c.template, c.kind, c.out_of) for c in sheet.columns] == list(ITEMS)
    played = {row.misconception for one in counting for row in one.marks if row.kind == "actions"}
    judged = {one.apprentice for one in counting[:5]}
    for row, one in enumerate(counting):
        for place, mark in enumerate(one.marks):
            earned = sheet.points[row, place]
            if mark.item == "A4" and one.apprentice in judged:
                assert earned == 3.5
            elif mark.verdict == "waiting":
                assert math.isnan(earned)
            else:
                assert earned == mark.points
                assert sheet.share[row, place] == pytest.approx(mark.points / mark.out_of)
            assert sheet.answered[row, place] == (mark.response is not None)
            assert sheet.critical[row, place] == mark.critical
            for code in CODES:
                assert sheet.showed(code)[row, place] == (mark.misconception == code)
                said = one.could.get(mark.item, ())
                chance = code in said or (mark.kind == "actions" and code in played)
                assert sheet.could_show(code)[row, place] == (chance and mark.response is not None)
    assert set(sheet.possible) == set(CODES)


@ON_BOTH
def test_some_people_are_the_same_rows_alone(empty: Connection) -> None:
    ledger, counting = filled(empty)
    sheet = marksheet.read_marksheet(ledger, empty, MODULE)
    wanted = {one.apprentice for one in counting[3:9]}
    some = sheet.of(wanted)
    assert set(some.people) == wanted
    for row, name in enumerate(some.people):
        before = sheet.people.index(name)
        assert some.entries[row] == sheet.entries[before]
        assert (some.showed(CODES[0])[row] == sheet.showed(CODES[0])[before]).all()
        assert (some.could_show(CODES[1])[row] <= sheet.could_show(CODES[1])[before]).all()


@ON_BOTH
def test_a_module_without_marks_has_no_rows(empty: Connection) -> None:
    sheet = marksheet.read_marksheet(Ledger(empty, SEED), empty, MODULE)
    assert sheet.points.shape == (0, 0)
    assert (sheet.people, sheet.columns, sheet.possible) == ((), (), ())
    assert aggregates.in_ledger(empty, [MODULE]) == {MODULE: {}}


@ON_BOTH
def test_somebody_who_was_forgotten_keeps_a_row_without_a_name(empty: Connection) -> None:
    ledger, counting = filled(empty)
    empty.execute(PERSON.delete().where(PERSON.c.apprentice == counting[0].apprentice))
    sheet = marksheet.read_marksheet(ledger, empty, MODULE)
    assert sheet.people[0] == ""
    assert sheet.entries[0] == counting[0].number
    assert counting[0].apprentice not in aggregates.in_ledger(empty, [MODULE])[MODULE]


@ON_BOTH
def test_sums_are_those_of_the_entries(empty: Connection) -> None:
    _, counting = filled(empty)
    found = aggregates.in_ledger(empty, [MODULE])[MODULE]
    assert set(found) == {one.apprentice for one in counting}
    for one in counting:
        of = found[one.apprentice]
        given = [mark.points for mark in one.marks if mark.verdict != "waiting"]
        assert (of.entry, of.attempt, of.attempts, of.form) == (one.number, one.attempt, 2, one.form)
        assert of.sums.items == len(one.marks)
        assert of.sums.waiting == len(one.marks) - len(given)
        assert of.sums.points == pytest.approx(sum(given))
        assert of.sums.squares == pytest.approx(sum(points**2 for points in given))
        assert of.bars == tuple(m.item for m in one.marks if m.critical and m.item in ("A1", "A3"))
        times = sorted(mark.answered for mark in one.marks if mark.answered)
        assert (of.first, of.last) == ((times[0], times[-1]) if times else ("", ""))
        assert [note.text for note in of.notes] == [note.text for note in one.notes]
        assert of.medium == "screen"


@ON_BOTH
def test_paper_is_told_from_screen(empty: Connection) -> None:
    ledger = Ledger(empty, SEED)
    (added,) = ledger.add([Marked("amir", MODULE, 1, paper=OnPaper())])
    ledger.show(MODULE, {"amir": added.number})
    assert aggregates.in_ledger(empty, [MODULE])[MODULE]["amir"].medium == "paper"


def test_points_at_another_item_are_not_the_same() -> None:
    one = aggregates.Sums(3, 0, 5.0, 1.0 + 16.0)
    assert one.agrees(aggregates.Sums(3, 0, 5.0 + 1e-9, 17.0))
    assert not one.agrees(aggregates.Sums(3, 0, 5.0, 4.0 + 9.0))
    assert not one.agrees(aggregates.Sums(3, 1, 5.0, 17.0))
