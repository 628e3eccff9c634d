"""The reading part of a workbook on paper: cautions, explanation, worked examples, the example that is begun, the card.

It is read out of the module's authored notebook: its words, and the outputs that stand in it. What only a screen can
do is left out: practice without end, the warm-up, controls to move, the assessment and the hand-in.
"""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import nbformat
from markdown_it import MarkdownIt

from trainkit import cards, figures, glossary, packs
from trainkit.packs import PACK_FILE
from trainkit_grading import practice_packs
from trainkit_grading.errors import PaperError
from trainkit_grading.files import scratch
from trainkit_grading.pages import template

if TYPE_CHECKING:
    from trainkit.modules import Module
    from trainkit.packs import Pack
    from trainkit_grading.course import Course, CourseModule
    from trainkit_grading.practice_packs import PracticePack

__all__ = ["html_text"]

# A part whose cells call one of these can only be done on the screen.
_ON_SCREEN = re.compile(r"\bbook\s*\.\s*(practice|warm_up|ask|finish|instrument)\s*\(")
# These stand at their own place on the sheet.
_ELSEWHERE = re.compile(r"\bbook\s*\.\s*(cautions|card|words)\s*\(|\bworkbook\s*\.\s*open\s*\(")
# What the reader of a screen is told about it.
_OF_SCREENS = re.compile(r"Run All Cells|You need no programming|Open the list")

# Where the reader goes on with the example that is begun.
_ROOM = '<div class="room"></div>' * 4


@dataclass(frozen=True, slots=True)
class _Part:
    """What stands under one heading of the notebook, as HTML; ``screen`` where only a screen can do it."""

    html: tuple[str, ...]
    screen: bool


def html_text(course: Course, entry: CourseModule) -> str:
    """Return the reading part of a module as one page to print.

    Raises
    ------
    CourseError
        If the module's notebook cannot be used, or cannot be carried out with the course's own pack.
    """
    module = course.workbook(entry)
    own = practice_packs.of(course, entry)
    pack: Pack = own.pack if own is not None else packs.load(module.blueprint.pack)
    parts = [part for part in _parts(_cells(course, module, own)) if not part.screen and part.html]
    text = "\n".join(re.sub(r"<[^>]*>", " ", html) for part in parts for html in part.html)
    return template("reading.html.j2").render(
        course=course.title,
        title=module.blueprint.title,
        minutes=module.blueprint.minutes,
        engine=pack.title,
        cautions=pack.cautions,
        notice=pack.notice,
        objectives=module.blueprint.objectives,
        parts=[html for part in parts for html in part.html],
        card=cards.card(module.blueprint.module, module.blueprint.title, pack).html,
        words=glossary.find(text),
        sign=figures.warning_sign(24),
        figure_css=figures.CSS,
    )


def _cells(course: Course, module: Module, own: PracticePack | None) -> list[Any]:
    try:
        notebook = nbformat.read(module.notebook, as_version=4)
    except (OSError, ValueError) as error:
        raise PaperError(
            str(module.notebook),
            rule=f"The notebook of the module cannot be read ({type(error).__name__}).",
            remedy="Mend it, or install the workbooks again.",
        ) from None
    return list(notebook.cells) if own is None else _carried_out(course, notebook, own)


def _carried_out(course: Course, notebook: Any, own: PracticePack) -> list[Any]:
    """Return the cells with outputs for another engine: the authored code is carried out beside its pack."""
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError

    sources = [str(cell.source) for cell in notebook.cells]
    for cell in notebook.cells:
        # Controls take their time and are left out anyway.
        if cell.cell_type == "code" and _ON_SCREEN.search(str(cell.source)):
            cell.source = ""
    with scratch(course.folder) as home:
        (home / PACK_FILE).write_bytes(own.content)
        try:
            NotebookClient(
                notebook, kernel_name="python3", timeout=120, resources={"metadata": {"path": str(home)}}
            ).execute(stderr=subprocess.DEVNULL)  # what a kernel says of itself is for nobody here
        except (CellExecutionError, RuntimeError) as error:
            raise PaperError(
                own.pack.name,
                rule=f"The examples cannot be worked out for this engine ({str(error).strip().splitlines()[-1]}).",
                remedy="See what the workbook says of it: trainkit-course preview",
            ) from None
    for cell, source in zip(notebook.cells, sources, strict=True):
        cell.source = source
    return list(notebook.cells)


def _parts(cells: list[Any]) -> list[_Part]:
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    parts: list[_Part] = []
    html: list[str] = []
    screen = False
    for cell in cells:
        source = str(cell.source)
        if cell.cell_type == "markdown":
            if re.match(r"##? ", source):
                parts.append(_Part(tuple(html), screen))
                html, screen = [], False
            if source.startswith("# "):
                continue  # the title of the workbook, and how to get along on a screen
            kept = "\n\n".join(part for part in source.split("\n\n") if not _OF_SCREENS.search(part))
            html.append(markdown.render(kept))
        elif cell.cell_type == "code":
            screen = screen or bool(_ON_SCREEN.search(source))
            if not _ELSEWHERE.search(source):
                html += [f'<div class="shown">{out}</div>' for out in _outputs(cell)]
                html += [_ROOM] if "book.complete" in source else []
            elif "book.words" in source or "book.card" in source or "book.cautions" in source:
                # Cautions stand first, card and words last; a heading of their own is not wanted twice.
                html = [] if "book.cautions" not in source else html
    parts.append(_Part(tuple(html), screen))
    return parts


def _outputs(cell: Any) -> list[str]:
    return [
        "".join(output["data"]["text/html"])
        for output in cell.get("outputs", ())
        if "data" in output and "text/html" in output["data"]
    ]
