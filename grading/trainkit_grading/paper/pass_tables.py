"""Reading a table into which one pass was typed; the file may be anything, and is refused with a reason."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from trainkit_grading.errors import PaperError
from trainkit_grading.paper import codes
from trainkit_grading.paper.sheets import HEADINGS, SITTING
from trainkit_grading.support.outcome import Finding, refused
from trainkit_grading.support.plaintext import one_line

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from trainkit_grading.paper.answered import AnswerSheet


LIMIT = 200_000
"""The largest table that is read, in bytes."""
_ROWS = 200


@dataclass(frozen=True, slots=True)
class TypedPass:
    """One pass: who typed it, and what, by its name."""

    by: str
    texts: dict[str, str]


def read_pass(path: Path, sheet: AnswerSheet, needed: tuple[str, ...]) -> tuple[TypedPass | None, list[Finding]]:
    """Read a table, and say of every line that cannot be taken what is wrong with it.

    Parameters
    ----------
    path : Path
        The CSV file; it may be parted by commas, semicolons or tabs, and hold further columns.
    sheet : AnswerSheet
        What was typed.
    needed : tuple of str
        What has to stand in it; a name that stands in it with nothing beside it was not answered.

    Returns
    -------
    (TypedPass or None, list of Finding)
        None where anything was refused: nothing of it is taken then.

    Raises
    ------
    PaperError
        If the file is no table at all.
    """
    lines = _lines(path)
    known = {*SITTING, *sheet.asked}
    said: dict[str, tuple[int, str]] = {}
    findings: list[Finding] = []

    def refuse(line: int, value: object, rule: str, remedy: str) -> None:
        findings.append(refused(PaperError(value, rule=rule, remedy=remedy), f"{path.name} line {line}"))

    for line, what, answer in lines:
        if what not in known:
            asked = f"Form {sheet.code} asks for {', '.join(sheet.asked)}."
            refuse(line, one_line(what)[:40], asked, "Use the table that was written for this form.")
        elif what in said:
            refuse(line, what, f"It stands in line {said[what][0]} already.", "Leave one of them out.")
        else:
            said[what] = (line, answer)
    by = said.get("typed by", (0, ""))[1].strip()
    _head(sheet, said, by, refuse)
    texts: dict[str, str] = {}
    for what in needed:
        if what not in said:
            refuse(0, what, "It is missing in the table.", "Add its line; nothing beside it means not answered.")
            continue
        line, answer = said[what]
        try:
            sheet.read(what, answer, texts)
        except PaperError as error:
            refuse(line, f"{what}: {one_line(error.value)[:60]}", error.rule, error.remedy)
        else:
            texts[what] = answer
    return (None if findings else TypedPass(by, texts)), findings


def _head(
    sheet: AnswerSheet, said: Mapping[str, tuple[int, str]], by: str, refuse: Callable[[int, object, str, str], None]
) -> None:
    line, form = said.get("form", (0, ""))
    try:
        if codes.read_code(form) != sheet.code:
            other = f"This table is of another form than {codes.on_paper(sheet.code)}."
            refuse(line, one_line(form)[:40], other, "Name the table of this form.")
    except PaperError as error:
        refuse(line, error.value, error.rule, error.remedy)
    if not by or len(by) > 80:
        at = said.get("typed by", (0, ""))[0]
        refuse(at, one_line(by)[:40], "A pass says who typed it.", "Write your name beside “typed by”.")


def _lines(path: Path) -> list[tuple[int, str, str]]:
    try:
        with path.open("rb") as stream:
            data = stream.read(LIMIT + 1)
    except OSError as error:
        raise PaperError(
            str(path), rule=f"The table cannot be read ({error.strerror}).", remedy="Name a CSV file."
        ) from None
    if len(data) > LIMIT:
        raise PaperError(path.name, rule=f"A table has at most {LIMIT} bytes.", remedy="Use the one that was written.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise PaperError(
            path.name, rule="A table is text in UTF-8.", remedy="In the spreadsheet, save it as “CSV UTF-8”."
        ) from None
    if "\0" in text:
        raise PaperError(path.name, rule="A table is text, without zero bytes.", remedy="Save it as “CSV UTF-8”.")
    head = next(iter(text.splitlines()), "")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=max(",;\t", key=head.count), strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            rows.append((reader.line_num, cells))
            if len(rows) > _ROWS:
                raise PaperError(path.name, rule=f"A table has at most {_ROWS} lines.", remedy="Use the one written.")
    except csv.Error as error:
        raise PaperError(
            f"{path.name} line {reader.line_num}", rule=f"The file is no CSV ({error}).", remedy="Save it again."
        ) from None
    names = [cell.strip().casefold() for cell in rows[0][1]] if rows else []
    if HEADINGS[0] not in names or HEADINGS[2] not in names:
        raise PaperError(
            path.name,
            rule=f"The first line has the columns {', '.join(HEADINGS)}.",
            remedy="Use the table that trainkit-course sheet wrote.",
        )
    what, answer = names.index(HEADINGS[0]), names.index(HEADINGS[2])
    return [
        (line, cells[what].strip(), cells[answer] if answer < len(cells) else "")
        for line, cells in rows[1:]
        if len(cells) > what and cells[what].strip()
    ]
