"""Faults of packs, as ``pack_faults.toml`` lists them: what makes a sound pack wrong, and what is found where."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path

from tests.trainkit.plain_engine import plain
from trainkit import packs

PACKS = Path(packs.__file__).parent
DUNLIN = (PACKS / "data" / "dunlin.toml").read_text(encoding="utf-8")
START = plain()

Edit = tuple[str, str]


@dataclass(frozen=True)
class Case:
    """A mutation, what is to be found, and where.

    ``at`` is where the finding stands: a text of the mutated pack, or a context and the first such text after it.
    """

    code: str
    edits: tuple[Edit, ...]
    at: str | tuple[str, str] | None
    says: str = ""  # part of rule or remedy, so that the person is helped
    severity: str = "refuse"
    base: str = field(default=DUNLIN, repr=False)


def _cases() -> list[Case]:
    """Read the list; an edit that is to be made in several places says how many ``times``."""
    bases = {"dunlin": DUNLIN, "start": START}
    found = []
    for case in tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))["case"]:
        edits = tuple((old, new) for old, new in case.pop("edits")) * case.pop("times", 1)
        at = case.pop("at", None)
        base = bases[case.pop("base", "dunlin")]
        found.append(Case(edits=edits, at=tuple(at) if isinstance(at, list) else at, base=base, **case))
    return found


CASES = _cases()


def mutated(base: str, edits: tuple[Edit, ...]) -> str:
    for old, new in edits:
        assert old in base, old
        base = base.replace(old, new, 1)
    return base


def line_of(text: str, at: str | tuple[str, str] | None) -> int:
    """Count the lines up to a text, with no parser at all."""
    if at is None:
        return 0
    context, needle = ("", at) if isinstance(at, str) else at
    assert context in text, context
    start = text.index(context) + len(context) if context else 0
    return text.count("\n", 0, text.index(needle, start)) + 1
