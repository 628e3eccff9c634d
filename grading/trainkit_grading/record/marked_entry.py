"""Marks as they stand in the ledger: from a marked submission to an entry, and back."""

from __future__ import annotations

import json
from datetime import datetime
from typing import TYPE_CHECKING, Any

from trainkit.items.marking import Mark
from trainkit.items.reading import read_response
from trainkit_grading.ledger.entries import MarkRow, Note
from trainkit_grading.ledger.flags import Flag
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.record.marked_submission import MarkedItem, MarkedSubmission

if TYPE_CHECKING:
    from trainkit.forms import Form
    from trainkit.items.kinds import Response


def entry_of(scored: MarkedSubmission) -> Marked:
    """Return the entry that records a marked submission."""
    return Marked(
        apprentice=scored.apprentice,
        module=scored.module,
        attempt=scored.attempt,
        form=scored.form,
        journal=scored.journal,
        arrived=scored.arrived.isoformat() if scored.arrived is not None else "",
        provenance=scored.provenance,
        marks=tuple(
            MarkRow(
                item=marked.id,
                template=marked.template,
                kind=marked.item.kind,
                response=response_text(marked.response),
                answered=marked.at,
                points=marked.mark.points,
                out_of=marked.mark.out_of,
                verdict=marked.mark.verdict,
                reason=marked.mark.reason,
                misconception=marked.mark.misconception or "",
                method=marked.mark.method,
                critical=marked.mark.critical,
            )
            for marked in scored.items
        ),
        notes=tuple(Note(flag.kind, flag.text) for flag in scored.flags),
        critical=tuple(marked.id for marked in scored.items if marked.critical),
        counts=scored.counts,
        files=scored.files,
        could={marked.id: marked.could for marked in scored.items if marked.could},
        paper=scored.paper,
        spoken=scored.spoken,
    )


def summary_of(entry: Marked) -> dict[str, Any]:
    """Return what was reached as plain JSON data; the single items stand in the ledger."""
    return {
        "module": entry.module,
        "apprentice": entry.apprentice,
        "attempt": entry.attempt,
        "form": entry.form,
        "points": entry.points,
        "out_of": entry.out_of,
        "critical": [row.item for row in entry.marks if row.critical and row.item in entry.critical],
        "flags": [{"kind": note.kind, "text": note.text or ""} for note in entry.notes],
    }


def response_text(response: Response | None) -> str | None:
    """Return a response as compact JSON in ASCII, or None where there is none."""
    if response is None:
        return None
    text = response.model_dump_json()
    return text if text.isascii() else json.dumps(json.loads(text), separators=(",", ":"))


def restored(entry: Marked, form: Form) -> MarkedSubmission:
    """Return the marked submission that an entry records, with the items that its form showed."""
    return MarkedSubmission(
        entry.module,
        entry.apprentice,
        entry.attempt,
        entry.form,
        tuple(
            MarkedItem(
                row.item,
                form.item(row.item),
                read_response(json.loads(row.response)) if row.response is not None else None,
                row.answered,
                Mark(
                    row.points,
                    row.out_of,
                    row.verdict,
                    row.reason,
                    row.misconception or None,
                    row.critical,
                    row.method,
                ),
                row.item in entry.critical,
                row.template,
            )
            for row in entry.marks
        ),
        tuple(Flag(note.kind, note.text or "") for note in entry.notes),
        entry.journal,
        datetime.fromisoformat(entry.arrived) if entry.arrived else None,
        entry.provenance,
        entry.files,
        entry.paper,
        entry.spoken,
    )
