"""The marked notebook: the course's own, with answer, verdict, reason and points as each item's output.

It is for the instructor, in formgrader: its reasons may state what is right, and what apprentices get is the page of
feedback. It is derived, can be made again at any time, and needs no kernel to be read. Nothing
of the notebook that was handed in is in it; what the apprentice typed stands in it as text. A notebook is handled as
the plain JSON data that it is.
"""

from __future__ import annotations

import json
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from trainkit.figures import Picture
from trainkit.items.kinds import ObservedItem, TextResponse
from trainkit.sentences import counted, decimal
from trainkit_grading.errors import BuildError
from trainkit_grading.intake import submissions
from trainkit_grading.ledger.entries import digest
from trainkit_grading.record.marked_entry import response_text
from trainkit_grading.support.files import write_atomically
from trainkit_grading.support.markup import lines, paragraphs, plain, said, text, verdict

if TYPE_CHECKING:
    from collections.abc import MutableMapping
    from pathlib import Path

    from trainkit.items.marking import Mark
    from trainkit_grading.course.folder import Course
    from trainkit_grading.marking.score import MarkedItem, MarkedSubmission


# Classes that tell viewers of notebooks to set no mathematics here; text() breaks its signs up as well.
_BOX = 'class="tex2jax_ignore mathjax_ignore" style="border-left:3px solid {edge};padding:0.2em 0.8em;margin:0.3em 0"'
_EDGES = {"right": "#2f6b2f", "in part": "#8a4b00", "not yet": "#8a4b00", "no answer": "#51616b"}
_DANGER = "#a3262a"


def pristine(course: Course, module: str) -> dict[str, Any]:
    """Return the notebook of a module as nbgrader made it for release: locked, with its checksums, without outputs.

    Raises
    ------
    BuildError
        If it is missing or no notebook.
    """
    path = course.release / module / f"{module}.ipynb"
    try:
        notebook: dict[str, Any] = json.loads(path.read_bytes())
        for cell in notebook["cells"]:
            if cell["cell_type"] == "code":
                cell["outputs"], cell["execution_count"] = [], None
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise BuildError(
            str(path),
            rule=f"A module that was given out has its notebook under release/ ({type(error).__name__}).",
            remedy=f"Run: trainkit-course assign {module}",
        ) from None
    return notebook


def fill(notebook: MutableMapping[str, Any], course: Course, scored: MarkedSubmission) -> MutableMapping[str, Any]:
    """Leave the title and the items of a notebook, and put cautions and marks in as outputs; return the notebook.

    What is taught and practised is not repeated: whoever reads this wants to know how the answers were. nbgrader
    reads the points of an item from the one ``execute_result`` of its cell.

    Raises
    ------
    BuildError
        If the notebook has no cell for an item, or one for an item that the form has not.
    """
    by_id = {entry.id: entry for entry in scored.items}
    cells = {_about(cell)["grade_id"]: cell for cell in notebook["cells"] if _about(cell).get("grade", False)}
    asked = {name: float(_about(cell)["points"]) for name, cell in cells.items()}
    formed = {name: float(entry.mark.out_of) for name, entry in by_id.items()}
    if asked != formed:
        raise BuildError(
            ", ".join(sorted(name for name in {*asked, *formed} if asked.get(name) != formed.get(name))),
            place=scored.module,
            rule="The notebook and the form have the same items for the same points.",
            remedy=f"Run trainkit-course build {scored.module}, then assign it again.",
        )
    for name, cell in cells.items():
        if _about(cell)["solution"]:
            _for_a_person(cell, by_id[name])
            continue
        mark = by_id[name].mark
        cell["outputs"] = [
            _output("display_data", *_shown(by_id[name])),
            _output("execute_result", f"<p>{_points(mark)}</p>", repr(float(mark.points))),
        ]
    title = next((cell for cell in notebook["cells"] if cell["cell_type"] == "markdown"), None)
    if title is not None:
        title["source"] = "".join(title["source"]).partition("\n")[0]
    notebook["cells"] = [
        *([title] if title is not None else []),
        _cautions_cell(course, scored.module),
        *cells.values(),
    ]
    return notebook


def _for_a_person(cell: Any, entry: MarkedItem) -> None:
    """Show what a person judges: the text as it was written, the rubric beside it.

    nbgrader tells an answered cell from one that was left as it was released by its source, so the source says which
    answer this is. Points that a person gave hang on the same digest in the ledger.
    """
    response = entry.response
    source = "".join(cell["source"])  # a file keeps it as lines
    if isinstance(response, TextResponse) and entry.mark.verdict == "waiting":
        cell["source"] = f"{source}\n# answer {digest(response_text(response) or '')}"
    elif isinstance(entry.item, ObservedItem):
        cell["source"] = f"{source}\n# practical work, signed for by whoever watches it"
    html, _ = _shown(entry)
    outputs = [_output("display_data", html, plain(_written(entry)))]
    if entry.rubric:
        rubric = entry.rubric.split("\n")
        note = f"<details open><summary>For whoever marks this</summary><p>{lines(rubric)}</p></details>"
        outputs.append(_output("display_data", note, plain(entry.rubric)))
    cell["outputs"] = outputs


def _written(entry: MarkedItem) -> str:
    if isinstance(entry.response, TextResponse):
        return entry.response.text
    return entry.mark.reason


def _about(cell: Any) -> Any:
    return cell["metadata"].get("nbgrader", {})


def _output(kind: str, html: str, plain: str) -> dict[str, Any]:
    output = {"output_type": kind, "metadata": {}, "data": {"text/html": html, "text/plain": plain}}
    return {**output, "execution_count": None} if kind == "execute_result" else output


def write(course: Course, scored: MarkedSubmission) -> Path:
    """Write the marked notebook and what nbgrader wants beside it; return the notebook's path."""
    notebook = fill(pristine(course, scored.module), course, scored)
    home = course.autograded / scored.apprentice / scored.module
    home.mkdir(parents=True, exist_ok=True)
    path = home / f"{scored.module}.ipynb"
    write_atomically(path, _as_text(notebook))
    submitted = submissions.folder(course, scored.module, scored.apprentice)
    for name in (submissions.TIME_FILE, submissions.SECRET_FILE):
        content = submissions.small_file(submitted, name)
        if content is not None:
            write_atomically(home / name, content)
    return path


def _as_text(notebook: MutableMapping[str, Any]) -> str:
    """Return a notebook as JSON, a cell a line: indented all through, writing it would take most of the time."""
    cells = ",\n".join(json.dumps(cell, ensure_ascii=False, sort_keys=True) for cell in notebook["cells"])
    rest = json.dumps(
        {name: notebook[name] for name in notebook if name != "cells"}, ensure_ascii=False, sort_keys=True
    )
    return f'{{"cells": [\n{cells}\n],\n{rest.removeprefix("{")}\n'


def _shown(entry: MarkedItem) -> tuple[str, str]:
    item, mark = entry.item, entry.mark
    answer = said(item, entry.response)
    picture = _picture(json.dumps(item.figure)) if item.figure is not None else None
    given = "".join(f"<li>{text(line.label)}: {text(line.value)}</li>" for line in item.given)
    edge = _DANGER if mark.critical else _EDGES.get(mark.verdict, "#51616b")
    html = (
        f"<div {_BOX.format(edge=edge)}>"
        f"<p><strong>{text(entry.id)}</strong></p>{paragraphs(item.prompt)}"
        f"{f'<ul>{given}</ul>' if given else ''}{picture.svg if picture is not None else ''}"
        f"<p><strong>Answer</strong><br>{lines(answer) if answer else 'none'}</p>"
        f"<p><strong>{text(verdict(mark))}</strong><br>{text(mark.reason)}</p></div>"
    )
    shown = [
        f"{entry.id}  {item.prompt}",
        *(f"  {line.label}: {line.value}" for line in item.given),
        *([picture.text] if picture is not None else []),
        f"Answer: {'; '.join(answer) or 'none'}",
        f"{verdict(mark)}, {_points(mark)}",
        mark.reason,
    ]
    return html, plain("\n".join(shown))


@lru_cache(maxsize=256)
def _picture(data: str) -> Picture:
    """Return the picture of a figure given as JSON; many forms show the same one."""
    return Picture(json.loads(data))


def _points(mark: Mark) -> str:
    return f"{decimal(mark.points)} of {counted(mark.out_of, 'point')}"


def _cautions_cell(course: Course, module: str) -> dict[str, Any]:
    return {
        "cell_type": "code",
        "id": "trainkit-cautions",
        # Viewers and nbconvert show the output alone.
        "metadata": {"jupyter": {"source_hidden": True}, "transient": {"remove_source": True}},
        "source": "",
        "execution_count": None,
        "outputs": [_output("display_data", *_cautions(course, module))],
    }


@lru_cache(maxsize=32)
def _cautions(course: Course, module: str) -> tuple[str, str]:
    """Return the usual cautions and the notice of the module's pack."""
    entry = course.module(module)
    pack = course.pack(entry)
    hazards = "".join(f"<li><strong>{text(h.title)}.</strong> {text(h.text)}</li>" for h in pack.cautions)
    html = (
        f"<div {_BOX.format(edge='#8a4b00')}><p><strong>▲ Cautions</strong></p>"
        f"<ul>{hazards}</ul>{paragraphs(pack.notice)}</div>"
    )
    return html, "\n".join(["Cautions", *(f"- {h.title}. {h.text}" for h in pack.cautions), pack.notice])
