"""Cards: a handful of steps whose order is mostly settled, and how they are shown."""

from __future__ import annotations

import random
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar

from trainkit.items.kept import once_a_pack
from trainkit.items.kinds import Bond, Card, Given
from trainkit.items.sequence.misconceptions import shown_by
from trainkit.items.template import redraw_if, shuffled

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit.procedures import Edge, Procedure


T = TypeVar("T", bound=Hashable)

LETTERS = "abcdefgh"
# Of all pairs of cards at least this part has an order; the rest may stand either way. Seven or more cards so bound
# need 2.9 moves or more on average when they lie by chance, so that luck earns little.
SETTLED = 0.8
# An edge that bridges more steps than this has a reason that nobody can follow on a card.
BRIDGED = 1


@dataclass(frozen=True)
class Variant:
    """One configuration of the pack: its steps in their partial order, and the lines that say which it is.

    Parameters
    ----------
    pack : Pack
        The engine.
    configuration : str
        Identifier, or nothing for the standard one.
    procedure : Procedure
        The order of its steps.
    given : tuple of Given
        The engine and its variant, as they stand under the question.
    texts : mapping of str to str
        What is done in each step of the pack.
    neighbours : mapping of str to tuple of str
        For each step those that an edge ties to it.
    kin : mapping of str to frozenset of str
        For each step all others with which it has an order.
    dangerous, written : tuple of Edge
        The dangerous edges, and those that bridge no step left out; of those that follow by themselves only such as
        have no other step in between. Work waits for isolation step by step, and that would be asked of every step.
    """

    pack: Pack
    configuration: str
    procedure: Procedure
    given: tuple[Given, ...]
    texts: Mapping[str, str]
    neighbours: Mapping[str, tuple[str, ...]]
    kin: Mapping[str, frozenset[str]]
    dangerous: tuple[Edge, ...]
    written: tuple[Edge, ...]
    _shows: dict[tuple[str, str], str] = field(default_factory=dict, repr=False)

    @classmethod
    def of(cls, pack: Pack, configuration: str) -> Variant:
        """Work out a configuration."""
        procedure = pack.procedure(configuration)
        neighbours: dict[str, dict[str, None]] = {step: {} for step in procedure.steps}
        near = tuple(_near(pack, procedure))
        for edge in near:
            neighbours[edge.before][edge.after] = None
            neighbours[edge.after][edge.before] = None
        kin: dict[str, set[str]] = {step: set() for step in procedure.steps}
        for pair in procedure.pairs:
            kin[pair.before].add(pair.after)
            kin[pair.after].add(pair.before)
        return cls(
            pack,
            configuration,
            procedure,
            _described(pack, configuration),
            MappingProxyType({step.id: step.text.rstrip(".") for step in pack.steps}),
            MappingProxyType({step: tuple(near) for step, near in neighbours.items()}),
            MappingProxyType({step: frozenset(others) for step, others in kin.items()}),
            tuple(edge for edge in procedure.before if edge.dangerous),
            tuple(edge for edge in near if not edge.via),
        )

    def text(self, step: str) -> str:
        """Return what is done in a step."""
        return self.texts[step]

    def shows(self, edge: Edge) -> str:
        """Return the code of the misconception that the wrong order of an edge's steps shows, or nothing.

        Looked up once for each edge of the variant; what stands for a chain of edges is looked up each time.
        """
        if edge.via:
            return shown_by(self.pack, edge)
        pair = edge.before, edge.after
        if pair not in self._shows:
            self._shows[pair] = shown_by(self.pack, edge)
        return self._shows[pair]

    @cached_property
    def telling(self) -> tuple[tuple[Edge, ...], ...]:
        """The dangerous edges whose wrong order shows a misconception, one group for each misconception."""
        groups: dict[str, list[Edge]] = {}
        for edge in self.dangerous:
            groups.setdefault(self.shows(edge), []).append(edge)
        return tuple(tuple(group) for code, group in groups.items() if code)

    @cached_property
    def free_pairs(self) -> tuple[tuple[str, str], ...]:
        """The pairs without an order that wait for the same step, or that the same step waits for."""
        near: dict[tuple[str, str], None] = {}
        for one, other in combinations(_near(self.pack, self.procedure), 2):
            if one.before == other.before:
                near[one.after, other.after] = None
            elif one.after == other.after:
                near[one.before, other.before] = None
        return tuple(pair for pair in near if pair[1] not in self.kin[pair[0]])

    @cached_property
    def reasons(self) -> Mapping[str, frozenset[str]]:
        """For each step the reasons of all pairs that it has a part in, those too that follow from others."""
        from trainkit.packs.mechanics import written
        from trainkit.packs.precedences import all_edges

        known, edges, _ = written(self.pack, self.configuration)
        found: dict[str, set[str]] = {step: set() for step in known}
        for edge in all_edges(self.pack, self.configuration, known, edges):
            found[edge.before].add(edge.reason)
            found[edge.after].add(edge.reason)
        return MappingProxyType({step: frozenset(reasons) for step, reasons in found.items()})

    @cached_property
    def touched(self) -> Mapping[str, frozenset[tuple[str, str]]]:
        """For each step of the pack the parts, fasteners and special tools that it has to do with."""
        return MappingProxyType({step.id: frozenset(_touched(self.pack, step.id)) for step in self.pack.steps})


def _near(pack: Pack, procedure: Procedure) -> Iterator[Edge]:
    """Yield the written edges, and those that follow by themselves where no other step lies in between."""
    own = {(edge.before, edge.after) for edge in pack.precedence}
    relation = procedure.relation
    for edge in procedure.before:
        cover = relation.covers[relation.numbers[edge.before]] >> relation.numbers[edge.after] & 1
        if edge.via or (edge.before, edge.after) in own or cover:
            yield edge


def _touched(pack: Pack, name: str) -> Iterator[tuple[str, str]]:
    step = pack.step(name)
    yield from (("part", part) for part in step.parts)
    yield from (("fastener", fastener) for fastener in (step.fastener, step.loosens) if fastener)
    # Spanners and wrenches serve everywhere; what is made for one job ties two steps together.
    if step.tool and pack.tool(step.tool).kind not in {"spanner", "torque-wrench"}:
        yield "tool", step.tool


def _described(pack: Pack, configuration: str) -> tuple[Given, ...]:
    rows = [Given(label="Engine", value=pack.title)]
    if pack.configurations:
        rows.append(Given(label="This set is", value=_name(pack, configuration)))
        others = [c.id for c in pack.configurations if c.id != configuration]
        rows += [Given(label="It is not", value="; ".join(_name(pack, c) for c in others))] if others else []
    return tuple(rows)


def _name(pack: Pack, configuration: str) -> str:
    return pack.configuration(configuration).name if configuration else "the standard one"


@once_a_pack
def variants(pack: Pack) -> Mapping[str, Variant]:
    """Return all configurations of a pack by their identifiers, the standard one under an empty one."""
    names = ["", *(configuration.id for configuration in pack.configurations)]
    return MappingProxyType({name: Variant.of(pack, name) for name in names})


def variant(rng: random.Random, pack: Pack) -> Variant:
    """Draw a configuration, half of the time the standard one."""
    known = variants(pack)
    names = [name for name in known if name]
    return known[rng.choice(names) if names and rng.random() < 0.5 else ""]


def gather(rng: random.Random, chosen: Variant, count: int, start: Sequence[str] = ()) -> Procedure:
    """Gather so many steps that hang together, and return their order.

    It begins with ``start``, or with a dangerous pair: where the pack has such, with one whose wrong order shows a
    misconception, each misconception as often. It takes in neighbours, such as have an order with most of the steps
    that are there already.

    Raises
    ------
    Redraw
        If too few pairs have an order, or one only by way of many steps that are not there.
    """
    taken = list(start)
    if not taken:
        redraw_if(not chosen.dangerous)
        first = rng.choice(rng.choice(chosen.telling or (chosen.dangerous,)))
        taken = [first.before, first.after]
    near = dict.fromkeys(step for one in taken for step in chosen.neighbours[one])
    while len(taken) < count:
        open_to = [step for step in near if step not in taken]
        redraw_if(not open_to)
        there = frozenset(taken)
        weights = [1 + len(chosen.kin[step] & there) ** 3 for step in open_to]
        (added,) = rng.choices(open_to, weights)
        taken.append(added)
        near |= dict.fromkeys(chosen.neighbours[added])
    there = frozenset(taken)
    settled = sum(len(chosen.kin[step] & there) for step in taken) / 2
    redraw_if(settled < SETTLED * count * (count - 1) / 2 or len({chosen.text(step) for step in taken}) < count)
    part = chosen.procedure.among(taken)
    for edge in part.before:
        if edge.via:
            chain = chosen.procedure.why(edge.before, edge.after)
            # Harm that lies in a step which is not there can neither be asked about nor be marked fairly.
            redraw_if(len(edge.via) > BRIDGED or any(one.dangerous for one in chain) != edge.dangerous)
    return part


def lettered(things: Iterable[T], shuffle: random.Random) -> dict[T, str]:
    """Give each card or option a letter, in the order in which they are shown, so that the letter tells nothing."""
    return dict(zip(shuffled(things, shuffle), LETTERS, strict=False))


def cards(chosen: Variant, letters: dict[str, str]) -> tuple[Card, ...]:
    """Return the cards as they are shown."""
    return tuple(Card(id=letter, text=chosen.text(step)) for step, letter in letters.items())


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
            misconception=chosen.shows(edge),
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
