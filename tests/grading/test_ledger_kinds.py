"""Each kind of entry is kept as the same text by every version, and comes back out of it as the same value."""

from __future__ import annotations

import json

import pytest

from trainkit_grading.errors import LedgerError
from trainkit_grading.ledger import details
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.ledger.kinds import (
    KINDS,
    Appealed,
    Changed,
    Decided,
    Doubted,
    FeedbackWritten,
    Flagged,
    Forgotten,
    Held,
    Marked,
    Moved,
    Observed,
    ObservedStep,
    OnPaper,
    SampleLine,
    SecondDrawn,
    SecondJudged,
    SessionHeld,
    Voided,
)

LINE = SampleLine(1, "m", "A1", "text", "0" * 32, 2, "F", "a" * 64, 3, 4, 1.5, 2.0)
# An entry of each kind, and the text that was kept of it before entries were values.
KEPT: tuple[tuple[Entry, str], ...] = (
    (
        Marked(critical=("A3",), files=("f",), could={"A1": ("x/y",)}),
        '{"could": {"A1": ["x/y"]}, "counts": true, "critical": ["A3"], "files": ["f"]}',
    ),
    (
        Marked(counts=False, paper=OnPaper(("P. Tidewell", "Ö. Orrin"), ("a", "b"), ("A2",), "Torn.")),
        '{"could": {}, "counts": false, "critical": [], "files": [], "medium": "paper", "paper": {"passes": ["a", "b"],'
        ' "settled": ["A2"], "typed": ["P. Tidewell", "\\u00d6. Orrin"], "why": "Torn."}}',
    ),
    (
        Marked(paper=OnPaper(("P", "M"), ("a", "b"))),
        '{"could": {}, "counts": true, "critical": [], "files": [], "medium": "paper", "paper": {"passes": ["a", "b"],'
        ' "settled": [], "typed": ["P", "M"]}}',
    ),
    (
        Changed(item="A1", field="points", after=2.0, answer="d"),
        '{"answer": "d", "field": "points", "from": null, "item": "A1", "to": 2.0}',
    ),
    (
        Changed(item="A1", field="points", before=1.0, after=0.0, entry=7, critical=False),
        '{"answer": "", "critical": false, "entry": 7, "field": "points", "from": 1.0, "item": "A1", "to": 0.0}',
    ),
    (
        Changed(field="extension", after=60.0, by_dates=True),
        '{"answer": "", "by_dates": true, "field": "extension", "from": null, "item": "", "to": 60.0}',
    ),
    (
        Voided(item="A1", field="points", before=2.0),
        '{"answer": "", "field": "points", "from": 2.0, "item": "A1", "to": null}',
    ),
    (
        SessionHeld(invigilator="I", room="R", begin="b", end="e", apprentices=("p",)),
        '{"aids": "", "apprentices": ["p"], "begin": "b", "end": "e", "invigilator": "I", "module": "", "room": "R"}',
    ),
    (Flagged(), "{}"),
    (Doubted(doubt="owner unknown"), '{"doubt": "owner unknown"}'),
    (
        FeedbackWritten(when="2027-03-01T08:00:00", marked=3, answers=True),
        '{"answers": true, "marked": 3, "when": "2027-03-01T08:00:00"}',
    ),
    (Held(over=3, earns=1.5), '{"earns": 1.5, "over": 3}'),
    (
        Moved(cohort="c", joined="2027-01-01"),
        '{"cohort": "c", "extra_percent": 0.0, "joined": "2027-01-01", "left": ""}',
    ),
    (
        Observed(checklist="c", steps=(ObservedStep("s", "Do.", True, "prompted"),), when="2027-04-01T09:00+00:00"),
        '{"again": false, "at": "2027-04-01T09:00+00:00", "checklist": "c", "code": "", "counts": false, "engine": "",'
        ' "item": "", "medium": "", "observer": "", "pack": "", "steps": [["s", "Do.", true, "prompted"]],'
        ' "title": "", "trainer": ""}',
    ),
    (
        SecondDrawn(seed=7, modules=("m",), percent=10.0, sheet="S", lines=(LINE,)),
        '{"count": 0, "lines": [{"answer": "'
        + "a" * 64
        + '", "apprentice": "'
        + "0" * 32
        + '", "attempt": 2, "entry": 4,'
        ' "form": "F", "item": "A1", "kind": "text", "line": 1, "marked": 3, "module": "m", "observed": 0,'
        ' "out_of": 2.0, "points": 1.5}], "modules": ["m"], "percent": 10.0, "seed": 7, "sheet": "S", "what": "drawn"}',
    ),
    (
        SecondJudged(sheet="S", line=1, item="A1", first=1.0, first_entry=4, second=2.0, most=2.0, marker="M"),
        '{"answer": "", "first": 1.0, "first_entry": 4, "item": "A1", "line": 1, "marker": "M", "out_of": 2.0,'
        ' "points": 2.0, "sheet": "S", "what": "judged"}',
    ),
    (Appealed(item="A1", stood=1.0, marked=3), '{"answer": "", "item": "A1", "marked": 3, "points": 1.0}'),
    (
        Decided(of=9, of_kind="appealed", became="rejected"),
        '{"item": "", "kind": "appealed", "of": 9, "outcome": "rejected", "points": null}',
    ),
    (Forgotten(sign="s", emptied=((3, 0),)), '{"emptied": [[3, 0]], "sign": "s"}'),
)


def test_every_kind_is_among_them() -> None:
    assert {type(entry) for entry, _ in KEPT} == set(KINDS)


@pytest.mark.parametrize(("entry", "text"), KEPT, ids=[f"{n} {entry.kind}" for n, (entry, _) in enumerate(KEPT)])
def test_an_entry_is_kept_as_ever_and_comes_back(entry: Entry, text: str) -> None:
    assert details.text(entry) == text
    back = details.read_any(entry.kind, 1, text)
    assert back == entry
    assert type(back) is type(entry)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_what_an_older_version_did_not_keep_has_its_default(kind: type[Entry]) -> None:
    assert details.read(kind, json.dumps({"of another version": 1})) == kind()


@pytest.mark.parametrize("text", ["", "[", "5", '{"files": 5}', '{"could": ["A1"]}'])
def test_what_no_version_has_written_is_refused_with_its_remedy(text: str) -> None:
    with pytest.raises(LedgerError, match="entry 7"):
        details.read_any("marked", 7, text)
    with pytest.raises(LedgerError, match="entry 7"):
        details.read_any("of another world", 7, "{}")


def test_one_value_of_a_detail_is_found_without_reading_the_rest() -> None:
    for entry, text in KEPT:
        if isinstance(entry, Marked):
            assert details.critical_items(text) == set(entry.critical)
            assert list(details.files(text)) == list(entry.files)
            assert details.counts(text) == entry.counts
            assert {item: tuple(codes) for item, codes in details.could_show(text).items()} == entry.could
    # What stands inside a text is no name.
    odd = details.text(Marked(files=('", "critical": ["A1"], "',), critical=("A2",)))
    assert details.critical_items(odd) == {"A2"}
    assert details.critical_items("{}") == frozenset()
    assert details.counts("{}")
