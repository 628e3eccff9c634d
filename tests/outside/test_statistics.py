"""Figures of assessments against values from outside: rows S of the table, each with its source.

``lsat6.csv`` holds the answers of 1000 people to section 6 of the LSAT, five items (R. D. Bock & M. Lieberman 1970,
*Psychometrika* 35, 179-197), as patterns and how many people gave each. ``quiz10.csv`` is a worked example for KR-20,
ten people by ten items; no published source found. The attitude data are those of S. Chatterjee & B. Price (1977,
*Regression Analysis by Example*), typed in from memory; they give the published alpha.
"""

from __future__ import annotations

import csv
import itertools
import math
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from tests.outside.checks import Row, row, rows
from trainkit_grading import statistics
from trainkit_grading.statistics import Estimate, Figure

NOT_TESTED = {
    "S05": "The data behind it are a library's, under another licence, and do not stand in the table.",
    "S06": "Alpha is withheld where marks are missing, so answers are never put together in pairs.",
    "S07": "Alpha is withheld where marks are missing, so nobody is left out of it silently.",
    "S37": "Reports give intervals and no bands: with a class of fourteen a band would be a guess.",
    "S50": "No latent trait is fitted here: cohorts are far too small, and everybody has draws of their own.",
    "S51": "As S50: no latent trait is fitted here.",
    "S52": "As S50: no latent trait is fitted here.",
    "S53": "As S50: no latent trait is fitted here.",
    "S54": "As S50: no latent trait is fitted here.",
    "S55": "As S50: no latent trait is fitted here.",
    "S55b": "As S50: no latent trait is fitted here.",
    "S56": "As S50: no latent trait is fitted here.",
    "S57": "As S50: no latent trait is fitted here.",
    "S58": "As S50: no latent trait is fitted here.",
    "S59": "As S50: no latent trait is fitted here.",
    "S71": "A piece of work has two markers here, so the kappa of fourteen has no counterpart.",
}

ATTITUDE = """
43 51 30 39 61 92 45  63 64 51 54 63 73 47  71 70 68 69 76 86 48  61 63 45 47 54 84 35  81 78 56 66 71 83 47
43 55 49 44 54 49 34  58 67 42 56 66 68 35  71 75 50 55 70 66 41  72 82 72 67 71 83 31  67 61 45 47 62 80 41
64 53 53 58 58 67 34  67 60 47 39 59 74 41  69 62 57 42 55 63 25  68 83 83 45 59 77 35  77 77 54 72 79 77 46
81 90 50 72 60 54 36  74 85 64 69 79 79 63  65 60 65 75 55 80 60  65 70 46 57 75 85 46  50 58 68 54 64 78 52
50 40 33 34 43 64 33  64 61 52 62 66 80 41  53 66 52 50 63 80 37  40 37 42 58 50 57 49  63 54 42 48 66 75 33
66 77 66 63 88 76 72  78 75 58 74 80 78 49  48 57 44 45 51 83 38  85 85 71 71 77 74 55  82 82 39 59 64 78 39
"""


def answers(name: str) -> NDArray[np.float64]:
    """One row a person, one column an item."""
    with Path(__file__).with_name(name).open(encoding="utf-8", newline="") as lines:
        read = [([int(digit) for digit in line["pattern"]], int(line["count"])) for line in csv.DictReader(lines)]
    return np.array([pattern for pattern, count in read for _ in range(count)], dtype=float)


LSAT = answers("lsat6.csv")
QUIZ = answers("quiz10.csv")


def shown(found: Figure) -> Estimate:
    assert isinstance(found, Estimate), found
    return found


def item_of(check: Row) -> int:
    """The item that a row names, from nought."""
    words = check.inputs.replace(",", " ").split()
    return int(words[words.index("item") + 1]) - 1


@rows("S01")
def test_kr20_of_a_quiz(check: Row) -> None:
    """S01: no published source found for the coefficient; a library agrees."""
    assert (QUIZ.mean(0) * (1 - QUIZ.mean(0))).sum() == pytest.approx(2.18)
    check.check(shown(statistics.kr20(QUIZ, least=10)).value)


@rows("S02")
def test_alpha_of_a_quiz_is_the_same(check: Row) -> None:
    check.check(shown(statistics.alpha(QUIZ, least=10)).value)


@rows("S03")
def test_divisors_are_not_mixed(check: Row) -> None:
    """S03 is a slip that tutorials make: shares with one divisor, totals with another."""
    k = QUIZ.shape[1]
    slip = k / (k - 1) * (1 - (QUIZ.mean(0) * (1 - QUIZ.mean(0))).sum() / QUIZ.sum(1).var(ddof=1))
    check.check(slip)
    assert not check.agrees(shown(statistics.kr20(QUIZ, least=10)).value)


@rows("S04")
def test_kr21_of_a_quiz(check: Row) -> None:
    """G. F. Kuder & M. W. Richardson 1937."""
    check.check(shown(statistics.kr21(QUIZ, least=10)).value)


@rows("S08")
def test_alpha_of_the_attitude_data(check: Row) -> None:
    """S08: documentation of R packages; printed value from memory."""
    found = shown(statistics.alpha(np.array(ATTITUDE.split(), dtype=float).reshape(30, 7)))
    check.check(found.value)
    assert found.n == 30


@rows("S09", "S09b")
def test_alpha_of_the_lsat(check: Row) -> None:
    """D. Rizopoulos 2006, *Journal of Statistical Software* 17(5), descriptive output for these data."""
    check.check(shown(statistics.alpha(LSAT)).value)
    check.check(shown(statistics.kr20(LSAT)).value)


@rows("S10", "S11", "S12", "S13", "S14")
def test_alpha_without_an_item(check: Row) -> None:
    """As S09; printed values from memory."""
    check.check(shown(statistics.alpha_without(LSAT)[item_of(check)]).value)


@rows("S15", "S16", "S17", "S18", "S19")
def test_point_biserial_with_the_total(check: Row) -> None:
    """As S09; scipy gives the same."""
    at = item_of(check)
    found = shown(statistics.point_biserial(LSAT, corrected=False)[at]).value
    check.check(found)
    assert found == pytest.approx(stats.pointbiserialr(LSAT[:, at] > 0, LSAT.sum(1)).statistic, abs=1e-12)


@rows("S20", "S21", "S22", "S23", "S24")
def test_corrected_point_biserial(check: Row) -> None:
    """As S09; scipy gives the same with the item taken out of the total."""
    at = item_of(check)
    found = shown(statistics.point_biserial(LSAT)[at]).value
    check.check(found)
    rest = LSAT.sum(1) - LSAT[:, at]
    assert found == pytest.approx(stats.pointbiserialr(LSAT[:, at] > 0, rest).statistic, abs=1e-12)


def test_totals_of_the_lsat() -> None:
    """S25: R. D. Bock & M. Lieberman 1970. Who passes at one cut and not at the next has exactly that total."""
    table = statistics.cut_table(20 * LSAT.sum(1), cuts=[0, 20, 40, 60, 80, 100])
    passing = [found.passing for found in table] + [0]
    assert tuple(here - above for here, above in itertools.pairwise(passing)) == row("S25").numbers


@rows("S26")
def test_error_of_measurement_of_the_lsat(check: Row) -> None:
    check.check(shown(statistics.standard_error_of_measurement(LSAT)).value)
    check.check(statistics.error_of_measurement(LSAT.sum(1).std(ddof=1), shown(statistics.alpha(LSAT)).value))


@rows("S27", "S28")
def test_error_of_measurement(check: Row) -> None:
    """S28: F. J. Dudek 1979, *Psychological Bulletin* 86, 335-337, by way of a package's manual. S27: no source."""
    check.check(statistics.error_of_measurement(*{"S27": (15, 0.96), "S28": (100, 0.9)}[check.id]))


@rows("S29", "S30")
def test_errors_of_estimate_and_prediction(check: Row) -> None:
    """As S28."""
    formula = {"S29": statistics.error_of_estimate, "S30": statistics.error_of_prediction}[check.id]
    check.check(formula(100, 0.9))


@rows("S31")
def test_true_points(check: Row) -> None:
    check.check(statistics.true_points(700, 500, 0.9))


def test_items_needed() -> None:
    """S32: an example of a package's manual; the row gives both numbers."""
    found = row("S32")
    needed = 10 * statistics.times_longer(0.7, 0.9)
    assert round(needed, 3) == float(found.tolerance.removeprefix("ceil of "))
    assert math.ceil(needed) == found.number
    assert statistics.lengthened(0.7, needed / 10) == pytest.approx(0.9)


@rows("S34")
def test_discrimination(check: Row) -> None:
    """S34: upper and lower eleven; common practice, no published source found."""
    first = [1] * 9 + [0] * 2 + [1] * 3 + [0] * 8
    other = [3] * 11 + [1] * 11  # keeps the groups apart, whatever the first item says
    found = shown(statistics.discrimination(list(zip(first, other, strict=True)), most=3, part=0.5, least=22)[0])
    check.check(3 * found.value)


@rows("S35")
def test_ties_are_shared(check: Row) -> None:
    """S35: two sorts of the same people give 0.7815 and 0.5815 for item 2; the mean over all ways lies between."""
    listed = sorted((float(part) for part in check.expected.split("/")), reverse=True)
    found = shown(statistics.discrimination(LSAT)[1]).value
    assert listed[1] < found < listed[0]
    again = np.random.default_rng(5).permutation(len(LSAT))
    assert shown(statistics.discrimination(LSAT[again])[1]).value == pytest.approx(found, abs=1e-12)


@rows("S40", "S43")
def test_wilson_upper(check: Row) -> None:
    """R. G. Newcombe 1998, *Statistics in Medicine* 17, 857-872, table I, method 3; scipy gives the same."""
    of = {"S40": (81, 263), "S43": (1, 29)}[check.id]
    found = statistics.wilson(*of)
    check.check(found.high)
    assert round(found.low, 4) == float(check.inputs.rpartition("lower ")[2].rstrip(")"))


@rows("S44")
def test_wilson_lower(check: Row) -> None:
    check.check(statistics.wilson(8, 10).low)


@rows("S46")
def test_a_library_example_of_the_point_biserial(check: Row) -> None:
    """S46: documentation of scipy.stats.pointbiserialr; one assessment, one draw."""
    found = statistics.pooled_point_biserial([0, 0, 0, 1, 1, 1, 1], range(7), ["one"] * 7, people=range(7), least=7)
    check.check(shown(found).value)


@rows("S70")
def test_kappa(check: Row) -> None:
    """S70: an encyclopaedia's example, from memory; a library agrees."""
    first = ["yes"] * 25 + ["no"] * 25
    second = ["yes"] * 20 + ["no"] * 5 + ["yes"] * 10 + ["no"] * 15
    check.check(shown(statistics.kappa(first, second)).value)


def test_angoff() -> None:
    """S72: mean of judges' sums (W. H. Angoff 1971); no published numeric example found."""
    found = row("S72")
    ratings = [[0.9, 0.9, 0.5, 0.5], [0.9, 0.9, 0.5, 0.55], [0.95, 0.9, 0.5, 0.55]]
    assert [round(sum(judge), 9) for judge in ratings] == [2.8, 2.85, 2.9]
    cut = shown(statistics.angoff(ratings).cut)
    value, _, error = found.expected.rstrip(")").partition(" (SE ")
    assert cut.value == pytest.approx(float(value), abs=5e-4)
    assert cut.error == pytest.approx(float(error), abs=5e-4)


@rows("S74")
def test_binomial_error(check: Row) -> None:
    """F. M. Lord 1955; from memory."""
    check.check(statistics.binomial_error(8, 10))
