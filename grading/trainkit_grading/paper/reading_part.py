"""The reading part of a workbook on paper: cautions, explanation, worked examples, the example that is begun, the card.

It is read out of the module's authored notebook: its words, and the outputs that stand in it. What only a screen can
do is left out: practice without end, the warm-up, the assessment and the hand-in. Of what is moved on a screen the
drawing stays.
"""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import nbformat
from markdown_it import MarkdownIt

from trainkit import cards, figures, glossary, packs
from trainkit.packs import PACK_FILE
from trainkit_grading.course import practice_packs
from trainkit_grading.errors import PaperError
from trainkit_grading.support.files import scratch
from trainkit_grading.support.jinja import template

if TYPE_CHECKING:
    from trainkit.modules import Module
    from trainkit.packs import Pack
    from trainkit_grading.course.folder import Course, CourseModule
    from trainkit_grading.course.practice_packs import PracticePack


# A part whose cells call one of these can only be done on the screen.
_ON_SCREEN = re.compile(r"\bbook\s*\.\s*(practice|warm_up|ask|finish)\s*\(")
# What is moved freely. Where words about moving it stand under a heading of their own, both go; else its drawing stays.
_MOVED = re.compile(r"\bbook\s*\.\s*instrument\s*\(")
# These stand at their own place on the sheet.
_ELSEWHERE = re.compile(r"\bbook\s*\.\s*(cautions|card|words)\s*\(|\bworkbook\s*\.\s*open\s*\(")
# What the reader of a screen is told about it.
_OF_SCREENS = re.compile(r"Open the list")
# Its drawing and what the numbers in it stand for, without the words about moving it.
_DRAWING = re.compile(r"<(svg|table)\b.*?</\1>", re.DOTALL)

# Where the reader goes on with the example that is begun.
_ROOM = '<div class="room"></div>' * 4


@dataclass(slots=True)
class _Part:
    """What stands under one heading of the notebook, as HTML; ``screen`` where only a screen can do it."""

    html: list[str] = field(default_factory=list)
    screen: bool = False


@dataclass(slots=True)
class _Chapter:
    """What stands under one heading of the second level: its own words, and the parts below."""

    parts: list[_Part] = field(default_factory=lambda: [_Part()])
    screen: bool = False

    @property
    def html(self) -> list[str]:
        return [] if self.screen else [html for part in self.parts if not part.screen for html in part.html]


def html_text(course: Course, entry: CourseModule) -> str:
    """Return the reading part of a module as one page to print.

    Raises
    ------
    CourseError
        If the module's notebook cannot be used, or cannot be carried out with the course's own pack.
    """
    module = course.workbook(entry)
    own = practice_packs.practice_pack_of(course, entry)
    pack: Pack = own.pack if own is not None else packs.load(module.blueprint.pack)
    parts = [html for chapter in _chapters(_cells(course, module, own)) for html in chapter.html]
    text = "\n".join(re.sub(r"<[^>]*>", " ", html) for html in parts)
    return template("paper/reading.html.j2").render(
        course=course.title,
        title=module.blueprint.title,
        minutes=module.blueprint.minutes,
        engine=pack.title,
        cautions=pack.cautions,
        notice=pack.notice,
        objectives=module.blueprint.objectives,
        parts=parts,
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
        # They take their time and are left out anyway.
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


def _chapters(cells: list[Any]) -> list[_Chapter]:
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    chapters = [_Chapter()]
    for cell in cells:
        source = str(cell.source)
        if cell.cell_type == "markdown":
            for piece in re.split(r"(?m)^(?=#{1,3} )", source):
                if piece.startswith("# "):
                    continue  # the title of the workbook
                if piece.startswith("## "):
                    chapters.append(_Chapter())
                elif piece.startswith("### "):
                    chapters[-1].parts.append(_Part())
                kept = "\n\n".join(part for part in piece.split("\n\n") if not _OF_SCREENS.search(part))
                chapters[-1].parts[-1].html += [markdown.render(kept)] if kept.strip() else []
        elif cell.cell_type == "code":
            _carry(cell, source, chapters[-1])
    return chapters


def _carry(cell: Any, source: str, chapter: _Chapter) -> None:
    """Carry a cell's outputs over, or leave out what belongs to a screen or stands at another place."""
    if _ON_SCREEN.search(source):
        chapter.screen = True
    elif _MOVED.search(source):
        part = chapter.parts[-1]
        part.screen = len(chapter.parts) > 1
        part.html += [
            f'<div class="shown">{each[0]}</div>' for out in _outputs(cell) for each in _DRAWING.finditer(out)
        ]
    elif "book.words" in source or "book.card" in source:
        # Card and words stand last, under headings of the sheet.
        chapter.screen = True
    elif not _ELSEWHERE.search(source):
        chapter.parts[-1].html += [f'<div class="shown">{out}</div>' for out in _outputs(cell)]
        chapter.parts[-1].html += [_ROOM] if "book.complete" in source else []


def _outputs(cell: Any) -> list[str]:
    return [
        "".join(output["data"]["text/html"])
        for output in cell.get("outputs", ())
        if "data" in output and "text/html" in output["data"]
    ]
