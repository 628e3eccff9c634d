"""Rules about what holds the gears while people work: pins, bars and other tools that stay on, and who turns."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from trainkit.packs.pins import PinnedSpan, Pins, bars
from trainkit.packs.rules.base import Breach, Case, near, rule

if TYPE_CHECKING:
    from trainkit.packs.findings import Path
    from trainkit.packs.work import Step
    from trainkit.procedures import Procedure

__all__: list[str] = []


@rule("steps", "tools")
def _tools_stay(case: Case) -> Iterator[Breach]:
    known = [tool.id for tool in case.pack.tools]
    pins = {tool.id for tool in case.pack.tools if tool.kind == "pin"}
    taken = {name for step in case.pack.steps for name in step.takes_away}
    for place, step in enumerate(case.pack.steps):
        for key in ("puts_on", "takes_away"):
            for index, name in enumerate(getattr(step, key)):
                if name not in known:
                    path: Path = ("steps", place, key, index)
                    yield Breach(
                        "tool-undeclared", path, name, "No tool of this name is declared.", near(name, known, "tool")
                    )
        for name in step.puts_on:
            if name in known and name not in taken:
                yield Breach(
                    "tool-left-on",
                    ("steps", place, "puts_on"),
                    name,
                    "What is put on the engine comes off again; no step takes this away.",
                    f'Add takes_away = ["{name}"] to the step that does.',
                )
        if step.pin and step.tool not in pins:
            yield Breach(
                "pin-without-tool",
                ("steps", place, "pin"),
                step.pin,
                "A step that puts a pin in or takes it out names it as its tool.",
                "Add tool with the identifier of a tool of kind pin.",
            )


@rule("steps", "tools", "fasteners", "precedence", "configurations")
def _pins(case: Case) -> Iterator[Breach]:
    """Hold that nothing loads the train or turns the engine while a pin is in, and that every pin comes out."""
    places = {step.id: place for place, step in enumerate(case.pack.steps)}
    told: set[Breach] = set()
    for name, base in case.bases.items():
        steps = case.pack.steps_of(name)
        pins = Pins.of(case.pack, steps, base)
        for fault in (
            *_chains(pins, places, steps),
            *_in_between(case, pins, places, name),
            *_lock_pin(case, pins, places, name),
        ):
            if fault not in told:
                told.add(fault)
                yield fault


def _chains(pins: Pins, places: dict[str, int], steps: tuple[Step, ...]) -> Iterator[Breach]:
    for tool in pins.tools:
        moved = [step for step in steps if step.tool == tool and step.pin in ("in", "out")]
        chain = pins.chains[tool]
        if chain is None and moved:
            yield Breach(
                "pin-steps-unordered",
                ("steps", places[moved[0].id], "pin"),
                tool,
                f"{tool} goes in and comes out in turn; these steps do not, or no precedence puts them in order: "
                f"{', '.join(step.id for step in moved)}.",
                'Add the step with pin = "in" or "out" that is missing, and a precedence from each to the next.',
            )
        for interval in chain or ():
            if not interval.out:
                yield Breach(
                    "pin-never-out",
                    ("steps", places[interval.entered], "pin"),
                    tool,
                    f"{interval.entered} puts {tool} in, and no step takes it out.",
                    'Add the step with pin = "out", before anything loads the gears.',
                )


def _in_between(case: Case, pins: Pins, places: dict[str, int], name: str) -> Iterator[Breach]:
    base = case.bases[name]
    loading = [(step, "pin-in-under-torque", "Torque against a pin shears it", "tool") for step in pins.loading]
    turning = [
        (step, "engine-turned-with-pin", "Turning against a pin shears it", "turns_engine") for step in pins.turning
    ]
    for tool in pins.tools:
        for interval in pins.intervals(tool):
            for step, code, harm, key in (*loading, *turning):
                side = pins.side(step, interval, base)
                if side == "inside":
                    yield Breach(
                        code,
                        ("steps", places[step], key),
                        step,
                        f"{harm}; {tool} is in from {interval.entered} on"
                        + (f" to {interval.out}." if interval.out else "."),
                        "Take the pin out before this step and hold the gear otherwise; put it in again afterwards.",
                    )
                elif side == "unsaid":
                    yield Breach(
                        "load-beside-pin",
                        ("steps", places[step], key),
                        step,
                        f"{harm}; nothing says whether this comes before {interval.put} or after "
                        f"{interval.out or 'it'}.",
                        "Add that precedence.",
                    )


def _lock_pin(case: Case, pins: Pins, places: dict[str, int], name: str) -> Iterator[Breach]:
    """Hold what the lock pin is there for: tried before anything turns, in while the position is set, the bar off."""
    base, steps = case.bases[name], case.pack.steps_of(name)
    intervals = pins.intervals(pins.lock_pin)
    for step in pins.setting:
        if intervals and not _may_be_inside(pins, step, intervals, base):
            yield Breach(
                "set-before-pinned",
                ("steps", places[step], "does"),
                step,
                "A position is set while the lock pin holds the gears; here the pin is not in.",
                "Add the precedence that puts this step between pin in and pin out.",
            )
    for step in pins.tried:
        late = [turn for turn in pins.turning if base.comes_before(turn, step)]
        if late:
            yield Breach(
                "pin-tried-late",
                ("steps", places[step], "pin"),
                step,
                f"The lock pin is tried before the engine turns; {late[0]} comes first here.",
                f'Put {step} before {late[0]}, or write does = ["check"] where it is a check afterwards.',
            )
    for interval in intervals:
        state = bars(case.pack, steps, interval, base)
        if state.on and not state.off:
            yield Breach(
                "bar-left-on",
                ("steps", places[interval.entered], "pin"),
                state.on[0],
                f"{state.on[0]} puts the bar on, and nothing takes it off once the pin is in; "
                "a bar left on can turn the engine against the pin.",
                "Add the step that takes it away after this one, and the precedence.",
            )


def _may_be_inside(pins: Pins, step: str, intervals: tuple[PinnedSpan, ...], base: Procedure) -> bool:
    """Tell whether a step is done while the pin is in, or can be put there by itself."""
    if len(intervals) > 1:
        return any(pins.side(step, each, base) == "inside" for each in intervals)
    (only,) = intervals
    return not base.comes_before(step, only.put) and not (only.out and base.comes_before(only.out, step))


@rule("steps", "barring", "lock_pin")
def _people(case: Case) -> Iterator[Breach]:
    """Hold that two people bar where the marks are read at the other end."""
    bar, table = case.pack.barring, case.pack.lock_pin_table
    if bar.stands_at == table.seen_from:
        return
    for place, step in enumerate(case.pack.steps):
        if step.turns_engine and step.people < 2:
            yield Breach(
                "barred-alone",
                ("steps", place, "turns_engine"),
                step.id,
                f"The bar is at the {bar.stands_at}, the marks are read from the {table.seen_from}; "
                "one person cannot do both.",
                "Write people = 2, and agree on signals.",
            )


@rule("lock_pin", "gears", "meshes", "engine", "barring")
def _wrong_flank(case: Case) -> Iterator[Breach]:
    from trainkit.lockpin.angles import rounded_down

    table, setup = case.pack.lock_pin_table, case.pin
    if isinstance(setup, Exception):
        return
    apart = abs(setup.lash_to_component - setup.lash_to_pin)
    if 0 < apart <= table.tolerance_deg:
        yield Breach(
            "tolerance-hides-flank",
            ("lock_pin", "tolerance_deg"),
            table.tolerance_deg,
            f"A pin pressed in while barring back puts the component {float(apart):.3g} crank degrees out; "
            "this tolerance lets that pass.",
            f"Write at most a third of it, {float(rounded_down(apart / 3)):g}.",
            "unstated",
        )
