"""From an authored notebook and a blueprint to nbgrader's ``source/<module>``: the notebook and the forms.

The blueprint decides; the notebook is checked against it both ways, so that no item is never asked and no cell is
graded that the blueprint does not know.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainkit import journal, notes
from trainkit.errors import TrainkitError
from trainkit.forms import FORMS_FILE
from trainkit.items.template import find
from trainkit.modules import Module, PlannedItem
from trainkit_grading.course import cohorts, given_out, practice_packs
from trainkit_grading.errors import BuildError
from trainkit_grading.forms import generation, leaks
from trainkit_grading.record.marked_submission import BY_PERSON
from trainkit_grading.release.origin import failed, origin_of
from trainkit_grading.support import lazy_imports
from trainkit_grading.support.files import held, write_atomically
from trainkit_grading.support.outcome import Finding, Outcome, Progress, quiet, refused
from trainkit_grading.support.refusals import stops_all

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit_grading.course.folder import Course, CourseModule
    from trainkit_grading.course.given_out import Origin
    from trainkit_grading.course.roster import Roster
    from trainkit_grading.course.seeds import Seed


_ASK = re.compile(r"""\s*book\.ask\(\s*(["'])(?P<item>[^"']*)\1\s*\)\s*""")
_OPEN = re.compile(r"""\bworkbook\.open\(\s*(["'])(?P<module>[^"']*)\1""")
# What an apprentice works in: the author's own outputs there go.
_WORKED = re.compile(r"\bbook\.(practice|ask|finish)\b")
_CONTROL = "application/vnd.jupyter.widget-view+json"
_KERNEL = {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}


def build(
    course: Course,
    names: Iterable[str] = (),
    progress: Progress = quiet,
    clock: Callable[[], datetime] = journal.now,
) -> Outcome:
    """Draw forms and keys and write nbgrader's source folder for each module; building again changes nothing.

    Parameters
    ----------
    course : Course
        The course.
    names : iterable of str, optional
        The modules; all of the course without.
    progress : callable, optional
        Told about each form drawn.
    clock : callable, optional
        Returns the time with its time zone; who has left by then gets no form.

    Returns
    -------
    Outcome
        What was refused costs only its own module.

    Raises
    ------
    CourseError
        If the roster or the seed cannot be used at all, or a module is not of this course.
    """
    entries = [course.module(name) for name in names] or list(course.modules)
    done: list[str] = []
    findings: list[Finding] = []
    built: dict[str, Any] = {}
    with held(course.folder):
        seed = course.seed()
        roster = course.roster()
        findings += roster.findings
        if not len(roster):
            findings.append(
                Finding("refused", "roster.csv", "Nobody is on the roster. Write a line for each apprentice.")
            )
            entries = []
        own = leaks.own_packs(course)
        for entry in entries:
            strayed = leaks.found_in(course.source / entry.name, seed, course.folder, own)
            if strayed:
                findings += strayed
                continue
            try:
                drawn = build_one(course, entry, roster, seed, progress, now=clock())
            except Exception as error:  # noqa: BLE001 - one module must never stop the others; it is told of
                findings += failed(error, entry.name)
                if stops_all(error):
                    break
                continue
            findings += drawn.findings
            done.append(
                f"{entry.name}: {len(drawn.forms.forms)} forms of attempt {entry.attempt} in source/{entry.name}."
            )
            built[entry.name] = {"attempt": entry.attempt, "forms": len(drawn.forms.forms), "pack": drawn.forms.pack}
    next_step = "Give the modules out: trainkit-course assign" if built else ""
    return Outcome("build", tuple(done), tuple(findings), next_step, {"modules": built})


def build_one(
    course: Course,
    entry: CourseModule,
    roster: Roster,
    seed: Seed,
    progress: Progress = quiet,
    *,
    now: datetime,
) -> generation.Drawing:
    """Draw the forms and keys of one module and write its source folder, in a course folder that is held.

    Whoever has left by ``now`` or does not take the module gets no form; forms that are out are kept as they are.

    Raises
    ------
    CourseError
        If the module cannot be built.
    NotReadyError
        If the pack cannot fill the pools of all items.
    """
    origin, told = origin_of(course, entry)
    if origin.blueprint.module != entry.name:
        raise BuildError(
            origin.blueprint.module,
            place=entry.name,
            rule="A module of the course is named like the module in its folder.",
            remedy=f"Write name = {json.dumps(origin.blueprint.module)} in course.toml.",
        )
    practised = practice_packs.practice_pack_of(course, entry)
    home = course.source / entry.name
    notebook = _notebook(course, entry, origin, practised.pack if practised is not None else None)
    staying = [p for p in roster if not p.gone(now.date()) and cohorts.takes(course, entry, p)]
    drawn = generation.draw(course, entry, origin.blueprint, origin.pack, staying, seed, progress)
    # The copies first: forms without what they were drawn from could not be added to.
    given_out.keep(course, entry, origin)
    generation.write(course, drawn)
    home.mkdir(parents=True, exist_ok=True)
    write_atomically(home / FORMS_FILE, drawn.forms.model_dump_json(indent=1) + "\n")
    if notebook is not None:
        write_atomically(home / f"{entry.name}.ipynb", notebook)
    practice_packs.lay(practised, home)
    return replace(drawn, findings=(*told, *drawn.findings))


def _notebook(course: Course, entry: CourseModule, origin: Origin, about: Pack | None) -> str | None:
    """Return the text of the notebook, or None where the one that is out stays.

    An upgrade may have brought a notebook with other items than those that are out.
    """
    try:
        return graded_notebook(course.planned_workbook(entry, origin.blueprint), about)
    except TrainkitError:
        is_out = generation.read_released(course.released_file(entry.name, entry.attempt))
        there = (course.source / entry.name / f"{entry.name}.ipynb").is_file()
        if is_out and there and _items_now(course, entry) != origin.blueprint.items:
            return None
        raise


def _items_now(course: Course, entry: CourseModule) -> tuple[PlannedItem, ...]:
    try:
        return course.present_workbook(entry).blueprint.items
    except TrainkitError:
        return ()  # the module is gone, or cannot be used any more


def check_notebook(module: Module) -> tuple[Finding, ...]:
    """Compare the authored notebook with its blueprint and return everything that does not fit."""
    try:
        cells = _cells(module.notebook)
    except BuildError as error:
        return (refused(error, module.notebook.name),)
    return tuple(_misfits(module, cells))


def graded_notebook(module: Module, about: Pack | None = None) -> str:
    """Return the text of the notebook that nbgrader makes the assignment from.

    Each ``book.ask("A1")`` cell becomes a locked, graded cell of that name, worth the points of the blueprint, its
    code collapsed. Outputs of cautions and worked examples stay, those of practice and questions are taken out; so is
    whatever shows only while a kernel runs. Where a course practises on another engine, ``about``, only the cautions
    stay, and they are that engine's: the rest would speak of the wrong one until its cell is run.

    Raises
    ------
    BuildError
        If notebook and blueprint do not fit; all misfits at once.
    """
    nbformat = lazy_imports.nbformat()
    content = _content(module.notebook)
    misfits = tuple(_misfits(module, content["cells"]))
    if misfits:
        raise BuildError(
            module.notebook.name,
            place=module.blueprint.module,
            rule="Notebook and blueprint do not fit. " + " ".join(f"{f.place}: {f.text}" for f in misfits),
            remedy="Then build again.",
        )
    planned = {item.id: item for item in module.blueprint.items}
    for number, cell in enumerate(content["cells"], start=1):
        # Names of cells that are the same every time, whoever saved the notebook with whatever program.
        cell.setdefault("id", f"{module.blueprint.module}-{number}")
        cell.setdefault("metadata", {})
        cell["source"] = _source(cell)
        asked = _ASK.fullmatch(cell["source"]) if cell.get("cell_type") == "code" else None
        _keep_readable_outputs(cell, about)
        if asked:
            _grade(cell, planned[asked["item"]])
    content.setdefault("metadata", {})
    content["metadata"].pop("widgets", None)  # the state of controls would show blank pages and old answers
    content["metadata"]["kernelspec"] = _KERNEL
    content["nbformat"], content["nbformat_minor"] = 4, 5
    node = nbformat.from_dict(content)
    try:
        nbformat.validate(node)
    except nbformat.ValidationError as error:
        raise BuildError(
            module.notebook.name,
            place=module.blueprint.module,
            rule=f"A workbook is a notebook of format 4.5 ({str(error).splitlines()[0]}).",
            remedy="Open it in JupyterLab and save it again.",
        ) from None
    text: str = nbformat.writes(node)
    return text + "\n"


def _keep_readable_outputs(cell: dict[str, Any], about: Pack | None) -> None:
    """Leave what can be read without a kernel: cautions, worked examples, figures.

    A control is dead until its cell is run, and what stands in practice and questions is the author's own work.
    """
    if cell.get("cell_type") != "code":
        return
    cell["execution_count"] = None
    if about is not None:
        cell["outputs"] = [_cautions(about)] if cell["source"] == "book.cautions()" else []
        return
    kept = []
    for output in cell.get("outputs", []):
        if _WORKED.search(cell["source"]) or not isinstance(output, dict) or output.get("output_type") == "error":
            continue
        if "execution_count" in output:
            output["execution_count"] = None
        data = output.get("data")
        if isinstance(data, dict):
            data.pop(_CONTROL, None)
            if not data:
                continue
        kept.append(output)
    cell["outputs"] = kept


def _cautions(pack: Pack) -> dict[str, Any]:
    return {
        "output_type": "execute_result",
        "execution_count": None,
        "metadata": {},
        "data": notes.cautions(pack)._repr_mimebundle_(),
    }


def _grade(cell: dict[str, Any], item: PlannedItem) -> None:
    """Make an asking cell one that nbgrader grades: by itself, or by hand where a person judges the answer."""
    cell["source"] = f'book.ask("{item.id}")'
    cell["outputs"], cell["execution_count"] = [], None
    cell["metadata"] |= {
        "deletable": False,
        "editable": False,
        "jupyter": {"source_hidden": True},
        "nbgrader": {
            "cell_type": "code",
            "grade": True,
            "grade_id": item.id,
            "locked": True,
            "points": item.points,
            "schema_version": 3,
            # nbgrader's way to say that a person gives the points.
            "solution": find(item.template).kind in BY_PERSON,
            "task": False,
        },
    }


def _misfits(module: Module, cells: list[dict[str, Any]]) -> Iterable[Finding]:
    blueprint = module.blueprint
    planned = [item.id for item in blueprint.items]
    met: list[str] = []
    opened: list[str] = []
    for number, cell in enumerate(cells, start=1):
        source, place = _source(cell), f"cell {number}"
        asked = _ASK.fullmatch(source)
        code = cell.get("cell_type") == "code"
        if code:
            opened += [match["module"] for match in _OPEN.finditer(source)]
        if code and asked:
            if not opened:
                yield Finding("refused", place, "The workbook is opened before it asks. Move the opening cell up.")
            yield from _asked(asked["item"], met, planned, place)
            met.append(asked["item"])
        elif code and "book.ask" in source:
            yield Finding("refused", place, 'A cell that asks holds book.ask("A1") and nothing else. Split the cell.')
        elif cell.get("metadata", {}).get("nbgrader", {}).get("grade"):
            yield Finding("refused", place, "Only a cell with book.ask is graded. Take the grading of this cell out.")
    for name in sorted(set(opened) - {blueprint.module}):
        yield Finding(
            "refused", "opening cell", f"It opens {name!r}, the blueprint is of {blueprint.module!r}. Mend it."
        )
    if not opened:
        yield Finding(
            "refused", "opening cell", f'No cell has workbook.open("{blueprint.module}"). Add one at the top.'
        )
    for item in planned:
        if item not in met:
            yield Finding("refused", item, f'No cell asks this item of the blueprint. Add one with book.ask("{item}").')


def _asked(item: str, met: list[str], planned: list[str], place: str) -> Iterable[Finding]:
    if item in met:
        yield Finding("refused", place, f"Item {item!r} is asked twice. Take one of the cells out.")
    if item not in planned:
        yield Finding("refused", place, f"The blueprint has no item {item!r}. Add it there, or take the cell out.")


def _source(cell: dict[str, Any]) -> str:
    source = cell.get("source", "")
    return "".join(source) if isinstance(source, list) else str(source)


def _cells(path: Path) -> list[dict[str, Any]]:
    cells: list[dict[str, Any]] = _content(path)["cells"]
    return cells


def _content(path: Path) -> dict[str, Any]:
    try:
        content = json.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        raise BuildError(
            str(path), rule="A module has an authored notebook of its name.", remedy="Write it, or rename it."
        ) from None
    except (OSError, ValueError, RecursionError) as error:
        raise BuildError(
            str(path), rule=f"A notebook is JSON in UTF-8 ({error}).", remedy="Open it in JupyterLab and save it again."
        ) from None
    notebook: dict[str, Any] = content if isinstance(content, dict) else {}
    cells = notebook.get("cells")
    if notebook.get("nbformat") != 4 or not isinstance(cells, list) or not all(isinstance(c, dict) for c in cells):
        raise BuildError(
            str(path), rule="A workbook is a notebook of format 4.", remedy="Open it in JupyterLab and save it again."
        )
    return notebook
