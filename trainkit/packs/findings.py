"""A finding: one thing that is wrong with a pack, where it stands, and what to do about it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, time
from typing import Literal

from trainkit.errors import PackError

Severity = Literal["refuse", "warn", "note"]
# Where a value stands in the data: ("fasteners", 2, "stages", 0, "torque").
Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class PackFinding:
    """One thing that is wrong with a pack.

    Parameters
    ----------
    code : str
        Stable, words joined by hyphens.
    severity : str
        ``refuse`` (cannot be; the pack does not load), ``warn`` (contradicts itself, but a manual may print it
        so) or ``note`` (worth knowing).
    file : str
        The file, as it was named.
    line : int
        Line in the file, from 1; 0 where no line can be named.
    key : str
        Path of keys, list entries counted from 1: ``fasteners[3].stages[1].torque``.
    value : str
        What was met there.
    rule, remedy : str
        The rule it breaks and what to do, whole sentences.

    Examples
    --------
    >>> finding = PackFinding("part-without-fate", "refuse", "mine.toml", 12, "parts[1].fate", "seal",
    ...                   "Every part has a fate.", "Add fate.")
    >>> print(finding)
    mine.toml:12: parts[1].fate = seal: Every part has a fate. Add fate. [part-without-fate]
    """

    code: str
    severity: Severity
    file: str
    line: int
    key: str
    value: str
    rule: str
    remedy: str

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line else self.file
        met = " = ".join(part for part in (self.key, self.value) if part)
        return f"{where}: {met + ': ' if met else ''}{self.rule} {self.remedy} [{self.code}]"

    def as_data(self) -> dict[str, str | int]:
        """Return the finding as plain data."""
        return asdict(self)


def key_of(path: Path) -> str:
    """Write a path the way people count: list entries from 1.

    Examples
    --------
    >>> key_of(("fasteners", 2, "stages", 0, "torque"))
    'fasteners[3].stages[1].torque'
    """
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def shorten(value: object, limit: int = 100) -> str:
    """Write a value on one short line, much as it stands in the file.

    Examples
    --------
    >>> shorten((1, ("a", True)))
    '[1, [a, true]]'
    """
    text = _written(value)
    text = "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text)
    return text if len(text) <= limit else text[: limit - 1] + "…"


def _written(value: object) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return "[" + ", ".join(map(_written, value)) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {_written(each)}" for key, each in value.items()) + "}"
    return repr(value)


def refused(findings: tuple[PackFinding, ...]) -> tuple[PackFinding, ...]:
    """Return those for which the pack does not load."""
    return tuple(finding for finding in findings if finding.severity == "refuse")


def error_from(findings: tuple[PackFinding, ...], place: str) -> PackError:
    """Return the one error that carries all findings of a pack that does not load."""
    worst = refused(findings)
    first, rest = worst[0], len(worst) - 1
    more = f" {rest} more {'is' if rest == 1 else 'are'} wrong; all are listed in findings." if rest else ""
    error = PackError(
        first.value or first.key,
        rule=first.rule,
        remedy=f"{first.remedy}{more}",
        place=f"{place}:{first.line}" if first.line else place,
    )
    error.findings = findings
    return error
