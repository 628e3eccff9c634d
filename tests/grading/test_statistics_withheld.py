"""Where there is no figure: why, in words, and where numbers are no points at all."""

from __future__ import annotations

import math
import random
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from trainkit.errors import TrainkitError
from trainkit_grading import statistics
from trainkit_grading.errors import StatisticsError
from trainkit_grading.statistics import LEAST, Estimate, Figure, Withheld

MANUAL = Path(__file__).parents[2] / "grading" / "docs" / "reports.md"
FOURTEEN = [[float((person * item) % 3 > 0) for item in range(1, 9)] for person in range(14)]
THIRTY = [[float((person * item + person) % 4 > 0) for item in range(1, 7)] for person in range(30)]


SAME_TOTAL = "Everybody has the same total, so it cannot tell people apart."


def why(found: Figure) -> str:
    assert isinstance(found, Withheld), found
    assert not found.shown
    return found.why


def missing(*rows: object) -> Any:
    """Return rows in which something is missing or no number, of which the type of arrays does not know."""
    return list(rows)


def test_public_names_are_these() -> None:
    assert sorted(statistics.__all__) == [
        "Angoff",
        "Borderline",
        "CONFIDENCE",
        "CutRow",
        "Decisions",
        "Estimate",
        "Figure",
        "Interval",
        "Judge",
        "JudgedItem",
        "LEAST",
        "OptionChosen",
        "RIGHT",
        "Taken",
        "Weights",
        "Withheld",
        "agreement",
        "alpha",
        "alpha_without",
        "angoff",
        "binomial_error",
        "bootstrap",
        "cut_table",
        "decision_consistency",
        "difference",
        "difficulty",
        "discrimination",
        "error_of_estimate",
        "error_of_measurement",
        "error_of_prediction",
        "feldt",
        "kappa",
        "kr20",
        "kr21",
        "lengthened",
        "options",
        "point_biserial",
        "pooled_point_biserial",
        "pooled_point_biserials",
        "share",
        "standard_error_of_measurement",
        "times_longer",
        "true_points",
        "wilson",
    ]
    assert all(hasattr(statistics, name) for name in statistics.__all__)


def test_numpy_is_loaded_late() -> None:
    """What needs no matrix needs no numpy, and scipy is never loaded."""
    code = (
        "import sys\nfrom trainkit_grading import statistics as s\n"
        "s.wilson(3, 9), s.kappa('AB' * 10, 'AB' * 10), s.options([]), s.feldt(0.5, 30, 12)\n"
        "assert 'numpy' not in sys.modules\ns.alpha([[1, 0], [0, 1]])\nassert 'numpy' in sys.modules\n"
        "s.decision_consistency([[1, 0, 1], [0, 0, 1], [1, 1, 1]] * 10, 60)\nassert 'scipy' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_alpha_of_fourteen_is_not_shown() -> None:
    assert why(statistics.alpha(FOURTEEN)) == "14 people are too few; it is given from 30 on."
    forms = [f"form {person}" for person in range(14)]
    assert why(statistics.alpha(FOURTEEN, forms=forms)) == "14 people are too few; it is given from 30 on."
    assert why(statistics.alpha(FOURTEEN, forms=forms, over_draws=True)).endswith("it is given from 60 on.")
    told = "14 people sat 14 different forms. It compares answers to the same questions."
    assert why(statistics.alpha(FOURTEEN, forms=forms, least=10)) == told
    assert str(statistics.alpha(FOURTEEN)) == "alpha: 14 people are too few; it is given from 30 on."


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (np.empty((0, 5)), "No people are too few; it is given from 30 on."),
        ([[1.0, 0.0]], "1 person is too few; it is given from 30 on."),
        ([[1.0]] * 15 + [[0.0]] * 15, "1 question is too few; it needs 2."),
        ([[1.0, 0.0]] * 30, SAME_TOTAL),
        ([[0.1, 0.2, 0.3]] * 15 + [[0.3, 0.2, 0.1]] * 15, SAME_TOTAL),
        ([[None, *THIRTY[0][1:]], *THIRTY[1:]], "1 mark of 180 is missing."),
        ([[None, None, *THIRTY[0][2:]], *THIRTY[1:]], "2 marks of 180 are missing."),
    ],
)
def test_reliability_says_why_not(rows: list[list[float]], told: str) -> None:
    for figure in (statistics.alpha, statistics.standard_error_of_measurement):
        assert why(figure(rows)) == told
    decided = statistics.decision_consistency(rows, 60)
    assert {why(decided.consistency), why(decided.kappa), why(decided.near)} == {told}
    assert decided.borderline == ()
    assert decided.modelled is None


def test_alpha_without_one_of_two() -> None:
    two = [[float(person % 2), float(person % 3 > 0)] for person in range(30)]
    assert {why(found) for found in statistics.alpha_without(two)} == {"2 questions are too few; it needs 3."}
    only = [[float(person % 2), 1.0, 0.0] for person in range(30)]
    first, *others = statistics.alpha_without(only)
    assert why(first) == "Without it everybody has the same total."
    assert all(isinstance(found, Estimate) for found in others)


def test_decisions_say_why_not() -> None:
    apart = [[1.0, 0.0, 1.0, 0.0], [0.0, 1.0, 0.0, 1.0], [1.0, 0.0, 1.0, 1.0]] * 10
    assert "not above zero" in why(statistics.decision_consistency(apart, 50).consistency)
    rng = random.Random(2)
    lots = [[float(rng.random() < 0.6) for _ in range(8)] for _ in range(40)]
    by_chance = statistics.alpha(lots)
    assert isinstance(by_chance, Estimate)
    assert 0 < by_chance.value < 0.2
    assert why(statistics.decision_consistency(lots, 60).consistency).startswith("Too unsure to show")
    alike = [[1.0] * 4] * 15 + [[0.0] * 4] * 15
    assert why(statistics.standard_error_of_measurement(alike)).startswith("All questions gave each person the same")
    assert why(statistics.decision_consistency(alike, 50).consistency).startswith("All questions gave each person")


def test_items_say_why_not() -> None:
    rng = random.Random(1)
    rows = [[1.0, *(float(rng.random() < 0.6) for _ in range(6))] for _ in range(30)]
    constant, *others = statistics.point_biserial(rows, items=list("ABCDEFG"))
    assert (why(constant), constant.subject) == ("Everybody earned the same in it.", "A")
    assert all(isinstance(found, Estimate) for found in others)
    assert why(statistics.point_biserial([[float(at % 2), 1.0] for at in range(30)])[0]).endswith("all the others.")
    assert why(statistics.point_biserial([[float(at % 2)] for at in range(30)])[0]) == (
        "It needs other questions to compare with."
    )
    assert why(statistics.discrimination([[1.0, 0.0]] * 30)[1]).endswith("no upper group.")
    assert why(statistics.discrimination(FOURTEEN)[0]) == "14 people are too few; it is given from 30 on."
    assert [found.shown for found in statistics.difficulty(missing([1, None]) * 5)] == [True, False]


def test_templates_say_why_not() -> None:
    people = range(40)
    few = statistics.pooled_point_biserial([1.0, 0.0] * 10, [0.5] * 20, ["m"] * 20, people=range(20))
    assert why(few) == "20 people are too few; it is given from 30 on."
    flat = statistics.pooled_point_biserial([1.0] * 40, [0.1, 0.2] * 20, ["m"] * 40, people=people)
    assert why(flat) == "In 40 answers everybody earned the same."
    even = statistics.pooled_point_biserial([1.0, 0.0] * 20, [0.5] * 40, ["m"] * 40, people=people)
    assert why(even) == "In 40 answers everybody did equally well in the rest."
    alone = statistics.pooled_point_biserial([1.0, 0.0] * 20, [0.1, 0.2] * 20, ["m"] * 40, people=people, draws=people)
    assert why(alone) == "No people are too few; it is given from 30 on."
    # Many answers of a few people are not many people.
    same = statistics.pooled_point_biserial([1.0, 0.0] * 50, [0.1, 0.2] * 50, ["m"] * 100, people=[1, 2] * 50)
    assert why(same) == "2 people are too few; it is given from 30 on."
    assert why(statistics.pooled_point_biserial([], [], [], people=[])).startswith("No people")


def test_markers_and_judges_say_why_not() -> None:
    assert why(statistics.kappa("AB", "AB")) == "2 pieces of work are too few; it is given from 20 on."
    assert why(statistics.kappa("A" * 30, "A" * 30)).startswith("Both gave everything the same mark")
    assert why(statistics.agreement("A", "A")) == "1 piece of work is too few; it is given from 5 on."
    two = statistics.angoff([[0.5, 0.6], [0.7, 0.8]])
    assert {why(found) for found in (two.cut, two.percent, two.spread)} == {
        "2 judges are too few; it is given from 3 on."
    }
    assert [judge.cut for judge in two.judges] == pytest.approx([1.1, 1.5])
    (row,) = statistics.cut_table([50, 80], cuts=[70])
    assert (row.passing, row.n, row.share.shown) == (1, 2, False)
    (none,) = statistics.cut_table(missing(None, None), cuts=[70])
    assert (none.passing, none.n) == (0, 0)


def test_nobody_takes_it_only_from_enough_answers_on() -> None:
    def never(times: int) -> bool | None:
        answers = [statistics.Taken("t", ("right", "other"), ("right",))] * times
        return {option.label: option.nobody for option in statistics.options(answers)}["other"]

    assert never(34) is None
    assert never(35) is True


@pytest.mark.parametrize(
    ("call", "place"),
    [
        (lambda: statistics.alpha([[1, 0], [1]]), "number"),
        (lambda: statistics.alpha(missing(["a", 1])), "number"),
        (lambda: statistics.alpha([1, 0, 1]), "row a person"),
        (lambda: statistics.alpha([[math.inf, 1]]), "finite"),
        (lambda: statistics.alpha(THIRTY, forms=[1, 2]), "30 people"),
        (lambda: statistics.alpha(THIRTY, confidence=95), "between 0 and 1"),
        (lambda: statistics.alpha_without(THIRTY, items=["A1"]), "6 items"),
        (lambda: statistics.kr20([[0.5, 1]] * 30), "0 and 1"),
        (lambda: statistics.kr21([[0.5, 1]] * 30), "0 and 1"),
        (lambda: statistics.feldt(1.2, 30, 5), "at most 1"),
        (lambda: statistics.difficulty([[2, 1]] * 30), "more than all"),
        (lambda: statistics.difficulty([[-1, 1]] * 30), "less than none"),
        (lambda: statistics.difficulty(THIRTY, most=[1, 2]), "most points"),
        (lambda: statistics.difficulty(THIRTY, most=0), "above zero"),
        (lambda: statistics.discrimination(THIRTY, part=0.6), "at most half"),
        (lambda: statistics.wilson(5, 4), "at least one case"),
        (lambda: statistics.wilson(0, 0), "at least one case"),
        (lambda: statistics.kappa("AB", "A"), "same work"),
        (lambda: statistics.kappa("AB", "AB", categories="A"), "one of the scale"),
        (lambda: statistics.kappa("AB", "AB", weights="linear"), "near each other"),
        (lambda: statistics.angoff([[0.5, 1.2]] * 3), "judge 1, item 2"),
        (lambda: statistics.angoff(missing([0.5, 0.2], [0.5, None], [1, 1])), "judge 2, item 2"),
        (lambda: statistics.cut_table([50, 60], barred=[True]), "2 people"),
        (lambda: statistics.decision_consistency(THIRTY, 0), "above 0"),
        (lambda: statistics.decision_consistency(THIRTY, 50, most=0.5), "more than all"),
        (lambda: statistics.options([statistics.Taken("t", ("a",), ("b",))]), "stood there"),
        (lambda: statistics.pooled_point_biserial([1], [1, 0], ["m"], people=[1]), "Each answer"),
        (lambda: statistics.bootstrap(len, []), "needs cases"),
        (lambda: statistics.error_of_measurement(-1, 0.5), "not negative"),
        (lambda: statistics.error_of_measurement(1, 1.5), "at most 1"),
        (lambda: statistics.true_points(1, 1, -0.1), "between 0 and 1"),
        (lambda: statistics.lengthened(0.5, 0), "above zero"),
        (lambda: statistics.times_longer(0.5, 1), "between 0 and 1"),
        (lambda: statistics.binomial_error(3, 2), "two items"),
    ],
)
def test_what_are_no_points_is_an_error(call: Callable[[], object], place: str) -> None:
    with pytest.raises(StatisticsError) as error:
        call()
    assert isinstance(error.value, TrainkitError)
    assert place in str(error.value)
    assert error.value.rule.endswith(".")
    assert error.value.remedy.endswith(".")


def test_figures_as_plain_data() -> None:
    import json

    shown = statistics.alpha(THIRTY).to_dict()
    none = statistics.alpha(FOURTEEN).to_dict()
    assert json.loads(json.dumps([shown, none])) == [shown, none]
    assert (shown["shown"], none["shown"]) == (True, False)
    assert shown["interval"]["low"] < shown["value"] < shown["interval"]["high"]
    assert none["why"]


def test_manual_states_from_how_many_each_is_given() -> None:
    heading = "## Statistics: what is shown and from which n"
    section = MANUAL.read_text("utf-8").partition(heading)[2].partition("\n## ")[0]
    lines = [line.split("|") for line in section.splitlines() if line.startswith("|")][2:]
    told = {cells[1].strip(" `"): int(cells[2]) for cells in lines}
    assert told == dict(LEAST)
