"""Commands for those who write packs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainkit.cli.speech import say, say_table
from trainkit.errors import PackError
from trainkit.sentences import counted

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from trainkit.packs import Pack, PackFinding
    from trainkit.pools import ModuleReadiness


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command()(check)
    app.command("new-pack")(new_pack)
    app.command("packs")(list_packs)


_WORDS = {"refuse": "REFUSED", "warn": "WARNING", "note": "NOTE"}


def check(
    pack: Annotated[str, typer.Argument(help="Name of an installed pack, or path of a TOML file.")],
    demanded: Annotated[
        list[str] | None,
        typer.Option("--module", metavar="MODULE", help="A module that has to be ready; repeat for more."),
    ] = None,
    findings_only: Annotated[
        bool, typer.Option("--findings-only", help="Do not draw questions to see which modules are ready.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print findings and modules as JSON.")] = False,
) -> None:
    """Check a pack: everything that is wrong with it, and which modules can be built from it.

    The exit status is 1 where something is refused, or where a module named with --module is not ready.
    """
    from trainkit import packs
    from trainkit.items.misconceptions import all_misconceptions

    _known(demanded or ())
    examined = None
    try:
        examined = packs.examine(pack, misconceptions=all_misconceptions())
        findings = examined.findings
    except PackError as error:
        findings = (packs.PackFinding("file-unreadable", "refuse", pack, 0, "", "", error.rule, error.remedy),)
    filled = [] if examined is None or examined.pack is None or findings_only else _filled(examined.pack)
    unready = sorted({found.module for found in filled if not found.ready} & set(demanded or ()))
    counts = {severity: sum(finding.severity == severity for finding in findings) for severity in _WORDS}
    if as_json:
        report = {
            "file": pack,
            "usable": not counts["refuse"],
            "counts": counts,
            "findings": [finding.as_data() for finding in findings],
            "modules": [found.as_data() for found in filled],
        }
        # Escapes keep it whole on consoles and in redirections of any encoding.
        typer.echo(json.dumps(report, indent=2))
    else:
        for finding in findings:
            _print_finding(finding)
        say(_summary(pack, counts))
        if filled:
            _print_modules(filled)
        for name in unready:
            say(f"{name} is not ready.", style="bold red")
        say(_ONLY_STATED)
    raise typer.Exit(1 if counts["refuse"] or unready else 0)


def _known(demanded: Collection[str]) -> None:
    from trainkit import modules

    for name in demanded:
        modules.load(name)


def _filled(pack: Pack) -> list[ModuleReadiness]:
    """Fill the pools of every module from a pack."""
    from trainkit import modules
    from trainkit.pools import readiness

    return [readiness(pack, modules.load(name).blueprint) for name in modules.names()]


def _print_modules(filled: Sequence[ModuleReadiness]) -> None:
    from trainkit.pools import words

    say_table(words.COLUMNS, map(words.row, filled))
    ready = sum(found.ready for found in filled)
    say(f"{ready} of {counted(len(filled), 'module')} can be built from this pack.")


def _print_finding(finding: PackFinding) -> None:
    where = f"{finding.file}, line {finding.line}" if finding.line else finding.file
    say(f"{_WORDS[finding.severity]}  {where}  [{finding.code}]", style=_STYLES[finding.severity])
    met = " = ".join(part for part in (finding.key, finding.value) if part)
    for line in (met, finding.rule, finding.remedy):
        if line:
            say(f"    {line}")
    say("")


_ONLY_STATED = "Only the energies you stated were judged."
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
    say(f"Written: {path}")
    say("Put your engine's values in place of the invented ones, then run:")
    say(f'    trainkit check "{path}"')


def list_packs() -> None:
    """List the packs that are installed with the workbooks."""
    from trainkit import packs

    for name in packs.shipped():
        say(f"{name}  {packs.load(name).title}")
