"""The tables of an export and their columns, as data.

Columns keep their names, types and meanings; new ones are added at the end of a table, and the version of the schema
says so. The description that is written beside the tables follows the open Data Package standard (Table Schema), so
that other programs can read types and meanings.

What later formats need stands in columns of their own, so that they can be written without another look at the ledger:

==========================  =================================================================
what is asked for           where it stands
==========================  =================================================================
actor, learner              ``person`` (and ``name`` where people are not pseudonymised)
object, item, test          ``module``, ``item``, ``template``; ``form`` and ``attempt`` tell forms apart
result, score               ``points``, ``out_of`` (raw and most), ``percent`` (scaled), ``verdict``, ``passed``
response                    ``response``, JSON of a response kind of the package
time, duration              ``answered``, ``arrived``, ISO 8601 in UTC; between two answers lies their duration
achievement, criterion      table ``readiness``: ``criterion``, ``text``, ``verdict``, ``rule``
evidence, issuer            ``entry`` (number in the ledger), ``seal``; ``observer`` of ``observations``
==========================  =================================================================
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

VERSION = "1.0"


@dataclass(frozen=True, slots=True)
class ExportColumn:
    """One column: its name, its type in the words of Table Schema, what it holds, and whether it tells who it is.

    Those that do (``personal``) are left out, or replaced, where people are pseudonymised.
    """

    name: str
    type: str
    holds: str
    personal: bool = False


@dataclass(frozen=True, slots=True)
class ExportTable:
    """One table: its name, what a row is, the columns that together stand for a row, and all columns."""

    name: str
    row: str
    key: tuple[str, ...]
    columns: tuple[ExportColumn, ...]

    def kept(self, pseudonyms: bool) -> tuple[ExportColumn, ...]:
        """Return the columns of an export, without the personal ones where people are pseudonymised."""
        return tuple(column for column in self.columns if not (pseudonyms and column.personal))


_PERSON = (
    ExportColumn("course", "string", "short name of the course"),
    ExportColumn("person", "string", "identifier of the person in the roster, or their pseudonym"),
    ExportColumn("name", "string", "name of the person", personal=True),
    ExportColumn("cohort", "string", "name of the cohort, empty for none"),
)

TABLES = (
    ExportTable(
        "results",
        "what one person has reached in one module, with the attempt that counts",
        ("person", "module"),
        (
            *_PERSON,
            ExportColumn("module", "string", "name of the module"),
            ExportColumn("state", "string", "missing, handed in, or to mark"),
            ExportColumn("expected", "boolean", "whether something is to be handed in"),
            ExportColumn("form", "string", "code of the form that counts; its owner knows it", personal=True),
            ExportColumn("attempt", "integer", "which attempt counts, from 1; 0 where none was marked"),
            ExportColumn("attempts", "integer", "how many attempts were marked"),
            ExportColumn("points", "number", "points earned, less a penalty for lateness"),
            ExportColumn("out_of", "number", "most points"),
            ExportColumn("percent", "number", "points as a percentage of all, to one decimal"),
            ExportColumn("cut_score", "number", "per cent from which the module is passed"),
            ExportColumn("verdict", "string", "passed, not yet, or waiting"),
            ExportColumn("critical", "string", "critical items with an unsafe answer, separated by spaces"),
            ExportColumn("overridden", "string", "items whose points a person has set, separated by spaces"),
            ExportColumn("flags", "integer", "how many things about the hand-in a person should look at"),
            ExportColumn("arrived", "datetime", "when it arrived, UTC; only the day where people are pseudonymised"),
            ExportColumn("due", "datetime", "until when it was due for this person, UTC"),
            ExportColumn("seconds_late", "integer", "how late it was"),
            ExportColumn("penalty", "number", "points taken off for lateness"),
            ExportColumn("watched", "boolean", "whether a session record stands behind it"),
            ExportColumn("medium", "string", "screen or paper"),
            ExportColumn("entry", "integer", "number of the ledger entry that counts"),
            ExportColumn("unsafe", "string", "items with an unsafe answer, critical or not, separated by spaces"),
            ExportColumn("spoken", "string", "spoken check of the bar: waiting, confirmed or slip; empty for none"),
            ExportColumn(
                "supervision", "string", "supervised, or not supervised: whether a session record stands behind it"
            ),
        ),
    ),
    ExportTable(
        "marks",
        "one answer: one item of one attempt of one person; all attempts, the newest marks of each",
        ("person", "module", "attempt", "item"),
        (
            *_PERSON,
            ExportColumn("module", "string", "name of the module"),
            ExportColumn("attempt", "integer", "which attempt, from 1"),
            ExportColumn("counts", "boolean", "whether this attempt is the one that counts"),
            ExportColumn("form", "string", "code of the form; its owner knows it", personal=True),
            ExportColumn("item", "string", "name of the item in the form"),
            ExportColumn("template", "string", "template that the item was drawn from"),
            ExportColumn("kind", "string", "kind of response"),
            ExportColumn("verdict", "string", "right, in part, not yet, no answer, or waiting"),
            ExportColumn("points", "number", "points that count; empty while the item waits"),
            ExportColumn("points_machine", "number", "points that the machine gave; empty where it gives none"),
            ExportColumn("out_of", "number", "most points"),
            ExportColumn("misconception", "string", "code of the misconception that the answer shows"),
            ExportColumn("could_show", "string", "codes that an answer could have shown, separated by spaces"),
            ExportColumn("critical", "boolean", "whether it was marked as an unsafe answer, critical or not"),
            ExportColumn(
                "answered", "datetime", "when it was answered, UTC; only the day where people are pseudonymised"
            ),
            ExportColumn("response", "string", "what was answered, as JSON", personal=True),
            ExportColumn("reason", "string", "why it earned what it did; it can quote the answer", personal=True),
            ExportColumn("entry", "integer", "number of the ledger entry"),
        ),
    ),
    ExportTable(
        "readiness",
        "where one person stands with one criterion",
        ("person", "criterion"),
        (
            *_PERSON,
            ExportColumn("criterion", "string", "number of the criterion"),
            ExportColumn("text", "string", "the criterion as the course words it"),
            ExportColumn("verdict", "string", "ready, nearly, not yet, or no evidence"),
            ExportColumn("rule", "string", "code of the written rule that made it so"),
            ExportColumn(
                "evidence", "string", "each piece of evidence with the code of its rule, separated by semicolons"
            ),
            ExportColumn("forward", "boolean", "whether the person may be put forward, with all criteria together"),
        ),
    ),
    ExportTable(
        "observations",
        "one step of the observation of one piece of work that counts",
        ("person", "checklist", "step"),
        (
            *_PERSON,
            ExportColumn("checklist", "string", "name of the checklist"),
            ExportColumn("verdict", "string", "competent, or not yet competent, of the whole work"),
            ExportColumn("rule", "string", "code of the written rule that decided"),
            ExportColumn("step", "string", "name of the step"),
            ExportColumn("text", "string", "what is done"),
            ExportColumn("critical", "boolean", "whether leaving it out can hurt the engine or a person"),
            ExportColumn("outcome", "string", "unprompted, prompted, not done, or stopped for safety"),
            ExportColumn("observer", "string", "who watched", personal=True),
            ExportColumn("trainer", "string", "who trained", personal=True),
            ExportColumn("engine", "string", "on which engine"),
            ExportColumn("at", "datetime", "when, UTC; only the day where people are pseudonymised"),
            ExportColumn("medium", "string", "paper, tablet, or as it was recorded"),
            ExportColumn("entry", "integer", "number of the ledger entry"),
            ExportColumn(
                "shown_again", "string", "outcome when the step was shown again afterwards; empty where it was not"
            ),
        ),
    ),
)


def description(course: str, pseudonyms: bool, seal: str, entries: int) -> dict[str, Any]:
    """Return the description of an export as plain JSON data, by the Data Package standard.

    Examples
    --------
    >>> said = description("saltmere", True, "", 0)
    >>> [resource["name"] for resource in said["resources"]]
    ['results', 'marks', 'readiness', 'observations']
    >>> any(field["name"] == "name" for field in said["resources"][0]["schema"]["fields"])
    False
    """
    return {
        "profile": "tabular-data-package",
        "name": f"{course}-export",
        "version": VERSION,
        "description": (
            "Training results. For real work the manufacturer's current manual, local codes and a licensed or "
            "supervising person decide."
        ),
        "pseudonyms": pseudonyms,
        "ledger": {"entries": entries, "seal": seal},
        "resources": [
            {
                "name": table.name,
                "path": f"{table.name}.csv",
                "description": f"A row is {table.row}.",
                "encoding": "utf-8",
                "schema": {
                    "fields": [
                        {"name": column.name, "type": column.type, "description": column.holds}
                        for column in table.kept(pseudonyms)
                    ],
                    "primaryKey": list(table.key),
                    "missingValues": [""],
                },
            }
            for table in TABLES
        ],
    }
