"""What is particular to the questions about the order of the work; see ``test_templates.py`` for the rest."""

from __future__ import annotations

import itertools
import random

import pytest

from tests.trainkit.draws import as_kind, changed, drawn, draws, everywhere
from tests.trainkit.second_ways.reading import PACKS, pack
from tests.trainkit.second_ways.sequence import (
    Pairs,
    breaks,
    by_text,
    cards,
    danger,
    fewest_moves,
    paired,
    precedence,
    steps_of,
    why_before,
)
from trainkit.errors import ItemError
from trainkit.items.hurrying import hurried
from trainkit.items.kinds import ChoiceItem, ChoiceKey, GridItem, GridKey, InsertItem, InsertKey, OrderItem, OrderKey
from trainkit.items.kinds.orders import DANGEROUS_CAP
from trainkit.items.marking import mark
from trainkit.items.misconceptions import misconception
from trainkit.items.sequence.gathering import SETTLED
from trainkit.items.sequence.pairs import HABIT
from trainkit.items.template import find, names
from trainkit.procedures import Edge, Procedure

ENGINE = "dunlin"
OTHER_HOMES = {"used-seal-good-enough", "single-use-reused", "renews-everything"}  # cured in the module on tightening


@pytest.mark.parametrize("seed", range(12))
def test_put_in_order_is_right_where_nothing_is_broken(seed: int) -> None:
    item, key = as_kind(drawn("sequence/put-in-order", ENGINE, seed), OrderItem, OrderKey)
    step = cards(item, ENGINE)
    assert set(step.values()) <= steps_of(item, ENGINE)
    pairs = frozenset(pair for pair in precedence(item, ENGINE) if set(pair) <= set(step.values()))
    assert len(pairs) >= 0.8 * len(step) * (len(step) - 1) / 2
    assert len(step) in (7, 8)
    rng = random.Random(seed)
    shares = []
    for _ in range(300):
        letters = rng.sample(list(step), len(step))
        broken = breaks([step[letter] for letter in letters], pairs)
        found = mark(item, key, {"kind": "order", "cards": letters})
        assert (found.points == item.points) == (not broken)
        assert found.critical == bool(broken & danger(item, ENGINE))
        if found.critical:
            assert found.points <= DANGEROUS_CAP * item.points
            assert "can hurt" in found.reason
        shares.append(found.points / item.points)
    # What luck still earns, because nobody is given less than nothing.
    assert sum(shares) / len(shares) < 1 / 10
    valid = valid_order(list(step.values()), pairs, rng)
    right = [next(letter for letter in step if step[letter] == one) for one in valid]
    assert mark(item, key, {"kind": "order", "cards": right}).verdict == "right"


def valid_order(steps: list[str], pairs: Pairs, rng: random.Random) -> list[str]:
    left, order = set(steps), []
    while left:
        ready = sorted(one for one in left if not any((other, one) in pairs for other in left))
        order.append(rng.choice(ready))
        left.remove(order[-1])
    return order


def test_put_in_order_earns_by_moves_and_nothing_by_luck() -> None:
    orders = (as_kind(pair, OrderItem, OrderKey) for pair in draws("sequence/put-in-order", ENGINE))
    item, key = next((item, key) for item, key in orders if len(item.cards) == 7)
    item = item.model_copy(update={"points": 20.0})
    step = cards(item, ENGINE)
    pairs = frozenset(pair for pair in precedence(item, ENGINE) if set(pair) <= set(step.values()))
    moves = {
        letters: fewest_moves(tuple(step[one] for one in letters), pairs) for letters in itertools.permutations(step)
    }
    mean = sum(moves.values()) / len(moves)
    assert mean >= 2.5
    capped = 0
    for letters, needed in moves.items():
        found = mark(item, key, {"kind": "order", "cards": list(letters)})
        share = max(0.0, 1 - needed / mean)
        if found.critical and share > DANGEROUS_CAP:
            capped += 1
            share = DANGEROUS_CAP
        assert found.points == pytest.approx(20 * share, abs=0.0051)
    assert capped
    # Before it is cut off at nought and capped, the share of an arrangement by chance is nothing on average.
    assert sum(1 - needed / mean for needed in moves.values()) == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize("seed", range(40))
def test_one_reason_explains_no_line_and_each_other_one_a_line(seed: int) -> None:
    item, key = as_kind(drawn("sequence/why-before", ENGINE, seed), ChoiceItem, ChoiceKey)
    why_before(item, key, ENGINE)
    (habit,) = [option.id for option in item.options if option.text == HABIT]
    for option in item.options:
        found = mark(item, key, {"kind": "choice", "option": option.id})
        # Who calls a free pair bound, or a bound pair a habit, knows the order and not its reason.
        by_heart = option.id != key.right and habit in (option.id, key.right)
        assert found.misconception == ("learnt-by-heart" if by_heart else None)


def test_a_dangerous_line_called_a_habit_is_an_unsafe_answer() -> None:
    pairs = [as_kind(drawn("sequence/why-before", ENGINE, seed), ChoiceItem, ChoiceKey) for seed in range(400)]
    unsafe = [(item, key) for item, key in pairs if key.critical]
    assert unsafe
    for item, key in unsafe:
        assert {*paired(item, ENGINE)} <= danger(item, ENGINE)
        assert mark(item, key, {"kind": "choice", "option": key.critical[0]}).critical


def test_a_pair_is_right_in_some_questions_and_wrong_in_others() -> None:
    """Which two may change places is asked, and which two may not: neither sort of pair is always the right one."""
    right: dict[bool, list[bool]] = {True: [], False: []}
    for seed in range(400):
        item, key = as_kind(drawn("sequence/either-order", ENGINE, seed), ChoiceItem, ChoiceKey)
        for option in item.options:
            one, other = (by_text(ENGINE)[part] for part in option.text[1:-1].split("” and “"))
            bound = bool({(one, other), (other, one)} & precedence(item, ENGINE))
            right[bound].append(option.id == key.right)
    for each in right.values():
        assert 0.18 < sum(each) / len(each) < 0.32


def test_no_reason_is_the_answer_about_as_often_as_each_of_the_reasons() -> None:
    drawn_ones = [as_kind(drawn("sequence/why-before", ENGINE, seed), ChoiceItem, ChoiceKey) for seed in range(400)]
    none = [key.right in {o.id for o in item.options if o.text == HABIT} for item, key in drawn_ones]
    assert 0.18 < sum(none) / len(none) < 0.32


@pytest.mark.parametrize("seed", range(40))
def test_forgotten_step_fits_only_the_right_places(seed: int) -> None:
    item, key = as_kind(drawn("sequence/forgotten-step", ENGINE, seed), InsertItem, InsertKey)
    order = [by_text(ENGINE)[card.text] for card in item.written]
    missing = by_text(ENGINE)[item.missing.text]
    assert {*order, missing} <= steps_of(item, ENGINE)
    right = []
    for place in range(len(order) + 1):
        broken = breaks([*order[:place], missing, *order[place:]], precedence(item, ENGINE))
        found = mark(item, key, {"kind": "insert", "place": place})
        assert (found.verdict == "right") == (not broken)
        assert found.critical == bool(broken & danger(item, ENGINE))
        right += [place] * (not broken)
    assert tuple(right) == key.right
    assert 1 <= len(right) <= 2


@pytest.mark.parametrize("name", [name for name in names("sequence") if find(name).kind == "choice"])
def test_every_option_has_its_reason(name: str) -> None:
    for pair in everywhere(name):
        item, key = as_kind(pair, ChoiceItem, ChoiceKey)
        assert set(key.reasons) == {option.id for option in item.options}


def test_a_misconception_gives_itself_away_in_an_order() -> None:
    seen = set()
    for seed in range(60):
        item, key = as_kind(drawn("sequence/put-in-order", ENGINE, seed), OrderItem, OrderKey)
        procedure = Procedure(tuple(key.cards), [Edge(b.before, b.after, b.reason, b.dangerous) for b in key.bonds])
        for bond, edge in zip(key.bonds, procedure.before, strict=True):
            if bond.misconception:
                found = mark(item, key, {"kind": "order", "cards": list(hurried(procedure, edge))})
                assert found.misconception == bond.misconception
                assert misconception(bond.misconception).shows in found.reason
                seen.add(bond.misconception)
    assert seen >= {"lock-left-on", "pin-out-last", "mark-before-fixing", "clean-after-mating", "seal-reused"}


def test_so_many_settled_pairs_leave_nothing_to_luck() -> None:
    """Of all ways to bind four fifths of the pairs of seven cards, each needs 2.9 moves by chance or more.

    More pairs in order, or more cards, never need fewer moves; so seven cards with the fewest pairs settle it. Ways
    with the same numbers of steps before and after each card are looked at once.
    """
    count = 7
    pairs = list(itertools.combinations(range(count), 2))
    free = int(len(pairs) * (1 - SETTLED) + 1e-9)
    seen, least = set(), float(count)
    for left_open in itertools.combinations(pairs, free):
        bound = {pair for pair in pairs if pair not in left_open}
        if any((a, c) not in bound for a, b in bound for d, c in bound if b == d):
            continue
        degrees = [(sum(a == x for a, _ in bound), sum(b == x for _, b in bound)) for x in range(count)]
        sort = (*sorted(degrees), *sorted(sorted((degrees[a], degrees[b])) for a, b in left_open))
        if str(sort) not in seen:
            seen.add(str(sort))
            least = min(least, Procedure(range(count), [Edge(a, b) for a, b in bound]).expected_moves())
    assert len(seen) > 20
    assert least == pytest.approx(2.9)


@pytest.mark.parametrize("engine", PACKS)
def test_a_grid_of_parts_is_marked_row_by_row_and_says_what_a_wrong_row_shows(engine: str) -> None:
    shown, harmful = set(), 0
    for pair in draws("sequence/fate-of-parts", engine):
        item, key = as_kind(pair, GridItem, GridKey)
        assert set(key.reasons) == {row.id for row in item.rows}
        for row in item.rows:
            for column in item.columns:
                if column.id == key.right[row.id]:
                    continue
                found = mark(item, key, {"kind": "grid", "rows": {**key.right, row.id: column.id}})
                # One row of six, rescaled so that a guess among five columns earns nothing.
                assert found.points == pytest.approx(item.points * (5 / 6 - 1 / 5) / (1 - 1 / 5), abs=0.005)
                assert row.text in found.reason
                harmful += found.critical
                shown.add(found.misconception)
    assert harmful
    assert shown == {
        None,
        "left-on-old-part",
        "old-unit-scrapped",
        "stripped-too-far",
        "damage-overlooked",
        *OTHER_HOMES,
    }


def test_parts_of_another_variant_and_new_parts_are_not_asked_about() -> None:
    asked: dict[str, set[str]] = {}
    for seed in range(300):
        item, _ = drawn("sequence/fate-of-parts", ENGINE, seed)
        assert isinstance(item, GridItem)
        lines = {line.label: line.value for line in item.given}
        assert lines["Ready on the bench"] == "new fuel metering unit"
        asked.setdefault(lines["This set is"], set()).update(row.text for row in item.rows)
    assert len(asked) == 4
    only = {
        "with coolant heater": {"Coolant heater pipe", "Seal of the coolant heater pipe"},
        "with the filter bracket in front of the unit": {"Filter bracket with filters"},
    }
    standard = asked["the standard one"]
    for variant, more in only.items():
        assert asked[variant] - standard == more
    # The drive gear is said to be refitted, yet no step takes it off: two answers could be defended.
    never = {"New fuel metering unit", "Drive gear of the fuel metering unit"}
    assert not never & set().union(*asked.values())


def test_the_job_is_told_by_its_first_sentence_alone() -> None:
    base = pack(ENGINE)
    for job, told in (
        ("The unit leaks and is renewed. Its flange is dowelled.", "The unit leaks and is renewed."),
        ("The unit of set No. 4 leaks. It is renewed, see Fig. B 2.", "The unit of set No. 4 leaks."),
        ("The unit of set No. Four leaks", "The unit of set No. Four leaks"),
    ):
        other = base.model_copy(update={"engine": base.engine.model_copy(update={"job": job})})
        item, _ = drawn("sequence/fate-of-parts", other)
        assert {given.label: given.value for given in item.given}["The job"] == told


def test_what_asks_about_no_danger_needs_none() -> None:
    drawn("sequence/which-missing", changed((r"^dangerous = true\n", "")))


def test_unknown_misconception_in_a_pack_is_named() -> None:
    wrong = changed((r'shows = "lock-left-on"', 'shows = "lock-left-in"'))
    # Whoever draws long enough meets the edge.
    with pytest.raises(ItemError) as caught:
        [drawn("sequence/put-in-order", wrong, seed) for seed in range(400)]
    assert caught.value.value == "lock-left-in"
    assert caught.value.place in {"dunlin: pin-back before screws-loose", "dunlin: holder-on before screws-loose"}
