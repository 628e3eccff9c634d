"""Commands for packs in a spreadsheet: they are added to the app by :func:`register`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainkit_grading.cli.output import command

if TYPE_CHECKING:
    from trainkit_grading.support.outcome import Outcome


_Replace = Annotated[bool, typer.Option("--replace", help="Replace a file that is there; a copy of it is kept.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this module to ``app``."""
    for each in (pack_out, pack_in):
        app.command()(each)


@command()
def pack_out(
    pack: Annotated[str, typer.Argument(help="The name of a pack, or the path of its file.")],
    file: Annotated[Path, typer.Argument(metavar="FILE.xlsx", help="The workbook to write.")],
    replace: _Replace = False,
) -> Outcome:
    """Write a pack into a spreadsheet, a sheet for each table."""
    from trainkit_grading.pack_xlsx import send_out

    return send_out(pack, file, replace=replace)


@command()
def pack_in(
    file: Annotated[Path, typer.Argument(metavar="FILE.xlsx", help="The workbook.")],
    pack: Annotated[Path, typer.Argument(metavar="PACK.toml", help="The pack to write.")],
    replace: _Replace = False,
) -> Outcome:
    """Check a spreadsheet as a pack and write it; findings name sheet and cell."""
    from trainkit_grading.pack_xlsx import take_in

    return take_in(file, pack, replace=replace)
