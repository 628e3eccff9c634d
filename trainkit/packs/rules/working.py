"""Rules about the work: precedence, what each configuration leaves open, parts and what becomes of them."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import TYPE_CHECKING

from trainkit.packs.rules.base import Breach, Case, rule

if TYPE_CHECKING:
    from trainkit.packs.findings import Path
    from trainkit.packs.schema import Document
    from trainkit.packs.work import Step

__all__: list[str] = []

_BACK = ("refit", "transfer")


@rule("steps", "precedence")
def _edges(case: Case) -> Iterator[Breach]:
    seen: dict[tuple[str, str], int] = {}
    for place, edge in enumerate(case.pack.precedence):
        first = seen.setdefault((edge.before, edge.after), place)
        if first != place:
            yield Breach(
                "precedence-twice",
                ("precedence", place),
                f"{edge.before} before {edge.after}",
                f"A pair of steps stands here once; entry {first + 1} has this one.",
                "Delete one and keep the better reason.",
            )


@rule("steps", "precedence", "configurations")
def _cycles(case: Case) -> Iterator[Breach]:
    """Find the rings of steps that wait for each other, in every configuration."""
    from trainkit.procedures import find_cycle

    edges = {(edge.before, edge.after): place for place, edge in reversed(list(enumerate(case.pack.precedence)))}
    for name in case.configurations:
        known = list(dict.fromkeys(step.id for step in case.pack.steps_of(name)))
        left = {pair: place for pair, place in edges.items() if set(pair) <= set(known)}
        for _ in range(_MOST_RINGS):
            ring = find_cycle(known, list(left))
            if not ring:
                break
            # The entry that was written last is the likeliest mistake; without it other rings show.
            last = max(itertools.pairwise(ring), key=left.__getitem__)
            yield Breach(
                "precedence-cycle",
                ("precedence", left.pop(last)),
                " → ".join(ring),
                "No step can wait for itself; these wait for each other in a ring.",
                "Delete or turn round one of these pairs.",
            )


# Enough to see where the mistakes are.
_MOST_RINGS = 20


@rule("steps", "precedence", "configurations")
def _order_by_dropped(case: Case) -> Iterator[Breach]:
    for place, configuration in enumerate(case.pack.configurations):
        for edge in case.procedures[configuration.id].before if configuration.id in case.procedures else ():
            if edge.via:
                yield Breach(
                    "precedence-through-dropped",
                    ("configurations", place, "drops"),
                    f"{edge.before} before {edge.after}",
                    f"With {configuration.id}, these are in order only by way of what is dropped: "
                    f"{', '.join(edge.via)}.",
                    "If the order still matters, add this precedence with a reason of its own.",
                    "remark",
                )


@rule("steps", "precedence", "configurations")
def _replaced(case: Case) -> Iterator[Breach]:
    """Hold that what replaces a step is kept from harm by the same steps."""
    for place, configuration in enumerate(case.pack.configurations):
        procedure = case.procedures.get(configuration.id)
        for old, new in configuration.replaces.items():
            for edge in case.pack.precedence:
                pairs = {edge.before: (new, edge.after), edge.after: (edge.before, new)}
                if procedure is None or not edge.dangerous or old not in pairs:
                    continue
                first, second = pairs[old]
                if first in procedure and second in procedure and not procedure.comes_before(first, second):
                    yield Breach(
                        "replacement-less-ordered",
                        ("configurations", place, "replaces", old),
                        new,
                        f"{edge.before} has to come before {edge.after}, or harm follows; with {configuration.id} "
                        f"nothing says that {first} comes before {second}.",
                        "Add that precedence, if the harm is the same.",
                        "remark",
                    )


def _ordered_by_itself(step: Step) -> bool:
    return bool(step.makes_safe or step.proves or step.restores or step.pin or {"clear", "agree"} & set(step.does))


@rule("steps", "precedence", "configurations")
def _dead_steps(case: Case) -> Iterator[Breach]:
    pack = case.pack
    done = {step.id for name in case.configurations for step in pack.steps_of(name)}
    touched = {step for edge in pack.precedence for step in (edge.before, edge.after)}
    # What follows from energies and pins puts these in order; that work at the engine waits for proof says no more.
    touched |= {step.id for step in pack.steps if _ordered_by_itself(step)}
    if not touched <= {step.id for step in pack.steps}:
        touched |= {step.id for step in pack.steps}  # first the names of the steps must be right
    for place, step in enumerate(pack.steps):
        if step.id not in done:
            yield Breach(
                "step-dead",
                ("steps", place, "id"),
                step.id,
                "Every step applies in some configuration.",
                "Add it to a configuration that does not leave it out again, or delete it.",
            )
        elif step.id not in touched and len(pack.steps) > 1:
            yield Breach(
                "step-dead",
                ("steps", place, "id"),
                step.id,
                "Every step comes before or after some other; this one could be done any time, or never.",
                "Add [[precedence]] with its reason, or delete the step.",
            )


@rule("parts", "steps")
def _fates(case: Case) -> Iterator[Breach]:
    off = {part for step in case.pack.steps for part in step.takes_off}
    on = {part for step in case.pack.steps for part in step.fits}
    named = {part for step in case.pack.steps for part in step.parts}
    for place, part in enumerate(case.pack.parts):
        path: Path = ("parts", place, "fate")
        fate = part.fate
        if fate is None:
            yield Breach(
                "part-without-fate",
                path[:2],
                part.id,
                "It is said of every part what becomes of it.",
                "Add fate: refit, renew, transfer, discard, return or stays.",
            )
            continue
        if part.single_use and fate in _BACK:
            yield Breach(
                "single-use-refitted",
                path,
                fate,
                f"{part.name} is for single use and does not go back.",
                'Write fate = "renew", or delete single_use if the manual lets it be used again.',
                "printed",
            )
        wrong = {
            "discard": "is discarded, yet a step fits it" if part.id in on else "",
            "return": "goes away for overhaul, yet a step fits it" if part.id in on else "",
            "stays": "stays in its place, yet a step takes it off or fits it" if part.id in off | on else "",
            "refit": "is refitted, yet no step fits it" if part.id in off - on else "",
            "transfer": "goes over to the new unit, yet no step fits it" if part.id in off - on else "",
        }.get(fate, "")
        if wrong:
            yield Breach(
                "fate-contradicts-steps",
                path,
                fate,
                f"{part.name} {wrong}.",
                "Correct the fate, or takes_off and fits of the steps.",
            )
        elif part.id not in named and fate != "stays":
            yield Breach(
                "part-without-step",
                (*path[:2], "id"),
                part.id,
                "A part that does not stay in its place is named by a step.",
                "Name it in takes_off, fits or handles of a step, or delete it.",
                "remark",
            )


@rule("fasteners", "steps")
def _fasteners_used(case: Case) -> Iterator[Breach]:
    used = {name for step in case.pack.steps for name in (step.fastener, step.loosens)}
    for place, fastener in enumerate(case.pack.fasteners):
        if fastener.id not in used:
            yield Breach(
                "fastener-without-step",
                ("fasteners", place, "id"),
                fastener.id,
                "A fastener is loosened or tightened by a step.",
                "Name it in a step, or delete it.",
                "remark",
            )


@rule("configurations", "steps")
def _configurations_change(case: Case) -> Iterator[Breach]:
    pack = case.pack
    known = {step.id for step in pack.steps}
    base = {step.id for step in pack.steps_of()}
    own = {step for configuration in pack.configurations for step in configuration.own}
    for place, configuration in enumerate(pack.configurations):
        path: Path = ("configurations", place)
        if not configuration.own and not configuration.without:
            yield Breach(
                "configuration-changes-nothing",
                (*path, "id"),
                configuration.id,
                "A configuration adds, drops or replaces steps.",
                "Add adds, drops or replaces, or delete it.",
            )
        for name in configuration.without:
            if name in known and name not in base and name in own:
                yield Breach(
                    "configuration-changes-nothing",
                    (*path, "replaces" if name in configuration.replaces else "drops"),
                    name,
                    "A configuration leaves out steps that otherwise apply; this one applies in others only.",
                    "Delete it here.",
                )
        for name in configuration.drops:
            if name in known and pack.steps[[step.id for step in pack.steps].index(name)].critical:
                yield Breach(
                    "configuration-drops-critical",
                    (*path, "drops"),
                    name,
                    "A critical step is left out with nothing in its place.",
                    "Make sure of it; replaces names the step that is done instead.",
                    "remark",
                )


@rule("steps", "fasteners", "parts", "configurations")
def _gaps(case: Case) -> Iterator[Breach]:
    """Hold that whatever is loosened or taken off in a configuration is tightened or fitted in it again."""
    pack = case.pack
    places = {step.id: place for place, step in enumerate(pack.steps)}
    everywhere = set(_open_ends(pack, pack.steps_of()))
    for step, thing, told, remedy in sorted(everywhere):
        yield Breach("work-leaves-gap", ("steps", places[step], "id"), thing, f"{told}.", remedy)
    for number, configuration in enumerate(pack.configurations):
        for _, thing, told, remedy in sorted(set(_open_ends(pack, pack.steps_of(configuration.id))) - everywhere):
            yield Breach(
                "configuration-leaves-gap",
                ("configurations", number, "id"),
                thing,
                f"With {configuration.id}, {told}.",
                remedy,
            )


def _open_ends(pack: Document, here: tuple[Step, ...]) -> Iterator[tuple[str, str, str, str]]:
    """Yield what some steps leave open: the step, the fastener or part, what is wrong, the remedy."""
    yield from _open_fasteners(pack, here)
    fates = {part.id: part.fate for part in pack.parts}
    fitted = {part for step in here for part in step.fits}
    removed = {part for step in here for part in step.takes_off}
    for step in here:
        for part in step.takes_off:
            if fates.get(part) in (*_BACK, "renew") and part not in fitted:
                told = f"{step.id} takes off {part} and no step fits it again"
                yield step.id, part, told, "Add the step that fits it, or correct its fate."
        for part in step.fits:
            if fates.get(part) in _BACK and part not in removed:
                told = f"{step.id} fits {part} and no step takes it off first"
                yield step.id, part, told, "Add the step that takes it off, or correct its fate."


def _open_fasteners(pack: Document, here: tuple[Step, ...]) -> Iterator[tuple[str, str, str, str]]:
    reached = {(step.fastener, step.stage) for step in here}
    anywhere = {(step.fastener, step.stage) for step in pack.steps}
    loosened = {step.loosens for step in here}
    ever_loosened = {step.loosens for step in pack.steps}
    fasteners = {fastener.id: fastener for fastener in pack.fasteners}
    for step in here:
        if step.loosens in fasteners:
            last = fasteners[step.loosens].final.name
            if (step.loosens, last) not in reached:
                told = f"{step.id} loosens {step.loosens} and no step tightens it to {last}"
                yield step.id, step.loosens, told, "Add that step, or leave out the one that loosens."
        if step.fastener in fasteners and step.stage == fasteners[step.fastener].final.name:
            for stage in fasteners[step.fastener].stages[:-1]:
                if (step.fastener, stage.name) in anywhere and (step.fastener, stage.name) not in reached:
                    told = f"{step.id} tightens {step.fastener} to {step.stage} without its stage {stage.name}"
                    yield step.id, step.fastener, told, "Add the step of that stage."
            if step.fastener in ever_loosened and step.fastener not in loosened:
                told = f"{step.id} tightens {step.fastener} and no step loosens it"
                yield step.id, step.fastener, told, "Add that step, or leave out the one that tightens."


@rule("fasteners", "steps")
def _stages_reached(case: Case) -> Iterator[Breach]:
    reached = {(step.fastener, step.stage) for step in case.pack.steps}
    used = {step.fastener for step in case.pack.steps}
    for place, fastener in enumerate(case.pack.fasteners):
        for number, stage in enumerate(fastener.stages):
            if fastener.id in used and (fastener.id, stage.name) not in reached:
                yield Breach(
                    "stage-without-step",
                    ("fasteners", place, "stages", number, "name"),
                    stage.name,
                    f"No step brings {fastener.id} to its stage {stage.name}.",
                    "Add the step, or delete the stage.",
                )
