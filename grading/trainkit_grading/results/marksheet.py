"""All marks of a module that count, as columns: what statistics and reports reckon with, for a class or for thousands.

A row is an apprentice, a column an item. Marks are those of the entries that the gradebook shows, with the points
that people have given in their place. Nobody's answers are read, only what they earned and what they showed.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, case, func, select

from trainkit_grading.ledger.details import could_show
from trainkit_grading.ledger.tables import ENTRY, MARK, PERSON, SHOWN
from trainkit_grading.support.bulk_sql import raw_rows

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from trainkit_grading.ledger.book import Ledger, PointsByHand


_GIVEN, _HURTS = 1, 2
NOTHING = -1  # where a cell of a column of codes holds none


@dataclass(frozen=True, slots=True)
class ItemColumn:
    """An item of the module.

    Parameters
    ----------
    item, template, kind : str
        What it is called, the template that its draws come from, and the kind of its answers.
    out_of : float
        Most points.
    """

    item: str
    template: str
    kind: str
    out_of: float


@dataclass(frozen=True)
class Marksheet:
    """The marks of one module.

    Parameters
    ----------
    module : str
        The module.
    people : tuple of str
        Identifiers of the apprentices, one for each of n rows; empty for somebody who was forgotten.
    entries : tuple of int
        Number of the ledger entry that each row comes from.
    forms : tuple of str
        Code of the form of each row.
    columns : tuple of ItemColumn
        The k items, in the order of the form.
    points : ndarray of float, shape (n, k)
        Points earned; not a number where an item still waits for a person.
    answered, critical : ndarray of bool, shape (n, k)
        Whether anything was answered, and whether the answer would hurt the engine or a person.
    codes : tuple of str
        The misconceptions that were shown.
    shown : ndarray of int, shape (n, k)
        Which of the codes an answer showed, by its place among them; -1 for none.
    """

    module: str
    people: tuple[str, ...]
    entries: tuple[int, ...]
    forms: tuple[str, ...]
    columns: tuple[ItemColumn, ...]
    points: NDArray[np.float64]
    answered: NDArray[np.bool_]
    critical: NDArray[np.bool_]
    codes: tuple[str, ...]
    shown: NDArray[np.int16]
    # Which set of misconceptions an answer could have shown, by its place among `_sets`.
    _could: NDArray[np.int32] = field(repr=False)
    _sets: tuple[frozenset[str], ...] = field(repr=False)

    @cached_property
    def share(self) -> NDArray[np.float64]:
        """Points as a part of the most possible, 0 to 1, shape (n, k)."""
        import numpy as np

        found: NDArray[np.float64] = self.points / np.array([column.out_of for column in self.columns])
        return found

    @cached_property
    def possible(self) -> tuple[str, ...]:
        """The misconceptions that some answer could have shown, or did, by their codes."""
        return tuple(sorted({*self.codes, *(code for codes in self._sets for code in codes)}))

    def could_show(self, code: str) -> NDArray[np.bool_]:
        """Return where a misconception could have shown in an answer that was given, shape (n, k).

        For a scenario nobody has worked out beforehand what could show; there it is a chance for everybody as soon as
        it has shown for one, in any draw of the same template.
        """
        import numpy as np

        holds = np.array([code in codes for codes in self._sets], dtype=bool)
        found: NDArray[np.bool_] = holds[self._could]
        for place, column in enumerate(self.columns):
            if column.kind == "actions" and self.showed(code)[:, place].any():
                found[:, place] = True
        # What showed could show, also two rules at once in one number.
        found |= self.showed(code)
        found &= self.answered
        return found

    def showed(self, code: str) -> NDArray[np.bool_]:
        """Return where a misconception showed, shape (n, k)."""
        import numpy as np

        if code not in self.codes:
            return np.zeros(self.shown.shape, dtype=bool)
        found: NDArray[np.bool_] = self.shown == self.codes.index(code)
        return found

    def of(self, people: Collection[str]) -> Marksheet:
        """Return the rows of some people."""
        import numpy as np

        rows = np.array([place for place, name in enumerate(self.people) if name in people], dtype=np.intp)
        return Marksheet(
            self.module,
            tuple(self.people[row] for row in rows),
            tuple(self.entries[row] for row in rows),
            tuple(self.forms[row] for row in rows),
            self.columns,
            self.points[rows],
            self.answered[rows],
            self.critical[rows],
            self.codes,
            self.shown[rows],
            self._could[rows],
            self._sets,
        )


def read_marksheet(ledger: Ledger, connection: Connection, module: str) -> Marksheet:
    """Read the marks of a module that count.

    Parameters
    ----------
    ledger : Ledger
        The ledger, for the points that people have given.
    connection : sqlalchemy.Connection
        The connection of the ledger.
    module : str
        The module.

    Returns
    -------
    Marksheet
        Rows in the order of their entries; none where nothing was marked yet.
    """
    import numpy as np

    query = (
        select(ENTRY.c.number, ENTRY.c.attempt, ENTRY.c.form, ENTRY.c.detail, ENTRY.c.person, PERSON.c.apprentice)
        .join(SHOWN, SHOWN.c.entry == ENTRY.c.number)
        .join(PERSON, PERSON.c.person == ENTRY.c.person, isouter=True)
        .where(SHOWN.c.module == module)
        .order_by(ENTRY.c.number)
    )
    heads = connection.execute(query).all()
    numbers = np.array([head.number for head in heads], dtype=np.int64)
    columns = _columns(connection, module)
    places = {column.item: place for place, column in enumerate(columns)}
    shape = (len(heads), len(columns))
    points = np.full(shape, np.nan)
    answered, critical = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
    shown = np.full(shape, NOTHING, dtype=np.int16)
    codes: dict[str, int] = {}
    marks = (
        select(
            MARK.c.entry,
            MARK.c.item,
            case((MARK.c.verdict != "waiting", MARK.c.points)),
            # Two answers of yes or no in one number: there are very many of these rows.
            case((MARK.c.response_hash != "", _GIVEN), else_=0) + case((MARK.c.critical, _HURTS), else_=0),
            MARK.c.misconception,
        )
        .join(SHOWN, SHOWN.c.entry == MARK.c.entry)
        .where(SHOWN.c.module == module)
    )
    for some in raw_rows(connection, marks):
        entry, item, earned, said, code = zip(*some, strict=True)
        row = np.searchsorted(numbers, np.array(entry, dtype=np.int64))
        place = np.fromiter(map(places.__getitem__, item), np.intp, len(some))
        points[row, place] = np.array(earned, dtype=float)  # nothing becomes not a number
        yes = np.array(said, dtype=np.int8)
        answered[row, place] = yes & _GIVEN
        critical[row, place] = yes & _HURTS
        for one in sorted(set(code) - {""}):  # a set has another order in each process
            codes.setdefault(one, len(codes))
        shown[row, place] = np.fromiter(map({"": NOTHING, **codes}.__getitem__, code), np.int16, len(some))
    could, sets = _could(heads, places)
    _judge(ledger, module, heads, places, points)
    return Marksheet(
        module,
        tuple(head.apprentice or "" for head in heads),
        tuple(head.number for head in heads),
        tuple(head.form for head in heads),
        columns,
        points,
        answered,
        critical,
        tuple(codes),
        shown,
        could,
        sets,
    )


def _columns(connection: Connection, module: str) -> tuple[ItemColumn, ...]:
    """Return the items of a module in the order of its forms; where attempts had other ones, all of them."""
    # One entry of each blueprint that forms were drawn by is enough to know the items.
    one_of_each = (
        select(func.min(ENTRY.c.number))
        .join(SHOWN, SHOWN.c.entry == ENTRY.c.number)
        .where(SHOWN.c.module == module)
        .group_by(ENTRY.c.module_hash)
    )
    query = select(MARK.c.item, MARK.c.template, MARK.c.kind, MARK.c.out_of).where(MARK.c.entry.in_(one_of_each))
    found: dict[str, ItemColumn] = {}
    for row in connection.execute(query.order_by(MARK.c.entry.desc(), MARK.c.place)):
        found.setdefault(row.item, ItemColumn(row.item, row.template, row.kind, row.out_of))
    return tuple(found.values())


def _could(heads: Any, places: Mapping[str, int]) -> tuple[NDArray[np.int32], tuple[frozenset[str], ...]]:
    import numpy as np

    could = np.zeros((len(heads), len(places)), dtype=np.int32)
    sets: dict[tuple[str, ...], int] = {(): 0}
    for row, head in enumerate(heads):
        for item, said in could_show(head.detail).items():
            if item in places:
                could[row, places[item]] = sets.setdefault(tuple(said), len(sets))
    return could, tuple(frozenset(said) for said in sets)


def _judge(ledger: Ledger, module: str, heads: Any, places: Mapping[str, int], points: NDArray[np.float64]) -> None:
    """Put the points that people have given in the place of those of the machine."""
    given: Mapping[tuple[str, int], Mapping[str, PointsByHand]] = ledger.judged(module, forgotten=True)
    if not given:
        return
    for row, head in enumerate(heads):
        for item, of in given.get((head.apprentice or head.person, head.attempt), {}).items():
            if item in places:
                points[row, places[item]] = of.points
