"""What the questions about timing share: the timed gear of a pack, and how a shift is written."""

from __future__ import annotations

import random
from fractions import Fraction
from typing import TYPE_CHECKING

from trainkit.items import gearwork
from trainkit.items.kinds import Given
from trainkit.items.lash_and_timing.mounting import BUILDS, Build
from trainkit.items.lash_and_timing.rules import Shifted
from trainkit.items.template import lacking
from trainkit.quantities import THIN, plain

if TYPE_CHECKING:
    from trainkit.packs import Pack


RADIAN = Given(label="One radian", value="57.3°")
# So much a calculator may be off that works with 57.3 or with 3.14.
PRINTED_SHARE = 6e-4
_SMALLEST = 10  # millimetres of pitch radius; inside less there is no circle of screws


def millimetres(length: float) -> str:
    r"""Write a length.

    Examples
    --------
    >>> millimetres(52.5)
    '52.5\u2009mm'
    """
    return f"{plain(length)}{THIN}mm"


@gearwork.once_a_pack
def half_speed(pack: Pack) -> tuple[str, ...]:
    """Return the gears of camshaft and timed component that turn at half crank speed.

    Raises
    ------
    ItemError
        If there is none.
    """
    survey = gearwork.survey(pack)
    found = tuple(
        gear.id
        for gear in pack.gears
        if gear.role in ("camshaft", "component") and abs(survey.ways[survey.crank, gear.id].ratio) == Fraction(1, 2)
    )
    if not found:
        raise lacking(pack, "a camshaft or component gear at half crank speed", "Add it under [[gears]]")
    return found


@gearwork.once_a_pack
def timed(pack: Pack) -> tuple[str, float]:
    """Return the gear whose timing the lock pin fixes, and its pitch radius in millimetres.

    Raises
    ------
    ItemError
        If it does not turn at half crank speed, or its radius is not known.
    """
    name = pack.lock_pin_table.component
    radius = pack.gear(name).pitch_radius_mm if name in half_speed(pack) else None
    if radius is None or radius < _SMALLEST:
        raise lacking(
            pack,
            f"a timed gear at half crank speed whose module is known and whose pitch radius is "
            f"at least {_SMALLEST} mm; the component of the lock pin is {name!r}",
            "State module_mm of that gear",
        )
    return name, radius


def circle_radius(rng: random.Random, pitch: float) -> int:
    """Draw the radius of a circle of screws inside a pitch radius, in millimetres.

    Examples
    --------
    >>> circle_radius(random.Random(1), 105.0), circle_radius(random.Random(1), 20.0)
    (38, 11)
    """
    return rng.randint(min(30, int(pitch * 0.5)), int(pitch * 0.8))


@gearwork.once_a_pack
def builds(pack: Pack) -> tuple[Build, ...]:
    """Return the ways in which the timed component may be mounted: a camshaft has no housing that could turn."""
    component = pack.gear(pack.lock_pin_table.component).role == "component"
    return ("clamped", "slotted") if component else ("clamped",)


def build_row(build: Build) -> Given:
    """Return the line that says how gear, shaft and housing hold together in this question."""
    return Given(label="Taken for this question", value=BUILDS[build])


def radius_row(title: str, radius: float) -> Given:
    """Return the line with the pitch radius of a gear."""
    return Given(label=f"Pitch radius of the {title}", value=millimetres(radius))


def shift_text(shifted: Shifted) -> str:
    """Write a shift of timing as an option.

    Examples
    --------
    >>> shift_text(Shifted(0.5, -1)), shift_text(Shifted(0.0))
    ('0.50° of the crank late (retard)', 'The timing does not change')
    """
    if not shifted.effect:
        return "The timing does not change"
    return f"{shifted.degrees:.2f}° of the crank {'early (advance)' if shifted.effect > 0 else 'late (retard)'}"
