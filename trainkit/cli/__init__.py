"""The command ``trainkit``: for apprentices, and for those who write packs.

Every command says what it did in words; a non-zero exit status means that something was refused. Nothing is said by
colour alone, and consoles that lack a letter get a replacement for it. Each module of this package adds its commands
with ``register(app)``; a command imports what it works with inside its own function, so that ``--help`` answers fast.
"""

from __future__ import annotations

from collections.abc import Sequence

import typer

from trainkit.cli import packs, workbooks
from trainkit.cli.speech import any_console, say
from trainkit.errors import TrainkitError

__all__ = ["app", "main"]

app = typer.Typer(
    name="trainkit",
    help="Workbooks for workshop apprentices: open them, hand in, check and begin packs.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
workbooks.register(app)
packs.register(app)


@app.callback()
def _whole() -> None:
    """Workbooks for workshop apprentices."""


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command ``trainkit``.

    Parameters
    ----------
    arguments : sequence of str, optional
        Instead of those of the process.
    """
    any_console()
    try:
        app(args=None if arguments is None else list(arguments))
    except TrainkitError as error:
        say(str(error), err=True)
        raise SystemExit(1) from None
