"""What the lock-pin bench says while it is tried out: what eye and hand get, and with the case cut open why."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainkit.items.dial_marks import marks
from trainkit.lockpin import OUTCOMES, Consequence, where
from trainkit.sentences import noun
from trainkit.widgets.aftermath import FIRST_SAFE, MADE_SAFE, MAKE_SAFE, SOUND

if TYPE_CHECKING:
    from trainkit.lockpin import Setup


def lead(watched: str, hole_in: str) -> tuple[str, ...]:
    """Return the sentences below the heading."""
    return (
        "Before you bar a real engine: lock out and prove every source of energy, and agree signals with your helper. "
        "Follow the manufacturer's current manual.",
        f"Which pull of the bar lets the pin into the {hole_in}? Drag the bar, press the pin, "
        f"and watch the mark on the {watched}.",
    )


def sentences(setup: Setup, hole_in: str) -> dict[str, Any]:
    """Return every sentence that the screen may need, those of each passing of the hole in their order."""
    at = marks(setup)
    come_again = f"Bar back until the mark stands at {at['back off to']}, then come forward again."
    return {
        "stands": "The mark stands at {at}.",
        "early": f"Bar forward until the mark stands at {at['press from']}.",
        "window": "Press the pin, and bar forward gently.",
        "missed": f"The mark is past {at['give up']} and the pin is out: the hole is missed. {come_again}",
        "metal": "The pin meets metal.",
        "rubs": f"The pin rubs on the {hole_in}.",
        "rubs_early": f"Pressed this early it only wears. Let go, and press from {at['press from']}.",
        "rubs_late": f"The hole is missed. Let the pin go. {come_again}",
        "rubs_window": "Keep pressing, and bar forward gently.",
        "seats": "The pin goes in.",
        "held": "The bar goes hard. The pin holds the whole engine: let the bar go.",
        "false": "This is a false hole: the mark does not stand at its place. Draw the pin.",
        "wrong_flank": "You came to it by barring back, so the gears rest on the wrong flanks. Draw the pin, bar back "
        f"until the mark stands at {at['back off to']}, and come forward again.",
        "passings": [_passing(setup, passing) for passing in range(setup.passings)],
        "bar_off": "The bar is off and laid aside. Fit it before you bar.",
        "sheared": f"Something cracks. {OUTCOMES[Consequence.SHEARED]}",
        "kicked": f"The pin comes free, the engine kicks, and the bar is thrown. {OUTCOMES[Consequence.KICKED]}",
        "first_safe": FIRST_SAFE,
        "made_safe": MADE_SAFE,
        "make_safe": MAKE_SAFE,
        "sound": SOUND,
    }


def _passing(setup: Setup, passing: int) -> str:
    place = where(setup, passing)
    if setup.right(passing):
        return f"This is {place}: the right place."
    often = f"The hole lines up {counted(setup.passings)}."
    return f"{often} This is {place}: the wrong place. Draw the pin and bar forward."


def counted(passings: int) -> str:
    """Say how often the hole lines up before the engine stands as it did.

    Examples
    --------
    >>> counted(3)
    '3 times before the engine stands as it did'
    """
    return f"{passings} {noun(passings, 'time')} before the engine stands as it did"
