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
    gather,
    lettered,
    quoted,
    sentence,
    variant,
)
from trainkit.items.template import Template, redraw_if

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit.procedures import Procedure


class PutInOrder(Template):
    """Seven or eight steps of the work are to be put in order.

    Difficulty: the cards; the pairs of them that may stand either way, each of which makes it easier; the words to
    read, in tens.
    """

    name = "sequence/put-in-order"
    skill = "put steps of the work in a safe order"
    kind = "order"
    weights = MappingProxyType({"cards": 1.0, "either way": -0.25, "tens of words": 0.25})

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> Draw:
        """Draw once."""
        chosen = variant(rng, pack)
        part = gather(rng, chosen, rng.choice((7, 8)))
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


class ForgottenStep(Template):
    """A step is to be put into a written order that lacks it.

    Difficulty: the lines that have nothing to do with the missing step, neither before nor after it; a second place
    that is right, which makes it easier; the words to read, in tens.
    """

    name = "sequence/forgotten-step"
    skill = "find the place of a step that was forgotten"
    kind = "insert"
    weights = MappingProxyType({"idle lines": 0.5, "second place": -1.0, "tens of words": 0.25})

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> Draw:
        """Draw once."""
        chosen = variant(rng, pack)
        part = gather(rng, chosen, 7)
        order = part.random_valid_order(rng)
        # A step with something to wait for and something that waits for it; its place is then a thought, not a guess.
        missing = rng.choice(order[1:-1])
        written = [step for step in order if step != missing]
        places = part.places(written, missing)
        redraw_if(len(places) > 2 or places[0] == 0 or places[-1] == len(written))
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
                f"So it stands behind {quoted(chosen.text(written[places[0] - 1]))} "
                f"and before {quoted(chosen.text(written[places[-1]]))}.",
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
