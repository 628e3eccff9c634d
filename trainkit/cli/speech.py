"""How a command speaks: words first, colour never alone."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence


def say(text: str, *, style: str = "", err: bool = False) -> None:
    """Print one line as it is: values out of files are never read as markup."""
    from rich.console import Console
    from rich.text import Text

    console = Console(stderr=err, soft_wrap=True, highlight=False, markup=False, emoji=False)
    console.print(Text(text, style=style))


def say_table(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Print a table of plain words."""
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=SIMPLE_HEAD)
    for column in columns:
        table.add_column(Text(column), overflow="fold")
    for row in rows:
        table.add_row(*map(Text, row))
    Console(highlight=False, markup=False, emoji=False).print(table)


def any_console() -> None:
    """See to it that a console without a letter gets a replacement for it, and no command ends in a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
