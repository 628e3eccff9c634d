"""A torque printed in two units: which column is the master, and which was rounded from it.

A manual prints ``42 N·m (31 lbf·ft)``. One of the two was chosen by the maker; the other was converted and rounded to
the step in which its column is printed. Whether that can be is decided by doing it: convert the one exactly, round
it at the other's step, and compare. An overlap of rounding intervals is too weak a test: it lets pass pairs that
neither rounding gives.

Without a declared step a column's step is its last printed digit: 42 has a step of 1, 42.0 of 0.1. Trailing
zeros may hide a coarser step: 120 may have been rounded to tens. Where that is declared possible, every step that the
zeros could hide is tried, and if they do not all say the same, nobody can tell.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from trainkit.errors import QuantityError
from trainkit.quantities.decimals import THIN, exact, exact_step, plain, split_number
from trainkit.quantities.torques import Torque, torque
from trainkit.quantities.units import factor

Master = Literal["first", "second", "either", "neither", "undecidable"]
Steps = float | Sequence[float] | None


@dataclass(frozen=True, slots=True)
class DualUnit:
    """A printed pair and what can be said about it.

    Parameters
    ----------
    first, second : Torque
        The two columns.
    steps_first, steps_second : tuple of float
        The steps that were tried for each column, in its unit.
    master : str
        ``"first"``: the second is the first one rounded, and not the other way. ``"second"``: the other way alone.
        ``"either"``: both roundings give the pair. ``"neither"``: none does, so the two do not belong together.
        ``"undecidable"``: a coarser step was declared possible and the possible steps disagree.
    masters : tuple of str
        What each combination of steps says, without repeats.
    """

    first: Torque
    second: Torque
    steps_first: tuple[float, ...]
    steps_second: tuple[float, ...]
    master: Master
    masters: tuple[Master, ...]

    @property
    def belongs(self) -> bool:
        """Whether some allowed step makes one column the rounded other."""
        return self.masters != ("neither",)

    @property
    def first_converted(self) -> Torque:
        """The first column in the unit of the second, not rounded."""
        return self.first.to(self.second.unit)

    @property
    def second_converted(self) -> Torque:
        """The second column in the unit of the first, not rounded."""
        return self.second.to(self.first.unit)

    @property
    def gap(self) -> float:
        """How much the second column is more than the first, as a share of the first: -0.04 is four per cent less."""
        return float(self.second.newton_metres / self.first.newton_metres) - 1

    @property
    def working(self) -> tuple[str, ...]:
        """How the verdict comes about, one line a conversion."""
        forward = [_line(self.first, self.steps_first[0], self.second, step) for step in self.steps_second]
        back = [_line(self.second, self.steps_second[0], self.first, step) for step in self.steps_first]
        return (*forward, *back, _VERDICTS[self.master].format(first=self.first.unit, second=self.second.unit))


_VERDICTS: dict[Master, str] = {
    "first": "Only the {second} column is the other one rounded, so {first} is the master.",
    "second": "Only the {first} column is the other one rounded, so {second} is the master.",
    "either": "Each column is the other one rounded, so either may be the master.",
    "neither": "Neither column is the other one rounded: the two do not belong together.",
    "undecidable": "The possible steps disagree, so nobody can tell which column is the master.",
}


def _line(source: Torque, printed_to: float, into: Torque, step: float) -> str:
    """Say what comes of converting one printed column to the step of the other, and what stands there."""
    low, high = _rounded(source, into.unit, step)
    size = f"{plain(step)}{THIN}{into.unit}"
    found = plain(low, step) if low == high else f"{plain(low, step)} or {plain(high, step)}"
    verdict = "as printed" if into.value in (low, high) else f"but {plain(into.value, step)} is printed"
    exactly = f"{plain(_six(source.to(into.unit).value))}{THIN}{into.unit}"
    return f"{source.shown(printed_to)} = {exactly}. To the nearest {size} that is {found}, {verdict}."


def _six(value: float) -> float:
    return float(f"{value:.6g}")


def dual_unit(
    first: str | Torque,
    second: str | Torque,
    step_first: Steps = None,
    step_second: Steps = None,
    *,
    coarser: bool = False,
) -> DualUnit:
    """Decide which column of a printed pair is the master.

    Parameters
    ----------
    first, second : str or Torque
        The two columns, as printed: the digits written tell the step. A :class:`Torque` has lost trailing zeros behind
        the decimal mark, so its step is that of its shortest decimal.
    step_first, step_second : float or sequence of float, optional
        The step at which that column was rounded, in its unit, where it is known; several where one of them is.
    coarser : bool
        Whether trailing zeros may hide a coarser step in a column whose step is not given. Tried are then the
        printed step and the series 2, 5, 10, 20 … of it as far as the zeros go: 120 may stand for a step of 1, 2, 5
        or 10.

    Returns
    -------
    DualUnit
        With ``master`` in ``first``, ``second``, ``either``, ``neither``, ``undecidable``. Where the exact
        conversion is half a step from both neighbours, either of them counts as rounded: printers differ.

    Raises
    ------
    QuantityError
        If a column is no torque or nought, both have the same unit, or a printed value is no multiple of its
        declared step.

    Examples
    --------
    >>> dual_unit("42 N·m", "31 lbf·ft").master
    'either'
    >>> dual_unit("110 N·m", "81 lbf·ft").master, dual_unit("110 N·m", "83 lbf·ft").master
    ('either', 'neither')
    >>> dual_unit("80 lbf·ft", "110 N·m").master, dual_unit("80 lbf·ft", "110 N·m", coarser=True).master
    ('neither', 'undecidable')
    """
    column, other = torque(first), torque(second)
    if column.unit == other.unit:
        raise QuantityError(
            f"{first} and {second}", rule="A pair has two different units.", remedy="Check which columns were copied."
        )
    for given, read in ((first, column), (second, other)):
        if read.value == 0:
            raise QuantityError(
                given, rule="A printed torque is greater than nought.", remedy="Check the value that was copied."
            )
    steps = tuple(_steps(first, column, step_first, coarser)), tuple(_steps(second, other, step_second, coarser))
    verdicts = dict.fromkeys(_verdict(column, other, one, two) for one in steps[0] for two in steps[1])
    masters = tuple(verdicts)
    return DualUnit(column, other, *steps, master=masters[0] if len(masters) == 1 else "undecidable", masters=masters)


def _steps(given: str | Torque, read: Torque, declared: Steps, coarser: bool) -> Iterator[float]:
    """Yield the steps to be tried for a column, finest first."""
    if declared is not None:
        for step in declared if isinstance(declared, Sequence) else (declared,):
            if exact(read.value) % exact_step(step):
                raise QuantityError(
                    given,
                    rule=f"A column with a step of {plain(step)} prints multiples of it.",
                    remedy="Check the value or the step.",
                )
            yield float(step)
        return
    digits = split_number(given)[0] if isinstance(given, str) else _shortest(read.value)
    printed = Fraction(1, 10 ** len(digits.partition(".")[2]))
    yield float(printed)
    if coarser:
        hidden = len(digits.replace(".", "")) - len(digits.replace(".", "").rstrip("0"))
        for power in range(hidden):
            yield from (float(printed * 10**power * times) for times in (2, 5, 10))


def _shortest(value: float) -> str:
    figures = format(Decimal(repr(value)), "f")
    return figures.rstrip("0").rstrip(".") if "." in figures else figures


def _verdict(first: Torque, second: Torque, step_first: float, step_second: float) -> Master:
    forward = second.value in _rounded(first, second.unit, step_second)
    back = first.value in _rounded(second, first.unit, step_first)
    match forward, back:
        case True, True:
            return "either"
        case True, False:
            return "first"
        case False, True:
            return "second"
    return "neither"


def _rounded(source: Torque, unit: str, step: float) -> tuple[float, float]:
    """Return the source in ``unit`` on ``step``: twice the same, or both neighbours of an exact half."""
    mark = exact(step)
    steps = source.newton_metres / (factor(unit) * mark)
    half = Fraction(1, 2)
    return float(math.ceil(steps - half) * mark), float(math.floor(steps + half) * mark)
