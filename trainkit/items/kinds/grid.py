"""A table in which each row goes into one of the columns."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable
from typing import Annotated, Literal

from pydantic import Field

from trainkit.items.kinds import options
from trainkit.items.kinds.letters import mixed, named
from trainkit.items.kinds.lines import holds
from trainkit.items.kinds.values import Apart, Kind, Known, Met, Option, Shown, Token, Value
from trainkit.items.marks import Mark, share_of, unusable
from trainkit.items.misconceptions import misconception


class GridItem(Shown):
    """Each row is to be put into one of the columns: each part against its fate."""

    kind: Literal["grid"] = "grid"
    rows: Annotated[tuple[Option, ...], Field(min_length=2, max_length=12)]
    columns: Annotated[tuple[Option, ...], Field(min_length=2, max_length=6)]


class GridKey(Known):
    """The right column of each row; ``shows`` has, for ``"row column"``, the misconception that it shows."""

    kind: Literal["grid"] = "grid"
    right: dict[str, str]
    shows: dict[str, str] = Field(default_factory=dict)
    critical: tuple[str, ...] = ()  # "row column" pairs
    reasons: dict[str, str] = Field(default_factory=dict)  # for a row: why it is so


class GridResponse(Value):
    """For each row, by its identifier, the column it was put into."""

    kind: Literal["grid"] = "grid"
    rows: Annotated[dict[Token, Token], Field(max_length=12)]


def _mark(item: GridItem, key: GridKey, given: GridResponse) -> Mark:
    """Mark a grid by its rows, rescaled so that a blind guess earns nothing on average."""
    columns = {column.id for column in item.columns}
    rows = [row.id for row in item.rows]
    if not set(given.rows) <= set(rows) or not columns.issuperset(given.rows.values()):
        return unusable(item, "Each row goes into one of the columns shown. Fill in the grid again.")
    wrong = [row for row in rows if given.rows.get(row) != key.right[row]]
    if not wrong:
        return share_of(item, 1.0, "Every row is where it belongs.")
    guessed = 1.0 / len(columns)
    share = ((len(rows) - len(wrong)) / len(rows) - guessed) / (1.0 - guessed)
    pairs = [f"{row} {given.rows[row]}" for row in wrong if row in given.rows]
    shown = next((key.shows[pair] for pair in pairs if pair in key.shows), None)
    sentences = [f"{len(rows) - len(wrong)} of {len(rows)} rows are where they belong."]
    sentences += [key.reasons[row] for row in wrong if row in key.reasons][:2]
    if shown:
        sentences.append(misconception(shown).advice())
    harmful = [pair for pair in pairs if pair in key.critical]
    method = options.method(sentences[0], [key.shows.get(pair, "") for pair in (*harmful, *pairs)])
    return share_of(item, share, " ".join(sentences), shown, bool(harmful), method)


def _shown(item: GridItem, key: GridKey) -> Iterable[tuple[str, str]]:
    """Yield each row and what it shows in a wrong column."""
    for row in item.rows:
        for column in item.columns:
            code = key.shows.get(f"{row.id} {column.id}")
            if code and column.id != key.right[row.id]:
                yield row.id, code


def _accidents(item: GridItem, key: GridKey) -> dict[str, float]:
    ways = len(item.rows) * (len(item.columns) - 1)
    return {code: count / ways for code, count in Counter(code for _, code in _shown(item, key)).items()}


def _places(item: GridItem, key: GridKey) -> dict[str, frozenset[str]]:
    found: dict[str, set[str]] = {}
    for row, code in _shown(item, key):
        found.setdefault(code, set()).add(row)
    return {code: frozenset(where) for code, where in found.items()}


def _met(code: str, where: frozenset[str], key: GridKey, given: GridResponse) -> Met:
    if any(key.shows.get(f"{row} {given.rows.get(row)}") == code for row in where):
        return "shows"
    return "right" if all(given.rows.get(row) == key.right[row] for row in where) else "unrecognised"


def _relettered(item: GridItem, key: GridKey, shuffle: random.Random) -> tuple[GridItem, GridKey]:
    rows, to = mixed(item.rows, shuffle)

    def pair(old: str) -> str:
        row, _, column = old.partition(" ")
        return f"{to[row]} {column}"

    changed = {
        "right": named(key.right, to),
        "shows": {pair(old): code for old, code in key.shows.items()},
        "critical": tuple(pair(old) for old in key.critical),
        "reasons": named(key.reasons, to),
    }
    return item.model_copy(update={"rows": rows}), key.model_copy(update=changed)


KIND: Kind[GridItem, GridKey, GridResponse] = Kind(
    "grid",
    rule="Points by the rows that are right, less what guessing would bring.",
    mark=_mark,
    named=lambda item: (*item.rows, *item.columns),
    accidents=_accidents,
    relettered=_relettered,
    tells=lambda item, _, line: any(holds(line, row.text) for row in item.rows),
    apart=Apart(_places, _met),
    offers=True,
)
