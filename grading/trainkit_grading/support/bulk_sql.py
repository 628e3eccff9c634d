"""Many rows into one table at once, or out of some: handed to the driver, and taken from it, as they are.

SQLAlchemy's own way looks every value of every row up by its name, which for the marks of a cohort costs more than the
database does. What it knows of the database is used all the same: the text of the statement, and how values are bound.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from sqlalchemy import Boolean, Connection, Dialect, Select, Table, insert


@dataclass(frozen=True, slots=True)
class _Prepared:
    text: str
    columns: tuple[str, ...]
    order: tuple[int, ...] | None  # of the values, where the driver takes them by their place; else by their name
    bound: tuple[tuple[int, Callable[[Any], Any]], ...]  # the values that the database wants in another shape


def insert_rows(connection: Connection, table: Table, columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
    """Insert rows in the caller's transaction.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction.
    table : sqlalchemy.Table
        Where they go.
    columns : sequence of str
        What the values of a row are, in their order; columns that are left out stay empty.
    rows : sequence of tuple
        The rows; none are fine.

    Examples
    --------
    >>> from sqlalchemy import Column, Integer, MetaData, create_engine, select
    >>> table = Table("t", MetaData(), Column("a", Integer), Column("b", Integer))
    >>> with create_engine("sqlite://").begin() as connection:
    ...     table.create(connection)
    ...     insert_rows(connection, table, ("b", "a"), [(1, 2), (3, None)])
    ...     connection.execute(select(table)).all()
    [(2, 1), (None, 3)]
    """
    if not rows:
        return
    prepared = _prepared(table, tuple(columns), connection.dialect)
    values: Iterable[Sequence[Any]] = rows
    if prepared.bound:
        values = (_bound(row, prepared.bound) for row in rows)
    if prepared.order is None:
        connection.exec_driver_sql(prepared.text, [dict(zip(prepared.columns, row, strict=True)) for row in values])
    elif prepared.order == tuple(range(len(prepared.columns))):
        connection.exec_driver_sql(prepared.text, [tuple(row) for row in values])
    else:
        order = prepared.order
        connection.exec_driver_sql(prepared.text, [tuple(row[place] for place in order) for row in values])


def _bound(row: Sequence[Any], bound: Sequence[tuple[int, Callable[[Any], Any]]]) -> list[Any]:
    shaped = list(row)
    for place, shape in bound:
        shaped[place] = shape(shaped[place])
    return shaped


@lru_cache(maxsize=64)
def _prepared(table: Table, columns: tuple[str, ...], dialect: Dialect) -> _Prepared:
    compiled = insert(table).compile(dialect=dialect, column_keys=list(columns))
    names = compiled.positiontup
    bound = []
    for place, name in enumerate(columns):
        shape = table.c[name].type.dialect_impl(dialect).bind_processor(dialect)
        # True is 1 to the drivers that have no truth values of their own.
        if shape is not None and not isinstance(table.c[name].type, Boolean):
            bound.append((place, shape))
    order = tuple(columns.index(name) for name in names) if names is not None else None
    return _Prepared(str(compiled), columns, order, tuple(bound))


def raw_rows(connection: Connection, query: Select[Any], at_once: int = 20_000) -> Iterator[Sequence[Any]]:
    """Yield the rows of a query as the driver gives them, many at a time.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction.
    query : sqlalchemy.Select
        What is asked; its values are written into it, so they are the program's own. Numbers, texts and nothing come
        back alike from every database.
    at_once : int, optional
        How many rows at a time.

    Examples
    --------
    >>> from sqlalchemy import create_engine, literal, select
    >>> with create_engine("sqlite://").begin() as connection:
    ...     list(raw_rows(connection, select(literal(1), literal("a"))))
    [[(1, 'a')]]
    """
    text = str(query.compile(dialect=connection.dialect, compile_kwargs={"literal_binds": True}))
    with closing(connection.connection.cursor()) as cursor:
        cursor.execute(text)
        while some := cursor.fetchmany(at_once):
            yield some
