"""The curves themselves, computed from the pack by the mechanics."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

from trainkit import fasteners, roles
from trainkit.errors import ItemError
from trainkit.gears import least_common_multiple
from trainkit.items.tightening.joints import torque_of
from trainkit.plots.sheet import Curve, Panel, Plot, Point, ReferenceLine, curve_of
from trainkit.sentences import counted
from trainkit.tightening import MomentVerdict

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainkit.packs import Pack
    from trainkit.tightening import Pattern


# Nut factors of plain steel threads: the usual estimates (common practice, no source).
DRY, OILED = 0.20, 0.15


def preload(pack: Pack) -> Plot:
    """Return what a torque does to a bolt: preload over torque, dry and oiled, beside what the bolt can bear.

    The bolt is the first of the pack whose last stage is a torque.
    """
    bolt = roles.torqued(pack)
    thread = fasteners.Thread(bolt.thread)
    final = torque_of((bolt.final.torque or ("22 N·m",))[0])
    newton_metres = float(final.to("N·m").value)
    most = 1.3 * newton_metres
    proof = fasteners.proof_load(thread, bolt.grade) / 1000

    def force(torque: float, factor: float) -> float:
        return fasteners.preload(f"{torque:.6f} N·m", thread, factor) / 1000

    dry, oiled = force(newton_metres, DRY), force(newton_metres, OILED)
    top = 1.12 * max(proof, force(most, OILED))
    panel = Panel(
        (
            curve_of([(0, 0), (most, force(most, DRY))], f"dry, K = {DRY:.2f}"),
            curve_of([(0, 0), (most, force(most, OILED))], f"oiled, K = {OILED:.2f}", dash="dashed", accent=True),
        ),
        "preload, kN",
        (0, top),
        (
            ReferenceLine(proof, f"proof load, {proof:.1f}\u2009kN"),
            ReferenceLine(newton_metres, f"final, {final}", upright=True),
        ),
        (Point(newton_metres, dry), Point(newton_metres, oiled)),
    )
    return Plot(
        f"What the torque does to one of the {bolt.name}",
        "torque at the wrench, N·m",
        (0, most),
        (panel,),
        (
            f"At {final} a dry thread gives {dry:.1f}\u2009kN of preload, an oiled one {oiled:.1f}\u2009kN.",
            f"The proof load is {proof:.1f}\u2009kN: {thread}, {_class(bolt.grade)}.",
            "Nut factors are estimates. On the job, the manual's value and condition decide.",
        ),
    )


def _class(grade: str) -> str:
    """Return a property class with its word; inch grades bring theirs.

    Examples
    --------
    >>> _class("8.8"), _class("grade 8")
    ('class 8.8', 'grade 8')
    """
    return grade if grade.startswith("grade") else f"class {grade}"


def moment(pack: Pack) -> Plot:
    """Return the pull to one side while a joint is tightened, bolt after bolt: across, and round in a circle."""
    joint = roles.joint(pack)
    across = _moments(joint.pattern, joint.pattern.best_order())
    round_it = _moments(joint.pattern, joint.pattern.names)
    ways = (("across", across, "plain", False), ("round in a circle", round_it, "dashed", True))
    curves = tuple(
        curve_of(
            list(enumerate(pulls, start=1)), name, dash=dash, accent=accent, named_at=pulls.index(max(pulls[1:-1]), 1)
        )
        for name, pulls, dash, accent in ways
    )
    number = len(across)
    return Plot(
        f"The pull to one side, while {joint.all} go to a stage",
        f"{joint.noun}s tightened so far",
        (1, number),
        (Panel(curves, "pull to one side", (0, 1.2 * max(*across, *round_it, 0.5))),),
        (
            f"Across, the pull is at most {max(across):.2f}; round in a circle it is at most {max(round_it):.2f}.",
            f"1 is the pull of one {joint.noun} at the edge: its preload times the radius.",
            *(joint.lines[:1] if joint.taken else ()),
        ),
        tuple(range(1, number + 1)),
    )


def _moments(pattern: Pattern, order: Sequence[str]) -> list[float]:
    """Return the pull to one side after each bolt of a joint on a circle."""
    verdict = pattern.judge(order)
    if not isinstance(verdict, MomentVerdict):
        raise ItemError(
            len(pattern.names),
            rule="The pull to one side is told of bolts on a circle.",
            remedy="Give the joint a pattern on a circle.",
        )
    # Rounding apart, equal pulls are equal: a name then stands at the first of them.
    return [round(float(pull), 9) for pull in verdict.moments]


def marks(pack: Pack) -> Plot:
    """Return where the marks of crank, pinned gear and component stand while the crank turns on.

    At 0° all three stand where they belong. A dot says that a mark is back there.
    """
    names = dict.fromkeys((pack.crank, roles.pinned(pack).id, roles.component(pack).id))
    turned = roles.forward(pack, 360)
    rates = {name: abs(Fraction(turned.degrees(name)) / 360) for name in names}
    back = {name: 360 / rate for name, rate in rates.items()}
    together = least_common_multiple(back.values())
    most = min(together, Fraction(2880))
    panels = []
    for name, rate in rates.items():
        gear = pack.gear(name)
        times = int(most / back[name])
        dots = tuple(Point(float(back[name] * number), 0.0) for number in range(times + 1))
        panels.append(Panel((_sawtooth(rate, most),), gear.name, (0, 372), points=dots, y_ticks=(0, 90, 180, 270, 360)))
    called = {name: pack.gear(name).name for name in names}
    said = [f"The mark on the {called[name]} is back every {_degrees(back[name])} of the crank." for name in names]
    end = f"All of them are back together after {_degrees(together)} of the crank, {_turns(together / 360)}."
    return Plot(
        "How far each mark has gone round, in degrees",
        "degrees of the crank in its running sense",
        (0, float(most)),
        tuple(panels),
        (*said, end, "A dot is a mark back in its place: one that is back says nothing of the others."),
        tuple(float(tick) for tick in range(0, int(most) + 1, 360 if most > 1080 else 180)),
    )


def _sawtooth(rate: Fraction, most: Fraction) -> Curve:
    """Return how far a mark has gone round, from 0 to 360 and from 0 again."""
    xs: list[float] = []
    ys: list[float] = []
    turn = 360 / rate
    begin = Fraction()
    while begin < most:
        end = min(begin + turn, most)
        xs += [float(begin), float(end), float(end)]
        ys += [0.0, float((end - begin) * rate), math.nan]
        begin = end
    return Curve(tuple(xs), tuple(ys))


def _degrees(value: Fraction) -> str:
    return f"{value.numerator}°" if value.denominator == 1 else f"{float(value):.1f}°"


def _turns(value: Fraction) -> str:
    return counted(float(value), "turn")
