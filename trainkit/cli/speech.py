"""How a command speaks: words first, colour never alone."""

from __future__ import annotations

import sys


def say(text: str, *, style: str = "", err: bool = False) -> None:
    """Print one line as it is: values out of files are never read as markup."""
    from rich.console import Console
    from rich.text import Text

    console = Console(stderr=err, soft_wrap=True, highlight=False, markup=False, emoji=False)
    console.print(Text(text, style=style))


def any_console() -> None:
    """See to it that a console without a letter gets a replacement for it, and no command ends in a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
