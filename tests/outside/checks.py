"""The table of outside values, ``checks.csv``: read it by row.

Each row is a value that somebody else published or that a library gives, with its tolerance and its source.
A test takes its rows with the decorator :func:`rows` or the function :func:`row`, always with the identifiers
written out, so that ``test_every_row.py`` can see from the source which rows are tested. A row that is not
tested stands in a module-level ``NOT_TESTED = {"G13": "why"}``.

Examples
--------
>>> found = row("T11")
>>> found.number, found.agrees(12.0), found.agrees(12.1)
(12.0, True, False)
>>> row("B10").agrees(20.123)
True
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

import pytest

TABLE = Path(__file__).with_name("checks.csv")


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the table, as it is written there.

    ``source`` and ``status`` say where the value comes from and how it was confirmed.
    """

    id: str
    area: str
    inputs: str
    expected: str
    unit: str
    tolerance: str
    source: str
    status: str

    @property
    def number(self) -> float:
        """The expected value; a ``ValueError`` where it is not one number."""
        return float(self.expected)

    @property
    def numbers(self) -> tuple[float, ...]:
        """The expected values of a row that lists several, ``"20;60;100"`` or ``"1,41,61"``."""
        return tuple(float(part) for part in self.expected.replace(";", ",").split(","))

    @property
    def margin(self) -> float:
        """Largest distance from the expected number that still agrees, in the row's unit."""
        kind, _, amount = self.tolerance.partition(" ")
        match kind:
            case "exact":
                # The table was printed from doubles: two units in the last place are no difference.
                return 2 * math.ulp(self.number)
            case "abs":
                return float(amount)
            case "rel" if amount.endswith("%"):
                return abs(self.number) * float(amount.removesuffix("%")) / 100
            case "rel":
                # No double can be nearer than its own spacing.
                return max(abs(self.number) * float(amount), math.ulp(self.number))
            case _ if self.tolerance.endswith("significant figures"):
                return 0.5 * 10.0 ** (math.floor(math.log10(abs(self.number))) + 1 - int(kind))
            case _:
                raise ValueError(f"row {self.id} has the tolerance {self.tolerance!r}, which is no number")

    def agrees(self, value: float) -> bool:
        """Tell whether ``value``, in the row's unit, lies within the tolerance of the expected number."""
        return abs(float(value) - self.number) <= self.margin

    def refusal(self, value: float) -> str:
        """Say what a failed comparison was about, with the source: the message of an assertion."""
        wanted = f"{self.expected} {self.unit}, {self.tolerance}"
        return f"{self.id} ({self.inputs}): {value!r} against {wanted} [{self.source}]"

    def check(self, value: float) -> None:
        """Assert that ``value`` agrees."""
        assert self.agrees(value), self.refusal(value)


@cache
def table() -> MappingProxyType[str, Row]:
    """Return all rows by their identifiers."""
    with TABLE.open(encoding="utf-8", newline="") as lines:
        read = [Row(**line) for line in csv.DictReader(lines)]
    by_id = {found.id: found for found in read}
    assert len(by_id) == len(read), "an identifier stands twice in the table"
    return MappingProxyType(by_id)


def row(id: str) -> Row:  # noqa: A002 - the column's own name
    """Return one row by its identifier."""
    return table()[id]


def rows(*ids: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Decorate a test to run once for each of these rows, handed over as ``check``."""
    return pytest.mark.parametrize("check", [pytest.param(row(name), id=name) for name in ids])
