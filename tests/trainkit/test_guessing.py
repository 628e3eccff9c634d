"""No question gives its answer away: two draws are hardly ever equal, and nothing scores that knows nothing.

The first part holds the measuring against draws whose figures are known by hand, the second every template.
``tests/bench/question_figures.py`` prints the same figures of many more draws.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from functools import cache

import pytest

from tests.trainkit.guessing import MOST_WORDS, Figures, Space, offered, rights, rounded_wrongly, scores, stems
from tests.trainkit.second_ways.reading import PACKS, pack
from trainkit.items.asking import asked
from trainkit.items.facts import Draw
from trainkit.items.kinds import ChoiceItem, ChoiceKey, NumberItem, NumberKey, Option, SeveralItem, SeveralKey
from trainkit.items.template import find, names

EACH = pytest.mark.parametrize(("name", "engine"), [(name, engine) for name in names() for engine in PACKS])
# A bench is searched while it is drawn.
DRAWS, SLOW = 160, {"lock-pin/pin-the-engine": 120}
MANY, ENOUGH = 1_000_000, 2_000
# Templates whose data cannot vary so much, each with how many questions it has for certain and the reason.
FEW: dict[str, tuple[int, str]] = {
    "lock-pin/which-dead-centre": (ENOUGH, "firing orders are few, and so are the ways to count on in one"),
    "lash-and-timing/which-cylinder": (ENOUGH, "firing orders are few, and so are the ways to count on in one"),
    "torque-units/master-column": (ENOUGH, "one table of a few pairs, each rounded as a printer would"),
    "sequence/put-in-order": (ENOUGH, "steps of one job, such as have an order with most of the others"),
    "sequence/forgotten-step": (ENOUGH, "steps of one job, such as fit at one place or two"),
    "sequence/fate-of-parts": (ENOUGH, "parts of one job; their names are read, so that no others can stand for them"),
    "capstone/explain-why": (900, "a text about one pair of steps, marked by a person against criteria"),
    "capstone/observed-work": (300, "the work itself, which stays what it is; somebody watches it"),
}
# A prompt may be longer where it says how a bench is played, the same in every question.
LONG = {"lock-pin/pin-the-engine": 100}


def choice(texts: Sequence[str], right: int) -> Draw:
    options = tuple(Option(id=letter, text=text) for letter, text in zip("abcd", texts, strict=False))
    key = ChoiceKey(template="t/t", working=("So.",), right="abcd"[right])
    return Draw(ChoiceItem(prompt="Which?", options=options), key, {})


def several(texts: Sequence[str], right: Sequence[int]) -> Draw:
    options = tuple(Option(id=letter, text=text) for letter, text in zip("abcd", texts, strict=False))
    key = SeveralKey(template="t/t", working=("So.",), right=tuple("abcd"[place] for place in right))
    return Draw(SeveralItem(prompt="Which?", options=options), key, {})


def number(shown: int, right: float, to_nearest: str = "to the nearest 1 mm", prompt: str = "How far?") -> Draw:
    item = NumberItem(prompt=f"{prompt} {shown}", units=("mm",), to_nearest=to_nearest)
    key = NumberKey(
        template="t/t", working=("So.",), quantity="length", answer=right, unit="mm", tolerance=0.4, shown="", rules=()
    )
    return Draw(item, key, {})


def test_equal_draws_are_counted_whatever_order_their_options_stand_in() -> None:
    one, other = choice(["on", "back"], 0), choice(["back", "on"], 1)
    assert asked(one.item) == asked(other.item)
    space = Space.of([one, other, choice(["on", "off"], 0)])
    assert (space.distinct, space.collisions, space.effective) == (2, 1, 3)
    low, high = space.limits
    # One event in three pairs: between 0.0513 and 4.744 are expected, by the tables of the Poisson distribution.
    assert (low, high) == pytest.approx((3 / 4.744, 3 / 0.0513), rel=1e-3)
    assert Space.of([one, choice(["a", "b"], 0)]).effective == math.inf


def test_what_is_drawn_of_so_many_is_estimated_as_so_many() -> None:
    rng = random.Random(4)
    space = Space.of([number(rng.randrange(5000), 1) for _ in range(3000)])
    assert space.limits[0] < 5000 < space.limits[1]
    assert space.effective == pytest.approx(5000, rel=0.1)


def test_an_option_that_is_always_right_is_found() -> None:
    rng = random.Random(5)
    draws = [choice([f"on by {rng.randrange(90)}", "back", "off"], 0) for _ in range(200)]
    found = {each.text: each for each in stems(draws)}
    assert (found["on by #"].right, found["on by #"].flagged, found["on by #"].surely) == (1.0, True, True)
    assert found["back"].right == 0.0
    assert scores(draws)["learnt stem"] == scores(draws)["first"] == 1.0
    assert Figures(draws).chance == pytest.approx(1 / 3)
    assert Figures(draws).guessable


def test_what_stands_and_is_right_by_chance_is_not_guessable() -> None:
    rng = random.Random(6)
    texts = [f"{rng.randrange(1000)} mm" for _ in range(4)]
    draws = [choice(rng.sample(texts, 4), rng.randrange(4)) for _ in range(600)]
    assert not Figures(draws).guessable
    assert Figures(draws).telling == []


def test_the_second_largest_number_is_tried() -> None:
    rng = random.Random(7)
    draws = []
    for _ in range(100):
        values = rng.sample(range(1000), 4)
        draws.append(choice([f"{value} mm" for value in values], values.index(sorted(values)[2])))
    assert Figures(draws).best == ("second largest number", 1.0)


def test_guessing_of_several_is_by_the_best_size() -> None:
    # One of four is right: one by chance scores 1/4; two score 1/2 × (1 − 1/3); three 3/4 × (1 − 2/3).
    draws = [several(["a", "b", "c", "d"], [0]) for _ in range(4)]
    assert Figures(draws).chance == pytest.approx(1 / 3)
    assert scores(draws)["first"] == 1.0


def test_numbers_are_copied_and_the_usual_one_is_tried() -> None:
    copied = scores([number(value, value) for value in range(100, 140)])
    assert (copied["copy number 1"], copied["most frequent number"]) == (1.0, 0.0)
    assert scores([number(value, 7) for value in range(100, 140)])["most frequent number"] == 1.0


def test_a_limit_that_is_rounded_to_the_nearest_step_is_found() -> None:
    assert rounded_wrongly(number(1, 1, prompt="Which is the largest that passes?").item)
    assert not rounded_wrongly(number(1, 1, "in steps of 1 mm", "Which is the largest that passes?").item)
    assert not rounded_wrongly(number(1, 1).item)


# --- every template that is measured ----------------------------------------------------------------------------------


@cache
def figures(name: str, engine: str) -> Figures:
    template, many = find(name), SLOW.get(name, DRAWS)
    return Figures([template.draw(random.Random(f"guess {name} {seed}"), pack(engine)) for seed in range(many)])


@EACH
def test_two_draws_are_hardly_ever_equal(name: str, engine: str) -> None:
    """So few draws prove some thousands of questions at the most; of more they show that nothing speaks against them.

    ``tests/bench/question_figures.py`` counts among more draws.
    """
    low, high = figures(name, engine).space.limits
    assert low >= FEW.get(name, (ENOUGH, ""))[0]
    assert high >= MANY or name in FEW


@EACH
def test_nothing_scores_that_knows_nothing(name: str, engine: str) -> None:
    found = figures(name, engine)
    assert not found.guessable, (found.best, found.chance)
    assert [each for each in found.telling if each.surely] == []


@EACH
def test_prompts_are_short_and_limits_are_rounded_inward(name: str, engine: str) -> None:
    found = figures(name, engine)
    assert found.most_words <= LONG.get(name, MOST_WORDS)
    assert found.rounding == 0


def test_what_has_few_questions_is_a_template() -> None:
    assert {*FEW, *LONG, *SLOW} <= {*names()}


# --- knowledge of the trade -------------------------------------------------------------------------------------------

STATEMENTS, OF_THE_TRADE = 40, ("sequence/why-before", "sequence/either-order", "tightening/not-again")
# What stood there so often, and was always right or always wrong, would be known soon.
KNOWN_SOON = 25


@pytest.mark.parametrize("engine", PACKS)
@pytest.mark.parametrize("name", OF_THE_TRADE)
def test_forty_statements_of_the_trade_are_right_here_and_wrong_there(name: str, engine: str) -> None:
    stood: dict[str, list[bool]] = {}
    for seed in range(300):
        item, key = find(name).draw(random.Random(f"trade {seed}"), pack(engine))
        for letter, text in offered(item):
            stood.setdefault(text, []).append(letter in rights(key))
    assert sum(len({*each}) > 1 for each in stood.values()) >= STATEMENTS
    assert [text for text, each in stood.items() if len(each) >= KNOWN_SOON and len({*each}) == 1] == []
