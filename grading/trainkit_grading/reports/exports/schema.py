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

__all__ = ["TABLES", "VERSION", "Column", "Table", "description"]

VERSION = "1.0"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, its type in the words of Table Schema, what it holds, and whether it tells who it is.

    Those that do (``personal``) are left out, or replaced, where people are pseudonymised.
    """

    name: str
    type: str
    holds: str
    personal: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its name, what a row is, the columns that together stand for a row, and all columns."""

    name: str
    row: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]

    def kept(self, pseudonyms: bool) -> tuple[Column, ...]:
        """Return the columns of an export, without the personal ones where people are pseudonymised."""
        return tuple(column for column in self.columns if not (pseudonyms and column.personal))


_PERSON = (
    Column("course", "string", "short name of the course"),
    Column("person", "string", "identifier of the person in the roster, or their pseudonym"),
    Column("name", "string", "name of the person", personal=True),
    Column("cohort", "string", "name of the cohort, empty for none"),
)

TABLES = (
    Table(
        "results",
        "what one person has reached in one module, with the attempt that counts",
        ("person", "module"),
        (
            *_PERSON,
            Column("module", "string", "name of the module"),
            Column("state", "string", "missing, handed in, or to mark"),
            Column("expected", "boolean", "whether something is to be handed in"),
            Column("form", "string", "code of the form that counts; its owner knows it", personal=True),
            Column("attempt", "integer", "which attempt counts, from 1; 0 where none was marked"),
            Column("attempts", "integer", "how many attempts were marked"),
            Column("points", "number", "points earned, less a penalty for lateness"),
            Column("out_of", "number", "most points"),
            Column("percent", "number", "points as a percentage of all, to one decimal"),
            Column("cut_score", "number", "per cent from which the module is passed"),
            Column("verdict", "string", "passed, not yet, or waiting"),
            Column("critical", "string", "critical items with an answer that would do harm, parted by spaces"),
            Column("overridden", "string", "items whose points a person has set, parted by spaces"),
            Column("flags", "integer", "how many things about the hand-in a person should look at"),
            Column("arrived", "datetime", "when it arrived, UTC; only the day where people are pseudonymised"),
            Column("due", "datetime", "until when it was due for this person, UTC"),
            Column("seconds_late", "integer", "how late it was"),
            Column("penalty", "number", "points taken off for lateness"),
            Column("watched", "boolean", "whether a session record stands behind it"),
            Column("medium", "string", "screen or paper"),
            Column("entry", "integer", "number of the ledger entry that counts"),
        ),
    ),
    Table(
        "marks",
        "one answer: one item of one attempt of one person; all attempts, the newest marks of each",
        ("person", "module", "attempt", "item"),
        (
            *_PERSON,
            Column("module", "string", "name of the module"),
            Column("attempt", "integer", "which attempt, from 1"),
            Column("counts", "boolean", "whether this attempt is the one that counts"),
            Column("form", "string", "code of the form; its owner knows it", personal=True),
            Column("item", "string", "name of the item in the form"),
            Column("template", "string", "template that the item was drawn from"),
            Column("kind", "string", "kind of response"),
            Column("verdict", "string", "right, in part, not yet, no answer, or waiting"),
            Column("points", "number", "points that count; empty while the item waits"),
            Column("points_machine", "number", "points that the machine gave; empty where it gives none"),
            Column("out_of", "number", "most points"),
            Column("misconception", "string", "code of the misconception that the answer shows"),
            Column("could_show", "string", "codes that an answer could have shown, parted by spaces"),
            Column("critical", "boolean", "whether the answer would hurt the engine or a person"),
            Column("answered", "datetime", "when it was answered, UTC; only the day where people are pseudonymised"),
            Column("response", "string", "what was answered, as JSON", personal=True),
            Column("reason", "string", "why it earned what it did; it can quote the answer", personal=True),
            Column("entry", "integer", "number of the ledger entry"),
        ),
    ),
    Table(
        "readiness",
        "where one person stands with one criterion",
        ("person", "criterion"),
        (
            *_PERSON,
            Column("criterion", "string", "number of the criterion"),
            Column("text", "string", "the criterion as the course words it"),
            Column("verdict", "string", "ready, nearly, not yet, or no evidence"),
            Column("rule", "string", "code of the written rule that made it so"),
            Column("evidence", "string", "each piece of evidence with the code of its rule, parted by semicolons"),
            Column("forward", "boolean", "whether the person may be put forward, with all criteria together"),
        ),
    ),
    Table(
        "observations",
        "one step of the observation of one piece of work that counts",
        ("person", "checklist", "step"),
        (
            *_PERSON,
            Column("checklist", "string", "name of the checklist"),
            Column("verdict", "string", "competent, or not yet competent, of the whole work"),
            Column("rule", "string", "code of the written rule that decided"),
            Column("step", "string", "name of the step"),
            Column("text", "string", "what is done"),
            Column("critical", "boolean", "whether leaving it out can hurt the engine or a person"),
            Column("outcome", "string", "unprompted, prompted, not done, or stopped for safety"),
            Column("observer", "string", "who watched", personal=True),
            Column("trainer", "string", "who trained", personal=True),
            Column("engine", "string", "on which engine"),
            Column("at", "datetime", "when, UTC; only the day where people are pseudonymised"),
            Column("medium", "string", "paper, tablet, or as it was recorded"),
            Column("entry", "integer", "number of the ledger entry"),
            Column("shown_again", "string", "outcome when the step was shown again afterwards; empty where it was not"),
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
