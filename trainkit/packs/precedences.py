"""Precedences that nobody has to write: they follow from what the steps do with energies, pins and bars.

An author's precedence between the same two steps stays and keeps its words; it becomes dangerous where safety says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainkit.errors import ProcedureError
from trainkit.packs import reasons
from trainkit.packs.pins import PinnedSpan, Pins, bars

if TYPE_CHECKING:
    from trainkit.packs.energies import Energy
    from trainkit.packs.schema import Document
    from trainkit.packs.work import Step
    from trainkit.procedures import Edge, Procedure


def exposed(step: Step, energy: Energy, energies: Sequence[Energy]) -> bool:
    """Tell whether a source reaches the hands in a step, so that it has to be proved first.

    Parameters
    ----------
    step : Step
        A step of the work.
    energy : Energy
        One source.
    energies : sequence of Energy
        All sources that are there.

    Notes
    -----
    A step that makes a source safe, proves it, restores it or needs it live is not exposed to that source. One that
    does so with a source that turns the engine is exposed to others of that sort only where ``exposed_to`` says so.
    """
    handled = {*step.makes_safe, *step.proves, *step.restores}
    if energy.id in handled or energy.id in step.needs_live:
        return False
    if energy.id in step.exposed_to or energy.kind in step.exposed_to:
        return True
    if not step.at_engine or not energy.everywhere:
        return False
    if energy.turns:
        handled |= set(step.needs_live)
        return not any(each.turns for each in energies if each.id in handled)
    return not handled


@dataclass(frozen=True, slots=True)
class Source:
    """One source with the steps that have to do with it, by identifier."""

    energy: Energy
    safe: tuple[str, ...]
    proofs: tuple[str, ...]
    restores: tuple[str, ...]
    needs: tuple[str, ...]
    reached: tuple[str, ...]

    @property
    def gates(self) -> tuple[str, ...]:
        """What has to be done before anyone comes within reach."""
        return (*self.safe, *self.proofs)


def sources(pack: Document, configuration: str = "") -> tuple[Source, ...]:
    """Return the sources of a configuration and who has to do with them."""
    steps, energies = pack.steps_of(configuration), pack.energies_of(configuration)

    def those(energy: Energy, key: str) -> tuple[str, ...]:
        return tuple(step.id for step in steps if energy.id in getattr(step, key))

    return tuple(
        Source(
            energy,
            those(energy, "makes_safe"),
            those(energy, "proves"),
            those(energy, "restores"),
            those(energy, "needs_live"),
            tuple(step.id for step in steps if exposed(step, energy, energies)),
        )
        for energy in energies
    )


def with_derived(pack: Document, configuration: str, known: Sequence[str], written: Sequence[Edge]) -> list[Edge]:
    """Return the written edges and those that follow, without what other dangerous edges imply already.

    Where the written edges wait for each other in a ring, or contradict what follows, all are returned as they are;
    the procedure made of them then names the ring.
    """
    merged = {(edge.before, edge.after): edge for edge in all_edges(pack, configuration, known, written)}
    own = {(edge.before, edge.after) for edge in written}
    if (whole := _procedure(known, merged.values())) is None or set(merged) == own:
        return list(merged.values())
    danger = whole.relation.danger
    below = [0] * len(danger)  # what dangerous edges reach in two steps or more
    for number, row in enumerate(danger):
        left = row
        while left:
            low = left & -left
            below[number] |= danger[low.bit_length() - 1]
            left ^= low
    numbers = whole.relation.numbers
    return [edge for pair, edge in merged.items() if pair in own or not below[numbers[pair[0]]] >> numbers[pair[1]] & 1]


def all_edges(pack: Document, configuration: str, known: Sequence[str], written: Sequence[Edge]) -> list[Edge]:
    """Return the written edges and all that follow, as far as the written ones make a procedure."""
    merged: dict[tuple[str, str], Edge] = {(edge.before, edge.after): edge for edge in written}
    if (base := _procedure(known, merged.values())) is not None:
        _merge(merged, of_energies(pack, configuration, base))
        if (base := _procedure(known, merged.values())) is not None:
            _merge(merged, of_pins(pack, configuration, base))
    return list(merged.values())


def _procedure(known: Sequence[str], edges: Iterable[Edge]) -> Procedure | None:
    from trainkit.procedures import Procedure

    try:
        return Procedure(known, edges)
    except ProcedureError:
        return None


def _merge(merged: dict[tuple[str, str], Edge], more: Iterable[Edge]) -> None:
    for edge in more:
        pair = edge.before, edge.after
        if edge.before == edge.after:
            continue
        there = merged.get(pair)
        merged[pair] = edge if there is None else replace(there, dangerous=True, shows=there.shows or edge.shows)


def _edge(before: str, after: str, reason: str, shows: str) -> Edge:
    from trainkit.procedures import Edge

    return Edge(before, after, reason, dangerous=True, shows=shows)


# What a wrong order shows, by the code of the catalogue.
UNPROVED = "work-before-proof"
PROVED_LIVE = "proof-before-isolation"
SPOILT = "attempt-spoilt"
TOO_SOON = "restored-too-soon"
PIN_LAST = "pin-out-last"
LOCK_ON = "lock-left-on"
AGAINST_PIN = "turned-against-pin"
STIFF = "stiff-pin-barred"
BAR_ON = "bar-left-on"
UNPINNED = "set-unpinned"
STAGE = "stage-out-of-order"


def of_energies(pack: Document, configuration: str, base: Procedure) -> Iterator[Edge]:
    """Yield what follows from the energies: isolate, prove, work, ask, restore."""
    found = sources(pack, configuration)
    for source in found:
        yield from _of_source(source, base)
    yield from _attempts(pack, found)
    yield from _asked(pack, configuration, found)
    starting = [(source, step) for source in found if source.energy.starts for step in source.restores]
    for source in found:
        if source.energy.starts:
            continue
        reason = reasons.start_comes_last(source.energy)
        yield from (_edge(step, last, reason, TOO_SOON) for step in source.restores for _, last in starting)


def _of_source(source: Source, base: Procedure) -> Iterator[Edge]:
    energy = source.energy
    for safe in source.safe:
        for proof in source.proofs:
            yield _edge(safe, proof, reasons.proof_after_isolation(energy), PROVED_LIVE)
    for step in source.reached:
        for gate in source.gates:
            yield _edge(gate, step, reasons.harm(energy), UNPROVED)
        for back in source.restores:
            yield _edge(step, back, reasons.back_after_work(energy), TOO_SOON)
    for back in source.restores:
        for gate in source.gates:
            yield _edge(gate, back, reasons.back_after_safe(energy), TOO_SOON)
    for step in source.needs:
        early = [gate for gate in source.safe if base.comes_before(step, gate)]
        ends = [(step, gate) for gate in early] or [(back, step) for back in source.restores]
        yield from (_edge(*pair, reasons.needed_live(energy), TOO_SOON) for pair in ends)


def _attempts(pack: Document, found: Sequence[Source]) -> Iterator[Edge]:
    """Yield that a start is tried while every other link of the path is closed; else "no start" proves nothing."""
    known = {source.energy.id: source for source in found}
    for path in pack.start_paths:
        links = [known[link] for link in path.links if link in known]
        for tried in links:
            if tried.energy.proof != "start-attempt":
                continue
            for other in links:
                # Two links that are both proved so cannot be put in order; the checker tells of them.
                if other is not tried and other.energy.proof != "start-attempt":
                    reason = reasons.attempt_spoilt(other.energy)
                    yield from (_edge(one, two, reason, SPOILT) for one in tried.proofs for two in other.safe)


def _asked(pack: Document, configuration: str, found: Sequence[Source]) -> Iterator[Edge]:
    """Yield that everybody is clear and the person in charge agrees before the first lock comes off."""
    steps = pack.steps_of(configuration)
    agree = [step.id for step in steps if "agree" in step.does]
    clear = [step.id for step in steps if "clear" in step.does]
    for source in found:
        if not source.energy.turns:
            continue
        for back in source.restores:
            yield from (_edge(ask, back, reasons.ASK_BEFORE_LOCKS, TOO_SOON) for ask in (*clear, *agree))
        for step in source.reached:
            yield from (_edge(step, ask, reasons.ASK_AFTER_WORK, TOO_SOON) for ask in agree)


def of_pins(pack: Document, configuration: str, base: Procedure) -> Iterator[Edge]:
    """Yield what follows from pins and bars, given what is ordered already."""
    steps = [step for step in pack.steps_of(configuration) if step.id in base]
    pins = Pins.of(pack, steps, base)
    for pin in pins.tools:
        for interval in pins.intervals(pin):
            if interval.out:
                yield _edge(interval.entered, interval.out, reasons.PIN_OUT_AGAIN, "")
            yield from _kept_clear(pins, interval, base, pin == pins.lock_pin)
    if pins.lock_pin:
        yield from _tried(pins, base)
        yield from _set(pins, base)
        for interval in pins.intervals(pins.lock_pin):
            yield from _bar_off(pack, steps, interval, base)
    yield from _angles(pack, steps)


def _kept_clear(pins: Pins, interval: PinnedSpan, base: Procedure, lock_pin: bool) -> Iterator[Edge]:
    shows = PIN_LAST if lock_pin else LOCK_ON
    cases = [(step, reasons.PIN_TAKES_TORQUE, shows) for step in pins.loading]
    cases += [(step, reasons.PIN_TURNED_AGAINST, AGAINST_PIN) for step in pins.turning]
    for step, reason, code in cases:
        side = pins.side(step, interval, base)
        if side == "before":
            yield _edge(step, interval.put, reason, code)
        elif side == "after" and interval.out:
            yield _edge(interval.out, step, reason, code)


def _tried(pins: Pins, base: Procedure) -> Iterator[Edge]:
    for tried in pins.tried:
        for step in pins.turning:
            if not base.comes_before(step, tried):
                yield _edge(tried, step, reasons.PIN_TRIED, STIFF)


def _set(pins: Pins, base: Procedure) -> Iterator[Edge]:
    intervals = pins.intervals(pins.lock_pin)
    for step in pins.setting:
        # Where the pin goes in more than once, the author says in which of them; the checker holds it.
        chosen = [each for each in intervals if pins.side(step, each, base) == "inside"]
        for interval in chosen or (intervals if len(intervals) == 1 else ()):
            yield _edge(interval.put, step, reasons.SET_WHILE_PINNED, UNPINNED)
            if interval.out:
                yield _edge(step, interval.out, reasons.SET_WHILE_PINNED, UNPINNED)


def _bar_off(pack: Document, steps: Sequence[Step], interval: PinnedSpan, base: Procedure) -> Iterator[Edge]:
    for off in bars(pack, steps, interval, base).off:
        yield _edge(interval.put, off, reasons.PIN_THEN_BAR_OFF, BAR_ON)
        for step in steps:
            late = bool(interval.out) and base.comes_before(interval.out, step.id)
            while_pinned = base.comes_before(interval.put, step.id) and not late
            if while_pinned and step.at_engine and not base.comes_before(step.id, off):
                yield _edge(off, step.id, reasons.BAR_LEFT_ON, BAR_ON)


def _angles(pack: Document, steps: Sequence[Step]) -> Iterator[Edge]:
    for fastener in getattr(pack, "fasteners", ()):  # missing where its shape is wrong, while a pack is examined
        for earlier, later in zip(fastener.stages, fastener.stages[1:], strict=False):
            if later.angle is None:
                continue
            first = [step.id for step in steps if (step.fastener, step.stage) == (fastener.id, earlier.name)]
            then = [step.id for step in steps if (step.fastener, step.stage) == (fastener.id, later.name)]
            yield from (_edge(one, other, reasons.ANGLE_AFTER_STAGE, STAGE) for one in first for other in then)
