"""Rules about fasteners and tools: threads, stages, values in two units, proof load, wrenches, patterns."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from trainkit.errors import FastenerError, QuantityError
from trainkit.packs.rules.base import Breach, Case, rule

if TYPE_CHECKING:
    from trainkit.packs.fastening import Fastener, Stage
    from trainkit.packs.findings import Path
    from trainkit.quantities import DualUnit, Torque

__all__: list[str] = []

_RANK = {"finger-tight": 0, "snug": 1, "first": 2, "final": 3}
# A final torque that uses less than this share of the proof load is most likely in the wrong unit (a factor of 12
# lies between inch and foot). Common practice, no source.
_HARDLY_ANY = 0.05


def _torque(text: str) -> Torque | QuantityError:
    from trainkit.quantities import torque

    try:
        return torque(text)
    except QuantityError as error:
        return error


def _pair(pair: tuple[str, str], printed_to: tuple[str, str] | None) -> DualUnit | QuantityError:
    from trainkit.quantities import dual_unit

    try:
        if printed_to is None:
            return dual_unit(*pair)
        steps = [step for step in map(_torque, printed_to) if not isinstance(step, QuantityError)]
        return dual_unit(*pair, *(step.value for step in steps)) if len(steps) == 2 else dual_unit(*pair)
    except QuantityError as error:
        return error


def _value(stage: Stage) -> Torque | None:
    """Return the torque of a stage from its master column, or None if there is none that can be read."""
    if stage.torque is None:
        return None
    read = _torque(stage.torque[1 if stage.master == "second" else 0])
    return None if isinstance(read, QuantityError) else read


def _stages(case: Case) -> Iterator[tuple[Path, Fastener, Stage]]:
    for place, fastener in enumerate(case.pack.fasteners):
        for number, stage in enumerate(fastener.stages):
            yield ("fasteners", place, "stages", number), fastener, stage


@rule("fasteners")
def _threads(case: Case) -> Iterator[Breach]:
    from trainkit import fasteners as model

    for place, fastener in enumerate(case.pack.fasteners):
        try:
            thread = model.Thread(fastener.thread)
        except FastenerError as error:
            yield Breach("thread-unknown", ("fasteners", place, "thread"), fastener.thread, error.rule, error.remedy)
            continue
        try:
            model.strength(fastener.grade, thread)
        except FastenerError as error:
            yield Breach("grade-unknown", ("fasteners", place, "grade"), fastener.grade, error.rule, error.remedy)


@rule("fasteners")
def _readable(case: Case) -> Iterator[Breach]:
    pairs = [
        ((*path, key), getattr(stage, key)) for path, _, stage in _stages(case) for key in ("torque", "printed_to")
    ]
    pairs += [(("fasteners", place, "prevailing"), each.prevailing) for place, each in enumerate(case.pack.fasteners)]
    for path, pair in pairs:
        for number, text in enumerate(pair or ()):
            read = _torque(text)
            if isinstance(read, QuantityError):
                yield Breach("torque-unreadable", (*path, number), text, read.rule, read.remedy)


@rule("fasteners")
def _columns(case: Case) -> Iterator[Breach]:
    triples: list[tuple[Path, tuple[str, str] | None, Stage | None]] = [
        ((*path, "torque"), stage.torque, stage) for path, _, stage in _stages(case)
    ]
    triples += [  # a prevailing torque is a pair without a stage
        (("fasteners", place, "prevailing"), each.prevailing, None) for place, each in enumerate(case.pack.fasteners)
    ]
    for path, pair, stage in triples:
        if pair is None or any(isinstance(_torque(text), QuantityError) for text in pair):
            continue
        judged = _pair(pair, None if stage is None else stage.printed_to)
        if isinstance(judged, QuantityError):
            yield Breach("torque-columns-unusable", path, " / ".join(pair), judged.rule, judged.remedy)
        elif not judged.belongs:
            yield Breach(
                "torque-columns-disagree",
                path,
                " / ".join(pair),
                f"One column is the other one converted and rounded; {pair[0]} is {_round(judged.first_converted)}, "
                f"and {pair[1]} is {_round(judged.second_converted)}.",
                "Correct the column that was copied wrongly.",
                "printed",
            )
        elif stage is not None and stage.master and not {stage.master, "either"} & set(judged.masters):
            yield Breach(
                "master-contradicts-columns",
                (*path[:-1], "master"),
                stage.master,
                f"By their digits only the {judged.master} column of {pair[0]} / {pair[1]} can be the master.",
                f'Write master = "{judged.master}", or declare printed_to where trailing zeros hide a coarser step.',
                "printed",
            )


def _round(torque: Torque) -> str:
    return f"{torque.value:.4g} {torque.unit}"


@rule("fasteners")
def _printed_to(case: Case) -> Iterator[Breach]:
    for path, _, stage in _stages(case):
        if stage.printed_to is None:
            continue
        if stage.torque is None:
            yield Breach(
                "printed-to-alone",
                (*path, "printed_to"),
                " / ".join(stage.printed_to),
                "printed_to says to which step the two columns of torque are printed.",
                "Give torque, or delete printed_to.",
            )
            continue
        for number in range(2):
            value, step = _torque(stage.torque[number]), _torque(stage.printed_to[number])
            if isinstance(value, QuantityError) or isinstance(step, QuantityError):
                continue
            if value.unit != step.unit or not step.value:
                yield Breach(
                    "printed-to-alone",
                    (*path, "printed_to", number),
                    stage.printed_to[number],
                    f"The step of this column is a torque above nought in {value.unit}.",
                    f'Write it as "1 {value.unit}".',
                )


@rule("fasteners")
def _stage_order(case: Case) -> Iterator[Breach]:
    for place, fastener in enumerate(case.pack.fasteners):
        for number, (earlier, later) in enumerate(itertools.pairwise(fastener.stages), start=1):
            if earlier.name in _RANK and _RANK.get(later.name, 99) <= _RANK[earlier.name]:
                yield Breach(
                    "stages-out-of-order",
                    ("fasteners", place, "stages", number, "name"),
                    later.name,
                    "Stages follow each other as finger-tight, snug, first, final, each at most once.",
                    f"Put {later.name} in its place, or rename one of the two.",
                )
        if fastener.final.means and all(stage.means != "final" for stage in fastener.stages):
            yield Breach(
                "final-stage-missing",
                ("fasteners", place, "stages"),
                fastener.id,
                "The last stage of every fastener is the final one.",
                'Add a stage with name = "final", or meaning = "final" where the manual calls it otherwise.',
            )


@rule("fasteners")
def _stage_values(case: Case) -> Iterator[Breach]:
    for path, _, stage in _stages(case):
        if stage.name == "finger-tight" and (stage.torque is not None or stage.angle is not None):
            yield Breach(
                "finger-tight-with-value",
                (*path, "torque" if stage.torque else "angle"),
                " / ".join(stage.torque or ()) or stage.angle,
                "What is finger-tight is turned in by hand, without a torque or an angle.",
                'Delete the value, or write name = "snug" or "first".',
            )
        if (stage.name == "first" or stage.means in ("settled", "final")) and not (stage.torque or stage.angle):
            yield Breach(
                "stage-without-value",
                (*path, "name"),
                stage.name,
                f"A {stage.name} stage has a torque or an angle.",
                "Add torque = [...] in two units, or angle.",
            )


@rule("fasteners")
def _stage_growth(case: Case) -> Iterator[Breach]:
    for place, fastener in enumerate(case.pack.fasteners):
        valued = [(number, stage, _value(stage)) for number, stage in enumerate(fastener.stages)]
        known = [(number, stage, value) for number, stage, value in valued if value is not None]
        for (_, earlier, less), (number, later, more) in itertools.pairwise(known):
            # A stage by angle may start again from a lower torque: the joint was loosened in between.
            if more < less and later.angle is None:
                yield Breach(
                    "final-below-earlier" if later.means == "final" else "stage-below-earlier",
                    ("fasteners", place, "stages", number, "torque"),
                    " / ".join(later.torque or ()),
                    f"The {later.name} stage is not below the {earlier.name} one, {' / '.join(earlier.torque or ())}.",
                    "Check which value belongs to which stage, and the units.",
                    "printed",
                )


@rule("fasteners")
def _proof(case: Case) -> Iterator[Breach]:
    from trainkit import fasteners as model

    for path, fastener, stage in _stages(case):
        value = _value(stage)
        if value is None:
            continue
        try:
            thread = model.Thread(fastener.thread)
            limit = model.proof_load(thread, fastener.grade)
            force = model.preload(value, thread, fastener.assumed_nut_factor)
        except (FastenerError, QuantityError):
            continue  # told by the rules about threads and torques
        share = force / limit
        if not (share > 1 or (share < _HARDLY_ANY and stage.means == "final" and stage.angle is None)):
            continue
        declared = "declared" if fastener.nut_factor else f"assumed, {fastener.condition} thread"
        told = (
            f"With a nut factor of {fastener.assumed_nut_factor:.2f} ({declared}) this torque gives a preload of "
            f"{force / 1000:.3g} kN, {share:.0%} of the proof load of {thread} class {fastener.grade} "
            f"({limit / 1000:.3g} kN)."
        )
        if share > 1:
            yield Breach(
                "torque-beyond-proof",
                (*path, "torque"),
                " / ".join(stage.torque or ()),
                told,
                "Check value, unit, thread, class and condition.",
                "printed",
            )
        else:
            yield Breach(
                "torque-far-below-proof",
                (*path, "torque"),
                " / ".join(stage.torque or ()),
                told,
                "Check that the unit is right: inch-pounds and foot-pounds are a factor of 12 apart.",
                "remark",
            )


@rule("fasteners")
def _patterns(case: Case) -> Iterator[Breach]:
    for place, fastener in enumerate(case.pack.fasteners):
        path: Path = ("fasteners", place)
        if fastener.pattern in ("circle", "line") and fastener.spread_mm is None:
            yield Breach(
                "pattern-incomplete",
                (*path, "pattern"),
                fastener.pattern,
                f"A {fastener.pattern} of bolts has a size.",
                "Add spread_mm, the diameter of the circle or the length of the line.",
            )
        if fastener.pattern in ("circle", "line") and fastener.count < 2:
            yield Breach(
                "pattern-incomplete",
                (*path, "count"),
                fastener.count,
                f"A {fastener.pattern} has at least two bolts.",
                'Correct count, or write pattern = "single".',
            )
        if fastener.pattern != "free" and fastener.at:
            yield Breach(
                "pattern-incomplete",
                (*path, "at"),
                f"{len(fastener.at)} places",
                f"The places of a {fastener.pattern} pattern follow from its size.",
                'Delete at, or write pattern = "free".',
            )
        if fastener.pattern == "free":
            if len(fastener.at) != fastener.count:
                yield Breach(
                    "pattern-incomplete",
                    (*path, "count"),
                    fastener.count,
                    f"A free pattern names the place of every bolt; at has {len(fastener.at)}.",
                    "Correct count or at.",
                )
            for number, (one, other) in enumerate(itertools.combinations(range(len(fastener.at)), 2)):
                if math.dist(fastener.at[one], fastener.at[other]) < 1 and number < 5000:
                    yield Breach(
                        "bolts-coincide",
                        (*path, "at", other),
                        str(fastener.at[other]),
                        f"Two bolts do not sit at the same place; number {one + 1} is less than 1 mm away.",
                        "Measure the places again.",
                    )


@rule("tools")
def _tools(case: Case) -> Iterator[Breach]:
    from trainkit.fasteners import Wrench

    for place, tool in enumerate(case.pack.tools):
        path: Path = ("tools", place)
        if tool.kind == "torque-wrench":
            missing = [key for key in ("unit", "low", "high", "step") if not getattr(tool, key)]
            if missing:
                yield Breach(
                    "wrench-incomplete",
                    (*path, "kind"),
                    tool.id,
                    f"A torque wrench has unit, low, high and step; missing: {', '.join(missing)}.",
                    "Read them off the wrench.",
                )
                continue
            try:
                Wrench(tool.unit, tool.low or 0, tool.high or 0, tool.step or 0)
            except (FastenerError, QuantityError) as error:
                yield Breach("wrench-impossible", (*path, "kind"), tool.id, error.rule, error.remedy)
        elif any(getattr(tool, key) for key in ("unit", "low", "high", "step")):
            yield Breach(
                "wrench-incomplete",
                (*path, "kind"),
                tool.kind,
                "Only a torque wrench has unit, low, high and step.",
                'Write kind = "torque-wrench", or delete them.',
            )
        if tool.kind == "adapter" and tool.adapter_length is None:
            yield Breach(
                "adapter-incomplete",
                (*path, "kind"),
                tool.id,
                "An adapter has a length, from the wrench's drive to the middle of its jaw.",
                "Measure it and add adapter_length in millimetres.",
            )


@rule("steps", "tools", "fasteners")
def _wrench_for_step(case: Case) -> Iterator[Breach]:
    from trainkit.fasteners import Wrench, with_prevailing, wrench_setting

    tools = {tool.id: tool for tool in case.pack.tools}
    fasteners = {fastener.id: fastener for fastener in case.pack.fasteners}
    for place, step in enumerate(case.pack.steps):
        stage = fasteners[step.fastener].stage(step.stage) if step.fastener in fasteners else None
        value = _value(stage) if stage else None
        if stage is None or value is None or stage.name == "finger-tight":
            continue
        tool, adapter = tools.get(step.tool), tools.get(step.adapter)
        path: Path = ("steps", place, "tool" if step.tool else "id")
        if (step.tool and tool is None) or (step.adapter and adapter is None):
            continue  # told by the rules about names
        if tool is None or tool.kind != "torque-wrench":
            yield Breach(
                "stage-without-torque-wrench",
                path,
                step.tool or step.id,
                f"{' / '.join(stage.torque or ())} is reached with a torque wrench.",
                "Name a tool whose kind is torque-wrench.",
            )
            continue
        try:
            wrench = Wrench(tool.unit, tool.low or 0, tool.high or 0, tool.step or 0)
            drag = fasteners[step.fastener].prevailing
            setting = with_prevailing(value, drag[0]) if drag else value
            if adapter is not None:
                if adapter.adapter_length is None or tool.length is None:
                    if tool.length is None:
                        yield Breach(
                            "adapter-incomplete",
                            ("steps", place, "adapter"),
                            step.adapter,
                            f"With an adapter the lever counts, and {tool.id} has no length.",
                            "Measure from its drive to the middle of the grip and add length in millimetres.",
                        )
                    continue
                setting = wrench_setting(setting, tool.length, adapter.adapter_length)
            suits = wrench.suits(setting)
        except (FastenerError, QuantityError):
            continue  # told by the rule about tools
        if suits != "suits":
            yield Breach(
                "torque-outside-wrench",
                path,
                step.tool,
                f"{tool.name} ({tool.low:g} to {tool.high:g} {tool.unit}) is {suits} for "
                f"{_round(setting.to(tool.unit))}: it is usable from {_round(wrench.usable_from)}, a fifth of its "
                f"largest value or the end of its scale, to {tool.high:g} {tool.unit}.",
                f"Name a {'smaller' if suits == 'too large' else 'larger'} torque wrench.",
            )
