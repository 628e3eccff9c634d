"""Cards: a handful of steps whose order is mostly settled, and how they are shown."""

from __future__ import annotations

import random
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from trainkit.items.item import Card, Given, Option
from trainkit.items.key import Bond
from trainkit.items.sequence.misconceptions import shown_by
from trainkit.items.template import Redraw, shuffled

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit.procedures import Edge, Procedure

__all__ = [
    "Variant",
    "bonds",
    "cards",
    "gather",
    "lettered",
    "numbered",
    "options",
    "quoted",
    "sentence",
    "variant",
    "wrong_way_round",
]

T = TypeVar("T", bound=Hashable)

LETTERS = "abcdefgh"
# Of all pairs of cards at least this part has an order; the rest may stand either way.
SETTLED = 0.8
# An edge that bridges more steps than this has a reason that nobody can follow on a card.
BRIDGED = 1


@dataclass(frozen=True, slots=True)
class Variant:
    """One configuration of the pack, drawn: its steps in their partial order, and the lines that say which it is."""

    pack: Pack
    configuration: str
    procedure: Procedure

    @property
    def given(self) -> tuple[Given, ...]:
        """The engine and its variant, as they stand under the question."""
        rows = [Given(label="Engine", value=self.pack.title)]
        if self.pack.configurations:
            rows.append(Given(label="This set is", value=self._name(self.configuration)))
            others = [c.id for c in self.pack.configurations if c.id != self.configuration]
            rows += [Given(label="It is not", value="; ".join(self._name(c) for c in others))] if others else []
        return tuple(rows)

    def _name(self, configuration: str) -> str:
        return self.pack.configuration(configuration).name if configuration else "the standard one"

    def text(self, step: str) -> str:
        """Return what is done in a step."""
        return self.pack.step(step).text.rstrip(".")


def variant(rng: random.Random, pack: Pack) -> Variant:
    """Draw a configuration, half of the time the standard one."""
    names = [configuration.id for configuration in pack.configurations]
    name = rng.choice(names) if names and rng.random() < 0.5 else ""
    return Variant(pack, name, pack.procedure(name))


def gather(rng: random.Random, chosen: Variant, count: int, start: Sequence[str] = ()) -> Procedure:
    """Gather so many steps that hang together, and return their order.

    It begins with a dangerous pair, or with ``start``, and takes in neighbours, such as have an order with most of
    the steps that are there already.

    Raises
    ------
    Redraw
        If too few pairs have an order, or one only by way of many steps that are not there.
    """
    whole = chosen.procedure
    neighbours: dict[str, dict[str, None]] = {step: {} for step in whole.steps}
    for edge in whole.before:
        neighbours[edge.before][edge.after] = None
        neighbours[edge.after][edge.before] = None
    if not start:
        dangerous = [edge for edge in whole.before if edge.dangerous]
        if not dangerous:
            raise Redraw
        first = rng.choice(dangerous)
        start = (first.before, first.after)
    taken = list(start)
    while len(taken) < count:
        near = list(dict.fromkeys(step for one in taken for step in neighbours[one] if step not in taken))
        if not near:
            raise Redraw
        weights = [
            1 + sum(whole.comes_before(step, one) or whole.comes_before(one, step) for one in taken) ** 3
            for step in near
        ]
        taken += rng.choices(near, weights)
    part = whole.among(taken)
    if len(part.pairs) < SETTLED * count * (count - 1) / 2:
        raise Redraw
    for edge in part.before:
        if edge.via:
            chain = whole.why(edge.before, edge.after)
            # Harm that lies in a step which is not there can neither be asked about nor be marked fairly.
            if len(edge.via) > BRIDGED or any(one.dangerous for one in chain) != edge.dangerous:
                raise Redraw
    if len({chosen.text(step) for step in taken}) < count:
        raise Redraw
    return part


def lettered(things: Iterable[T], shuffle: random.Random) -> dict[T, str]:
    """Give each card or option a letter, in the order in which they are shown, so that the letter tells nothing."""
    return dict(zip(shuffled(things, shuffle), LETTERS, strict=False))


def cards(chosen: Variant, letters: dict[str, str]) -> tuple[Card, ...]:
    """Return the cards as they are shown."""
    return tuple(Card(id=letter, text=chosen.text(step)) for step, letter in letters.items())


def options(texts: dict[T, str], letters: dict[T, str]) -> tuple[Option, ...]:
    """Return the options as they are shown; ``texts`` has what each says."""
    return tuple(Option(id=letter, text=texts[what]) for what, letter in letters.items())


def numbered(chosen: Variant, order: Sequence[str]) -> tuple[Given, ...]:
    """Return a written order as numbered lines."""
    return tuple(Given(label=str(number), value=chosen.text(step)) for number, step in enumerate(order, 1))


def bonds(chosen: Variant, part: Procedure, letters: dict[str, str]) -> tuple[Bond, ...]:
    """Return the precedence among cards for a key, with what each pair shows when it is broken."""
    return tuple(
        Bond(
            before=letters[edge.before],
            after=letters[edge.after],
            reason=edge.reason,
            dangerous=edge.dangerous,
            misconception=shown_by(chosen.pack, edge),
        )
        for edge in part.before
    )


def wrong_way_round(part: Procedure, order: Sequence[str]) -> list[Edge]:
    """Return the edges that an order breaks."""
    place = {step: at for at, step in enumerate(order)}
    return [edge for edge in part.before if place[edge.before] > place[edge.after]]


def quoted(text: str) -> str:
    """Return a step's text in quotation marks."""
    return f"“{text}”"


def sentence(chosen: Variant, edge: Edge) -> str:
    """Say one precedence with its reason."""
    return f"{quoted(chosen.text(edge.before))} comes before {quoted(chosen.text(edge.after))}: {edge.reason}"
