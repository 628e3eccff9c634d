"""Rules about names: each declared once, and everything that is named is declared."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING

from trainkit.packs.near import meant
from trainkit.packs.rules.base import Breach, Case, near, rule

if TYPE_CHECKING:
    from trainkit.packs.findings import Path

__all__: list[str] = []


def _ids(entries: Sequence[object]) -> list[str]:
    return [str(getattr(entry, "id")) for entry in entries]  # noqa: B009 - every kind of entry has one


def _once(section: str, case: Case) -> Iterator[Breach]:
    seen: dict[str, int] = {}
    for place, name in enumerate(_ids(getattr(case.pack, section))):
        first = seen.setdefault(name, place)
        if first != place:
            yield Breach(
                "identifier-twice",
                (section, place, "id"),
                name,
                f"Each {section.removesuffix('s')} has an identifier of its own; entry {first + 1} has this one.",
                "Rename one of the two.",
            )


for _section in ("gears", "lock_pins", "tools", "parts", "steps", "fasteners", "configurations"):
    rule(_section)(partial(_once, _section))


def _declared(path: Path, name: str, known: list[str], what: str) -> Iterator[Breach]:
    if name not in known:
        yield Breach(f"{what}-undeclared", path, name, f"No {what} of this name is declared.", near(name, known, what))


@rule("gears", "meshes")
def _meshes_name_gears(case: Case) -> Iterator[Breach]:
    known = _ids(case.pack.gears)
    for place, mesh in enumerate(case.pack.meshes):
        yield from _declared(("meshes", place, "driver"), mesh.driver, known, "gear")
        yield from _declared(("meshes", place, "driven"), mesh.driven, known, "gear")


@rule("gears", "lock_pin")
def _pin_names_gears(case: Case) -> Iterator[Breach]:
    known, table = _ids(case.pack.gears), case.pack.lock_pin_table
    for key, name in (("hole_in", table.hole_in), ("watched", table.watched)):
        yield from _declared(("lock_pin", key), name, [*known, "flywheel"], "gear")
    yield from _declared(("lock_pin", "component"), table.component, known, "gear")


@rule("gears", "lock_pins", "tools")
def _further_pins_name_gears_and_tools(case: Case) -> Iterator[Breach]:
    for place, pin in enumerate(case.pack.lock_pins):
        known = [*_ids(case.pack.gears), "flywheel"]
        yield from _declared(("lock_pins", place, "hole_in"), pin.hole_in, known, "gear")
        if pin.tool:
            yield from _declared(("lock_pins", place, "tool"), pin.tool, _ids(case.pack.tools), "tool")


@rule("barring", "tools")
def _bar_names_tool(case: Case) -> Iterator[Breach]:
    yield from _declared(("barring", "tool"), case.pack.barring.tool, _ids(case.pack.tools), "tool")


@rule("steps", "tools")
def _steps_name_tools(case: Case) -> Iterator[Breach]:
    known = _ids(case.pack.tools)
    for place, step in enumerate(case.pack.steps):
        for key, name in (("tool", step.tool), ("adapter", step.adapter)):
            if name:
                yield from _declared(("steps", place, key), name, known, "tool")


@rule("steps", "parts")
def _steps_name_parts(case: Case) -> Iterator[Breach]:
    known = _ids(case.pack.parts)
    for place, step in enumerate(case.pack.steps):
        for key in ("takes_off", "fits", "handles"):
            for index, name in enumerate(getattr(step, key)):
                yield from _declared(("steps", place, key, index), name, known, "part")


@rule("steps", "fasteners")
def _steps_name_fasteners(case: Case) -> Iterator[Breach]:
    fasteners = {fastener.id: fastener for fastener in case.pack.fasteners}
    for place, step in enumerate(case.pack.steps):
        if step.loosens:
            yield from _declared(("steps", place, "loosens"), step.loosens, list(fasteners), "fastener")
        if step.fastener:
            yield from _declared(("steps", place, "fastener"), step.fastener, list(fasteners), "fastener")
        if bool(step.fastener) != bool(step.stage):
            given = "fastener" if step.fastener else "stage"
            yield Breach(
                "stage-undeclared",
                ("steps", place, given),
                step.fastener or step.stage,
                "A step that tightens names the fastener and the stage it is brought to.",
                f"Add {'stage' if step.fastener else 'fastener'}.",
            )
        elif step.fastener in fasteners and fasteners[step.fastener].stage(step.stage) is None:
            names = ", ".join(stage.name for stage in fasteners[step.fastener].stages)
            yield Breach(
                "stage-undeclared",
                ("steps", place, "stage"),
                step.stage,
                f"The stages of {step.fastener} are {names}.",
                "Name one of them, or declare this stage with its value.",
            )


@rule("steps", "precedence")
def _edges_name_steps(case: Case) -> Iterator[Breach]:
    known = _ids(case.pack.steps)
    for place, edge in enumerate(case.pack.precedence):
        yield from _declared(("precedence", place, "before"), edge.before, known, "step")
        yield from _declared(("precedence", place, "after"), edge.after, known, "step")


@rule("precedence")
def _edges_name_misconceptions(case: Case) -> Iterator[Breach]:
    if case.misconceptions is None:
        return
    known = sorted(case.misconceptions)
    for place, edge in enumerate(case.pack.precedence):
        if edge.shows and edge.shows not in known:
            similar = meant(edge.shows, known)
            yield Breach(
                "misconception-unknown",
                ("precedence", place, "shows"),
                edge.shows,
                "What a wrong order shows is a misconception of the catalogue.",
                f"{f'Did you mean {similar}? ' if similar else ''}Correct it, or leave shows out.",
            )


@rule("steps", "configurations")
def _configurations_name_steps(case: Case) -> Iterator[Breach]:
    known = _ids(case.pack.steps)
    for place, configuration in enumerate(case.pack.configurations):
        for key in ("drops", "adds"):
            for index, name in enumerate(getattr(configuration, key)):
                yield from _declared(("configurations", place, key, index), name, known, "step")
        for old, new in configuration.replaces.items():
            yield from _declared(("configurations", place, "replaces", old), old, known, "step")
            yield from _declared(("configurations", place, "replaces", old), new, known, "step")
