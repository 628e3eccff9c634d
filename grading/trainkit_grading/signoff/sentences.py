"""Entries about observed work, second marks, appeals and decisions, in words for whoever reads the ledger."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from trainkit_grading.signoff.judging import judge
from trainkit_grading.signoff.observations import steps_of

if TYPE_CHECKING:
    from trainkit_grading.ledger.entries import Entry

__all__ = ["KINDS", "entry_sentences"]

KINDS = ("observed", "second", "appealed", "decided")
"""The kinds of entries that are told here."""


def entry_sentences(entry: Entry, who: str) -> str:
    """Return what an entry says, as one or more sentences.

    Parameters
    ----------
    entry : Entry
        Of one of :data:`KINDS`.
    who : str
        Whom it is about, in words.
    """
    said = entry.detail
    notes = " ".join(f"{_NOTED[note.kind]}{note.text}" for note in entry.notes if note.text and note.kind in _NOTED)
    return f"{_TOLD[entry.kind](entry, who, said)} {notes}".strip()


_NOTED = {"assessor": "", "remark": "Remark: ", "why": "Why: ", "appeal": "Why: ", "decision": "Why: "}


def _observed(entry: Entry, who: str, said: Mapping[str, Any]) -> str:
    steps = steps_of(entry)
    when = str(said["at"]).replace("T", " ")[:16]
    where = f"on {said['engine']} at {when} UTC ({said['medium']})"
    head = f"{who}, {said['checklist']}, observed by {said['observer']} {where}"
    if said["again"]:
        return f"{head}: {len(steps)} {'step' if len(steps) == 1 else 'steps'} shown again."
    return f"{head}: {judge(steps)}"


def _second(entry: Entry, who: str, said: Mapping[str, Any]) -> str:
    if said["what"] == "drawn":
        lines = said["lines"]
        count = len(lines) if isinstance(lines, list) else 0
        return f"{count} marks drawn for a second marker, sheet {said['sheet']}, seed {said['seed']}."
    return (
        f"{who}, {entry.module} {said['item']}: {_points(said['points'])} by second marker {said['marker']}, "
        f"{_points(said['first'])} stood."
    )


def _appealed(entry: Entry, who: str, said: Mapping[str, Any]) -> str:
    item = f" {said['item']}" if said["item"] else ""
    return f"{who}, {entry.module}{item}: appeal; {_points(said['points'])} stood."


def _decided(_: Entry, who: str, said: Mapping[str, Any]) -> str:
    given = f", {_points(said['points'])}" if said["points"] is not None else ""
    return f"{who}: entry {said['of']} {said['outcome']}{given}."


_TOLD: Mapping[str, Callable[[Entry, str, Mapping[str, Any]], str]] = {
    "observed": _observed,
    "second": _second,
    "appealed": _appealed,
    "decided": _decided,
}


def _points(points: object) -> str:
    return f"{points:g} points" if isinstance(points, int | float) else "no points"
