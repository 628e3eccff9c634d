"""What the course side does while it is killed: tasks for a prepared parent (see ``killing``), and what is left."""

from __future__ import annotations

import json
import sqlite3
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.engine.default import DefaultDialect

from tests.trainkit.killing import tell
from trainkit_grading.course.folder import Course
from trainkit_grading.errors import CourseError, PaperError
from trainkit_grading.intake import collect
from trainkit_grading.keeping.archive import packing
from trainkit_grading.keeping.forget import forget as forgetting
from trainkit_grading.ledger import versions
from trainkit_grading.ledger.verifying import verify
from trainkit_grading.marking import mark as marking
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.paper import codes, entering, passes
from trainkit_grading.results import agreement
from trainkit_grading.support import database

# Everything of the ledger but times, random identifiers and what hangs on them.
_CHANCE = {"at", "seal", "before", "person"}
_QUERIES = {
    "student": "select id from student",
    "submission": """select a.name, s.student_id, s.timestamp, s.extension from submitted_assignment s
        join assignment a on a.id = s.assignment_id""",
    "notebook": """select n.name, s.student_id, m.flagged, m.late_submission_penalty from submitted_notebook m
        join notebook n on n.id = m.notebook_id join submitted_assignment s on s.id = m.assignment_id""",
    "grade": """select s.student_id, c.name, g.auto_score, g.manual_score, g.extra_credit, g.needs_manual_grade
        from grade g join base_cell c on c.id = g.cell_id join submitted_notebook m on m.id = g.notebook_id
        join submitted_assignment s on s.id = m.assignment_id""",
    "comment": """select s.student_id, c.name, g.auto_comment, g.manual_comment
        from comment g join base_cell c on c.id = g.cell_id join submitted_notebook m on m.id = g.notebook_id
        join submitted_assignment s on s.id = m.assignment_id""",
}
_LEDGER = {
    "trainkit_person": "select apprentice from trainkit_person",
    "trainkit_head": "select id, number from trainkit_head",
    "trainkit_entry": """select {columns}, p.apprentice from trainkit_entry e
        join trainkit_person p on p.person = e.person""",
    "trainkit_mark": "select {columns} from trainkit_mark e",
    "trainkit_note": "select {columns} from trainkit_note e",
    "trainkit_shown": """select e.module, p.apprentice, e.entry from trainkit_shown e
        join trainkit_person p on p.person = e.person""",
    "trainkit_version": "select version_num from trainkit_version",
}

_commit: Any = DefaultDialect.do_commit


def begin() -> None:
    """Make the parent's process one that tells how far a transaction is, and compiles each statement once."""
    event.listen(Engine, "before_cursor_execute", _begins)
    DefaultDialect.do_commit = _commits  # type: ignore[method-assign] # the same, with a word before and after
    # Each marking opens the database anew and would compile each statement anew, which is most of a child's time.
    # Compiled statements are kept for the dialect they are for; here all of one kind count as the same.
    compiled: dict[Any, Any] = {}
    caching: Any = lambda *a, **k: create_engine(*a, **k).execution_options(compiled_cache=compiled)  # noqa: E731
    setattr(database, "create_engine", caching)  # noqa: B010 - a name that the module imports
    DefaultDialect.__eq__ = lambda one, other: type(one) is type(other)  # type: ignore[method-assign]
    DefaultDialect.__hash__ = lambda one: hash(type(one))  # type: ignore[method-assign,assignment]


def _begins(_: Any, __: Any, statement: str, *___: Any) -> None:
    if statement == "BEGIN IMMEDIATE":
        tell("begins")


def _commits(dialect: Any, connection: Any) -> None:
    tell("commits")
    _commit(dialect, connection)
    tell("committed")


def mark(folder: str) -> None:
    """Mark everything."""
    outcome = marking.mark(Course.load(Path(folder)))
    tell("marked" if outcome.ok else f"refused {outcome.findings}")


def take_in(folder: str, now: str) -> None:
    """Collect everything."""
    outcome = collect.collect(Course.load(Path(folder)), clock=lambda: datetime.fromisoformat(now))
    tell("collected" if outcome.ok else f"refused {outcome.findings}")


def enter(folder: str, form: str, first: str, second: str, now: str) -> None:
    """Take in a sheet from two tables; those that were taken before somebody was cut off are left out."""
    course = Course.load(Path(folder))
    typing = passes.Typing(passes.folder(course), form)
    files = {number: Path(name) for number, name in ((1, first), (2, second)) if not typing.passes[number].ended}
    try:
        outcome = entering.enter(course, codes.on_paper(form), files=files, clock=lambda: datetime.fromisoformat(now))
    except PaperError as error:
        # Whoever was cut off after the last step has it all.
        tell("entered" if "and taken" in error.rule else f"refused {error}")
    else:
        tell("entered" if outcome.ok else f"refused {outcome.findings}")


def forget(folder: str, apprentice: str, name: str) -> None:
    """Take somebody out; whoever was taken out to the end is named nowhere any more."""
    try:
        outcome = forgetting.forget(Course.load(Path(folder)), apprentice, "left", name)
    except CourseError as error:
        tell("forgotten" if "names" in error.rule else f"refused {error}")
    else:
        tell("forgotten" if outcome.ok else f"refused {outcome.findings}")


def archive(folder: str) -> None:
    """Pack the course."""
    outcome = packing.archive(Course.load(Path(folder)))
    tell("packed" if outcome.ok else f"refused {outcome.findings}")


def look(folder: str, agreeing: bool = True) -> None:
    """Tell what the database holds and what is wrong with it; that its two halves agree hangs on its rows alone."""
    course = Course.load(Path(folder))
    found = _faults(course)
    if agreeing:
        found += [finding.text for finding in agreement.compare(course)]
    tell("state " + json.dumps({"faults": found, "rows": rows(course.gradebook)}))


def look_and_mark(folder: str) -> None:
    """Tell what a killed marking left, mark again, and tell what there is then."""
    look(folder)
    mark(folder)
    look(folder, agreeing=False)


def _faults(course: Course) -> list[str]:
    found: list[str] = []
    with gradebook.opened(course) as engine, engine.connect() as connection:
        if versions.version(connection):
            found += verify(connection, course.seed()).faults
        found += [said for (said,) in connection.exec_driver_sql("PRAGMA integrity_check") if said != "ok"]
    return found


def rows(path: Path) -> dict[str, list[str]]:
    """Return everything that marking writes into a database, without times, random identifiers and seals."""
    with sqlite3.connect(path) as connection:
        tables = [name for (name,) in connection.execute("select name from sqlite_master where type = 'table'")]
        found = {name: _sorted(connection, query) for name, query in _QUERIES.items()}
        for name, query in _LEDGER.items():
            if name in tables:
                columns = [row[1] for row in connection.execute(f"pragma table_info({name})") if row[1] not in _CHANCE]
                found[name] = _sorted(connection, query.format(columns=", ".join(f"e.{column}" for column in columns)))
        for name in sorted(tables):
            found[f"how many {name}"] = _sorted(connection, f"select count(*) from {name}")  # noqa: S608 - its own names
    return found


def _sorted(connection: sqlite3.Connection, query: str) -> list[str]:
    return sorted(repr(row) for row in connection.execute(query))
