"""The detail of an entry, what its kind alone says, kept as JSON in one column: its one reader and its one writer.

A detail is written with its names in order, so that the same entry has the same bytes whichever version writes it. A
name that an older version did not write has the default of its field.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields
from typing import Any, TypeVar

from sqlalchemy import ColumnElement

from trainkit_grading.errors import LedgerError
from trainkit_grading.ledger.entries import Entry
from trainkit_grading.ledger.kinds import KINDS, Kept, OnPaper, SampleLine, SecondDrawn, SecondJudged
from trainkit_grading.ledger.tables import ENTRY

E = TypeVar("E", bound=Entry)


_COMMON = frozenset(field.name for field in fields(Entry))
# The fields that a kind alone has, and how each is kept.
_KEPT = {
    kind: [(field, field.metadata.get("kept", Kept())) for field in fields(kind) if field.name not in _COMMON]
    for kind in KINDS
}


def plain(entry: Entry) -> dict[str, Any]:
    """Return the detail of an entry as plain JSON data.

    Examples
    --------
    >>> from trainkit_grading.ledger.kinds import Changed
    >>> plain(Changed(item="A1", field="points", after=2.0))
    {'answer': '', 'field': 'points', 'from': None, 'item': 'A1', 'to': 2.0}
    """
    said: dict[str, Any] = json.loads(text(entry))
    return said


def text(entry: Entry) -> str:
    """Return the detail of an entry as it is kept."""
    said: dict[str, Any] = entry.beside()
    for field, how in _KEPT[type(entry)]:
        value = getattr(entry, field.name)
        if how.always or value != field.default:
            said[how.name or field.name] = value
    return json.dumps(said, sort_keys=True, default=_within)


def _within(value: OnPaper | SampleLine) -> dict[str, Any]:
    """Return a value inside a detail as JSON data; a reason that nobody gave is left out."""
    return {name: said for name, said in asdict(value).items() if name != "why" or said}


def class_of(kind: str, said: Mapping[str, Any]) -> type[Entry] | None:
    """Return the class of an entry by its kind, and for second marking by what its detail says."""
    if kind == SecondDrawn.kind:
        return SecondDrawn if said.get("what") == "drawn" else SecondJudged
    return _BY_KIND.get(kind)


_BY_KIND = {of.kind: of for of in KINDS}


def kinds(of: type[Entry]) -> list[str]:
    """Return the kinds whose entries are of this class or of one below it; none for what all of them are."""
    return [] if of is Entry else sorted({kind.kind for kind in KINDS if issubclass(kind, of)})


def read(kind: type[E], detail: str, *common: Any) -> E:
    """Return an entry of this class with what its detail says, and what every entry says before it.

    Raises
    ------
    ValueError, TypeError, AttributeError
        If the detail is none that any version has written.
    """
    said = json.loads(detail)
    own = {
        field.name: how.read(said[name]) if how.read is not None else said[name]
        for field, how in _KEPT[kind]
        if (name := how.name or field.name) in said
    }
    return kind(*common, **own)


def read_any(kind: str, number: int, detail: str, *common: Any) -> Entry:
    """Return the entry that a row holds, of the class of its kind.

    Raises
    ------
    LedgerError
        If it is none that any version has written.
    """
    try:
        of = class_of(kind, json.loads(detail) if kind == SecondDrawn.kind else {})
        if of is not None:
            return read(of, detail, *common)
    except (ValueError, TypeError, AttributeError):  # somebody has changed it; its seal says so
        pass
    raise LedgerError(
        f"entry {number}",
        rule="What it says is nothing that any version of this software has written.",
        remedy="See what was changed: trainkit-course verify. Then restore the database from a copy.",
    )


# Reports on ten thousand people need one value of each detail: the rest, which is long, is not read.


def critical_items(detail: str) -> frozenset[str]:
    """Return the items of marks where an unsafe answer bars a pass.

    Examples
    --------
    >>> from trainkit_grading.ledger.kinds import Marked
    >>> sorted(critical_items(text(Marked(critical=("A3", "A1")))))
    ['A1', 'A3']
    """
    return frozenset(_one(detail, "critical", ()))


def spoken_items(detail: str) -> frozenset[str]:
    """Return the items of marks of which a spoken check is held where a bar rests on one of them alone.

    Examples
    --------
    >>> from trainkit_grading.ledger.kinds import Marked
    >>> spoken_items(text(Marked(critical=("A3",)))), spoken_items(text(Marked(critical=("A3",), spoken=("A3",))))
    (frozenset(), frozenset({'A3'}))
    """
    return frozenset(_one(detail, "spoken", ()))


def could_show(detail: str) -> Mapping[str, Sequence[str]]:
    """Return the misconceptions that the answers of marks could have shown, by item."""
    said: Mapping[str, Sequence[str]] = _one(detail, "could", {})
    return said


def counts(detail: str) -> bool:
    """Tell whether the course's policy for attempts lets marks count."""
    return bool(_one(detail, "counts", True))


def files(detail: str) -> Sequence[str]:
    """Return the numbers that the lines of a marked journal say it has."""
    said: Sequence[str] = _one(detail, "files", ())
    return said


def receipts(detail: str) -> str:
    """Return where the chain of receipts ended when marks were given; empty where nothing is said of it."""
    return str(_one(detail, "receipts", ""))


def says(name: str, value: object) -> ColumnElement[bool]:
    """Return the condition that a detail gives this name this value; the writer's own words are looked for."""
    return ENTRY.c.detail.contains(json.dumps({name: value})[1:-1])


def _one(detail: str, name: str, default: Any) -> Any:
    # No text inside a detail can look like a name: its quotes are escaped.
    begin = detail.find(f'"{name}": ')
    return default if begin < 0 else _DECODER.raw_decode(detail, begin + len(name) + 4)[0]


_DECODER = json.JSONDecoder()
