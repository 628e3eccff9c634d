"""Sentences of precedences that follow by themselves: why the wrong order can hurt the engine or a person."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainkit.packs.energies import Energy


_HARM = {
    "electric-start": "Until this is proved dead, the engine can turn over under your hands: {name}.",
    "air-start": "Until this is proved empty, the engine can turn over under your hands: {name}.",
    "hydraulic-start": "Until this is proved empty, the engine can turn over under your hands: {name}.",
    "automatic-start": "Until this is proved dead, the engine can start with nobody near it: {name}.",
    "driven-machine": "Until this is proved held, it can turn the engine under your hands: {name}.",
    "mains-back-feed": "Until this is proved dead, it can turn the engine or give a shock: {name}.",
    "heater": "Until this is proved dead, it can give a shock: {name}.",
    "fuel-pressure": "Until this is proved relieved, a fuel jet can pierce skin: {name}.",
    "hot-coolant": "Until this is proved cool and open, it can spray and scald: {name}.",
    "spring": "Until this is proved slack, it can throw a part: {name}.",
    "raised-load": "Until this is proved held, it can come down: {name}.",
    "charger": "Until this is proved dead, it can give a shock or fill a battery again: {name}.",
    "capacitor": "Until this is proved empty, it can give a shock: {name}.",
    "other": "Until this is proved dead, it can hurt you: {name}.",
}
_OWN_SUPPLY = "This has a supply of its own and gives a shock until it is proved dead: {name}."

PIN_TAKES_TORQUE = "The pin only finds a place. Torque shears it or damages the gears."
PIN_TURNED_AGAINST = "An engine that is turned against the pin shears it."
PIN_TRIED = "A stiff pin gives a false feel. Try it before the engine turns."
PIN_OUT_AGAIN = "A pin that is not in cannot come out."
PIN_THEN_BAR_OFF = "Once the pin seats, the engine must not move."
BAR_LEFT_ON = "A bar left on can turn the engine against the pin."
SET_WHILE_PINNED = "The position is set only while the pin holds the gears."
ANGLE_AFTER_STAGE = "The angle counts from the stage before it."
ASK_BEFORE_LOCKS = "Locks come off only when everybody is clear and the person in charge agrees."
ASK_AFTER_WORK = "Nobody is clear while work at the engine goes on."


def harm(energy: Energy) -> str:
    """Say what a source can do until it is proved.

    Examples
    --------
    >>> from trainkit.packs.energies import Energy
    >>> harm(Energy(id="water", name="column of water", kind="driven-machine"))
    'Until this is proved held, it can turn the engine under your hands: column of water.'
    """
    template = _OWN_SUPPLY if energy.kind == "heater" and energy.own_supply else _HARM[energy.kind]
    return template.format(name=energy.name)


def proof_after_isolation(energy: Energy) -> str:
    """Say why a proof comes after isolation."""
    return f"Nothing is proved before it is isolated and locked: {energy.name}."


def attempt_spoilt(energy: Energy) -> str:
    """Say why a start is tried before another link of its path is opened."""
    return f"With this link open too, an attempt that fails proves nothing: {energy.name}."


def back_after_work(energy: Energy) -> str:
    """Say why a source comes back only after the work in its reach."""
    return f"Somebody still works within reach of this source: {energy.name}."


def back_after_safe(energy: Energy) -> str:
    """Say why a source comes back after it was made safe."""
    return f"Only what was isolated can come back: {energy.name}."


def start_comes_last(energy: Energy) -> str:
    """Say why what starts the engine comes back after another source."""
    return f"The engine must not start before this source is back in service: {energy.name}."


def needed_live(energy: Energy) -> str:
    """Say why a step needs a source in service."""
    return f"This step needs the source in service: {energy.name}."
