"""What a course-side command did: lines for people, data for programs, and what was refused."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from trainkit.errors import TrainkitError
from trainkit_grading.support.plaintext import one_line
from trainkit_grading.support.refusals import refusal

# Called with how much is done, how much there is, and what is being worked on.
Progress = Callable[[int, int, str], None]


def quiet(done: int, total: int, what: str) -> None:
    """Report progress to nobody."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to tell: what was refused, or what a person should look at.

    Parameters
    ----------
    severity : str
        ``"refused"``: not taken, and the exit status says so; ``"warning"``: taken, look at it; ``"note"``: to know.
    place : str
        The file, line or person it is about.
    text : str
        What was met, the rule and the remedy, whole sentences.

    Examples
    --------
    >>> Finding("warning", "roster.csv line 3", "There is no such module.").to_dict()["severity"]
    'warning'
    """

    severity: Literal["refused", "warning", "note"]
    place: str
    text: str

    def __post_init__(self) -> None:
        # Names of files and what stands in them are somebody else's: they neither steer a terminal nor end the line.
        for name in ("place", "text"):
            object.__setattr__(self, name, one_line(getattr(self, name)))

    def to_dict(self) -> dict[str, str]:
        """Return the finding as plain JSON data."""
        return asdict(self)


def refused(error: TrainkitError | OSError | MemoryError, place: str = "") -> Finding:
    """Return the finding that tells of an error, of trainkit's own or of the system's.

    Examples
    --------
    >>> from trainkit.errors import ModuleError
    >>> refused(ModuleError("x", rule="There is no such module.", remedy="Name one.", place="course.toml"))
    Finding(severity='refused', place='course.toml', text="'x': There is no such module. Name one.")
    """
    if not isinstance(error, TrainkitError):
        error = refusal(error, place)
        place = ""
    where = place or error.place
    text = str(error)
    prefix = f"{error.place}: "
    if error.place and where == error.place:
        text = text.removeprefix(prefix)
    return Finding("refused", where, text)


@dataclass(frozen=True, slots=True)
class Table:
    """A few columns of text for people at a terminal."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    title: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a command did.

    Parameters
    ----------
    command : str
        Name of the command.
    done : tuple of str
        What was done, one sentence each.
    findings : tuple of Finding
        What was refused or should be looked at.
    next_step : str
        What to do next, for people; empty where there is nothing.
    data : mapping
        Further plain JSON data of this command.
    tables : tuple of Table
        What people see before everything else.
    remark : str
        A sentence for people below the tables.
    words : tuple of str
        What people came to read, a line each.

    Examples
    --------
    >>> Outcome("check", done=("The pack is sound.",)).ok
    True
    """

    command: str
    done: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    next_step: str = ""
    data: Mapping[str, Any] = field(default_factory=dict)
    tables: tuple[Table, ...] = ()
    remark: str = ""
    words: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether nothing was refused."""
        return not any(finding.severity == "refused" for finding in self.findings)

    def to_dict(self) -> dict[str, Any]:
        """Return the outcome as plain JSON data."""
        return {
            "format": 1,
            "command": self.command,
            "ok": self.ok,
            "done": list(self.done),
            "findings": [finding.to_dict() for finding in self.findings],
            "next": self.next_step,
            **self.data,
        }
