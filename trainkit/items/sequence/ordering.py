"""Templates whose answer is a place: put in order, and put in the step that was forgotten."""

from __future__ import annotations

import random
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.difficulty import tens_of_words
from trainkit.items.facts import Draw
from trainkit.items.hurrying import moved_behind
from trainkit.items.kinds import Card, InsertItem, InsertKey, OrderItem, OrderKey
from trainkit.items.sequence.cards import (
    Variant,
    bonds,
    cards,
    lettered,
    quoted,
    sentence,
    variant,
)
from trainkit.items.sequence.example import OnExample
from trainkit.items.sequence.gathering import gather
from trainkit.items.template import Redraw, redraw_if

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from trainkit.packs import Pack
    from trainkit.procedures import Procedure


# Lines of a list, the forgotten one among them, and so many places where that one may stand.
LINES, MOST_PLACES = 7, 2
# So many cards are put in order: oftener the more, of which there are more sets.
_CARDS = (7, 8, 8)
# So many lists are gathered for one place; steps that stand first or last in many lists are fewer than others.
_TRIES = 60


class PutInOrder(OnExample):
    """Seven or eight steps of the work are to be put in order.

    Difficulty: the cards; the pairs of them that may stand either way, each of which makes it easier; the words to
    read, in tens.
    """

    name = "sequence/put-in-order"
    skill = "put steps of the work in a safe order"
    kind = "order"
    weights = MappingProxyType({"cards": 1.0, "either way": -0.25, "tens of words": 0.25})

    def __init__(self, wanted: Iterable[str] = ()) -> None:
        self._wanted = tuple(sorted(wanted))

    def aimed(self, shows: Iterable[str], /) -> PutInOrder:
        """Return a template whose cards oftener have the pairs that show these."""
        return PutInOrder(shows)

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> Draw:
        """Draw once."""
        chosen = variant(rng, pack)
        part = gather(rng, chosen, rng.choice(_CARDS), wanted=self._wanted)
        redraw_if(_hidden(chosen, part))
        letters = lettered(part.steps, shuffle)
        shown = cards(chosen, letters)
        item = OrderItem(
            prompt="Put these steps in an order that harms neither people nor the engine. "
            "Other steps of the work lie between them and are done at their time.",
            given=chosen.given,
            cards=shown,
        )
        key = OrderKey(
            template=self.name,
            working=_working(chosen, part),
            cards={card.id: card.text for card in shown},
            bonds=bonds(chosen, part, letters),
        )
        count = len(part.steps)
        features = {
            "cards": count,
            "either way": count * (count - 1) // 2 - len(part.pairs),
            "tens of words": tens_of_words(card.text for card in shown),
        }
        return Draw(item, key, features)


class ForgottenStep(OnExample):
    """A step is to be put into a written order that lacks it.

    Difficulty: the lines that have nothing to do with the missing step, neither before nor after it; a second place
    that is right, which makes it easier; the words to read, in tens.
    """

    name = "sequence/forgotten-step"
    skill = "find the place of a step that was forgotten"
    kind = "insert"
    weights = MappingProxyType({"idle lines": 0.5, "second place": -1.0, "tens of words": 0.25})

    def __init__(self, wanted: Iterable[str] = ()) -> None:
        self._wanted = tuple(sorted(wanted))

    def aimed(self, shows: Iterable[str], /) -> ForgottenStep:
        """Return a template whose lists oftener have the pairs that show these."""
        return ForgottenStep(shows)

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> Draw:
        """Draw once."""
        chosen = variant(rng, pack)
        # The place comes first, each as often, so that no place is the best guess.
        part, order, missing = _lacking_one(rng, chosen, rng.randrange(LINES), self._wanted)
        written = [step for step in order if step != missing]
        places = part.places(written, missing)
        letters = lettered(part.steps, shuffle)
        item = InsertItem(
            prompt="One step was forgotten when this list was written. Put it where it belongs. "
            "Other steps of the work lie between those listed.",
            given=chosen.given,
            written=tuple(Card(id=letters[step], text=chosen.text(step)) for step in written),
            missing=Card(id=letters[missing], text=chosen.text(missing)),
        )
        touching = [edge for edge in part.before if missing in (edge.before, edge.after)]
        key = InsertKey(
            template=self.name,
            working=(
                *(sentence(chosen, edge) for edge in touching),
                f"So {_where(chosen, written, places)}.",
            ),
            right=places,
            written=tuple(letters[step] for step in written),
            missing=letters[missing],
            cards={letters[step]: chosen.text(step) for step in part.steps},
            bonds=bonds(chosen, part, letters),
        )
        tied = {end for edge in touching for end in (edge.before, edge.after)}
        features = {
            "idle lines": len(written) - len(tied - {missing}),
            "second place": len(places) > 1,
            "tens of words": tens_of_words(key.cards.values()),
        }
        return Draw(item, key, features)


def _lacking_one(
    rng: random.Random, chosen: Variant, place: int, wanted: Iterable[str]
) -> tuple[Procedure, tuple[str, ...], str]:
    """Gather steps in a right order whose step at a place fits at that place and at one beside it at the most."""
    for _ in range(_TRIES):
        try:
            part = gather(rng, chosen, LINES, wanted=wanted)
        except Redraw:
            continue
        order = part.random_valid_order(rng)
        missing = order[place]
        if len(part.places([step for step in order if step != missing], missing)) <= MOST_PLACES:
            return part, order, missing
    raise Redraw


def _where(chosen: Variant, written: Sequence[str], places: Sequence[int]) -> str:
    """Say where a forgotten step stands."""
    behind = [quoted(chosen.text(written[places[0] - 1]))] if places[0] else []
    before = [quoted(chosen.text(written[places[-1]]))] if places[-1] < len(written) else []
    ends = [*(f"behind {step}" for step in behind), *(f"before {step}" for step in before)]
    return f"it stands {' and '.join(ends)}"


def _hidden(chosen: Variant, part: Procedure) -> bool:
    """Tell whether a misconception is hidden behind another: the order that it gives would be read as the other."""
    order = part.repair(part.steps).order
    codes = {edge: chosen.shows(edge) for edge in part.before}
    # In this order marking looks at them: what is dangerous goes first.
    seen = sorted(codes, key=lambda edge: not edge.dangerous)
    for edge, code in codes.items():
        if not code:
            continue
        place = {step: at for at, step in enumerate(moved_behind(order, edge))}
        first = next(one for one in seen if codes[one] and place[one.before] > place[one.after])
        if codes[first] != code:
            return True
    return False


def _working(chosen: Variant, part: Procedure) -> tuple[str, ...]:
    order = part.repair(part.steps).order
    count = part.count_orders()
    closing = (
        "This is the only right order of these cards" if count == 1 else f"{count} orders of these cards are right"
    )
    return (
        *(sentence(chosen, edge) for edge in part.before),
        f"{closing}, {'' if count == 1 else 'one of them: '}" + "; ".join(chosen.text(step) for step in order) + ".",
    )
