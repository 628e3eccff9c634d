"""Threads by their designation: ``M10``, ``M10x1.25``, ``1/2-13 UNC``, ``#10-32 UNF``.

Pitches are those of ISO 261 (metric) and ASME B1.1 (inch, unified coarse and fine), both from memory; a pitch that the
standard does not pair with the diameter is refused, because it is a slip or the length of the screw. Diameters follow
ISO 724 and ISO 898-1, the stress area of an inch thread ASME B1.1 appendix B.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache

from trainkit.errors import FastenerError

INCH = 25.4

# Nominal diameter: the coarse pitch first, then the fine ones, all in mm. ISO 261, from memory.
_METRIC = {
    "1.6": "0.35 0.2",
    "2": "0.4 0.25",
    "2.5": "0.45 0.35",
    "3": "0.5 0.35",
    "3.5": "0.6 0.35",
    "4": "0.7 0.5",
    "5": "0.8 0.5",
    "6": "1 0.75",
    "7": "1 0.75",
    "8": "1.25 1 0.75",
    "10": "1.5 1.25 1 0.75",
    "12": "1.75 1.5 1.25 1",
    "14": "2 1.5 1.25 1",
    "16": "2 1.5 1",
    "18": "2.5 2 1.5 1",
    "20": "2.5 2 1.5 1",
    "22": "2.5 2 1.5 1",
    "24": "3 2 1.5 1",
    "27": "3 2 1.5 1",
    "30": "3.5 3 2 1.5 1",
    "33": "3.5 3 2 1.5",
    "36": "4 3 2 1.5",
    "39": "4 3 2 1.5",
    "42": "4.5 4 3 2 1.5",
    "45": "4.5 4 3 2 1.5",
    "48": "5 4 3 2 1.5",
    "52": "5 4 3 2 1.5",
    "56": "5.5 4 3 2 1.5",
    "60": "5.5 4 3 2 1.5",
    "64": "6 4 3 2 1.5",
}
# Size: threads an inch of the coarse series, then of the fine series. ASME B1.1, from memory.
_INCH = {
    "#2": "56 64",
    "#4": "40 48",
    "#6": "32 40",
    "#8": "32 36",
    "#10": "24 32",
    "#12": "24 28",
    "1/4": "20 28",
    "5/16": "18 24",
    "3/8": "16 24",
    "7/16": "14 20",
    "1/2": "13 20",
    "9/16": "12 18",
    "5/8": "11 18",
    "3/4": "10 16",
    "7/8": "9 14",
    "1": "8 12",
    "1 1/8": "7 12",
    "1 1/4": "7 12",
    "1 3/8": "6 12",
    "1 1/2": "6 12",
}

_METRIC_TEXT = re.compile(r"M\s*([0-9]+(?:[.,][0-9]+)?)(?:\s*[x×X*]\s*([0-9]+(?:[.,][0-9]+)?))?", re.ASCII)
_INCH_TEXT = re.compile(
    r"""(\#[0-9]{1,2}|(?:[0-9]+[ -])?[0-9]+/[0-9]+|[0-9]+)["″]?  # size
    (?:\s*[-–]\s*([0-9]+))?                                     # threads an inch
    (?:\s*[-–]?\s*(UNC|UNF))?""",
    re.VERBOSE | re.ASCII | re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Thread:
    """A screw thread, read from its designation.

    Parameters
    ----------
    text : str
        ``"M10"`` (coarse pitch implied), ``"M10x1.25"``, ``"1/2-13 UNC"``, ``"1/2 UNF"``, ``"#10-32"``.

    Attributes
    ----------
    system : str
        ``"metric"`` or ``"inch"``.
    diameter : float
        Nominal diameter d, mm.
    pitch : float
        P, mm.
    coarse : bool
        Whether the pitch is that of the coarse series.

    Raises
    ------
    FastenerError
        If the standard has no such thread.

    Examples
    --------
    >>> thread = Thread("M10x1.25")
    >>> thread.pitch, thread.coarse, round(thread.stress_area, 1)
    (1.25, False, 61.2)
    >>> Thread("M10") == Thread("M10x1.5"), str(Thread("1/2 UNC"))
    (True, '1/2-13 UNC')
    >>> Thread("M10x40")
    Traceback (most recent call last):
    ...
    trainkit.errors.FastenerError: 'M10x40': ISO 261 pairs M10 with a pitch of 1.5, 1.25, 1 or 0.75 mm. Write one of \
these; the length of the screw does not belong here.
    """

    text: str = field(compare=False)
    system: str = field(init=False)
    diameter: float = field(init=False)
    pitch: float = field(init=False)
    coarse: bool = field(init=False)

    def __post_init__(self) -> None:
        if not isinstance(self.text, str):
            raise FastenerError(self.text, rule="A thread is named by text.", remedy="Write it as M10x1.25.")
        tidy = " ".join(self.text.split())
        if found := _METRIC_TEXT.fullmatch(tidy):
            system, diameter, pitch, coarse = _metric(self.text, *found.groups())
        elif found := _INCH_TEXT.fullmatch(tidy):
            system, diameter, pitch, coarse = _inch(self.text, *found.groups())
        else:
            raise FastenerError(
                self.text,
                rule="A thread is written M10, M10x1.25, 1/2-13 UNC or #10-32 UNF.",
                remedy="Write the designation alone, without length, class or tolerance.",
            )
        for name, value in (("system", system), ("diameter", diameter), ("pitch", pitch), ("coarse", coarse)):
            object.__setattr__(self, name, value)

    @property
    def height(self) -> float:
        """Height H of the fundamental triangle, mm (ISO 68-1)."""
        return math.sqrt(3) / 2 * self.pitch

    @property
    def pitch_diameter(self) -> float:
        """Pitch diameter d2 = d − 3/4 H, mm (ISO 724)."""
        return self.diameter - 0.75 * self.height

    @property
    def nut_minor_diameter(self) -> float:
        """Basic minor diameter d1 = d − 5/4 H, mm (ISO 724)."""
        return self.diameter - 1.25 * self.height

    @property
    def minor_diameter(self) -> float:
        """Minor diameter d3 = d1 − H/6 of the screw, mm (ISO 898-1)."""
        return self.nut_minor_diameter - self.height / 6

    @property
    def stress_diameter(self) -> float:
        """Diameter of the stress area, mm: (d2 + d3) / 2 (ISO 898-1), for inch threads d − 0.9743 P (ASME B1.1)."""
        if self.system == "inch":
            return self.diameter - 0.9743 * self.pitch
        return (self.pitch_diameter + self.minor_diameter) / 2

    @property
    def stress_area(self) -> float:
        """Stress area, mm², not rounded; the tables of ISO 898-1 print three significant digits of it."""
        return math.pi / 4 * self.stress_diameter**2

    def __str__(self) -> str:
        if self.system == "metric":
            return f"M{self.diameter:g}" + ("" if self.coarse else f"×{self.pitch:g}")
        size = next(size for size in _INCH if math.isclose(_size(size), self.diameter))
        return f"{size}-{round(INCH / self.pitch)} {'UNC' if self.coarse else 'UNF'}"


def _metric(text: str, diameter: str, pitch: str | None) -> tuple[str, float, float, bool]:
    wanted = float(diameter.replace(",", "."))
    known = {float(size): [float(entry) for entry in pitches.split()] for size, pitches in _METRIC.items()}
    if wanted not in known:
        raise FastenerError(
            text,
            rule=f"The metric sizes known here are M{', M'.join(_METRIC)}.",
            remedy="Read the designation on the part or in the manual again.",
        )
    pitches = known[wanted]
    chosen = pitches[0] if pitch is None else float(pitch.replace(",", "."))
    if chosen not in pitches:
        *most, last = [f"{entry:g}" for entry in pitches]
        raise FastenerError(
            text,
            rule=f"ISO 261 pairs M{wanted:g} with a pitch of {', '.join(most)} or {last} mm.",
            remedy="Write one of these; the length of the screw does not belong here.",
        )
    return "metric", wanted, chosen, chosen == pitches[0]


def _inch(text: str, size: str, threads: str | None, series: str | None) -> tuple[str, float, float, bool]:
    size = size.replace("-", " ")
    if size.isdigit() and f"#{size}" in _INCH:
        size = f"#{size}"
    if size not in _INCH:
        raise FastenerError(
            text, rule=f"The inch sizes known here are {', '.join(_INCH)}.", remedy="Read the designation again."
        )
    coarse, fine = (int(entry) for entry in _INCH[size].split())
    named = {"UNC": coarse, "UNF": fine}.get((series or "").upper())
    counted = int(threads) if threads is not None else named
    if counted not in (coarse, fine) or named not in (None, counted):
        raise FastenerError(
            text,
            rule=f"The size {size} has {coarse} threads an inch (UNC) or {fine} (UNF).",
            remedy=f"Write {size}-{coarse} UNC or {size}-{fine} UNF.",
        )
    return "inch", _size(size), INCH / counted, counted == coarse


@lru_cache(maxsize=64)
def _size(size: str) -> float:
    """Return the nominal diameter of an inch size in mm; numbered sizes are 0.060 in and 0.013 in a number."""
    if size.startswith("#"):
        return float(Fraction("0.060") + Fraction("0.013") * int(size[1:])) * INCH
    return float(sum(Fraction(part) for part in size.split())) * INCH
