"""Figures against a second way each: plain loops from the definition, scipy, or drawing lots."""

from __future__ import annotations

import itertools
import math
import random
from collections import Counter, defaultdict
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray
from scipy import integrate, special, stats

from trainkit_grading import statistics
from trainkit_grading.statistics import Estimate, Figure, Interval, mixture, quantiles


def shown(found: Figure) -> Estimate:
    assert isinstance(found, Estimate), found
    return found


def between(found: Figure) -> Interval:
    return shown(found).interval


def marks(people: int, items: int, seed: int, *, parts: bool = False) -> list[list[float]]:
    """Answers of people who differ, with quarters of points on request."""
    rng = random.Random(seed)
    hard = [rng.uniform(0.2, 0.8) for _ in range(items)]
    found = []
    for _ in range(people):
        able = rng.uniform(-0.3, 0.3)
        row = [float(rng.random() < h + able) for h in hard]
        if parts:
            row = [x if rng.random() < 0.7 else rng.choice([0.25, 0.5, 0.75]) for x in row]
        found.append(row)
    return found


def variance(values: list[float]) -> Fraction:
    exact = [Fraction(value) for value in values]
    mean = sum(exact, Fraction()) / len(exact)
    return sum(((value - mean) ** 2 for value in exact), Fraction()) / (len(exact) - 1)


def alpha_by_fractions(rows: list[list[float]]) -> Fraction:
    k = len(rows[0])
    own = sum((variance([row[at] for row in rows]) for at in range(k)), Fraction())
    return Fraction(k, k - 1) * (1 - own / variance([sum(row) for row in rows]))


def correlation(x: ArrayLike, y: ArrayLike) -> float:
    return float(stats.pearsonr(x, y).statistic)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("parts", [False, True])
def test_alpha_and_what_follows_from_it_by_fractions(seed: int, parts: bool) -> None:
    rows = marks(40, 6, seed, parts=parts)
    exact = alpha_by_fractions(rows)
    assert shown(statistics.alpha(rows)).value == pytest.approx(float(exact), abs=1e-12)
    for at, found in enumerate(statistics.alpha_without(rows)):
        without = [[*row[:at], *row[at + 1 :]] for row in rows]
        assert shown(found).value == pytest.approx(float(alpha_by_fractions(without)), abs=1e-12)
    error = statistics.standard_error_of_measurement(rows)
    assert shown(error).value == pytest.approx(math.sqrt(variance([sum(row) for row in rows]) * (1 - exact)), abs=1e-12)


def test_kr20_from_its_own_definition_and_kr21_from_totals() -> None:
    rows = marks(50, 8, 3)
    n, k = len(rows), len(rows[0])
    shares = [sum(row[at] for row in rows) / n for at in range(k)]
    totals = [sum(row) for row in rows]
    mean = sum(totals) / n
    spread = sum((total - mean) ** 2 for total in totals) / n
    kr20 = k / (k - 1) * (1 - sum(p * (1 - p) for p in shares) / spread)
    assert shown(statistics.kr20(rows)).value == pytest.approx(kr20, abs=1e-12)
    found = shown(statistics.kr21(rows))
    assert found.value == pytest.approx(k / (k - 1) * (1 - mean * (k - mean) / (k * spread)), abs=1e-12)
    assert found.value <= kr20
    assert found.value in between(found)


def test_feldt_against_scipy() -> None:
    n, k, value = 45, 12, 0.63
    found = statistics.feldt(value, n, k)
    upper, lower = stats.f.ppf([0.975, 0.025], n - 1, (n - 1) * (k - 1))
    assert (found.low, found.high) == pytest.approx((1 - 0.37 * upper, 1 - 0.37 * lower), abs=1e-10)


@pytest.mark.parametrize("probability", [1e-6, 0.005, 0.025, 0.2, 0.5, 0.8, 0.975, 0.995, 1 - 1e-6])
def test_quantiles_against_scipy(probability: float) -> None:
    assert quantiles.normal(probability) == pytest.approx(stats.norm.ppf(probability), rel=1e-9, abs=1e-9)
    for freedom in (1, 2, 3, 9, 29.5, 400, 9_999):
        found = quantiles.student(probability, freedom)
        assert found == pytest.approx(stats.t.ppf(probability, freedom), rel=1e-8, abs=1e-8)
    for freedom in (1, 2, 5, 30, 200):
        assert quantiles.chi_squared(probability, freedom) == pytest.approx(
            stats.chi2.ppf(probability, freedom), rel=1e-8
        )
    for above, below in ((1, 1), (2, 7), (13, 143), (29, 319), (999, 3996), (9_999, 829_917)):
        assert quantiles.f(probability, above, below) == pytest.approx(stats.f.ppf(probability, above, below), rel=1e-7)


def test_wilson_against_scipy_and_against_its_equation() -> None:
    for n, confidence in itertools.product((1, 2, 7, 29, 263), (0.8, 0.95, 0.99)):
        for successes in range(n + 1):
            found = statistics.wilson(successes, n, confidence)
            wanted = stats.binomtest(successes, n).proportion_ci(confidence, "wilson")
            assert (found.low, found.high) == pytest.approx((wanted.low, wanted.high), abs=1e-12)
            # Each limit is a share from which what was seen lies just z errors away.
            z = stats.norm.ppf((1 + confidence) / 2)
            for limit in (found.low, found.high):
                assert (successes / n - limit) ** 2 == pytest.approx(z * z * limit * (1 - limit) / n, abs=1e-12)


def test_difference_of_shares_against_newcombe() -> None:
    """R. G. Newcombe 1998, Statistics in Medicine 17, 873-890, table II, method 10: 56/70 less 48/80; from memory."""
    found = statistics.difference(56, 70, 48, 80)
    assert (round(found.low, 4), round(found.high, 4)) == (0.0524, 0.3339)


@pytest.mark.parametrize("parts", [False, True])
def test_point_biserials_item_by_item(parts: bool) -> None:
    rows = marks(60, 7, 11, parts=parts)
    corrected, whole = statistics.point_biserial(rows), statistics.point_biserial(rows, corrected=False)
    for at in range(7):
        own = [row[at] for row in rows]
        rest = [sum(row) - row[at] for row in rows]
        assert shown(corrected[at]).value == pytest.approx(correlation(own, rest), abs=1e-12)
        assert shown(whole[at]).value == pytest.approx(correlation(own, [sum(row) for row in rows]), abs=1e-12)


def test_error_of_a_correlation_is_the_jackknife_s_in_large_samples() -> None:
    rows = np.array(marks(800, 6, 5))
    found = shown(statistics.point_biserial(rows)[2])
    rest = rows.sum(1) - rows[:, 2]
    left_out = [correlation(np.delete(rows[:, 2], at), np.delete(rest, at)) for at in range(len(rows))]
    n = len(rows)
    jackknife = math.sqrt((n - 1) / n * sum((one - np.mean(left_out)) ** 2 for one in left_out))
    assert found.error == pytest.approx(jackknife, rel=0.01)


def test_difficulty_with_marks_missing() -> None:
    # What is missing is None, of which the type of arrays does not know.
    rows: list[list[Any]] = [[1, 2, 0], [0, None, 1], [1, 1, 1], [1, 2, None], [0, 0, 1], [1, 2, 1], [1, 1, 1]]
    found = [shown(figure) for figure in statistics.difficulty(rows, most=[1, 2, 1], items=["A1", "A2", "A3"])]
    assert [(figure.n, figure.subject) for figure in found] == [(7, "A1"), (6, "A2"), (6, "A3")]
    assert [figure.value for figure in found] == pytest.approx([5 / 7, 8 / 12, 5 / 6])


def test_discrimination_is_the_mean_over_all_ways_to_break_ties() -> None:
    rows = marks(12, 4, 3)
    totals = [sum(row) for row in rows]
    size = 4

    def group(sign: int, at: int) -> Fraction:
        ways = [
            set(chosen)
            for chosen in itertools.combinations(range(12), size)
            if max(sign * totals[p] for p in chosen) <= min(sign * totals[p] for p in set(range(12)) - set(chosen))
        ]
        assert len(ways) > 1, "nobody is tied: the example shows nothing"
        return sum((Fraction(rows[person][at]) for way in ways for person in way), Fraction()) / (len(ways) * size)

    for at, found in enumerate(statistics.discrimination(rows, part=1 / 3, least=12)):
        assert shown(found).value == pytest.approx(float(group(-1, at) - group(1, at)), abs=1e-12)


def test_pooled_over_draws_by_loops() -> None:
    rng = random.Random(8)
    answers = []
    for person in range(90):
        able = rng.gauss(0, 1)
        for total in ("gears", "torque"):
            part = min(1.0, max(0.0, 0.6 + 0.2 * able + rng.gauss(0, 0.1) - 0.2 * (total == "gears")))
            answers.append(
                (rng.randrange(3), float(rng.random() < 0.5 + 0.2 * able), part, total, person, rng.randrange(9))
            )
    columns: list[list[Any]] = [list(column) for column in zip(*answers, strict=True)]
    template, scores, rest, totals, people, draws = columns
    standard = {}
    for total in set(totals):
        of = [one for one, label in zip(rest, totals, strict=True) if label == total]
        standard[total] = (sum(of) / len(of), float(np.std(of)))
    z = [(one - standard[total][0]) / standard[total][1] for one, total in zip(rest, totals, strict=True)]
    found = statistics.pooled_point_biserials(template, scores, rest, totals, people=people, draws=draws, least=10)
    assert list(found) == list(dict.fromkeys(template))
    for name in range(3):
        groups: dict[object, list[tuple[float, float, int]]] = {}
        for at, label in enumerate(template):
            if label == name:
                groups.setdefault(draws[at], []).append((scores[at], z[at], people[at]))
        pairs: list[tuple[float, float, int]] = []
        for group in groups.values():
            if len(group) > 1:
                mean, middle = (sum(one[side] for one in group) / len(group) for side in (0, 1))
                pairs += [(one[0] - mean, one[1] - middle, one[2]) for one in group]
        uu, vv, uv = sum(u * u for u, _, _ in pairs), sum(v * v for _, v, _ in pairs), sum(u * v for u, v, _ in pairs)
        value = uv / math.sqrt(uu * vv)
        influence: dict[int, float] = defaultdict(float)
        for u, v, person in pairs:
            influence[person] += u * v / math.sqrt(uu * vv) - value / 2 * (u * u / uu + v * v / vv)
        m = len(influence)
        error = math.sqrt(m / (m - 1) * sum(one**2 for one in influence.values()))
        got = shown(found[name])
        assert (got.value, got.error, got.n) == pytest.approx((value, error, len(pairs)), abs=1e-12)


def test_one_draw_for_all_is_the_plain_correlation_and_labels_may_be_anything() -> None:
    rows = np.array(marks(50, 5, 4))
    rest = (rows.sum(1) - rows[:, 0]) / 4
    plain = shown(statistics.point_biserial(rows)[0])
    for people in (range(50), np.arange(50) * 1_000_003, [f"a{at}" for at in range(50)]):
        pooled = statistics.pooled_point_biserial(rows[:, 0], rest, ["one"] * 50, people=people)  # type: ignore[arg-type]  # an array will do
        assert shown(pooled).value == pytest.approx(plain.value, abs=1e-12)
        assert shown(pooled).error == pytest.approx(plain.error, abs=1e-12)


@pytest.mark.parametrize("weights", ["none", "linear", "quadratic"])
def test_kappa_and_its_error_by_the_definition(weights: statistics.Weights) -> None:
    rng = random.Random(6)
    first = [rng.randrange(4) for _ in range(70)]
    second = [one if rng.random() < 0.6 else rng.randrange(4) for one in first]
    found = shown(statistics.kappa(first, second, weights=weights, categories=range(4)))
    pairs = list(zip(first, second, strict=True))
    table = np.array([[pairs.count((i, j)) for j in range(4)] for i in range(4)])
    away = abs(np.subtract.outer(np.arange(4), np.arange(4))) / 3
    w = {"none": np.eye(4), "linear": 1 - away, "quadratic": 1 - away**2}[weights]

    def kappa(p: NDArray[np.float64]) -> float:
        chance = np.outer(p.sum(1), p.sum(0))
        return float(1 - ((1 - w) * p).sum() / ((1 - w) * chance).sum())

    p = table / 70
    assert found.value == pytest.approx(kappa(p), abs=1e-12)
    # The error by the delta method, with slopes taken numerically: no formula of the paper in it.
    slopes = np.zeros((4, 4))
    for cell in itertools.product(range(4), repeat=2):
        step = np.zeros((4, 4))
        step[cell] = 1e-6
        slopes[cell] = (kappa((p + step) / (1 + 1e-6)) - kappa((p - step) / (1 - 1e-6))) / 2e-6
    assert found.error == pytest.approx(math.sqrt(((p * slopes**2).sum() - (p * slopes).sum() ** 2) / 70), abs=1e-6)


def test_angoff_by_hand() -> None:
    ratings = [[0.5, 0.6, 0.9], [0.7, 0.6, 0.8], [0.6, 0.7, 0.7], [0.4, 0.9, 1.0]]
    most = [2, 1, 4]
    sums = [sum(rating * points for rating, points in zip(row, most, strict=True)) for row in ratings]
    found = statistics.angoff(ratings, most=most, judges=["K", "L", "M", "N"], items=["A1", "A2", "A3"])
    cut, spread = shown(found.cut), shown(found.spread)
    assert cut.value == pytest.approx(sum(sums) / 4)
    assert cut.error == pytest.approx(stats.sem(sums))
    interval = stats.t.interval(0.95, 3, loc=np.mean(sums), scale=stats.sem(sums))
    assert (between(cut).low, between(cut).high) == pytest.approx((interval[0], min(7.0, interval[1])))
    assert spread.value == pytest.approx(np.std(sums, ddof=1))
    low, high = (spread.value * math.sqrt(3 / stats.chi2.ppf(tail, 3)) for tail in (0.975, 0.025))
    assert (between(spread).low, between(spread).high) == pytest.approx((low, high))
    assert shown(found.percent).value == pytest.approx(100 * cut.value / 7)
    assert [judge.name for judge in found.judges] == ["K", "L", "M", "N"]
    assert sum(judge.away for judge in found.judges) == pytest.approx(0)
    assert found.items[0].name == "A2" or found.items[0].spread >= found.items[-1].spread
    apart = [np.std([row[at] for row in ratings], ddof=1) for at in range(3)]
    assert [item.spread for item in found.items] == pytest.approx(sorted(apart, reverse=True))


def test_cut_table_counts_one_by_one() -> None:
    rng = random.Random(3)
    percents = [rng.choice([rng.uniform(0, 100), 70.0, 69.9999999, 69.999]) for _ in range(200)]
    barred = [rng.random() < 0.2 for _ in percents]
    for found in statistics.cut_table(percents, cuts=range(0, 101, 10), barred=barred):
        reach = [round(percent, 6) >= found.cut for percent in percents]
        assert found.passing == sum(up and not stop for up, stop in zip(reach, barred, strict=True))
        assert found.barred == sum(up and stop for up, stop in zip(reach, barred, strict=True))
        assert found.share == statistics.share(found.passing, 200, name="passing", what=found.share.what)


def test_options_count_one_by_one() -> None:
    rng = random.Random(4)
    answers = []
    for _ in range(400):
        offered = ("right", *rng.sample(["inverse", "one", "mesh", "idle"], 3))
        could = [label for label in offered if label != "idle"]
        answers.append(
            statistics.Taken(rng.choice(["t/a", "t/b"]), offered, tuple(rng.sample(could, rng.randrange(3))))
        )
    found = statistics.options(answers)
    assert found == statistics.options(Counter(answers)) == statistics.options(reversed(answers))
    for option in found:
        of = [answer for answer in answers if answer.template == option.template and option.label in answer.offered]
        assert (option.offered, option.taken) == (len(of), sum(option.label in answer.taken for answer in of))
        assert option.nobody is (option.label == "idle")


def beta_of(mean: float, variance: float) -> tuple[float, float]:
    both = mean * (1 - mean) / variance - 1
    return mean * both, (1 - mean) * both


@pytest.mark.parametrize(("mean", "variance", "reliability"), [(0.7, 0.03, 0.6), (0.9, 0.012, 0.4), (0.5, 0.1, 0.9)])
def test_models_of_decisions_against_integrals(mean: float, variance: float, reliability: float) -> None:
    model = mixture.Mixture.of(np.array([mean]), np.array([variance]), np.array([reliability]))
    a, b = beta_of(mean, reliability * variance)
    length = float(model.length[0])
    # What is seen varies as it should: what people are worth, and what the length leaves to chance.
    within = (mean * (1 - mean) - reliability * variance) / length
    assert reliability * variance + within == pytest.approx(variance)
    worth = stats.beta(a, b)
    for boundary in (0.55, 0.7, 0.9):
        wanted = boundary * length + 0.5

        def passes(t: float, wanted: float = wanted) -> float:
            return float(special.betainc(wanted, length - wanted + 1, t))

        def of(figure: object) -> float:
            return float(worth.expect(figure, epsabs=1e-12))

        q = of(passes)
        same = of(lambda t: passes(t) ** 2 + (1 - passes(t)) ** 2)
        found = model.decided(boundary)
        assert (found.passing[0], found.same[0]) == pytest.approx((q, same), abs=1e-6)
        chance = q * q + (1 - q) ** 2
        assert found.kappa[0] == pytest.approx((same - chance) / (1 - chance), abs=1e-5)
        reached = 0.6
        posterior = stats.beta(a + length * reached, b + length * (1 - reached))
        assert model.again(boundary, np.array([reached]))[0, 0] == pytest.approx(posterior.expect(passes), abs=1e-6)


def test_whole_length_is_the_beta_binomial_of_two_forms() -> None:
    """With a whole number of items both forms' points can be summed over one by one (Huynh 1976)."""
    n, a, b = 10, 4.0, 2.0
    mean = a / (a + b)
    true = mean * (1 - mean) / (a + b + 1)
    observed = true + (mean * (1 - mean) - true) / n
    model = mixture.Mixture.of(np.array([mean]), np.array([observed]), np.array([true / observed]))
    assert model.length[0] == pytest.approx(n)
    cut = 7
    mixed = [math.exp(special.betaln(a + s, b + 2 * n - s) - special.betaln(a, b)) for s in range(2 * n + 1)]
    joint = {(x, y): math.comb(n, x) * math.comb(n, y) * mixed[x + y] for x in range(n + 1) for y in range(n + 1)}
    assert sum(joint.values()) == pytest.approx(1)
    same = sum(part for (x, y), part in joint.items() if (x >= cut) == (y >= cut))
    assert model.decided((cut - 0.5) / n).same[0] == pytest.approx(same, abs=1e-9)
    density = integrate.quad(lambda t: stats.beta.pdf(t, a, b) * stats.binom.sf(cut - 1, n, t), 0, 1)[0]
    assert model.decided((cut - 0.5) / n).passing[0] == pytest.approx(density, abs=1e-9)


def test_decisions_of_many_people_against_a_second_form() -> None:
    """Two forms of the same places for the same people: what part of them is really decided alike."""
    rng = np.random.default_rng(12)
    able = rng.beta(6, 2, (20_000, 1))
    first, second = ((rng.random((20_000, 20)) < able).astype(float) for _ in range(2))
    for cut in (60, 72, 85):
        found = statistics.decision_consistency(first, cut)
        up = [100 * form.mean(1) >= cut for form in (first, second)]
        assert shown(found.consistency).value == pytest.approx((up[0] == up[1]).mean(), abs=0.01)
        assert found.modelled == pytest.approx(shown(found.passing).value, abs=0.01)
        for border in found.borderline:
            of = np.isclose(100 * first.mean(1), border.percent)
            assert border.people == of.sum()
            again = (up[1][of] == border.passed).mean()
            assert shown(border.again).value == pytest.approx(again, abs=0.05)
        near = abs(100 * first.mean(1) - cut) <= 5 * shown(statistics.standard_error_of_measurement(first)).value
        assert shown(found.near).value == pytest.approx(near.mean())


def test_decisions_with_part_points_and_weights() -> None:
    rng = np.random.default_rng(13)
    able = rng.beta(5, 2, (20_000, 1))
    most = np.array([1, 2, 4, 1, 2, 3, 1, 2, 2, 4.0])
    forms = [most * np.round(4 * np.clip(able + rng.normal(0, 0.3, (20_000, 10)), 0, 1)) / 4 for _ in range(2)]
    found = statistics.decision_consistency(forms[0], 70, most=most)
    up = [np.round(100 * form.sum(1) / most.sum(), 6) >= 70 for form in forms]
    assert shown(found.consistency).value == pytest.approx((up[0] == up[1]).mean(), abs=0.015)
    assert len(found.borderline) <= 41
    assert sum(border.people for border in found.borderline) == round(shown(found.near).value * 20_000)


def test_resampling_agrees_with_scipy() -> None:
    rng = np.random.default_rng(2)
    cases = rng.gamma(2, 1, 60)
    found = statistics.bootstrap(lambda rows: float(np.median(rows)), cases, times=2000)
    wanted = stats.bootstrap((cases,), np.median, method="percentile", n_resamples=4000, rng=rng).confidence_interval
    assert found is not None
    assert (found.low, found.high) == pytest.approx((wanted.low, wanted.high), abs=0.12)
    again = statistics.bootstrap(lambda rows: float(np.median(rows)), rng.permutation(cases), times=2000)
    assert again == found
