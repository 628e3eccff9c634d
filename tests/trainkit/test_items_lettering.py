"""One draw in many orders: the same question, the same marks, and nothing left of the order that it was drawn in."""

from __future__ import annotations

import itertools
import random
import re
from collections import Counter
from typing import Any

import pytest

from tests.trainkit.draws import drawn
from trainkit import packs
from trainkit.items.difficulty import digits, uneven
from trainkit.items.kinds import (
    ChoiceItem,
    ChoiceKey,
    GridItem,
    GridKey,
    InsertItem,
    Item,
    Option,
    OrderItem,
    SeveralItem,
    SeveralKey,
)
from trainkit.items.lettering import discussed_as_shown, relettered
from trainkit.items.marking import mark
from trainkit.items.reading import read_item, read_key
from trainkit.items.template import find, names


def responses(item: Item, rng: random.Random) -> list[tuple[Any, dict[str, Any]]]:
    """Answers, each with what it says in words, so that the same one can be found in another order."""
    if isinstance(item, ChoiceItem):
        return [(option.text, {"kind": "choice", "option": option.id}) for option in item.options]
    if isinstance(item, SeveralItem):
        taken = [rng.sample(item.options, count) for count in range(len(item.options) + 1)]
        return [
            (frozenset(one.text for one in some), {"kind": "several", "options": [one.id for one in some]})
            for some in taken
        ]
    if isinstance(item, OrderItem):
        orders = [rng.sample(item.cards, len(item.cards)) for _ in range(6)]
        return [
            (tuple(card.text for card in order), {"kind": "order", "cards": [card.id for card in order]})
            for order in orders
        ]
    if isinstance(item, GridItem):
        filled = [[(row, rng.choice(item.columns).id) for row in item.rows[: rng.randrange(7)]] for _ in range(8)]
        return [
            (
                frozenset((row.text, column) for row, column in some),
                {"kind": "grid", "rows": {row.id: column for row, column in some}},
            )
            for some in filled
        ]
    if isinstance(item, InsertItem):
        return [(place, {"kind": "insert", "place": place}) for place in range(len(item.written) + 1)]
    return []


def again(item: Item, said: Any) -> dict[str, Any]:
    """The same answer in another order of options or cards."""
    if isinstance(item, ChoiceItem):
        return {"kind": "choice", "option": next(option.id for option in item.options if option.text == said)}
    if isinstance(item, SeveralItem):
        return {"kind": "several", "options": [option.id for option in item.options if option.text in said]}
    if isinstance(item, OrderItem):
        return {"kind": "order", "cards": [next(c.id for c in item.cards if c.text == text) for text in said]}
    if isinstance(item, GridItem):
        where = dict(said)
        return {"kind": "grid", "rows": {row.id: where[row.text] for row in item.rows if row.text in where}}
    return {"kind": "insert", "place": said}


@pytest.mark.parametrize("name", names())
def test_the_same_answer_gets_the_same_mark(name: str) -> None:
    for seed in range(6):
        item, key = drawn(name, seed=seed, shuffle=1)
        other, its_key = relettered(item, key, random.Random(seed))
        assert read_item(other.model_dump(mode="json")) == other
        assert read_key(its_key.model_dump(mode="json")) == its_key
        assert (other.prompt, other.given, other.figure, other.points) == (
            item.prompt, item.given, item.figure, item.points,
        )  # fmt: skip
        for said, given in responses(item, random.Random(seed)):
            one, two = mark(item, key, given), mark(other, its_key, again(other, said))
            # Of several wrong options or rows the one that stands first is named.
            assert (one.points, one.verdict, one.critical) == (two.points, two.verdict, two.critical)
            if not isinstance(item, SeveralItem | GridItem):
                assert one == two


@pytest.mark.parametrize("name", names())
def test_the_order_drawn_leaves_no_trace(name: str) -> None:
    for seed in range(4):
        one, other = (relettered(*drawn(name, seed=seed, shuffle=shuffle), random.Random(7)) for shuffle in (1, 2))
        assert one[0] == other[0]
        assert one[1].model_dump() == other[1].model_dump()


def test_every_place_is_as_likely() -> None:
    item, key = drawn("torque-units/odd-pair", seed=3, shuffle=1)
    places = Counter(relettered(item, key, random.Random(seed))[1].right for seed in range(400))  # type: ignore[union-attr]  # a choice
    assert set(places) == set("abcd")
    assert min(places.values()) > 70


def test_letters_follow_the_order_on_the_page() -> None:
    for name, part in (("torque-units/odd-pair", "options"), ("sequence/put-in-order", "cards")):
        for seed in range(12):
            item, _ = relettered(*drawn(name, seed=2, shuffle=1), random.Random(seed))
            shown = [entry.id for entry in getattr(item, part)]
            assert shown == list("abcdefgh"[: len(shown)])


def test_rows_of_a_grid_move_with_what_is_right() -> None:
    rows = tuple(Option(id=one, text=text) for one, text in zip("pqr", ("seal", "cover", "pin"), strict=True))
    columns = (Option(id="new", text="renew"), Option(id="old", text="refit"))
    item = GridItem(prompt="What becomes of each?", rows=rows, columns=columns)
    key = GridKey(
        template="t/t", working=("So.",), right={"p": "new", "q": "old", "r": "old"}, shows={"p old": "seal-reused"},
        critical=("p old",), reasons={"p": "It seals once."},
    )  # fmt: skip
    seen = set()
    for seed in range(20):
        other, its_key = relettered(item, key, random.Random(seed))
        assert isinstance(other, GridItem)
        assert isinstance(its_key, GridKey)
        by_text = {row.text: row.id for row in other.rows}
        assert its_key.right == {by_text["seal"]: "new", by_text["cover"]: "old", by_text["pin"]: "old"}
        assert its_key.shows == {f"{by_text['seal']} old": "seal-reused"}
        assert its_key.critical == (f"{by_text['seal']} old",)
        assert its_key.reasons == {by_text["seal"]: "It seals once."}
        assert other.columns == columns
        seen.add(tuple(row.text for row in other.rows))
    assert seen == set(itertools.permutations(("seal", "cover", "pin")))


@pytest.mark.parametrize(
    ("text", "count"),
    [("31\u2009N·m (23\u2009lbf·ft)", 4), ("100\u2009N·m", 1), ("0.05\u2009mm", 1), ("", 0), ("none", 0), ("1.356", 4)],
)
def test_digits_that_have_to_be_carried_along(text: str, count: int) -> None:
    assert digits(text) == count


@pytest.mark.parametrize(
    ("text", "takes_thought"), [("0.1\u2009N·m", False), ("10\u2009N·m", False), ("2\u2009N·m", True), ("", False)]
)
def test_steps_that_take_thought(text: str, takes_thought: bool) -> None:
    assert uneven(text) is takes_thought


# Templates whose working says something of each option or row.
DISCUSSED = (
    *("torque-units/odd-pair", "torque-units/which-settings", "torque-units/which-wrench", "tightening/not-again"),
    *("tightening/which-are-finished", "lash-and-timing/harmless-movement", "turning-direction/turn-alike"),
    *("sequence/either-order", "sequence/fate-of-parts"),
)


@pytest.mark.parametrize("name", DISCUSSED)
def test_options_are_discussed_in_the_order_in_which_they_are_shown(name: str) -> None:
    def spoken_of(item: Item, key: Any) -> list[int]:
        """The places of the options in the order of the working: by words, by steps that are quoted, or by reason."""
        things = item.rows if isinstance(item, GridItem) else item.options  # type: ignore[union-attr]
        heads = [thing.text.rstrip(".").casefold() for thing in things]
        found = []
        for line in map(str.casefold, key.working):
            opened = [place for place, head in enumerate(heads) if line.startswith(head)]
            quoted = [
                place
                for place, head in enumerate(heads)
                if (steps := re.findall("“[^”]*”", head)) and all(step in line for step in steps)
            ]
            because = [n for n, thing in enumerate(things) if key.reasons.get(thing.id, "").casefold().startswith(line)]
            if opened or quoted or because:
                found.append(max(opened or quoted or because, key=lambda place: len(heads[place])))
        return found

    for seed in range(6):
        item, key = find(name).draw(random.Random(seed), packs.load("dunlin"))
        other, its_key = relettered(item, key, random.Random(seed + 100))
        assert Counter(its_key.working) == Counter(key.working)
        for shown, known in ((item, key), (other, its_key)):
            assert isinstance(known, ChoiceKey | SeveralKey | GridKey)
            found = spoken_of(shown, known)
            assert list(dict.fromkeys(found)) == list(range(len(known.reasons))), (seed, shown, known.working)


def test_lines_about_no_option_stay_where_they_are() -> None:
    item = SeveralItem(
        prompt="Which?", options=tuple(Option(id=one, text=text) for one, text in zip("abc", "XYZ", strict=True))
    )
    lines = ("Look.", "Z: loose.", "Again.", "X: tight.", "So.")
    key = SeveralKey(template="t/t", working=lines, right=("x",))
    assert discussed_as_shown(item, key).working == ("Look.", "X: tight.", "Again.", "Z: loose.", "So.")
    # One that is about no option at all is not touched.
    plain = key.model_copy(update={"working": ("Look.", "So.")})
    assert discussed_as_shown(item, plain) is plain
