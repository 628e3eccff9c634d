"""A table in which each row goes into one of the columns: a box to tick in each row."""

from __future__ import annotations

import re
from html import escape

from trainkit.items.kinds import GridItem, GridResponse
from trainkit_grading.paper.bench import LETTERS
from trainkit_grading.paper.kinds.blank import BOX, Blank, letter_of, lettered, marks, refused, say


def _html(item: GridItem, _: str) -> str:
    heads = "".join(
        f'<th scope="col"><b>{letter}</b><br>{escape(text)}</th>' for letter, text in lettered(item.columns)
    )
    boxes = f'<td class="tick">{BOX}</td>' * len(item.columns)
    rows = "".join(
        f'<tr><th scope="row">{number}. {escape(row.text)}</th>{boxes}</tr>'
        for number, row in enumerate(item.rows, start=1)
    )
    table = f'<table class="grid"><thead><tr><td></td>{heads}</tr></thead><tbody>{rows}</tbody></table>'
    return say("Tick one box in each row.") + table


def _hint(item: GridItem) -> str:
    return f"a letter for each of the {len(item.rows)} rows, A to {LETTERS[len(item.columns) - 1]}, - for none"


def _read(item: GridItem, typed: str) -> GridResponse:
    known = marks(item.columns)
    said = typed.upper().replace("–", "-").replace("—", "-")
    tokens = list(re.sub(r"[\s,;.\d]+", "", said))
    if len(tokens) != len(item.rows) or set(tokens) - {*known, "-"}:
        there = f"The table has {len(item.rows)} rows, and columns {', '.join(known)}."
        way = "Type one letter for each row from the top down, - where none or more than one is ticked."
        raise refused(typed, there, way)
    return GridResponse(rows={row.id: known[mark] for row, mark in zip(item.rows, tokens, strict=True) if mark != "-"})


def _write(item: GridItem, response: GridResponse) -> str:
    return " ".join(
        letter_of(item.columns, response.rows[row.id]) if row.id in response.rows else "-" for row in item.rows
    )


BLANK: Blank[GridItem, GridResponse] = Blank("grid", html=_html, hint=_hint, read=_read, write=_write)
