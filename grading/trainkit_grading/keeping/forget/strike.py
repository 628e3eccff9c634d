"""The database: who a random identifier stands for, what they wrote, and everything of theirs in the gradebook.

Marks, misconceptions and times stay under an identifier that nobody stands for any more. Of words, the digests stay,
so that every seal still holds. All of it is one transaction.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import (
    ColumnElement,
    Connection,
    MetaData,
    String,
    Text,
    and_,
    cast,
    delete,
    func,
    inspect,
    or_,
    select,
    update,
)

from trainkit_grading.decisions.double_marking import sampling
from trainkit_grading.errors import CourseError
from trainkit_grading.ledger import versions
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Note
from trainkit_grading.ledger.kinds import Forgotten
from trainkit_grading.ledger.tables import ENTRY, MARK, NOTE, PERSON
from trainkit_grading.nbgrader_bridge import gradebook, steps
from trainkit_grading.nbgrader_bridge.tables import COMMENT, GRADE, STUDENT, SUBMITTED_ASSIGNMENT, SUBMITTED_NOTEBOOK
from trainkit_grading.support import database
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from sqlalchemy.engine import Engine

    from trainkit_grading.course.folder import Course
    from trainkit_grading.keeping.forget.traces import Traces


_WAIT_SECONDS = 20.0
# Texts are free words; every other kind of answer is one out of a form.
_FREE = "text"


@dataclass(frozen=True, slots=True)
class Rows:
    """What the database holds of somebody.

    Parameters
    ----------
    person : str
        Their random identifier; empty where the ledger does not name them.
    known : bool
        Whether there is a ledger that could say that they were forgotten.
    forgotten : bool
        Whether it says so already.
    entries, texts, notes : int
        Entries about them, texts and notes with words.
    elsewhere : tuple of (int, int)
        Notes of entries about others whose words name them: number of the entry and place.
    comments : tuple of str
        Comments on the work of others, in nbgrader's gradebook, that name them.
    submissions : int
        Submissions in nbgrader's gradebook.
    student : bool
        Whether nbgrader has a row of them.
    """

    person: str = ""
    known: bool = False
    forgotten: bool = False
    entries: int = 0
    texts: int = 0
    notes: int = 0
    elsewhere: tuple[tuple[int, int], ...] = ()
    comments: tuple[str, ...] = ()
    submissions: int = 0
    student: bool = False

    @property
    def any(self) -> bool:
        """Whether anything is to be done."""
        return bool(self.person or self.student or self.elsewhere or self.comments)


def there(engine: Engine) -> bool:
    """Tell whether there is a database; looking must not make an empty one."""
    return engine.dialect.name != "sqlite" or Path(engine.url.database or "").is_file()


@contextlib.contextmanager
def _looked(course: Course) -> Iterator[Connection | None]:
    """Open a transaction to look; None where there is no database."""
    with gradebook.opened(course) as engine:
        if not there(engine):
            yield None
            return
        with engine.begin() as connection:
            yield connection


def look(course: Course, traces: Traces) -> Rows:
    """Return what the database holds of somebody.

    Raises
    ------
    CourseError
        If the database or the seed cannot be used.
    """
    with _looked(course) as connection:
        return Rows() if connection is None else _rows(connection, course, traces)


def strike(course: Course, traces: Traces, why: str) -> tuple[Rows, int]:
    """Take somebody out of the database; return what there was, and the number of the entry that says so, or 0.

    Done twice it is done once. In a course without a ledger nothing is recorded.

    Raises
    ------
    CourseError
        If the database or the seed cannot be used.
    """
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine:
        if not there(engine):
            return Rows(), 0
        with engine.connect() as connection:
            if engine.dialect.name == "sqlite":
                # What is emptied is written over with noughts, at once.
                connection.exec_driver_sql("PRAGMA secure_delete = ON").close()
                connection.commit()
            with connection.begin():
                return _strike(connection, course, traces, why)


def _strike(connection: Connection, course: Course, traces: Traces, why: str) -> tuple[Rows, int]:
    number = 0
    if versions.version(connection):
        ledger = Ledger(connection, course.seed())
        ledger.hold()
        rows = _rows(connection, course, traces)
        if not rows.forgotten or rows.person or rows.elsewhere:
            # Who was forgotten before has no row; words that came later are about nobody.
            about = traces.id if rows.person or not rows.forgotten else ""
            sign, emptied = ledger.sign(traces.id), tuple(rows.elsewhere)
            (entry,) = ledger.add([Forgotten(about, sign=sign, emptied=emptied, notes=(Note("why", why),))])
            number = entry.number
            person = (
                rows.person or connection.execute(select(ENTRY.c.person).where(ENTRY.c.number == number)).scalar_one()
            )
            theirs = select(ENTRY.c.number).where(ENTRY.c.person == person, ENTRY.c.number != number)
            if person:
                connection.execute(
                    update(MARK).where(MARK.c.entry.in_(theirs), MARK.c.kind == _FREE).values(response=None)
                )
                connection.execute(update(NOTE).where(NOTE.c.entry.in_(theirs)).values(text=None))
                connection.execute(delete(PERSON).where(PERSON.c.person == person))
            for of, place in rows.elsewhere:
                connection.execute(update(NOTE).where(NOTE.c.entry == of, NOTE.c.place == place).values(text=None))
    else:
        rows = _rows(connection, course, traces)
    _empty_gradebook(connection, traces.id)
    connection.execute(update(COMMENT).where(COMMENT.c.id.in_(rows.comments)).values(manual_comment=None))
    return rows, number


def _rows(connection: Connection, course: Course, traces: Traces) -> Rows:
    student, submissions = False, 0
    comments: tuple[str, ...] = ()
    if inspect(connection).has_table(STUDENT.name):
        student = _count(connection, STUDENT.c.id == traces.id) > 0
        submissions = _count(connection, SUBMITTED_ASSIGNMENT.c.student_id == traces.id)
        said = select(COMMENT.c.id, COMMENT.c.manual_comment).where(COMMENT.c.manual_comment.is_not(None))
        comments = tuple(row for row, words in connection.execute(said) if traces.named_in(words))
    if not versions.version(connection):
        return Rows(comments=comments, submissions=submissions, student=student)
    person = connection.execute(select(PERSON.c.person).where(PERSON.c.apprentice == traces.id)).scalar() or ""
    theirs = select(ENTRY.c.number).where(ENTRY.c.person == person, ENTRY.c.person != "")
    return Rows(
        person,
        known=True,
        forgotten=bool(Ledger(connection, course.seed()).forgotten([traces.id])),
        entries=_count(connection, ENTRY.c.number.in_(theirs)),
        texts=_count(connection, and_(MARK.c.entry.in_(theirs), MARK.c.kind == _FREE, MARK.c.response.is_not(None))),
        notes=_count(connection, and_(NOTE.c.entry.in_(theirs), NOTE.c.text.is_not(None))),
        elsewhere=tuple(_elsewhere(connection, traces, person)),
        comments=comments,
        submissions=submissions,
        student=student,
    )


def _count(connection: Connection, condition: ColumnElement[bool]) -> int:
    found: int = connection.execute(select(func.count()).where(condition)).scalar_one()
    return found


def _elsewhere(connection: Connection, traces: Traces, person: str) -> Iterator[tuple[int, int]]:
    query = (
        select(NOTE.c.entry, NOTE.c.place, NOTE.c.text)
        .join(ENTRY, ENTRY.c.number == NOTE.c.entry)
        .where(
            NOTE.c.text.is_not(None), or_(ENTRY.c.person != person, ENTRY.c.person == ""), ENTRY.c.kind != "forgotten"
        )
        .order_by(NOTE.c.entry, NOTE.c.place)
    )
    for entry, place, said in connection.execute(query):
        if traces.named_in(said):
            yield entry, place


def _empty_gradebook(connection: Connection, apprentice: str) -> None:
    """Take somebody's rows out of nbgrader's tables, those that hang on others first."""
    if not inspect(connection).has_table(STUDENT.name):
        return
    submitted = select(SUBMITTED_ASSIGNMENT.c.id).where(SUBMITTED_ASSIGNMENT.c.student_id == apprentice)
    notebooks = select(SUBMITTED_NOTEBOOK.c.id).where(SUBMITTED_NOTEBOOK.c.assignment_id.in_(submitted))
    for table in (GRADE, COMMENT):
        connection.execute(delete(table).where(table.c.notebook_id.in_(notebooks)))
    connection.execute(delete(SUBMITTED_NOTEBOOK).where(SUBMITTED_NOTEBOOK.c.assignment_id.in_(submitted)))
    connection.execute(delete(SUBMITTED_ASSIGNMENT).where(SUBMITTED_ASSIGNMENT.c.student_id == apprentice))
    connection.execute(delete(STUDENT).where(STUDENT.c.id == apprentice))


def compact(course: Course) -> list[Finding]:
    """Let nothing of what was deleted stay in the file of the database; for PostgreSQL say who does that.

    Raises
    ------
    CourseError
        If nbgrader's settings cannot be read.
    """
    with database.opened(steps.address(course)) as engine:
        if not there(engine):
            return []
        if engine.dialect.name != "sqlite":
            return [
                Finding(
                    "note",
                    database.shown(engine.url),
                    "PostgreSQL keeps deleted rows for a while. Let whoever runs it give: VACUUM FULL; "
                    "its logs and backups are theirs to look after.",
                )
            ]
        file = str(engine.url.database)
    # The driver itself: a file is packed anew in no transaction.
    with contextlib.closing(sqlite3.connect(file, timeout=_WAIT_SECONDS, isolation_level=None)) as connection:
        try:
            for statement in ("PRAGMA secure_delete = ON", "VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"):
                connection.execute(statement).fetchall()
        except sqlite3.OperationalError as error:
            text = f"Traces may stay in the file ({error}). Close formgrader, then forget them again."
            return [Finding("refused", "gradebook.db", text)]
    return []


def remains(course: Course, traces: Traces) -> tuple[Finding, ...]:
    """Return where the database still names somebody, in whatever column of whatever table.

    Raises
    ------
    CourseError
        If the database cannot be used.
    """
    with _looked(course) as connection:
        return () if connection is None else tuple(_remains(connection, traces))


def _remains(connection: Connection, traces: Traces) -> Iterator[Finding]:
    known = MetaData()
    known.reflect(bind=connection)
    for table in known.sorted_tables:
        columns = [column for column in table.columns if isinstance(column.type, String | Text)]
        if not columns:
            continue
        # The database sorts out what cannot be; capitals and escapes are for the pattern.
        rough = [word for word in (traces.id, traces.name) if word]
        forms = {form for word in rough for form in (word, json.dumps(word)[1:-1])}
        like = or_(*(cast(c, Text).icontains(form, autoescape=True) for c in columns for form in sorted(forms)))
        keys = list(table.primary_key.columns)
        for row in connection.execute(select(*keys, *columns).where(and_(like))):
            values = row[len(keys) :]
            for column, value in zip(columns, values, strict=True):
                if isinstance(value, str) and traces.named_in(value):
                    number = f" {row[0]}" if keys else ""
                    words = f"{table.name}{number}, {column.name}: it still names them."
                    said = " It is sealed and stays." if table.name in ("trainkit_entry", "trainkit_mark") else ""
                    yield Finding("warning", "database", f"{words}{said}")


@dataclass(frozen=True, slots=True)
class SecondSheet:
    """A sheet of a second marker: its code, lines of somebody or of nobody, and whether some are still theirs."""

    code: str
    lines: frozenset[int]
    now: bool


def second_sheets(course: Course, apprentice: str) -> tuple[SecondSheet, ...]:
    """Return the sheets of second markers that have work of somebody; of who was forgotten before, those of nobody.

    Raises
    ------
    CourseError
        If the database or the seed cannot be used.
    """
    with _looked(course) as connection:
        if connection is None or not versions.version(connection):
            return ()
        found = []
        for _, drawn in sampling.drawn(Ledger(connection, course.seed())):
            lines = frozenset(line.line for line in drawn.lines if line.apprentice in ("", apprentice))
            if lines:
                now = any(line.apprentice == apprentice for line in drawn.lines)
                found.append(SecondSheet(drawn.sheet, lines, now))
        return tuple(found)


def second_page(course: Course, code: str) -> str:
    """Return the page of a second marker's sheet anew; work of people who were forgotten is not on it.

    Raises
    ------
    CourseError
        If a form or its keys are not there.
    """
    from trainkit_grading.decisions.double_marking.sheets import html_text, works

    with gradebook.opened(course) as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        for _, drawn in sampling.drawn(ledger):
            if drawn.sheet == code:
                return html_text(course, drawn, works(course, ledger, drawn))
    raise CourseError(code, rule="No sheet of this code was drawn.", remedy="Look at its head.")  # pragma: no cover
