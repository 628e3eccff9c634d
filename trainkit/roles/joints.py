"""Joints of a pack that an example can tighten, and a job that takes an adapter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.items.tightening.joints import Bolts, joint_of, pattern_of, torque_of
from trainkit.items.torque_units.drawing import scale
from trainkit.packs import Fastener, Stage, Tool
from trainkit.roles.taken import TAKEN
from trainkit.sentences import opening
from trainkit.tightening import Joint, Pattern

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit.quantities import Torque
    from trainkit.tightening import JointState


_PAIR = ("22 N·m", "16 lbf·ft")
_COVER = Fastener(
    id="cover",
    name="screws of a cover",
    one="screw",
    many="screws",
    thread="M8",
    grade="8.8",
    count=6,
    pattern="circle",
    spread_mm=90,
    stages=(
        Stage(name="finger-tight"),
        Stage(name="first", torque=("8.5 N·m", "75 lbf·in")),
        Stage(name="final", torque=_PAIR),
    ),
)
_WRENCH = Tool(id="wrench", name="torque wrench", kind="torque-wrench", unit="N·m", low=10, high=60, step=1, length=300)
_ADAPTER = Tool(id="adapter", name="ring adapter", kind="adapter", adapter_length=60)


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

    def to_do(self, state: JointState) -> str:
        """Say which bolts are tightened next, and to which stage."""
        return ", ".join(f"{self.noun} {each.bolt} to {each.stage}" for each in state.next_tightenings())

    @property
    def lines(self) -> tuple[str, ...]:
        """What joint it is, with its stages."""
        words = Bolts(self.fastener)
        return (
            *((f"A joint in stages, on a circle. {TAKEN}",) if self.taken else ()),
            f"Joint: {words.title.value}.",
            f"Stages: {words.stages.value}.",
        )


def joint(pack: Pack) -> ExampleJoint:
    """Return the joint on a circle with the most bolts, four or more, that has a first and a final stage by torque.

    One whose order is printed is left out.
    """
    fit = [
        each
        for each in pack.fasteners
        if each.pattern == "circle" and each.count >= 4 and not each.temporary and pattern_of(each) is not None
        # What this example shows is how an order is found; where one is printed there is nothing to find.
        if not each.order
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
    def wanted(self) -> Torque:
        """The torque at the bolt, in the unit of the wrench."""
        return torque_of((self.fastener.final.torque or _PAIR)[0]).to(self.wrench.unit)

    @property
    def lengths(self) -> tuple[float, float]:
        """From the drive of the wrench to its grip, and from there to the bolt, in millimetres."""
        return self.wrench.length or 0.0, self.adapter.adapter_length or 0.0

    def shown(self, torque: Torque) -> str:
        """Return a torque as the scale of the wrench shows it."""
        return torque.shown(self.wrench.step)

    @property
    def lines(self) -> tuple[str, ...]:
        """What is tightened, with what, and how long the levers are."""
        return (
            *((f"A job with an adapter. {TAKEN}",) if self.taken else ()),
            f"To be tightened: {self.fastener.name}.",
            f"{opening(self.wrench.name)}, from drive to grip: {self.wrench.length:g} mm.",
            f"{opening(self.adapter.name)}, from drive to bolt: {self.adapter.adapter_length:g} mm.",
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


def other_unit(first: str, second: str) -> str:
    """Return a unit of torque in which neither of two printed columns stands.

    Examples
    --------
    >>> other_unit("40 N·m", "30 lbf·ft"), other_unit("90 lbf·in", "10 N·m")
    ('lbf·in', 'lbf·ft')
    """
    printed = {torque_of(first).unit, torque_of(second).unit}
    return next(unit for unit in ("lbf·in", "N·m", "lbf·ft") if unit not in printed)


def wrenches(pack: Pack, wanted: Torque) -> tuple[tuple[str, str], ...]:
    """Return each torque wrench of a pack with its scale, and whether it suits a torque.

    Examples
    --------
    >>> from trainkit import packs, quantities
    >>> wrenches(packs.load("dunlin"), quantities.torque("27 N·m"))[2]
    ('Middle torque wrench', '10 to 60 N·m: suits')
    """
    listed = [tool for tool in pack.tools if tool.kind == "torque-wrench" and tool.low and tool.high and tool.step]
    if not listed:
        return (("No torque wrench", "This engine's pack lists none."),)
    return tuple(
        (opening(tool.name), f"{tool.low:g} to {tool.high:g} {tool.unit}: {scale(tool).suits(wanted)}")
        for tool in listed
    )
