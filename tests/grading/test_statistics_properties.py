"""What holds of figures whatever the answers are."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from trainkit_grading import statistics
from trainkit_grading.statistics import Estimate, Withheld

RIGHT_OR_WRONG = st.integers(2, 6).flatmap(
    lambda k: st.lists(st.lists(st.sampled_from([0, 1]), min_size=k, max_size=k), min_size=4, max_size=25)
)
PARTS = st.integers(3, 5).flatmap(
    lambda k: st.lists(st.lists(st.sampled_from([0, 0.25, 0.5, 1]), min_size=k, max_size=k), min_size=5, max_size=20)
)


def same(one: statistics.Figure, other: statistics.Figure) -> None:
    """Two figures that differ by rounding at most."""
    assert type(one) is type(other)
    assert one.n == other.n
    if isinstance(one, Estimate) and isinstance(other, Estimate):
        assert one.value == pytest.approx(other.value, abs=1e-9)
        assert one.interval.low == pytest.approx(other.interval.low, abs=1e-6)
        assert one.interval.high == pytest.approx(other.interval.high, abs=1e-6)


@given(RIGHT_OR_WRONG)
def test_kr20_is_alpha_of_right_and_wrong(rows: list[list[int]]) -> None:
    same(statistics.alpha(rows, least=2), statistics.kr20(rows, least=2))


@given(PARTS)
def test_alpha_is_at_most_one_and_inside_its_interval(rows: list[list[float]]) -> None:
    found = statistics.alpha(rows, least=2)
    assume(isinstance(found, Estimate))
    assert isinstance(found, Estimate)
    assert found.value <= 1 + 1e-12
    assert found.interval.low - 1e-9 <= found.value <= found.interval.high + 1e-9


@given(PARTS, st.floats(0.1, 50), st.randoms())
def test_unit_order_of_people_and_order_of_items_do_not_matter(rows, unit, rng) -> None:  # type: ignore[no-untyped-def]  # hypothesis gives them
    people = rng.sample(rows, len(rows))
    order = rng.sample(range(len(rows[0])), len(rows[0]))
    turned = [[unit * row[at] for at in order] for row in people]
    same(statistics.alpha(rows, least=2), statistics.alpha(turned, least=2))
    pairs = [
        *(
            (figures(rows, least=2), figures(turned, least=2))
            for figures in (statistics.point_biserial, statistics.alpha_without)
        ),
        (statistics.discrimination(rows, least=2), statistics.discrimination(turned, most=unit, least=2)),
        (statistics.difficulty(rows, least=2), statistics.difficulty(turned, most=unit, least=2)),
    ]
    for here, there in pairs:
        for at, place in enumerate(order):
            same(here[place], there[at])


@settings(max_examples=30)
@given(PARTS, st.randoms())
def test_order_of_people_does_not_matter_for_decisions(rows, rng) -> None:  # type: ignore[no-untyped-def]  # hypothesis gives them
    here = statistics.decision_consistency(rows, 60, least=5)
    there = statistics.decision_consistency(rng.sample(rows, len(rows)), 60, least=5)
    same(here.consistency, there.consistency)
    same(here.kappa, there.kappa)
    assert [border.people for border in here.borderline] == [border.people for border in there.borderline]
    if isinstance(here.consistency, Estimate):
        assert 0.5 - 1e-9 <= here.consistency.value <= 1 + 1e-9
    assert here.passing == there.passing


@given(st.integers(1, 3000), st.data(), st.floats(0.5, 0.999))
def test_wilson_lies_inside_and_around_the_share(n: int, data: st.DataObject, confidence: float) -> None:
    successes = data.draw(st.integers(0, n) | st.floats(0, n))
    found = statistics.wilson(successes, n, confidence)
    assert 0 <= found.low <= successes / n <= found.high <= 1
    turned = statistics.wilson(n - successes, n, confidence)
    assert (turned.low, turned.high) == pytest.approx((1 - found.high, 1 - found.low), abs=1e-9)
    assert statistics.wilson(successes, n, confidence / 2).width <= found.width


@given(st.integers(1, 60), st.integers(1, 60), st.data())
def test_difference_lies_inside_and_turns_over(n: int, m: int, data: st.DataObject) -> None:
    one, other = data.draw(st.integers(0, n)), data.draw(st.integers(0, m))
    found, turned = statistics.difference(one, n, other, m), statistics.difference(other, m, one, n)
    assert -1 <= found.low <= one / n - other / m + 1e-12
    assert one / n - other / m - 1e-12 <= found.high <= 1
    assert (found.low, found.high) == pytest.approx((-turned.high, -turned.low), abs=1e-12)


MARKS = st.lists(st.tuples(st.sampled_from("ABC"), st.sampled_from("ABC")), min_size=2, max_size=40)
WEIGHTS = st.sampled_from(["none", "linear", "quadratic"])


@given(st.lists(st.sampled_from("ABC"), min_size=2, max_size=40), WEIGHTS)
def test_kappa_of_agreement_is_one(marks: list[str], weights: statistics.Weights) -> None:
    found = statistics.kappa(marks, marks, weights=weights, categories="ABC", least=2)
    if len(set(marks)) == 1:
        assert isinstance(found, Withheld)
    else:
        assert isinstance(found, Estimate)
        assert found.value == 1
        assert found.interval.low < 1, "perfect agreement of a few proves no perfect agreement"


@given(MARKS, WEIGHTS, st.randoms())
def test_kappa_knows_neither_order_nor_who_is_first(pairs, weights, rng) -> None:  # type: ignore[no-untyped-def]  # hypothesis gives them
    found = statistics.kappa(*zip(*pairs, strict=True), weights=weights, categories="ABC", least=2)
    mixed = rng.sample(pairs, len(pairs))
    turned = statistics.kappa(*reversed(list(zip(*mixed, strict=True))), weights=weights, categories="CBA", least=2)
    same(found, turned)
    if isinstance(found, Estimate):
        assert -1 <= found.value <= 1
        assert -1 <= found.interval.low <= found.interval.high <= 1


@given(MARKS)
def test_two_marks_have_one_kappa_whatever_the_weights(pairs: list[tuple[str, str]]) -> None:
    first, second = ([mark == "A" for mark in side] for side in zip(*pairs, strict=True))
    plain, *weighed = (
        statistics.kappa(first, second, weights=weights, categories=[False, True], least=2)
        for weights in ("none", "linear", "quadratic")
    )
    for found in weighed:
        same(plain, found)


@given(st.lists(st.lists(st.integers(0, 20), min_size=3, max_size=3), min_size=3, max_size=8))
def test_angoff_is_between_its_judges(twentieths: list[list[int]]) -> None:
    found = statistics.angoff([[rating / 20 for rating in judge] for judge in twentieths])
    sums = [sum(judge) for judge in twentieths]
    assert isinstance(found.cut, Estimate)
    assert found.cut.value == pytest.approx(float(Fraction(sum(sums), 20 * len(sums))))
    assert 0 <= found.cut.interval.low <= found.cut.value + 1e-9
    assert found.cut.value - 1e-9 <= found.cut.interval.high <= 3
    assert [judge.cut for judge in found.judges] == pytest.approx([one / 20 for one in sums])


@given(st.lists(st.floats(0, 100), max_size=40), st.lists(st.integers(0, 100), min_size=2, max_size=8))
def test_a_higher_cut_passes_no_more(percents: list[float], cuts: list[int]) -> None:
    table = statistics.cut_table(percents, cuts=cuts)
    assert [found.cut for found in table] == sorted(set(cuts))
    passing = [found.passing for found in table]
    assert passing == sorted(passing, reverse=True)
    assert {found.n for found in table} <= {len(percents)}


@given(PARTS)
def test_every_value_is_plain_and_read_only(rows: list[list[float]]) -> None:
    figures = [
        statistics.alpha(rows, least=2),
        statistics.standard_error_of_measurement(rows, least=2),
        *statistics.difficulty(rows, least=2),
        *statistics.point_biserial(rows, least=2),
        *statistics.discrimination(rows, least=2),
    ]
    for found in figures:
        with pytest.raises(FrozenInstanceError):
            found.n = 3  # type: ignore[misc]  # the point of the test
        assert found.name
        assert found.what.endswith(".")
        assert found.of == "people"
        if isinstance(found, Estimate):
            assert found.shown
            assert type(found.value) is float
            assert math.isfinite(found.value)
            assert type(found.interval.low) is float
        else:
            assert not found.shown
            assert found.why.endswith(".")


@given(st.floats(0.01, 0.99), st.floats(1, 20))
def test_a_longer_test_and_back(reliability: float, times: float) -> None:
    longer = statistics.lengthened(reliability, times)
    assert reliability - 1e-12 <= longer <= 1
    if 0 < longer < 0.999:
        assert statistics.times_longer(reliability, longer) == pytest.approx(times, rel=1e-6)


def test_group_weights_are_as_many_as_the_group() -> None:
    from trainkit_grading.statistics.items import group_weights

    rng = np.random.default_rng(1)
    for _ in range(200):
        totals = rng.integers(0, 6, 20).astype(float)
        size = int(rng.integers(1, 11))
        weights = group_weights(totals, size)
        assert weights.sum() == pytest.approx(size)
        assert ((weights >= 0) & (weights <= 1)).all()
        # Nobody outside has fewer points than somebody inside.
        assert totals[weights > 0].max() <= totals[weights < 1].min()
