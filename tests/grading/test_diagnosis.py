"""The diagnosis: what an item could have shown, small cases by hand, and Bayes the long way round."""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainkit import lockpin, packs
from trainkit.items import kinds as items
from trainkit.items.kinds import Item, Key
from trainkit.items.misconceptions import all_misconceptions
from trainkit.items.template import find, names
from trainkit_grading import diagnosis
from trainkit_grading.diagnosis import Answer, Diagnosis, chances, diagnose, seen
from trainkit_grading.errors import DiagnosisError

from .made_up import CARDS, KNOWN, NEAREST, bonds, cards, options, pin

ONE, OTHER, THIRD = "inverse-ratio", "one-to-one", "clock-backwards"
RULES = (items.NumberRule(misconception=ONE, value=8), items.NumberRule(misconception=OTHER, value=12))


def number(*units: str, **more: Any) -> tuple[Item, Key]:
    item = items.NumberItem(prompt="How much?", units=units or ("N·m",), to_nearest=NEAREST)
    told = {"rules": RULES, **more, **KNOWN}
    return item, items.NumberKey(answer=5, unit="N·m", tolerance=0.4, shown="5 N·m", **told)


def choice(letters: str = "abcd", **shows: str) -> tuple[Item, Key]:
    item = items.ChoiceItem(prompt="Which?", options=options(letters))
    return item, items.ChoiceKey(right="a", shows=shows, **KNOWN)


def chose(option: str, name: str = "A1", **shows: str) -> Answer:
    return Answer(name, *choice(**(shows or {"b": ONE})), items.ChoiceResponse(option=option))


ALIKE = {diagnosis.SLIP: 1.0}  # everybody slips as often


def of(findings: Sequence[Diagnosis], code: str = ONE) -> Diagnosis:
    return next(finding for finding in findings if finding.misconception == code)


# What could have been shown


def test_a_number_can_show_its_rules_and_a_unit_that_was_mixed_up() -> None:
    assert set(chances(*number("N·m"))) == {ONE, OTHER}
    asked = number("N·m", "lbf·ft")
    assert set(chances(*asked)) == {ONE, OTHER, "right-number-wrong-unit"}
    given = {
        "8 N·m": ("shows", "another", "another"),
        "5 N·m": ("right", "right", "right"),
        "5 lbf·ft": ("another", "another", "shows"),
        "6 N·m": ("unrecognised", "unrecognised", "unrecognised"),
        "a few": ("unrecognised", "unrecognised", "unrecognised"),
    }
    for text, kinds in given.items():
        got = seen(*asked, items.NumberResponse(text=text, unit="N·m"))
        assert tuple(got[code] for code in (ONE, OTHER, "right-number-wrong-unit")) == kinds, text


def test_a_hand_can_show_its_rules_and_is_seldom_set_there_by_chance() -> None:
    item = items.SetItem(prompt="Set it.", scale=items.Scale(low=0, high=12, step=0.25, unit="o'clock", round=True))
    rule = items.NumberRule(misconception=ONE, value=9)
    key = items.SetKey(answer=3, tolerance=0.1, turn=12, shown="3:00", rules=(rule,), **KNOWN)
    # Of 48 stops 47 are wrong, and one of these is the rule's.
    by_chance = chances(item, key)[ONE].if_not["shows"]
    assert by_chance == pytest.approx(diagnosis.SLIP / 47)
    assert seen(item, key, items.SetResponse(value=9)) == {ONE: "shows"}
    assert seen(item, key, items.SetResponse(value=4)) == {ONE: "unrecognised"}


def test_an_option_shows_what_its_key_says() -> None:
    item, key = choice(b=ONE, c=OTHER)
    assert {name: seen(item, key, items.ChoiceResponse(option=name))[ONE] for name in "abcdz"} == {
        "a": "right",
        "b": "shows",
        "c": "another",
        "d": "unrecognised",
        "z": "unrecognised",
    }
    assert chances(item, key)[ONE].if_not["shows"] == pytest.approx(diagnosis.SLIP / 3)


def test_a_place_on_a_picture_like_an_option() -> None:
    item = items.PointItem(prompt="Where?", targets=options("abcdef"))
    key = items.PointKey(right=("a", "b"), shows={"c": ONE, "d": ONE}, **KNOWN)
    assert chances(item, key)[ONE].if_not["shows"] == pytest.approx(diagnosis.SLIP / 2)
    assert seen(item, key, items.PointResponse(target="d")) == {ONE: "shows"}
    assert seen(item, key, items.PointResponse(target="b")) == {ONE: "right"}


def test_of_several_each_option_is_an_answer_of_its_own() -> None:
    item = items.SeveralItem(prompt="Which?", options=options("abcdef"))
    key = items.SeveralKey(right=("a", "b"), shows={"b": ONE, "c": ONE, "d": OTHER}, **KNOWN)
    both = ("shows", "shows")
    for taken, kinds in {
        "ab": ("right", "right"),
        "abc": ("shows", "right"),
        "a": ("shows", "right"),
        "acd": both,
    }.items():
        got = seen(item, key, items.SeveralResponse(options=tuple(taken)))
        assert (got[ONE], got[OTHER]) == kinds, taken
    # What was taken wrongly elsewhere says nothing about them.
    assert seen(item, key, items.SeveralResponse(options=tuple("abf"))) == {ONE: "right", OTHER: "right"}


def test_of_a_grid_each_row_is_an_answer_of_its_own() -> None:
    item = items.GridItem(prompt="What becomes of it?", rows=options("pqr"), columns=options("xyz"))
    shows = {"p y": ONE, "q y": OTHER}
    key = items.GridKey(right={"p": "x", "q": "x", "r": "z"}, shows=shows, **KNOWN)
    grids = {
        "xxz": ("right", "right"),
        "yxz": ("shows", "right"),
        "zyz": ("unrecognised", "shows"),
        "xxx": ("right",) * 2,
    }
    for columns, kinds in grids.items():
        got = seen(item, key, items.GridResponse(rows=dict(zip("pqr", columns, strict=True))))
        assert (got[ONE], got[OTHER]) == kinds, columns
    # Two wrong columns in each of three rows; one of the six shows each.
    assert chances(item, key)[ONE].if_not["shows"] == pytest.approx(diagnosis.SLIP / 6)
    assert seen(item, key, items.GridResponse(rows={"q": "x"}))[ONE] == "unrecognised"


BONDS = bonds(ONE, OTHER)
ORDER = (
    items.OrderItem(prompt="In which order?", cards=cards("abcd")),
    items.OrderKey(cards=CARDS, bonds=BONDS, **KNOWN),
)


def test_an_order_can_show_what_its_bonds_say() -> None:
    item, key = ORDER
    assert set(chances(item, key)) == {ONE, OTHER}
    for order, kind in {"adbc": "right", "badc": "shows", "adcb": "another", "abcd": "unrecognised"}.items():
        assert seen(item, key, items.OrderResponse(cards=tuple(order)))[ONE] == kind, order


def test_an_order_by_chance_is_one_card_moved() -> None:
    item, key = ORDER
    # From the right order abdc: ONE shows where only a and b have changed places; as soon as c stands before b, which
    # is dangerous, OTHER is named.
    moved = set()
    for at, place in itertools.permutations(range(4), 2):
        order = list("abdc")
        order.insert(place, order.pop(at))
        moved.add((at, place, "".join(order)))
    wrong = [order for _, _, order in moved if any(order.index(b.before) > order.index(b.after) for b in BONDS)]
    one = [order for order in wrong if order.index("b") < order.index("a") and order.index("b") < order.index("c")]
    assert chances(item, key)[ONE].if_not["shows"] == pytest.approx(diagnosis.SLIP * len(one) / len(wrong))


def test_a_place_can_show_only_what_the_missing_card_can_break() -> None:
    item = items.InsertItem(prompt="Where?", written=cards("adc"), missing=cards("b")[0])
    known = {"cards": CARDS, "bonds": BONDS, **KNOWN}
    key = items.InsertKey(right=(1, 2), written=tuple("adc"), missing="b", **known)
    # Before all others it shows the one, behind all the other: each is one of two wrong places.
    assert {code: chance.if_not["shows"] for code, chance in chances(item, key).items()} == {
        ONE: pytest.approx(diagnosis.SLIP / 2),
        OTHER: pytest.approx(diagnosis.SLIP / 2),
    }
    assert [seen(item, key, items.InsertResponse(place=place))[ONE] for place in range(4)] == [
        "shows",
        "right",
        "right",
        "another",
    ]
    far = items.InsertKey(right=(3,), written=tuple("abc"), missing="d", **known)
    assert set(chances(item, far)) == set()


def test_a_scenario_can_show_what_its_model_finds() -> None:
    item, key = pin()
    could = set(chances(item, key))
    assert {"uses-the-starter", "leaves-the-pin-in", "goes-on-after-seating", "any-dead-centre"} <= could
    assert could <= set(all_misconceptions())
    assert seen(item, key, items.ActionsResponse(actions=("starter",)))["uses-the-starter"] == "shows"
    assert isinstance(item, items.ActionsItem)
    state = lockpin.State.start(packs.load("dunlin").lock_pin, before=30)
    way = tuple(action.value for action in lockpin.shortest_way(state) or ())
    assert set(seen(item, key, items.ActionsResponse(actions=way)).values()) == {"right"}
    # A needless way round at the beginning is still no sign of any of them; an unfinished play is no sign at all.
    round_way = ("on-a-little", *way)
    assert set(seen(item, key, items.ActionsResponse(actions=round_way)).values()) == {"right"}
    unfinished = items.ActionsResponse(actions=way[:2], gave_up=True)
    assert set(seen(item, key, unfinished).values()) == {"unrecognised"}


def test_a_scenario_speaks_less_clearly_than_a_question() -> None:
    play, question = chances(*pin())["uses-the-starter"], chances(*choice(b=ONE))[ONE]
    assert 1 > play.factor("right") > question.factor("right")


PAIRS = tuple(items.NumberPair(first=ONE, second=code, value=value) for code, value in ((THIRD, 21), (OTHER, 19)))


def test_a_number_can_show_two_at_once() -> None:
    item, key = number(pairs=PAIRS)
    kinds = {
        "19": ("shows", "shows"),
        "8": ("shows", "another"),
        "12": ("another", "shows"),
        "21": ("shows", "another"),
    }
    for text, expected in kinds.items():
        got = seen(item, key, items.NumberResponse(text=text, unit="N·m"))
        assert (got[ONE], got[OTHER]) == expected, text
        # What cannot show alone shows beside another, and only there.
        assert got.get(THIRD) == ("shows" if text == "21" else None)


def test_a_number_that_shows_two_speaks_for_both() -> None:
    item, key = number(pairs=PAIRS)

    def found(*texts: str) -> dict[str, Diagnosis]:
        given = [items.NumberResponse(text=text, unit="N·m") for text in texts]
        answers = [Answer(f"A{at}", item, key, response) for at, response in enumerate(given)]
        return {finding.misconception: finding for finding in diagnose(answers)}

    both = found("19", "19", "5")
    assert both[ONE].shown == both[OTHER].shown == ("A0", "A1")
    assert both[ONE].probability == pytest.approx(both[OTHER].probability)
    assert both[ONE].probability > found("19", "5", "5")[ONE].probability > found("5", "5", "5")[ONE].probability
    # One that can only show beside another has as many chances as it was shown.
    beside = found("21", "21", "8")
    assert (beside[THIRD].chances, beside[THIRD].shown) == (2, ("A0", "A1"))
    assert beside[ONE].shown == ("A0", "A1", "A2")
    assert not found("21", "5", "5")[THIRD].held


def test_what_a_person_judges_shows_nothing() -> None:
    text = items.TextItem(prompt="Why?")
    rubric = items.TextKey(rubric=(items.RubricLine(looks_for="the reason", points=1),), **KNOWN)
    assert chances(text, rubric) == {}
    assert seen(text, rubric, items.TextResponse(text="So that it holds.")) == {}
    watched = items.ObservedItem(prompt="Watch.", steps=options("ab"))
    assert chances(watched, items.ObservedKey(**KNOWN)) == {}


def test_an_answer_of_another_kind_says_nothing() -> None:
    item, key = choice(b=ONE)
    assert seen(item, key, items.SetResponse(value=1)) == {}
    assert diagnose([Answer("A1", item, key, items.SetResponse(value=1))]) == ()


@pytest.mark.parametrize("name", names())
def test_what_every_template_can_show_is_what_marking_can_recognise(name: str) -> None:
    """The key alone says it: each code of the catalogue, each kind of answer with a probability, in every draw."""
    for seed in range(5):
        item, key = find(name).draw(random.Random(seed), packs.load("dunlin"))
        found = chances(item, key)
        assert found.keys() <= all_misconceptions().keys()
        for chance in found.values():
            for column in (chance.if_held, chance.if_not):
                assert sum(column.values()) == pytest.approx(1)
                assert min(column.values()) >= 0
            assert chance.factor("shows") > 1 > chance.factor("right")
            assert chance.factor("another") <= 1
            assert chance.factor("unrecognised") == pytest.approx(1)


# By hand


def test_a_single_choice_by_hand() -> None:
    """Prior 0.02, hold 0.85, slip 0.1, one wrong option in three: odds 1/49 times (0.765 + 1/30) over 1/30."""
    odds = Fraction(1, 49) * (Fraction(9, 10) * Fraction(85, 100) + Fraction(1, 30)) / Fraction(1, 30)
    found = of(diagnose([chose("b")], ALIKE))
    assert found.probability == pytest.approx(float(odds / (1 + odds)))
    assert (found.chances, found.could_show, found.shown, found.held) == (1, ("A1",), ("A1",), False)
    right = Fraction(1, 49) * Fraction(15, 100)
    assert of(diagnose([chose("a")], ALIKE)).probability == pytest.approx(float(right / (1 + right)))
    assert of(diagnose([chose("d")], ALIKE)).probability == pytest.approx(diagnosis.PRIOR)


def test_how_careless_somebody_is_by_hand() -> None:
    """Two sorts of people, as many of each: those who slip once in a hundred answers, and those every second time.

    Three wrong options, one of which shows the misconception. It comes from those who hold it with 0.85 × 0.99 +
    0.01 / 3 and with 0.85 × 0.5 + 0.5 / 3, from those who do not with 0.01 / 3 and with 0.5 / 3.
    """
    likely = {True: Fraction(0), False: Fraction(0)}
    for slip in (Fraction(1, 2), Fraction(1, 100)):
        likely[True] += Fraction(2, 100) * ((1 - slip) * Fraction(85, 100) + slip / 3)
        likely[False] += Fraction(98, 100) * slip / 3
    found = of(diagnose([chose("b")], {0.5: 0.5, 0.01: 0.5}))
    assert found.probability == pytest.approx(float(likely[True] / sum(likely.values())))


def test_answers_that_say_nothing_about_it_still_tell_how_careless_somebody_is_by_hand() -> None:
    """As above, and another question answered rightly: from the careful it comes with 0.99, from the others with 0.5.

    It could have shown something else, which is held and shows with 0.02 × 0.85.
    """
    likely = {True: Fraction(0), False: Fraction(0)}
    for slip in (Fraction(1, 2), Fraction(1, 100)):
        rest = (1 - slip) * (1 - Fraction(17, 1000))
        likely[True] += Fraction(2, 100) * ((1 - slip) * Fraction(85, 100) + slip / 3) * rest
        likely[False] += Fraction(98, 100) * slip / 3 * rest
    found = of(diagnose([chose("b"), chose("a", "A2", c=OTHER)], {0.5: 0.5, 0.01: 0.5}))
    assert found.probability == pytest.approx(float(likely[True] / sum(likely.values())))


def test_somebody_who_is_often_wrong_is_believed_less() -> None:
    shown = [chose("b", "A1"), chose("b", "A2")]
    right = [chose("a", f"B{number}", c=OTHER) for number in range(20)]
    wrong = [chose("d", f"B{number}", c=OTHER) for number in range(20)]
    careful, careless = of(diagnose([*shown, *right])), of(diagnose([*shown, *wrong]))
    assert careful.held
    assert not careless.held
    assert careful.probability > 0.9 > 0.6 > careless.probability


def test_nothing_given_nothing_said() -> None:
    item, key = choice(b=ONE)
    assert diagnose([]) == ()
    assert diagnose([Answer("A1", item, key, None)]) == ()


def test_the_same_item_twice_is_refused() -> None:
    with pytest.raises(DiagnosisError, match="Each item comes in once"):
        diagnose([chose("a"), chose("b")])


# Bayes the long way round


def by_enumeration(hold: float, others: int, share: float, others_share: float, kinds: Sequence[str]) -> float:
    """Go through everything that may have happened: who holds what, what was a slip, and what won.

    One misconception and ``others`` further ones, all of which each answer could show. This counts every case and
    shares no formula with the diagnosis: in each answer every other misconception is held anew, as the model has it.
    """
    prior, slip = diagnosis.PRIOR, diagnosis.SLIP
    total = {True: 0.0, False: 0.0}
    for held in (True, False):
        weight = prior if held else 1 - prior
        for kind in kinds:
            way: dict[str, float] = dict.fromkeys(("shows", "another", "unrecognised", "right"), 0.0)
            way["shows"] += slip * share
            way["another"] += slip * others_share
            way["unrecognised"] += slip * (1 - share - others_share)
            for awake in itertools.product((True, False), repeat=others + 1):
                mine, rest = awake[0], awake[1:]
                chance = 1 - slip
                chance *= (hold if mine else 1 - hold) if held else (0.0 if mine else 1.0)
                for other in rest:
                    chance *= prior * hold if other else 1 - prior * hold
                if mine and any(rest):
                    way["shows"] += chance / 2
                    way["another"] += chance / 2
                elif mine or any(rest):
                    way["shows" if mine else "another"] += chance
                else:
                    way["right"] += chance
            weight *= way[kind]
        total[held] = weight
    return total[True] / (total[True] + total[False])


PICKS: Mapping[str, str] = {"shows": "b", "another": "c", "unrecognised": "f", "right": "a"}
KINDS = st.sampled_from(sorted(PICKS))


@given(st.lists(KINDS, max_size=7))
def test_enumeration_gives_the_same(kinds: list[str]) -> None:
    item, key = choice("abcdef", b=ONE, c=OTHER, d=THIRD)
    answers = [Answer(f"A{n}", item, key, items.ChoiceResponse(option=PICKS[kind])) for n, kind in enumerate(kinds)]
    if kinds:
        expected = by_enumeration(diagnosis.HOLD, 2, 1 / 5, 2 / 5, kinds)
        assert of(diagnose(answers, ALIKE)).probability == pytest.approx(expected, rel=1e-9)


# What always holds


@given(st.integers(min_value=1, max_value=12))
def test_one_answer_alone_never_makes_a_label(others: int) -> None:
    """However sure it is: an answer nobody gives by chance, and any number that say nothing."""
    item, key = number(rules=(items.NumberRule(misconception=ONE, value=7),))
    sure = Answer("A0", item, key, items.NumberResponse(text="7", unit="N·m"))
    rest = [Answer(f"A{n}", item, key, items.NumberResponse(text="6", unit="N·m")) for n in range(1, others + 1)]
    found = of(diagnose([sure, *rest]))
    assert found.shown == ("A0",)
    assert found.chances == others + 1
    assert not found.held
    assert not Diagnosis(ONE, 1.0, ("A0",), ("A0",)).held
    assert Diagnosis(ONE, 1.0, ("A0", "A1"), ("A0", "A1")).held
    assert not Diagnosis(ONE, diagnosis.LABEL - 0.01, ("A0", "A1"), ("A0", "A1")).held


def answers(kinds: Sequence[str]) -> list[Answer]:
    return [
        Answer(f"A{number}", *choice("abcdef", b=ONE, c=OTHER), items.ChoiceResponse(option=PICKS[kind]))
        for number, kind in enumerate(kinds)
    ]


@given(st.lists(KINDS, min_size=1, max_size=9), st.randoms(use_true_random=False))
def test_the_order_of_answers_says_nothing(kinds: list[str], shuffle: random.Random) -> None:
    ordered = answers(kinds)
    mixed = shuffle.sample(ordered, len(ordered))
    assert diagnose(mixed) == diagnose(ordered)


@given(st.lists(KINDS, max_size=6))
def test_every_further_answer_pulls_the_way_it_should(kinds: list[str]) -> None:
    after = {kind: of(diagnose(answers([*kinds, kind]), ALIKE)).probability for kind in PICKS}
    before = of(diagnose(answers(kinds), ALIKE)).probability if kinds else diagnosis.PRIOR
    assert after["shows"] > before
    assert after["right"] < after["another"] < before
    assert after["unrecognised"] == pytest.approx(before)


@given(st.lists(KINDS, min_size=1, max_size=6))
def test_so_it_does_where_it_is_not_known_how_often_they_slip(kinds: list[str]) -> None:
    before = of(diagnose(answers(kinds))).probability
    assert of(diagnose(answers([*kinds, "shows"]))).probability > before
    assert of(diagnose(answers([*kinds, "right"]))).probability < before


def test_findings_are_sorted_and_bounded_however_many_answers_there_are() -> None:
    found = diagnose(answers(["shows"] * 400))
    assert [finding.misconception for finding in found] == [ONE, OTHER]
    assert found[0].probability == pytest.approx(1)
    assert 0 <= found[1].probability < 1e-9
    assert found[0].chances == 400
