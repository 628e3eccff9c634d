"""A table in which each row goes into one of the columns."""

from __future__ import annotations

from html import escape

from trainkit.items.kinds.grid import GridItem, GridKey, GridResponse
from trainkit.items.kinds.values import Option
from trainkit.widgets.kinds.look import Exercise, Look, as_data, offered, text_of, texts


def _fit(item: GridItem, response: GridResponse) -> GridResponse:
    offered(response, list(response.rows), item.rows)
    return offered(response, list(set(response.rows.values())), item.columns)


def _words(item: GridItem, response: GridResponse) -> str:
    return "; ".join(
        f"{text_of(item.rows, row)}: {text_of(item.columns, column)}" for row, column in response.rows.items()
    )


def _right(item: GridItem, key: GridKey) -> list[str]:
    columns = {column.id: column.text for column in item.columns}
    return [f"{row.text}: {columns[key.right[row.id]]}" for row in item.rows]


def _table(item: GridItem) -> str:
    """Return a table that says the columns itself."""
    heads = "".join(f'<th scope="col">{escape(column.text)}</th>' for column in item.columns)
    boxes = "<td>☐</td>" * len(item.columns)
    rows = "".join(f'<tr><th scope="row">{escape(row.text)}</th>{boxes}</tr>' for row in item.rows)
    table = f"<table><thead><tr><td></td>{heads}</tr></thead><tbody>{rows}</tbody></table>"
    return f"<p>Choose one in each row.</p>{table}"


LOOK: Look[GridItem, GridKey, GridResponse] = Look(
    "grid",
    task=lambda item: (f"Choose for each one of: {'; '.join(texts(item.columns))}.", texts(item.rows)),
    words=_words,
    said=lambda _, response, named: tuple(f"{named(row)}: {named(column)}" for row, column in response.rows.items()),
    right=_right,
    control=lambda item: {"rows": as_data(item.rows), "columns": as_data(item.columns)},
    fit=_fit,
    exercise=lambda _: Exercise(
        "a choice in every row",
        GridItem(
            prompt="Choose “left” in row 1 and “right” in row 2.",
            rows=(Option(id="1", text="Row 1"), Option(id="2", text="Row 2")),
            columns=(Option(id="l", text="left"), Option(id="r", text="right")),
        ),
        mouse="Click the place in each row.",
        finger="Tap the place in each row.",
        keys="Tab goes from row to row. The space bar and the arrows choose in a row. Enter tries it.",
        done=lambda given: given == GridResponse(rows={"1": "l", "2": "r"}),
    ),
    table=_table,
)
