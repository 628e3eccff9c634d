"""Rules about what stages mean, stages by angle, and how often bolts are used."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from trainkit.errors import TighteningError
from trainkit.packs.rules.base import Breach, Case, near, rule

if TYPE_CHECKING:
    from trainkit.packs.fastening import Fastener

__all__: list[str] = []

_MEANINGS = {"may-move": 0, "settled": 1, "final": 2}


@rule("fasteners")
def _meanings(case: Case) -> Iterator[Breach]:
    for place, fastener in enumerate(case.pack.fasteners):
        seen: set[str] = set()
        last = -1
        for number, stage in enumerate(fastener.stages):
            at = ("fasteners", place, "stages", number, "name")
            if stage.means is None:
                yield Breach(
                    "stage-meaning-missing",
                    at,
                    stage.name,
                    "A stage with a name of the manual's own says what it means for the parts.",
                    'Add meaning = "may-move", "settled" or "final".',
                )
                continue
            rank = _MEANINGS[stage.means]
            final_early = stage.means == "final" and number < len(fastener.stages) - 1
            if stage.name in seen or rank < last or final_early:
                yield Breach(
                    "stages-out-of-order",
                    at,
                    stage.name,
                    "Each stage has a name of its own, none lets parts move that an earlier one has settled, and the "
                    "final one is the last.",
                    "Correct name, meaning or place of this stage.",
                )
            seen.add(stage.name)
            last = max(last, rank)


@rule("fasteners")
def _angles(case: Case) -> Iterator[Breach]:
    for place, fastener in enumerate(case.pack.fasteners):
        total, counted = 0.0, False
        for number, stage in enumerate(fastener.stages):
            counted = counted or stage.torque is not None
            if stage.angle is None:
                continue
            at = ("fasteners", place, "stages", number, "angle")
            if stage.torque is not None:
                yield Breach(
                    "angle-impossible",
                    at,
                    stage.angle,
                    "A stage is by torque or by angle.",
                    "Make two stages of it, the angle after the torque.",
                )
            elif not counted:
                yield Breach(
                    "angle-impossible",
                    at,
                    stage.angle,
                    "An angle is counted from a stage by torque; none comes before it.",
                    "Add the torque of the stage before, or correct the order.",
                    "printed",
                )
            total += stage.angle
            if total > _MOST_ANGLE:
                yield Breach(
                    "angle-impossible",
                    at,
                    stage.angle,
                    f"All angles of these bolts come to {total:g}°; few bolts bear more than {_MOST_ANGLE}°.",
                    "Check the values; flats are 60° each.",
                    "printed",
                )


# A short bolt is past its proof load after a small part of a turn; common practice, no source.
_MOST_ANGLE = 270


@rule("fasteners", "steps", "tools")
def _angle_tools(case: Case) -> Iterator[Breach]:
    tools = {tool.id: tool.kind for tool in case.pack.tools}
    fasteners = {each.id: each for each in case.pack.fasteners}
    for place, step in enumerate(case.pack.steps):
        stage = fasteners[step.fastener].stage(step.stage) if step.fastener in fasteners else None
        if stage is None or stage.angle is None or tools.get(step.tool) == "angle-gauge":
            continue
        yield Breach(
            "angle-without-gauge",
            ("steps", place, "tool" if step.tool else "id"),
            step.tool or step.id,
            f"A stage by angle, {stage.angle:g}°, is turned with a tool that shows the angle.",
            "Name a tool of kind angle-gauge.",
            "unstated" if tools.get(step.tool) == "other" else "cannot",
        )


@rule("fasteners", "parts")
def _used_once(case: Case) -> Iterator[Breach]:
    parts = {part.id: part for part in case.pack.parts}
    for place, fastener in enumerate(case.pack.fasteners):
        named = fastener.single_use_part
        if not named:
            continue
        at = ("fasteners", place, "single_use_part")
        if named not in parts:
            yield Breach(
                "part-undeclared", at, named, "No part of this name is declared.", near(named, list(parts), "part")
            )
        elif fastener.used_again or not parts[named].single_use:
            yield Breach(
                "single-use-contradicted",
                at,
                named,
                "What is for single use is not used again.",
                "Write single_use = true with the part and used_again = false here, or delete this key.",
            )


@rule("fasteners")
def _printed_order(case: Case) -> Iterator[Breach]:
    for place, fastener in enumerate(case.pack.fasteners):
        if not fastener.order:
            continue
        at = ("fasteners", place, "order")
        if sorted(fastener.order) != list(range(1, fastener.count + 1)):
            yield Breach(
                "bolt-order-wrong",
                at,
                fastener.order,
                f"A printed order names each of the {fastener.count} bolts once, by the number of its place.",
                "Correct the order, or delete it.",
            )
        elif said := _uneven(fastener):
            yield Breach("bolt-order-uneven", at, fastener.order, said, _PRINTED_COUNTS, "unstated")


_PRINTED_COUNTS = "Check it; the printed order counts."


def _uneven(fastener: Fastener) -> str:
    """Say where a printed order draws a part down less evenly than others would; nothing where it does well."""
    from trainkit.tightening import Pattern

    if fastener.count < 3 or len(fastener.positions) != fastener.count:
        return ""
    try:
        pattern = Pattern(fastener.positions)
        if not pattern.has_question or pattern.judge([str(number) for number in fastener.order]).is_best:
            return ""
    except TighteningError:
        return ""
    return "By the places of the bolts another order draws the part down more evenly."
