"""The words of cautions that no engine goes without; they stand in where a pack has no caution of that kind.

They are general and name no value, so they are right for every engine. A pack's own caution of the kind takes their
place: it can name the isolator, the heater or the spring that is meant.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

# By kind: the title, and what to do.
STANDARD: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "start-attempt": (
            "Try the start",
            "After lock-out, see that everyone is clear. Then try to start the engine from every place: local, remote, "
            "automatic. With a flat battery or another switch off, “it does not start” proves nothing. "
            "Set the controls to off again.",
        ),
        "heater": (
            "Heater with its own supply",
            "A heater can have its own supply and stay live with the engine locked out. Isolate and lock that supply "
            "too, and have it tested dead.",
        ),
        "signals": (
            "Second person and signals",
            "Agree the signals before you begin. One person calls. Turn the engine only when everyone says “clear” "
            "and the caller says “turn”. At “stop” from anyone, at silence or in doubt: stop.",
        ),
        "fuel-jet": (
            "Fuel jet",
            "Never feel for a leak by hand: a fuel jet goes through gloves and skin. If it hits you, go to hospital at "
            "once, even if the wound looks small. Say “high-pressure injection”.",
        ),
        "flames": ("No flames", "No flames, sparks or smoking near fuel, oil mist or a battery."),
        "coolant": (
            "Hot coolant under pressure",
            "Open the cooling system only when it is cool. Opened hot, the coolant boils out and scalds.",
        ),
        "springs": (
            "Springs",
            "A spring under load throws parts. Hold it with its tool, or let it down, before you free it.",
        ),
        "protection": (
            "Eye protection and gloves",
            "Wear eye protection. Wear gloves for fuel and for hot parts, but none beside moving gears. "
            "Take rings off.",
        ),
    }
)
