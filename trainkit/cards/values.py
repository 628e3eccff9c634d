"""Tables and pictures of a pack's values, as cards show them."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from trainkit import fasteners, figures, quantities, roles, tightening
from trainkit.cards.card import ValueTable
from trainkit.errors import PackError

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit.packs.fastening import Fastener, Stage


_MOST_ROWS = 5
_MOST_GEARS, _MOST_BOLTS = 12, 24  # in one picture


def setting(found: roles.Reach) -> quantities.Torque:
    """Return the mark of the wrench for the last stage, the adapter straight on."""
    wrench, printed = found.wrench, found.fastener.final.torque
    if printed is None or not wrench.length or not wrench.step or not found.adapter.adapter_length:
        raise PackError(found.fastener.id, rule="A reach has torque, lengths and step.", remedy="State them.")
    wanted = quantities.torque(printed[0]).to(wrench.unit)
    exact = fasteners.wrench_setting(wanted, wrench.length, found.adapter.adapter_length, angle=0)
    return quantities.settable(exact, quantities.torque(wrench.step, wrench.unit))


def lever_picture(pack: Pack) -> Mapping[str, Any] | None:
    """Return the wrench and adapter of a job of the pack, set for its last stage; None where it has no such job."""
    found = roles.reach(pack)
    if found.taken:
        return None
    wrench, adapter = found.wrench, found.adapter
    return {
        "draw": "wrench",
        "length": wrench.length,
        "adapter": adapter.adapter_length,
        "longest": [wrench.length, adapter.adapter_length],
        "unit": wrench.unit,
        "low": wrench.low,
        "high": wrench.high,
        "setting": setting(found).value,
    }


def turns_table(pack: Pack) -> ValueTable:
    """Return how far each gear goes while the crank goes round once."""
    rows = [(gear.name, said(abs(pack.train.ratio(pack.crank, gear.id)))) for gear in pack.gears]
    return ValueTable("For one turn of the crank", ("gear", "turns"), tuple(rows[: 2 * _MOST_ROWS]))


def train_picture(pack: Pack) -> Mapping[str, Any]:
    """Return the gears as they turn in service, seen from the end that the engine's sense is stated from."""
    engine = pack.engine
    # Of a train that is too large for one picture, the way to the part that is timed.
    shown = pack.train.path(pack.crank, pack.lock_pin_table.component).gears if len(pack.gears) > _MOST_GEARS else ()
    return figures.train_figure(
        pack.train, seen_from=engine.seen_from, turning=(pack.crank, engine.rotation), gears=shown
    )


def watched(pack: Pack) -> str:
    """Return what bears the mark that is watched, in words."""
    bears = pack.lock_pin_table.watched
    return next((gear.name for gear in pack.gears if gear.id == bears), "flywheel")


def lash_rows(lines: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
    """Return mesh and lash of each line "a to b: … = 0.164° at crank", and of the sum."""
    rows = []
    for line in lines:
        head, _, rest = line.rstrip(".").partition(": ")
        rows.append((head, rest.rpartition("= ")[2].partition(" at ")[0]))
    return tuple(rows)


def pinned_picture(pack: Pack) -> Mapping[str, Any]:
    """Return the engine as it stands when work on it may begin: the pin in, the bar off."""
    marks = figures.marks_figure(pack.lock_pin, watched(pack))
    return {
        "draw": "pin-bench",
        "name": marks["name"],
        "seen_from": marks["seen_from"],
        "tooth": pack.lock_pin_table.seats,
        "marks": marks["marks"],
        "forward": marks["turns"],
        "turned": "forward",
        "bar": "off",
        "pin": "in",
    }


def main_joint(pack: Pack) -> Fastener | None:
    """Return the joint with the most bolts whose order is a question, or None."""
    joints = [
        each
        for each in pack.fasteners
        if not each.temporary and 2 < each.count <= _MOST_BOLTS and each.positions
        if tightening.Pattern(each.positions).has_question
    ]
    return max(joints, key=lambda each: (len(each.stages), each.count), default=None)


def bolts_picture(joint: Fastener) -> Mapping[str, Any]:
    """Return the bolts of a joint with the order that draws it down most evenly."""
    pattern = tightening.Pattern(joint.positions)
    circle = joint.spread_mm if joint.pattern == "circle" else None
    return figures.bolts_figure(pattern, pattern.best_order(), circle=circle)


def torque_table(pack: Pack) -> ValueTable:
    """Return the torques of the fasteners that are many, in both units as they are printed."""
    many = sorted((each for each in pack.fasteners if not each.temporary and each.final.torque), key=_by_count)
    rows = [(f"{each.name} ({each.count})", _stage(each.stage("first")), _stage(each.final)) for each in many]
    return ValueTable("Torques", ("fastener (how many)", "first stage", "final stage"), tuple(rows[:_MOST_ROWS]))


def _by_count(each: Fastener) -> tuple[int, int]:
    return (-len(each.stages), -each.count)


def _stage(stage: Stage | None) -> str:
    if stage is None or stage.torque is None:
        return ""
    # A number and its unit stay in one line.
    one, other = (printed.replace(" ", "\N{NO-BREAK SPACE}") for printed in stage.torque)
    return f"{one} ({other})"


def said(number: Fraction) -> str:
    """Return a number as it is said: whole, or as a fraction in small numbers, or with a decimal or two."""
    if number.denominator == 1:
        return str(number.numerator)
    return str(number) if number.denominator < 100 else f"{float(number):.4g}"


def first_upper(words: str) -> str:
    """Return words with a capital, as a sentence begins."""
    return words[:1].upper() + words[1:]
