"""What a worked example is about, chosen from a pack by the part it plays.

Such parts are the gear farthest from the crank, a joint in stages, an order with a dangerous slip. A workbook
explains whatever engine it is opened with, so its examples never name a part: they ask here for what they need. Where a
pack has no such thing, something simple is *taken* for the example, and the words say so.

Examples
--------
>>> from trainkit import packs
>>> pack = packs.load("dunlin")
>>> farthest_gear(pack).name
'coolant pump gear'
>>> joint(pack).all
'all 6 screws'
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from trainkit.items.tightening.joints import Bolts, joint_of, pattern_of, torque_of
from trainkit.items.torque_units.drawing import scale
from trainkit.packs import Fastener, Stage, Tool
from trainkit.procedures import Edge, Procedure
from trainkit.tightening import Joint, Pattern

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainkit.packs import Gear, Pack

__all__ = [
    "ExampleJoint",
    "ExampleOrder",
    "Reach",
    "component",
    "end",
    "farthest_gear",
    "joint",
    "lock_pin",
    "nearest_gear",
    "order",
    "pinned",
    "reach",
    "sense",
    "torqued",
    "watched",
]

_TAKEN = "This engine's pack has none, so an example is taken that belongs to no engine."
_COVER = Fastener(
    id="cover",
    name="screws of a cover",
    thread="M8",
    grade="8.8",
    count=6,
    pattern="circle",
    spread_mm=90,
    stages=(
        Stage(name="finger-tight"),
        Stage(name="first", torque=("10 N·m", "7 lbf·ft")),
        Stage(name="final", torque=("24 N·m", "18 lbf·ft")),
    ),
)
_WRENCH = Tool(id="wrench", name="torque wrench", kind="torque-wrench", unit="N·m", low=10, high=60, step=1, length=300)
_ADAPTER = Tool(id="adapter", name="ring adapter", kind="adapter", adapter_length=60)


# ---- words


def end(viewpoint: str) -> str:
    """Return what an end of the engine is called.

    Examples
    --------
    >>> end("flywheel"), end("front")
    ('the flywheel end', 'the front')
    """
    return "the front" if viewpoint == "front" else "the flywheel end"


def sense(pack: Pack) -> str:
    """Say how the engine runs.

    Examples
    --------
    >>> from trainkit import packs
    >>> sense(packs.load("dunlin"))
    'In service the crank turns clockwise, seen from the front.'
    """
    return f"In service the crank turns {pack.engine.rotation}, seen from {end(pack.engine.seen_from)}."


# ---- gears


def component(pack: Pack) -> Gear:
    """Return the gear whose timing the lock pin fixes."""
    return pack.gear(pack.lock_pin_table.component)


def pinned(pack: Pack) -> Gear:
    """Return the gear that takes the lock pin: the crank gear for a hole in the flywheel, which turns with it."""
    return _gear(pack, pack.lock_pin_table.hole_in)


def watched(pack: Pack) -> Gear:
    """Return the gear that bears the mark: the crank gear for a mark on the flywheel, which turns with it."""
    return _gear(pack, pack.lock_pin_table.watched)


def _gear(pack: Pack, name: str) -> Gear:
    return pack.gear(pack.crank if name == "flywheel" else name)


def farthest_gear(pack: Pack) -> Gear:
    """Return the gear that the most meshes part from the crank; of several the first of the pack."""
    return max(pack.gears, key=lambda gear: _meshes(pack, gear.id))


def nearest_gear(pack: Pack) -> Gear:
    """Return a gear that meshes with the crank gear itself; the component's own only where there is no other."""
    near = [gear for gear in pack.gears if _meshes(pack, gear.id) == 1 and gear.shaft != pack.gear(pack.crank).shaft]
    on_the_way = pack.train.path(pack.crank, component(pack).id).gears
    return min(near, key=lambda gear: gear.id in on_the_way, default=pack.gear(pack.crank))


def _meshes(pack: Pack, gear: str) -> int:
    return sum(leg.mesh.kind != "shaft" for leg in pack.train.path(pack.crank, gear).legs)


# ---- the lock pin


def lock_pin(pack: Pack) -> tuple[str, ...]:
    """Say where the pin goes, what is watched, from which end, and what tells the right dead centre.

    Examples
    --------
    >>> from trainkit import packs
    >>> for line in lock_pin(packs.load("dunlin")):
    ...     print(line)
    The lock pin holds the gear train while the fuel metering unit gear is set.
    It goes into a hole in the idler gear.
    The mark to watch is a witness tooth on the fuel metering unit gear. It is seen from the front.
    The right place is top dead centre of cylinder 1 on compression.
    The witness tooth tells it: it stands at its mark there, and nowhere else that the pin can go in.
    """
    table = pack.lock_pin_table
    hole = "the flywheel" if table.hole_in == "flywheel" else f"the {pack.gear(table.hole_in).name}"
    mark = "on the flywheel" if table.watched == "flywheel" else f"on the {pack.gear(table.watched).name}"
    tooth = "a witness tooth " if table.tells_stroke == "witness" else ""
    tells = {
        "witness": "The witness tooth tells it: it stands at its mark there, and nowhere else that the pin can go in.",
        "valves": f"The valves of cylinder {table.cylinder} tell it: look at them before you press.",
        "hole": "The hole itself tells it: it comes by nowhere else.",
    }
    return (
        f"The lock pin holds the gear train while the {component(pack).name} is set.",
        f"It goes into a hole in {hole}.",
        f"The mark to watch is {tooth}{mark}. It is seen from {end(table.seen_from)}.",
        f"The right place is top dead centre of cylinder {table.cylinder} on {table.dead_centre}.",
        tells[table.tells_stroke],
    )


# ---- fasteners and tools


@dataclass(frozen=True, slots=True)
class ExampleJoint:
    """A joint that is tightened in stages, its bolts numbered "1", "2", "3".

    Parameters
    ----------
    fastener : Fastener
        As it stands in the pack.
    joint : Joint
        Its bolts and stages, as the mechanics know them.
    pattern : Pattern
        Where its bolts sit.
    taken : bool
        Whether it is no joint of the pack.
    """

    fastener: Fastener
    joint: Joint
    pattern: Pattern
    taken: bool = False

    @property
    def noun(self) -> str:
        """What one of its bolts is called."""
        return Bolts(self.fastener).noun

    @property
    def all(self) -> str:
        """All of them: "all 6 screws"."""
        return Bolts(self.fastener).all

    @property
    def stages(self) -> tuple[str, ...]:
        """Names of its stages, in their order."""
        return tuple(stage.name for stage in self.fastener.stages)

    @property
    def lines(self) -> tuple[str, ...]:
        """What joint it is, with its stages."""
        words = Bolts(self.fastener)
        return (
            *((f"A joint in stages, on a circle. {_TAKEN}",) if self.taken else ()),
            f"Joint: {words.title.value}.",
            f"Stages: {words.stages.value}.",
        )


def joint(pack: Pack) -> ExampleJoint:
    """Return the joint on a circle with the most bolts, four or more, that has a first and a final stage by torque."""
    fit = [
        each
        for each in pack.fasteners
        if each.pattern == "circle" and each.count >= 4 and not each.temporary and pattern_of(each) is not None
        if all((stage := each.stage(name)) is not None and stage.torque for name in ("first", "final"))
    ]
    chosen = max(fit, key=lambda each: each.count, default=_COVER)
    return ExampleJoint(chosen, joint_of(pack, chosen), Pattern(chosen.positions), taken=chosen is _COVER)


def torqued(pack: Pack) -> Fastener:
    """Return the first fastener whose last stage is a torque; one that belongs to no engine where there is none."""
    return next((each for each in pack.fasteners if each.final.torque), _COVER)


@dataclass(frozen=True, slots=True)
class Reach:
    """A fastener that is reached with an adapter on a torque wrench.

    Parameters
    ----------
    fastener : Fastener
        What is tightened, to its last stage.
    wrench, adapter : Tool
        With what; their lengths are known, in millimetres.
    taken : bool
        Whether they are no job of the pack.
    """

    fastener: Fastener
    wrench: Tool
    adapter: Tool
    taken: bool = False

    @property
    def lines(self) -> tuple[str, ...]:
        """What is tightened, with what, and how long the levers are."""
        return (
            *((f"A job with an adapter. {_TAKEN}",) if self.taken else ()),
            f"To be tightened: {self.fastener.name}.",
            f"{self.wrench.name.capitalize()}, from drive to grip: {self.wrench.length:g} mm.",
            f"{self.adapter.name.capitalize()}, from drive to bolt: {self.adapter.adapter_length:g} mm.",
        )


def reach(pack: Pack) -> Reach:
    """Return the last step of a pack that tightens to a final torque with an adapter on a wrench of known length."""
    found = Reach(_COVER, _WRENCH, _ADAPTER, taken=True)
    for step in pack.steps:
        if not (step.adapter and step.fastener and step.stage == "final"):
            continue
        fastener, wrench, adapter = pack.fastener(step.fastener), pack.tool(step.tool), pack.tool(step.adapter)
        if fastener.final.torque and wrench.length and wrench.step and adapter.adapter_length:
            wanted = torque_of(fastener.final.torque[0])
            if scale(wrench).suits(wanted) == "suits":
                found = Reach(fastener, wrench, adapter)
    return found


# ---- the work


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
            *((f"Steps of which some are dangerous to exchange. {_TAKEN}",) if self.taken else ()),
            *(f"{number}. {self.texts[step]}." for number, step in enumerate(self.written, start=1)),
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


def order(pack: Pack) -> ExampleOrder:
    """Return some seven steps of the work with two dangerous pairs the wrong way round, or one where no two will do.

    Pairs are chosen in which a bar or a pin must be off before something is loosened or tightened, as far as there
    are such: they are what timing-critical work is about.
    """
    for procedure, texts, telling, others in _grounds(pack):
        steps = tuple(texts)
        for turned in _slips(telling, others):
            written = _written(procedure, steps, turned)
            if written:
                return ExampleOrder(procedure.among(written), written, texts, taken=texts is _STEPS)
    raise AssertionError("the steps of no engine have such pairs")  # pragma: no cover - they do


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
