"""The command ``trainkit``: for those who write packs, and for apprentices.

Every command says what it did in words; a non-zero exit status means that something was refused. Nothing is said by
colour alone, and consoles that lack a letter get a replacement for it.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainkit.errors import PackError, TrainkitError

if TYPE_CHECKING:
    from trainkit.packs import Finding

__all__ = ["app", "main"]

app = typer.Typer(
    name="trainkit",
    help="Workbooks for workshop apprentices: check and begin packs.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

_WORDS = {"refuse": "REFUSED", "warn": "WARNING", "note": "NOTE"}


@app.callback()
def _whole() -> None:
    """Workbooks for workshop apprentices."""


@app.command()
def check(
    pack: Annotated[str, typer.Argument(help="Name of an installed pack, or path of a TOML file.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print the findings as JSON.")] = False,
) -> None:
    """Check a pack and print everything that is wrong with it, with file, line and remedy."""
    from trainkit import packs

    try:
        findings = packs.examine(pack).findings
    except PackError as error:
        findings = (packs.Finding("file-unreadable", "refuse", pack, 0, "", "", error.rule, error.remedy),)
    counts = {severity: sum(finding.severity == severity for finding in findings) for severity in _WORDS}
    if as_json:
        report = {
            "file": pack,
            "usable": not counts["refuse"],
            "counts": counts,
            "findings": [finding.as_data() for finding in findings],
        }
        # Escapes keep it whole on consoles and in redirections of any encoding.
        typer.echo(json.dumps(report, indent=2))
    else:
        for finding in findings:
            _print_finding(finding)
        _say(_summary(pack, counts))
    raise typer.Exit(1 if counts["refuse"] else 0)


def _print_finding(finding: Finding) -> None:
    where = f"{finding.file}, line {finding.line}" if finding.line else finding.file
    _say(f"{_WORDS[finding.severity]}  {where}  [{finding.code}]", style=_STYLES[finding.severity])
    met = " = ".join(part for part in (finding.key, finding.value) if part)
    for line in (met, finding.rule, finding.remedy):
        if line:
            _say(f"    {line}")
    _say("")


_STYLES = {"refuse": "bold red", "warn": "bold yellow", "note": "bold"}


def _summary(pack: str, counts: dict[str, int]) -> str:
    if not any(counts.values()):
        return f"{pack}: nothing found. The pack can be used."
    told = ", ".join(
        f"{count} {word}{'' if count == 1 or word == 'refused' else 's'}"
        for word, count in (("refused", counts["refuse"]), ("warning", counts["warn"]), ("note", counts["note"]))
        if count
    )
    verdict = "The pack cannot be used." if counts["refuse"] else "The pack can be used."
    return f"{pack}: {told}. {verdict}"


@app.command("new-pack")
def new_pack(
    path: Annotated[Path, typer.Argument(help="Where to write it, such as my-engine.toml.")],
) -> None:
    """Write a commented pack to start from; it passes the check as it is."""
    from trainkit import packs

    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(packs.starting_point(path.stem))
    except FileExistsError:
        raise PackError(
            str(path), rule="A pack that is there is never written over.", remedy="Choose another name."
        ) from None
    except OSError as error:
        raise PackError(
            str(path),
            rule=f"The file cannot be written ({error.strerror or type(error).__name__}).",
            remedy="Check that the folder is there and that you may write in it.",
        ) from None
    _say(f"Written: {path}")
    _say("Put your engine's values in place of the invented ones, then run:")
    _say(f'    trainkit check "{path}"')


@app.command("packs")
def list_packs() -> None:
    """List the packs that are installed with the workbooks."""
    from trainkit import packs

    for name in packs.shipped():
        _say(f"{name}  {packs.load(name).title}")


def _say(text: str, *, style: str = "", err: bool = False) -> None:
    """Print one line as it is: values out of files are never read as markup."""
    from rich.console import Console
    from rich.text import Text

    console = Console(stderr=err, soft_wrap=True, highlight=False, markup=False, emoji=False)
    console.print(Text(text, style=style))


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command ``trainkit``.

    Parameters
    ----------
    arguments : sequence of str, optional
        Instead of those of the process.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # an old console must not end a command with a traceback
    try:
        app(args=None if arguments is None else list(arguments))
    except TrainkitError as error:
        _say(str(error), err=True)
        raise SystemExit(1) from None


if __name__ == "__main__":
    main()
