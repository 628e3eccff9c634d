"""Steps of a pack in an order that somebody wrote down wrong, and why a step waits."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, islice
from typing import TYPE_CHECKING

from trainkit.procedures import Edge, Procedure
from trainkit.roles.taken import TAKEN

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from trainkit.packs import Pack
    from trainkit.procedures import Pair


@dataclass(frozen=True, slots=True)
class ExampleOrder:
    """Steps that somebody wrote down in an order that breaks dangerous pairs and no others.

    Parameters
    ----------
    procedure : Procedure
        What holds among these steps.
    written : tuple of str
        Their identifiers, in the order in which they were written down.
    texts : mapping of str to str
        What each step says.
    taken : bool
        Whether they are no steps of the pack.
    """

    procedure: Procedure[str]
    written: tuple[str, ...]
    texts: dict[str, str]
    taken: bool = False

    @property
    def lines(self) -> tuple[str, ...]:
        """The steps as they were written down, numbered."""
        return (
            *((f"Steps of which some are dangerous to exchange. {TAKEN}",) if self.taken else ()),
            *self.numbered(self.written),
        )

    def numbered(self, steps: Iterable[str]) -> tuple[str, ...]:
        """Return what steps say, numbered from 1."""
        return tuple(f"{number}. {self.texts[step]}." for number, step in enumerate(steps, start=1))

    def told(self, pair: Pair[str]) -> tuple[str, ...]:
        """Say what comes first of a pair that stands the wrong way round, what then, and why."""
        danger = " This is dangerous." if pair.dangerous else ""
        return (
            f"First: {self.texts[pair.before]}.",
            f"Then: {self.texts[pair.after]}.",
            f"Why: {pair.reason}{danger}",
        )


# Steps that belong to no engine, for a pack in which no order is dangerous.
_STEPS = {
    "lock-out": "Lock out the starting system",
    "bar-on": "Fit the barring tool",
    "pin-in": "Bar on until the lock pin seats",
    "bar-off": "Take the barring tool off",
    "loosen": "Loosen the nut of the gear",
    "first": "Tighten the nut to the first stage",
    "pin-out": "Take the lock pin out",
    "final": "Tighten the nut to the final stage",
}
_BONDS = (
    Edge("lock-out", "bar-on", "An engine that starts throws the bar.", True),
    Edge("bar-on", "pin-in", "The crank is turned with the barring tool only.", False),
    Edge("pin-in", "bar-off", "The bar brings the engine to the pin.", False),
    Edge("bar-off", "loosen", "A bar that is left on can turn the crank against the pin.", True),
    Edge("loosen", "first", "A nut that is still tight takes no stage.", False),
    Edge("first", "pin-out", "Until the nut holds, only the pin keeps the timing.", True),
    Edge("pin-out", "final", "Torque against the pin shears it.", True),
)


def bond(pack: Pack) -> tuple[str, str, str]:
    r"""Return what must come first, what waits for it before a joint is opened, and why: the first such pair in danger.

    Examples
    --------
    >>> from trainkit import packs
    >>> print(*bond(packs.load("dunlin")), sep="\n")
    With everybody clear and all stops released, try every start: panel, level switch, remote
    Take off the access cover of the gear case
    A start signal would turn the gears under your hands.
    """
    steps = {step.id: step for step in pack.steps_of()}
    own = [edge for edge in pack.precedence if edge.dangerous and edge.before in steps and edge.after in steps]
    first = min(own, key=lambda edge: not steps[edge.after].loosens, default=None)
    if first is None:
        return _STEPS["bar-off"], _STEPS["loosen"], _BONDS[3].reason
    return steps[first.before].text, steps[first.after].text, first.reason


def order(pack: Pack, number: int = 0) -> ExampleOrder:
    """Return some seven steps of the work with two dangerous pairs the wrong way round, or one where no two will do.

    Parameters
    ----------
    pack : Pack
        The engine and its work.
    number : int, optional
        Which of the orders that can be made, from 0; the last one where there are not so many.

    Notes
    -----
    Pairs are chosen in which a bar or a pin must be off before something is loosened or tightened, as far as there
    are such: they are what timing-critical work is about.
    """
    own = islice(_orders(pack), number + 1)
    return list(own)[-1]


def _orders(pack: Pack) -> Iterator[ExampleOrder]:
    for procedure, texts, telling, others in _grounds(pack):
        steps = tuple(texts)
        found = False
        for turned in _slips(telling, others):
            written = _written(procedure, steps, turned)
            if written:
                found = True
                yield ExampleOrder(procedure.among(written), written, texts, taken=texts is _STEPS)
        if found:
            return


def _grounds(pack: Pack) -> Iterator[tuple[Procedure[str], dict[str, str], list[_Slip], list[_Slip]]]:
    """Yield what orders can be made of, the pack's own work first: its dangerous pairs, the telling ones apart."""
    steps = {step.id: step for step in pack.steps_of()}
    tools = {tool.id: tool.kind for tool in pack.tools}
    own = [(e.before, e.after) for e in pack.precedence if e.dangerous and e.before in steps and e.after in steps]
    telling = [
        (before, after)
        for before, after in own
        if tools.get(steps[before].tool) in ("bar", "pin") and (steps[after].fastener or steps[after].loosens)
    ]
    others = [edge for edge in own if edge not in telling]
    yield pack.procedure(), {step.id: step.text for step in steps.values()}, telling, others
    yield Procedure(_STEPS, _BONDS), _STEPS, [("bar-off", "loosen"), ("pin-out", "final")], []


_Slip = tuple[str, str]


def _slips(telling: list[_Slip], others: list[_Slip]) -> Iterator[tuple[_Slip, ...]]:
    """Yield pairs to be turned round: two telling ones that lie far apart, then other twos, at last single ones."""
    edges = (telling + others)[:12]

    def late(two: tuple[_Slip, _Slip]) -> tuple[int, int]:
        return sum(edge not in telling for edge in two), -abs(edges.index(two[0]) - edges.index(two[1]))

    yield from sorted(combinations(edges, 2), key=late)
    yield from ((edge,) for edge in edges)


def _written(procedure: Procedure[str], steps: tuple[str, ...], turned: tuple[tuple[str, str], ...]) -> tuple[str, ...]:
    """Return some steps in an order that breaks just these pairs, or nothing where that cannot be."""
    named = {step for edge in turned for step in edge}
    right = [step for step in steps if step in named or step in _company(steps, named)]
    for before, after in turned:
        right.remove(before)
        right.insert(right.index(after) + 1, before)
    broken = {tuple(pair) for pair in procedure.among(right).judge(right).broken}
    return tuple(right) if broken == set(turned) else ()


def _company(steps: tuple[str, ...], named: set[str]) -> set[str]:
    """Return a few steps to stand among those that are meant: the first of all, and those just before each."""
    places = sorted(steps.index(step) for step in named)
    near = [steps[place - 1] for place in places if place and steps[place - 1] not in named]
    return {steps[0], *near[: max(7 - len(named) - 1, 0)]}
