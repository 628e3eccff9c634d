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
from trainkit.items.template import shuffled
from trainkit.procedures.edges import joined

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit.procedures import Edge, Procedure


T = TypeVar("T", bound=Hashable)

LETTERS = "abcdefgh"
# An edge that bridges more steps than this has a reason that nobody can follow on a card.
BRIDGED = 3
# Cards lie at most so many edges apart from one that is there already: near enough to have to do with it, and far
# enough that the same few cards do not come together again and again.
REACH = 3


@dataclass(frozen=True, eq=False)  # each pack has its own, worked out once
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
    _unfit: dict[tuple[int, int], bool] = field(default_factory=dict, repr=False)

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
        return tuple(group for code, group in self._by_code(self.dangerous).items() if code)

    @cached_property
    def showing(self) -> Mapping[str, tuple[Edge, ...]]:
        """For each misconception the edges whose wrong order shows it, such as bridge no step."""
        return MappingProxyType(self._by_code(dict.fromkeys((*self.written, *self.dangerous))))

    def _by_code(self, edges: Iterable[Edge]) -> dict[str, tuple[Edge, ...]]:
        groups: dict[str, list[Edge]] = {}
        for edge in edges:
            groups.setdefault(self.shows(edge), []).append(edge)
        return {code: tuple(group) for code, group in groups.items()}

    @property
    def own(self) -> tuple[str, ...]:
        """The steps that are done in this configuration and not in the standard one."""
        return self.pack.configuration(self.configuration).own if self.configuration else ()

    @cached_property
    def around(self) -> Mapping[str, tuple[str, ...]]:
        """For each step those that lie at most :data:`REACH` edges away."""
        found = {}
        for step in self.procedure.steps:
            near = dict.fromkeys([step])
            for _ in range(REACH):
                near |= dict.fromkeys(other for one in list(near) for other in self.neighbours[one])
            del near[step]
            found[step] = tuple(near)
        return MappingProxyType(found)

    @cached_property
    def free_pairs(self) -> tuple[tuple[str, str], ...]:
        """The pairs without an order that wait for the same step, or that the same step waits for."""
        near: dict[tuple[str, str], None] = {}
        for one, other in combinations(_near(self.pack, self.procedure), 2):
            if one.before == other.before:
                near[one.after, other.after] = None
            elif one.after == other.after:
                near[one.before, other.before] = None
        # Two steps may be near each other both ways.
        once = {frozenset(pair): pair for pair in near}
        return tuple(pair for pair in once.values() if pair[1] not in self.kin[pair[0]])

    @cached_property
    def tied(self) -> Mapping[str, int]:
        """For each step all others with which it has an order, as a mask of step numbers."""
        relation = self.procedure.relation
        return MappingProxyType(
            {step: relation.after[number] | relation.before[number] for step, number in relation.numbers.items()}
        )

    def hangs_together(self, steps: Iterable[str]) -> bool:
        """Tell whether what orders some steps through others that are not there can be followed, and marked fairly."""
        relation = self.procedure.relation
        mask = sum(1 << relation.numbers[step] for step in steps)
        return not any(mask & both == both for both in self._far) and not any(
            self._bridged(*pair) for pair in relation.left_open(mask)
        )

    @cached_property
    def _far(self) -> tuple[int, ...]:
        """The pairs, as masks of step numbers, whose own edge bridges too many steps that this variant lacks."""
        numbers = self.procedure.relation.numbers
        return tuple(
            1 << numbers[edge.before] | 1 << numbers[edge.after]
            for edge in self.procedure.before
            if len(edge.via) > BRIDGED
        )

    def _bridged(self, first: int, second: int) -> bool:
        """Tell whether the chain between two steps, by their numbers, is too long or holds harm that cannot be marked.

        Harm that lies in a step which is not there can neither be asked about nor be marked fairly.
        """
        if (first, second) not in self._unfit:
            relation = self.procedure.relation
            one, other = relation.steps[first], relation.steps[second]
            chain = relation.why(one, other)
            via = joined(chain, dangerous=False).via
            harm = any(edge.dangerous for edge in chain)
            self._unfit[first, second] = len(via) > BRIDGED or harm != relation.has(relation.danger, one, other)
        return self._unfit[first, second]

    @cached_property
    def by_reason(self) -> Mapping[str, tuple[Edge, ...]]:
        """For each reason the pairs that have it, those too that follow from others."""
        from trainkit.packs.mechanics import written
        from trainkit.packs.precedences import all_edges

        known, edges, _ = written(self.pack, self.configuration)
        found: dict[str, list[Edge]] = {}
        for edge in all_edges(self.pack, self.configuration, known, edges):
            found.setdefault(edge.reason, []).append(edge)
        return MappingProxyType({reason: tuple(those) for reason, those in found.items()})

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
