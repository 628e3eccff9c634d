"""Commands for apprentices: open a workbook, see how far it is, hand in."""

from __future__ import annotations

import contextlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated
from urllib.parse import quote

import typer

from trainkit.cli.speech import say
from trainkit.errors import JournalError, ModuleError

if TYPE_CHECKING:
    from trainkit.modules import Module
    from trainkit.workbook import Book


_LABEXTENSION = Path(__file__).parents[1] / "labextension"
# The part of JupyterLab that gets a workbook ready. JupyterLab searches this whole folder, so no source lies in it.
_EXTENSION = _LABEXTENSION / "built"
# How a server is set up that shows workbooks: the calm page, no news, the light or dark of the system.
_SETUP = _LABEXTENSION / "etc"

_FOLDER = typer.Argument(help="The folder of the workbook; the folder you are in if you leave it out.")


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("open")(open_workbook)
    app.command("status")(status)
    app.command("hand-in")(hand_in)


def open_workbook(
    what: Annotated[
        str,
        typer.Argument(
            help="The folder of a workbook, the zip that you were given, or the name of a module to practise.",
            metavar="[WHAT]",
        ),
    ] = ".",
    into: Annotated[
        Path | None,
        typer.Option("--into", help="Where your copy for practice goes; a folder named like the module by default."),
    ] = None,
    pack: Annotated[
        Path | None,
        typer.Option(
            "--pack", help="Practise on another engine: the file of its pack. Only with the name of a module."
        ),
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Start JupyterLab and print its address, without opening a browser.")
    ] = False,
    options: Annotated[
        list[str] | None, typer.Argument(help="Options for JupyterLab, after two hyphens.", metavar="[-- OPTION]")
    ] = None,
) -> None:
    """Open a workbook in JupyterLab: the one in a folder or a zip, or your own copy of a module for practice."""
    notebook = notebook_to_open(what, into, pack)
    command = lab_command(notebook, no_browser=no_browser, options=options or ())
    say(f"Opening {notebook}")
    say("It gets ready by itself. If it does not, press “Start again” there. To end it, press Ctrl+C here.")
    raise typer.Exit(serve(command))


def serve(command: list[str]) -> int:
    """Run JupyterLab until it is ended, and return the status that the command ends with."""
    process = subprocess.Popen(command, env=server_environment())  # noqa: S603 - JupyterLab of this very environment
    while process.poll() is None:
        # Ctrl+C reaches JupyterLab too, which then ends by itself.
        with contextlib.suppress(KeyboardInterrupt):
            process.wait()
    return max(process.returncode, 0)


def server_environment() -> dict[str, str]:
    """Return the environment in which a Jupyter server shows workbooks on the calm page.

    The settings are defaults: what a person or an administrator has chosen goes before them, and no file of theirs is
    changed.
    """
    before = os.environ.get("JUPYTER_CONFIG_PATH", "")
    return {**os.environ, "JUPYTER_CONFIG_PATH": os.pathsep.join([str(_SETUP), *filter(None, [before])])}


def notebook_to_open(what: str, into: Path | None = None, pack: Path | None = None) -> Path:
    """Return the notebook that is meant; a module that is named is copied for practice first.

    Parameters
    ----------
    what : str
        A folder, a notebook, a course's zip, or the name of a module. A zip is unpacked into a folder of its own.
    into : Path, optional
        The folder for a copy. A copy that is already there is used as it is, never written over.
    pack : Path, optional
        The pack that a copy explains and practises on; it is laid beside the copy.

    Raises
    ------
    ModuleError
        If there is no such workbook, or the copy that is there is about another engine.
    PackError
        If the pack cannot be used.
    FormError
        If a zip is none of a course.
    """
    from trainkit import copies, modules

    given = Path(what)
    if pack is not None:
        return _copy_about(modules.load(what), given if into is None else into, pack)
    if given.suffix == ".ipynb" and given.is_file():
        return given.resolve()
    if given.suffix == ".zip" and given.is_file():
        return copies.own_copy(given, into)
    if given.is_dir() and (into is None or what not in modules.names()):
        return _notebook_in(given)[0]
    if not given.exists() and (given.suffix in (".zip", ".ipynb") or len(given.parts) > 1):
        raise ModuleError(
            what,
            rule="There is no such file or folder here.",
            remedy="Go to the folder in which it lies, mostly Downloads, and write its whole name.",
        )
    module = modules.load(what)
    home = Path(what) if into is None else into
    copy = home / module.notebook.name
    if not copy.exists():
        home.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(module.notebook, copy)
        say(f"Your copy for practice: {copy}")
    return copy.resolve()


def _copy_about(module: Module, home: Path, pack: Path) -> Path:
    """Return a copy of a module for practice on another engine."""
    from trainkit import packs

    loaded = packs.load(pack)  # nothing is copied that cannot be used
    content, _ = packs.bytes_of(pack)
    copy, beside = home / module.notebook.name, home / packs.PACK_FILE
    if copy.exists() and (not beside.is_file() or beside.read_bytes() != content):
        raise ModuleError(
            str(home),
            rule="The copy in this folder is about another engine, and a copy is never written over.",
            remedy="Name another folder with --into.",
        )
    if not copy.exists():
        home.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(content)
        copy.write_text(_without_outputs(module.notebook), "utf-8")
        say(f"Your copy for practice on {loaded.title}: {copy}")
    return copy.resolve()


def _without_outputs(notebook: Path) -> str:
    """Return a notebook without what its cells show: that is about another engine, until they are run."""
    content = json.loads(notebook.read_text("utf-8"))
    for cell in content["cells"]:
        if cell["cell_type"] == "code":
            cell["outputs"] = []
    return json.dumps(content, indent=1, ensure_ascii=False) + "\n"


def _notebook_in(folder: Path) -> tuple[Path, str]:
    """Return the workbook of a folder, under its own name or one that somebody gave it, and its module."""
    from trainkit import modules
    from trainkit.server import module_of

    known = modules.names()
    notebooks = sorted(folder.glob("*.ipynb"))
    found = [(path, path.stem) for path in notebooks if path.stem in known]
    if not found:
        found = [(path, name) for path in notebooks if (name := module_of(path)) is not None and name in known]
    if len(found) != 1:
        raise ModuleError(
            str(folder),
            rule=f"The folder of a workbook holds one of {', '.join(f'{name}.ipynb' for name in known)}.",
            remedy="Go to that folder, or name a module: trainkit open lock-pin",
        )
    path, module = found[0]
    return path.resolve(), module


def lab_command(notebook: Path, *, no_browser: bool, options: list[str] | tuple[str, ...] = ()) -> list[str]:
    """Return the command that starts JupyterLab on one notebook, alone on the screen, with its folder as the root.

    Raises
    ------
    ModuleError
        If JupyterLab is not installed.
    """
    if importlib.util.find_spec("jupyterlab") is None:
        raise ModuleError(
            "jupyterlab",
            rule="Workbooks are opened in JupyterLab, which is not installed here.",
            remedy='Install it with: pip install "trainkit-workbooks[lab]"',
        )
    return [
        *(sys.executable, "-m", "jupyterlab"),
        f"--ServerApp.root_dir={notebook.parent}",
        f"--LabApp.default_url=/doc/tree/{quote(notebook.name)}",
        "--ServerApp.answer_yes=True",  # Ctrl+C ends it at once; the answers are on the disk anyway
        *extension_options(),
        *(["--no-browser"] if no_browser else []),
        *options,
    ]


def extension_options() -> list[str]:
    """Return the option by which JupyterLab finds this very release's extension, however trainkit was installed.

    A wheel also puts it where JupyterLab looks by itself; an editable installation leaves an old copy there, or none.
    """
    return [f"--LabApp.extra_labextensions_path={_EXTENSION}"]


def status(
    folder: Annotated[Path, _FOLDER] = Path(),
    as_json: Annotated[bool, typer.Option("--json", help="Print it as JSON.")] = False,
) -> None:
    """Say whose workbook this is, what is due and what is answered."""
    book = _book(folder)
    if not as_json:
        say(str(book.summary()))
        return
    found = book.progress
    report = {
        "module": book.module.blueprint.module,
        "apprentice": book.person.apprentice if book.person else None,
        "form": book.form.code if book.form else None,
        "due": book.forms.due_of(book.form.code if book.form else "") if book.forms else None,
        "answered": list(found.answered) if found else [],
        "begun": list(found.begun) if found else [],
        "missing": list(found.missing) if found else [],
    }
    typer.echo(json.dumps(report, indent=2))


def hand_in(
    folder: Annotated[Path, _FOLDER] = Path(),
    as_json: Annotated[bool, typer.Option("--json", help="Print it as JSON.")] = False,
) -> None:
    """Make the hand-in file of the answers in a folder."""
    from trainkit import handin

    book = _book(folder)
    path = handin.pack(folder)
    found = book.progress
    if as_json:
        missing = [*found.missing, *found.begun] if found else []
        typer.echo(json.dumps({"file": str(path), "missing": missing}, indent=2))
        return
    for line in found.lines if found else ():
        say(line)
    say(f"The hand-in file is ready: {path}")
    say("Give it to your instructor. If you change an answer after this, hand in again.")


def _book(folder: Path) -> Book:
    from trainkit import modules, workbook

    if not folder.is_dir():
        raise JournalError(str(folder), rule="There is no such folder.", remedy="Name the folder of the workbook.")
    return workbook.Book(modules.load(_notebook_in(folder)[1]), folder)
