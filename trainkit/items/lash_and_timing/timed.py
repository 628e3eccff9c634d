"""What the questions about timing share: the timed gear of an example engine, and how a shift is written."""

from __future__ import annotations

import random
from dataclasses import dataclass

from trainkit.items import example_engines as examples
from trainkit.items.kinds import Given
from trainkit.items.lash_and_timing.mounting import BUILDS, Build
from trainkit.items.lash_and_timing.rules import Shifted
from trainkit.items.template import Redraw
from trainkit.quantities import THIN, plain

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


@dataclass(frozen=True, slots=True)
class Timed:
    """A gear of an example engine that turns at half crank speed and whose timing is set.

    Parameters
    ----------
    engine : examples.Example
        The engine.
    name, title : str
        The gear: its identifier and what it is called.
    radius : float
        Its pitch radius in millimetres.
    builds : tuple of str
        The ways in which it may be mounted: a camshaft has no housing that could turn.
    """

    engine: examples.Example
    name: str
    title: str
    radius: float
    builds: tuple[Build, ...]

    @property
    def rows(self) -> tuple[Given, ...]:
        """The gears from the crank to it, with their teeth."""
        return self.engine.survey.ways[examples.CRANK, self.name].rows


def timed(rng: random.Random) -> Timed:
    """Draw an engine, and of it the gear whose timing is set."""
    engine = examples.example(rng, plain=True)
    name = rng.choice((examples.PUMP, examples.PUMP, examples.CAM))
    gear = engine.survey.train.gear(name)
    if gear.radius_mm is None:  # pragma: no cover - all gears of such an engine have a module
        raise Redraw
    builds: tuple[Build, ...] = ("clamped", "slotted") if name == examples.PUMP else ("clamped",)
    return Timed(engine, name, gear.title, gear.radius_mm, builds)


def circle_radius(rng: random.Random, pitch: float) -> int:
    """Draw the radius of a circle of screws inside a pitch radius, in millimetres.

    Examples
    --------
    >>> circle_radius(random.Random(1), 105.0), circle_radius(random.Random(1), 20.0)
    (38, 11)
    """
    return rng.randint(min(30, int(pitch * 0.5)), int(pitch * 0.8))


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
    ('0.50° late (retard)', 'The timing does not change')
    """
    if not shifted.effect:
        return "The timing does not change"
    return f"{shifted.degrees:.2f}° {'early (advance)' if shifted.effect > 0 else 'late (retard)'}"
