"""What a figure is: a value with its number of cases and its interval, or the words why there is none.

A cohort in a workshop is small. So no figure stands alone: an :class:`Estimate` carries how many people (answers,
judges, …) it rests on and where it may well lie, and where the number is too small to say anything, or the answers
cannot give the figure at all, a :class:`Withheld` says so in words. Both are read-only, both have the same first
fields, and :attr:`shown` tells them apart.

From how many cases a figure is given stands in :data:`LEAST`. These numbers are judgement (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from types import MappingProxyType
from typing import Any, ClassVar, Literal, TypeAlias

from trainkit.sentences import counted, noun
from trainkit_grading.errors import StatisticsError

__all__ = ["CONFIDENCE", "LEAST", "Estimate", "Figure", "Interval", "Withheld", "counted"]

# How sure an interval is meant to be: of a hundred of them about 95 hold the true value.
CONFIDENCE = 0.95

# By family of figures: the fewest cases from which one is given.
LEAST: Mapping[str, int] = MappingProxyType(
    {
        "share": 5,  # people: difficulty, shares with a Wilson interval, the table of cut scores
        "reliability": 30,  # people: alpha, KR-20, KR-21, the error of measurement, decisions near the cut
        "reliability over draws": 60,  # people with draws of their own: the chance of the draw comes on top
        "discrimination": 30,  # people or answers: point-biserials, upper and lower groups
        "kappa": 20,  # pieces of work that two people judged
        "judges": 3,  # judges who set a cut score
    }
)


def _number(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}"
    return text.removeprefix("-") if not float(text) else text.replace("-", "−")


@dataclass(frozen=True, slots=True)
class Interval:
    """Where the true value may well lie.

    Parameters
    ----------
    low, high : float
        Its limits, in the unit of the figure.
    confidence : float
        How many of such intervals hold the true value, 0 to 1.
    method : str
        How it was worked out, in a few words: ``"Wilson"``.

    Examples
    --------
    >>> 0.5 in Interval(0.4, 0.6, 0.95, "Wilson")
    True
    """

    low: float
    high: float
    confidence: float
    method: str

    def __contains__(self, value: float) -> bool:
        return self.low <= value <= self.high

    @property
    def width(self) -> float:
        """From limit to limit."""
        return self.high - self.low

    def text(self, digits: int = 2) -> str:
        """Return the limits in words."""
        return f"{100 * self.confidence:g} % interval {_number(self.low, digits)} to {_number(self.high, digits)}"

    def to_dict(self) -> dict[str, Any]:
        """Return the interval as plain JSON data."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure that the cases can carry.

    Parameters
    ----------
    name : str
        What it is called: ``"alpha"``.
    what : str
        What it says, one sentence for somebody who has to decide something.
    n : int
        How many cases it rests on.
    of : str
        What a case is, in the plural: ``"people"``.
    value : float
        The figure.
    interval : Interval
        Where the true value may well lie.
    error : float or None
        Standard error, where the interval comes from one.
    subject : str
        What it is about, where there are several: the item, the template.

    Examples
    --------
    >>> print(Estimate("share", "The part that passed.", 10, "people", 0.8, Interval(0.49, 0.943, 0.95, "Wilson")))
    share 0.80 (95 % interval 0.49 to 0.94; 10 people)
    """

    name: str
    what: str
    n: int
    of: str
    value: float
    interval: Interval
    error: float | None = None
    subject: str = ""

    shown: ClassVar[Literal[True]] = True

    def __str__(self) -> str:
        return self.text()

    def text(self, digits: int = 2) -> str:
        """Return the figure with its interval and the number of cases."""
        about = f"{self.subject}: " if self.subject else ""
        return f"{about}{self.name} {_number(self.value, digits)} ({self.interval.text(digits)}; {self.n:,} {self.of})"

    def to_dict(self) -> dict[str, Any]:
        """Return the figure as plain JSON data."""
        return asdict(self) | {"shown": True}


@dataclass(frozen=True, slots=True)
class Withheld:
    """A figure that is not given, and why.

    Parameters
    ----------
    name, what, n, of : str, str, int, str
        As those of an :class:`Estimate`.
    why : str
        Whole sentences for whoever reads the report.
    subject : str
        What it is about, where there are several.

    Examples
    --------
    >>> few = Withheld.too_few("alpha", "How alike the questions rank people.", 14, "people", 30)
    >>> print(few)
    alpha: 14 people are too few; it is given from 30 on.
    >>> few.shown
    False
    """

    name: str
    what: str
    n: int
    of: str
    why: str
    subject: str = ""

    shown: ClassVar[Literal[False]] = False

    @classmethod
    def too_few(cls, name: str, what: str, n: int, of: str, least: int, subject: str = "") -> Withheld:
        """Say that there are too few cases, and from how many on the figure is given."""
        one = _SINGULAR.get(of, of.removesuffix("s"))
        they = f"{counted(n, one, of, grouped=True)} {noun(n, 'is', 'are')}" if n else f"No {of} are"
        return cls(name, what, n, of, f"{they} too few; it is given from {least} on.", subject)

    def __str__(self) -> str:
        return f"{self.subject + ': ' if self.subject else ''}{self.name}: {self.why}"

    def to_dict(self) -> dict[str, Any]:
        """Return why there is no figure as plain JSON data."""
        return asdict(self) | {"shown": False}


_SINGULAR = {"people": "person", "pieces of work": "piece of work"}

Figure: TypeAlias = Estimate | Withheld


def check_confidence(confidence: float) -> float:
    """Return the confidence, or refuse what is none.

    Raises
    ------
    StatisticsError
        If it does not lie between 0 and 1, both left out.

    Examples
    --------
    >>> check_confidence(0.9)
    0.9
    """
    if not 0 < confidence < 1:
        raise StatisticsError(
            confidence, rule="A confidence lies between 0 and 1.", remedy="Write 0.95 for 95 per cent."
        )
    return confidence
