"""The tables of nbgrader's gradebook that trainkit reads and writes.

nbgrader's own classes take two seconds to load. These descriptions hold the same tables and columns, and a test
compares them with nbgrader's, so that a changed release is noticed before any mark is written.
"""

from __future__ import annotations

from sqlalchemy import Boolean, Column, DateTime, Float, Interval, MetaData, String, Table, Text

METADATA = MetaData()


def _id(name: str = "id") -> Column[str]:
    return Column(name, String(32), primary_key=name == "id")


ASSIGNMENT = Table("assignment", METADATA, _id(), Column("name", String(128)), Column("duedate", DateTime()))
NOTEBOOK = Table("notebook", METADATA, _id(), Column("name", String(128)), _id("assignment_id"))
BASE_CELL = Table(
    "base_cell", METADATA, _id(), Column("name", String(128)), _id("notebook_id"), Column("type", String(50))
)
GRADE_CELLS = Table("grade_cells", METADATA, _id(), Column("max_score", Float()))
STUDENT = Table("student", METADATA, Column("id", String(128), primary_key=True))
SUBMITTED_ASSIGNMENT = Table(
    "submitted_assignment",
    METADATA,
    _id(),
    _id("assignment_id"),
    Column("student_id", String(128)),
    Column("timestamp", DateTime()),
    Column("extension", Interval()),
)
SUBMITTED_NOTEBOOK = Table(
    "submitted_notebook",
    METADATA,
    _id(),
    _id("assignment_id"),
    _id("notebook_id"),
    Column("flagged", Boolean()),
    Column("late_submission_penalty", Float()),
)
GRADE = Table(
    "grade",
    METADATA,
    _id(),
    _id("notebook_id"),
    _id("cell_id"),
    Column("auto_score", Float()),
    Column("manual_score", Float()),
    Column("extra_credit", Float()),
    Column("needs_manual_grade", Boolean()),
)
COMMENT = Table(
    "comment",
    METADATA,
    _id(),
    _id("notebook_id"),
    _id("cell_id"),
    Column("auto_comment", Text()),
    Column("manual_comment", Text()),
)
