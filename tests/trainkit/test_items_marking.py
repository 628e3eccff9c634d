"""Every kind of response: what earns what, and that nothing an apprentice can send makes marking fail."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainkit.errors import FormError, ResponseError
from trainkit.items import kinds
from trainkit.items.marking import mark, no_answer
from trainkit.items.misconceptions import misconception
from trainkit.items.reading import read_item, read_response

OPTIONS = tuple(kinds.Option(id=letter, text=f"Option {letter}") for letter in "abcd")
CARDS = tuple(kinds.Card(id=letter, text=f"Do {letter}.") for letter in "abcd")
KNOWN: dict[str, Any] = {"template": "test/test", "working": ("Step by step.",)}

NUMBER = (
    kinds.NumberItem(prompt="Convert.", units=("N·m", "lbf·ft"), to_nearest="to the nearest 1 N·m", points=2),
    kinds.NumberKey(
        **KNOWN,
        answer=54.2,
        unit="N·m",
        tolerance=0.5,
        shown="54 N·m",
        rules=(kinds.NumberRule(misconception="right-number-wrong-unit", value=29.5),),
    ),
)
CHOICE = (
    kinds.ChoiceItem(prompt="Which?", options=OPTIONS, points=1),
    kinds.ChoiceKey(**KNOWN, right="b", critical=("d",), reasons={"d": "The pin shears."}),
)
SEVERAL = (
    kinds.SeveralItem(prompt="Which ones?", options=OPTIONS, points=4),
    kinds.SeveralKey(**KNOWN, right=("a", "b"), critical=("d",)),
)
ORDER = (
    kinds.OrderItem(prompt="Order.", cards=CARDS, points=4),
    kinds.OrderKey(
        **KNOWN,
        cards={card.id: card.text for card in CARDS},
        bonds=(
            kinds.Bond(before="a", after="b", reason="First a."),
            kinds.Bond(before="b", after="c", reason="Then b.", dangerous=True),
            kinds.Bond(before="c", after="d", reason="Then c."),
        ),
    ),
)
INSERT = (
    kinds.InsertItem(prompt="Insert.", written=CARDS[:3], missing=CARDS[3], points=2),
    kinds.InsertKey(
        **KNOWN,
        right=(1, 2),
        written=("a", "b", "c"),
        missing="d",
        cards={card.id: card.text for card in CARDS},
        bonds=(
            kinds.Bond(before="a", after="d", reason="a opens the way."),
            kinds.Bond(before="d", after="c", reason="c closes it.", dangerous=True),
        ),
    ),
)
GRID = (
    kinds.GridItem(prompt="Grid.", rows=OPTIONS, columns=OPTIONS[:2], points=4),
    kinds.GridKey(**KNOWN, right={"a": "a", "b": "b", "c": "a", "d": "b"}, critical=("d a",), reasons={"d": "Renew."}),
)
POINT = (
    kinds.PointItem(prompt="Point.", targets=OPTIONS),
    kinds.PointKey(**KNOWN, right=("a", "c"), critical=("d",)),
)
CLOCK = (
    kinds.SetItem(prompt="Set.", scale=kinds.Scale(low=0, high=12, step=0.5, unit="o'clock", round=True)),
    kinds.SetKey(**KNOWN, answer=0.25, tolerance=0.5, turn=12, shown="quarter past 12"),
)
TEXT = (
    kinds.TextItem(prompt="Why?", limit=80, points=3),
    kinds.TextKey(**KNOWN, rubric=(kinds.RubricLine(looks_for="names the pin", points=3),)),
)
OBSERVED = (
    kinds.ObservedItem(prompt="Watch.", steps=OPTIONS, points=4),
    kinds.ObservedKey(**KNOWN, critical=("a",)),
)
ALL = (NUMBER, CHOICE, SEVERAL, ORDER, INSERT, GRID, POINT, CLOCK, TEXT, OBSERVED)


@pytest.mark.parametrize(
    ("text", "unit", "points", "shows"),
    [
        ("54", "N·m", 2, None),
        ("54,2", "N·m", 2, None),
        ("54.7", "N·m", 2, None),
        ("54.71", "N·m", 0, None),
        ("40", "lbf·ft", 2, None),  # 40 lbf·ft = 54.23 N·m, NIST SP 811 B.8
        ("40 lbf·ft", "N·m", 2, None),  # the unit that was typed goes before the one picked
        ("54", "lbf·ft", 0.5, "right-number-wrong-unit"),
        ("29.5", "N·m", 0, "right-number-wrong-unit"),
        ("-54", "N·m", 0, None),
        ("nan", "N·m", 0, None),
        ("lots", "N·m", 0, None),
        ("54", "furlong", 0, None),
    ],
)
def test_number(text: str, unit: str, points: float, shows: str | None) -> None:
    found = mark(*NUMBER, {"kind": "number", "text": text, "unit": unit})
    assert (found.points, found.misconception) == (points, shows)
    assert found.reason.endswith((".", "!"))


def test_choice_and_point() -> None:
    assert mark(*CHOICE, {"kind": "choice", "option": "b"}).points == 1
    harmful = mark(*CHOICE, {"kind": "choice", "option": "d"})
    assert harmful.points == 0
    assert harmful.critical
    assert "The pin shears." in harmful.reason
    assert [mark(*POINT, {"kind": "point", "target": name}).points for name in "abcd"] == [1, 0, 1, 0]


def test_blind_guess_at_several_earns_nothing_on_average() -> None:
    item, key = SEVERAL
    guesses = [taken for n in range(5) for taken in itertools.combinations("abcd", n)]
    # Before clamping at zero the scheme is fair; all and none are exactly nothing.
    points = {taken: mark(item, key, {"kind": "several", "options": list(taken)}).points for taken in guesses}
    assert points["a", "b"] == 4
    assert points[()] == points["a", "b", "c", "d"] == 0
    assert points[("a",)] == 2
    assert points["a", "c"] == 0
    assert mark(item, key, {"kind": "several", "options": ["a", "b", "d"]}).critical


def test_order_is_capped_by_a_dangerous_pair() -> None:
    assert mark(*ORDER, {"kind": "order", "cards": list("abcd")}).points == 4
    harmless = mark(*ORDER, {"kind": "order", "cards": list("bacd")})
    assert 0 < harmless.points < 4
    assert not harmless.critical
    dangerous = mark(*ORDER, {"kind": "order", "cards": list("acbd")})
    assert dangerous.critical
    assert dangerous.points <= 1
    assert "can hurt" in dangerous.reason


def test_random_arrangement_earns_nothing_on_average_before_the_floor() -> None:
    from trainkit.procedures import Procedure

    procedure = Procedure(tuple("abcd"), (("a", "b"), ("b", "c"), ("c", "d")))
    moves = [procedure.judge(order).fewest_moves for order in itertools.permutations("abcd")]
    mean = sum(moves) / len(moves)
    for order, needed in zip(itertools.permutations("abcd"), moves, strict=True):
        assert procedure.score(order) == pytest.approx(max(0.0, 1 - needed / mean))


@pytest.mark.parametrize(("place", "points", "critical"), [(0, 0, False), (1, 2, False), (2, 2, False), (3, 0, True)])
def test_insert(place: int, points: float, critical: bool) -> None:
    found = mark(*INSERT, {"kind": "insert", "place": place})
    assert (found.points, found.critical) == (points, critical)


def test_grid_by_rows() -> None:
    item, key = GRID
    assert mark(item, key, {"kind": "grid", "rows": dict(key.right)}).points == 4
    assert mark(item, key, {"kind": "grid", "rows": {"a": "a", "b": "b", "c": "b", "d": "b"}}).points == 2
    assert mark(item, key, {"kind": "grid", "rows": dict.fromkeys("abcd", "a")}).points == 0
    assert mark(item, key, {"kind": "grid", "rows": dict.fromkeys("abcd", "a")}).critical
    assert mark(item, key, {"kind": "grid", "rows": {}}).points == 0


@pytest.mark.parametrize(("value", "points"), [(0.25, 1), (0.75, 1), (11.75, 1), (12.0, 1), (11.5, 0), (6, 0)])
def test_clock_hand_is_judged_the_short_way_round(value: float, points: float) -> None:
    assert mark(*CLOCK, {"kind": "set", "value": value}).points == points


def test_text_waits_for_a_person() -> None:
    assert mark(*TEXT, {"kind": "text", "text": "The pin would shear."}).verdict == "waiting"
    assert mark(*TEXT, {"kind": "text", "text": "x" * 81}).verdict == "not yet"
    assert mark(*TEXT, {"kind": "text", "text": "  "}).verdict == "not yet"


def test_observed_work() -> None:
    steps = dict.fromkeys("abcd", "unprompted")
    sheet = {"kind": "observed", "observer": "R. Tanaka"}
    assert mark(*OBSERVED, {**sheet, "steps": steps}).points == 4
    assert mark(*OBSERVED, {**sheet, "steps": {**steps, "b": "prompted"}}).points == 3.5
    assert mark(*OBSERVED, {**sheet, "steps": {**steps, "b": "not done"}}).points == 3
    missed = mark(*OBSERVED, {**sheet, "steps": {**steps, "a": "not done"}})
    stopped = mark(*OBSERVED, {**sheet, "steps": {**steps, "c": "stopped for safety"}})
    assert missed.points == stopped.points == 0
    assert missed.critical
    assert stopped.critical


def test_no_answer_earns_nothing() -> None:
    assert no_answer(CHOICE[0]).verdict == "no answer"


@pytest.mark.parametrize(
    "answer",
    [
        {"kind": "order", "cards": list("abc")},
        {"kind": "order", "cards": list("abca")},
        {"kind": "order", "cards": list("abcz")},
        {"kind": "order", "cards": list("abcdefghi")},
        {"kind": "set", "value": float("nan")},
        {"kind": "number", "text": "1" * 61},
        {"kind": "several", "options": ["a", "a"]},
        {"kind": "grid", "rows": {"a": "z"}},
        {"kind": "insert", "place": True},
        {"kind": "insert", "place": 9},
        {"kind": "choice", "option": "b", "points": 20},
        {"kind": "point"},
        {"kind": ["choice"]},
        ["choice", "b"],
        "b",
        None,
        {"kind": "choice", "option": {"$ref": "b"}},
        {"kind": "text", "text": "\ud800"},
    ],
)
def test_malformed_answers_earn_nothing_and_say_why(answer: Any) -> None:
    for item, key in ALL:
        found = mark(item, key, answer)
        assert found.points == 0
        assert found.reason
        assert found == mark(item, key, answer)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(st.text(max_size=10), inner, max_size=5),
    max_leaves=12,
)
kind_names = st.sampled_from([pair[0].kind for pair in ALL])


@given(
    st.fixed_dictionaries(
        {"kind": kind_names},
        optional={
            "text": json_values,
            "unit": json_values,
            "option": json_values,
            "options": json_values,
            "cards": st.lists(st.sampled_from("abcdz")) | json_values,
            "rows": st.dictionaries(st.sampled_from("abcdz"), st.sampled_from("abz")) | json_values,
            "place": json_values,
            "value": json_values,
            "target": json_values,
            "steps": json_values,
            "observer": json_values,
        },
    )
)
def test_nothing_that_can_be_sent_makes_marking_fail(answer: dict[str, object]) -> None:
    for item, key in ALL:
        found = mark(item, key, answer)
        assert 0 <= found.points <= found.out_of
        assert found == mark(item, key, answer)


def test_readers_refuse_with_value_rule_and_remedy() -> None:
    with pytest.raises(ResponseError, match="known shapes"):
        read_response({"kind": "choice", "option": 3})
    with pytest.raises(FormError, match="well-formed items"):
        read_item({"kind": "choice", "prompt": "?"})


def test_general_findings_are_in_the_catalogue() -> None:
    assert "unit" in misconception("right-number-wrong-unit").advice()
