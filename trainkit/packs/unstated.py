"""What a pack does not state, module by module: what is not stated is never guessed, and its module is not ready."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.packs.energies import ASKED_KINDS
from trainkit.packs.precedences import sources
from trainkit.sentences import listed

if TYPE_CHECKING:
    from trainkit.packs.schema import Document
    from trainkit.packs.work import Step

# The modules that show an order of work or a bench; a wrong one there could hurt somebody.
SAFETY_MODULES = ("sequence", "lock-pin", "capstone")

_NO_ENERGIES = "what can move, burn or strike at the engine, and for each other kind who looked and found none (energy)"
_KIND = "whether there is {about} (energy)"
_STEP = "a step that {does} this source: {name} ({key})"
_PATHS = "the paths on which the engine can be started (start_paths)"
_PIN_IN = 'the step that puts the lock pin in (pin = "in")'
_PIN_OUT = 'the step that takes the lock pin out (pin = "out")'
_PIN_TRIED = 'a step that tries the pin in and out (pin = "tried")'
_TURNS = "the step that turns the engine, and how far (turns_engine)"
_CLEAR = 'a step that sees that everybody is clear (does = ["clear"])'
_AGREE = 'a step in which the person in charge agrees (does = ["agree"])'
_LOADS = "whether the torque of these reaches the gear train: {names} (loads_train)"
_STEP_KEYS = {
    "safe": ("isolates", "makes_safe"),
    "proofs": ("proves", "proves"),
    "restores": ("brings back", "restores"),
}


def unstated(pack: Document) -> Mapping[str, tuple[str, ...]]:
    """Return what a pack does not state, in the instructor's words, for each module that is not ready without it.

    Examples
    --------
    >>> from trainkit import packs
    >>> dict(unstated(packs.load("dunlin")))
    {}
    """
    found = tuple(dict.fromkeys(_safety(pack)))
    return MappingProxyType(dict.fromkeys(SAFETY_MODULES, found) if found else {})


def _safety(pack: Document) -> Iterator[str]:
    if pack.energies:
        given = {each.kind for each in pack.energies}
        yield from (_KIND.format(about=about) for kind, about in ASKED_KINDS.items() if kind not in given)
        yield from _handled(pack)
    else:
        yield _NO_ENERGIES
    steps = pack.steps
    yield from _pins(steps)
    done = {deed for step in steps for deed in step.does}
    if "clear" not in done:
        yield _CLEAR
    if "agree" not in done:
        yield _AGREE
    unsaid = [each.name for each in pack.fasteners if each.loads_train is None]
    if unsaid:
        yield _LOADS.format(names=listed(unsaid))


def _pins(steps: tuple[Step, ...]) -> Iterator[str]:
    for wanted, told in (("in", _PIN_IN), ("out", _PIN_OUT), ("tried", _PIN_TRIED)):
        if all(step.pin != wanted for step in steps):
            yield told
    if not any(step.turns_engine for step in steps):
        yield _TURNS


def _handled(pack: Document) -> Iterator[str]:
    """Yield the steps that a source lacks, in any configuration that has it."""
    for name in ("", *(each.id for each in pack.configurations)):
        for source in sources(pack, name):
            if not source.reached:
                continue
            for what, (does, key) in _STEP_KEYS.items():
                if not getattr(source, what):
                    yield _STEP.format(does=does, name=source.energy.name, key=key)
    if any(each.present and each.starts for each in pack.energies) and not pack.start_paths:
        yield _PATHS
