"""The two ends of second marking: drawing a sheet, and entering what the second marker gave."""

from __future__ import annotations

import csv
import io
import math
import secrets
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainkit.sentences import counted
from trainkit_grading.decisions.double_marking.comparing import DIFFERS, compare, to_dict
from trainkit_grading.decisions.double_marking.sampling import draw, drawn
from trainkit_grading.decisions.double_marking.sheets import COLUMNS, html_text, table_text, works
from trainkit_grading.errors import SignOffError
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.entries import Entry, Note
from trainkit_grading.ledger.kinds import SecondJudged
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.signoff.judging import same_person
from trainkit_grading.support.files import held, write_atomically
from trainkit_grading.support.outcome import Finding, Outcome

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.decisions.double_marking.sampling import Drawn
    from trainkit_grading.ledger.kinds import SampleLine


_SIZE = 4_000_000


def sample(
    course: Course, modules: Sequence[str] = (), count: int = 0, percent: float = 0.0, seed: int | None = None
) -> Outcome:
    """Draw a sample, record it, and write the sheet; the same seed, modules and size give the same one again.

    Raises
    ------
    SignOffError
        If there is nothing to draw from, or not exactly one size is said.
    CourseError
        If a module is not of this course, or the gradebook cannot be used.
    """
    if bool(count) == bool(percent) or count < 0 or not 0 <= percent <= 100:
        raise SignOffError(
            f"{count}, {percent:g} %",
            rule="A sample has a number of marks, or a part in per cent.",
            remedy="Say --sample 12, or --percent 10.",
        )
    named = [course.module(name).name for name in modules]
    wanted = named or [each.name for each in course.modules if (course.release / each.name).is_dir()]
    by = seed if seed is not None else secrets.randbelow(10**6)
    home = course.folder / "second"
    with held(course.folder):
        with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
            ledger = Ledger(connection, course.seed())
            ledger.hold()
            made, new = draw(ledger, course.seed(), wanted, by, count, percent)
            page = html_text(course, made, works(course, ledger, made))
        home.mkdir(exist_ok=True)
        write_atomically(home / f"{made.sheet}.html", page)
        table = home / f"{made.sheet}.csv"
        if not table.exists():  # the second marker may have begun to fill it in
            write_atomically(table, "\ufeff" + table_text(made))
    many = f"{len(made.lines)} {'mark' if len(made.lines) == 1 else 'marks'}"
    done = f"Sheet {made.sheet}: {many}, seed {made.seed}, {'drawn' if new else 'drawn before'}."
    return Outcome(
        "second",
        (done, f"To print: {home / f'{made.sheet}.html'}. To fill in: {table}"),
        next_step=f'Let somebody else mark it, then: trainkit-course second --enter {table} --marker "…"',
        data={"sheet": made.sheet, "seed": made.seed, "lines": len(made.lines), "entry": made.entry},
    )


def enter(course: Course, file: Path, marker: str, why: str = "") -> Outcome:
    """Record what a second marker gave; what is said twice stands there once.

    A line that cannot be used is a finding and costs no other. Other points than are on record need ``why``.

    Raises
    ------
    SignOffError
        If the file is no table of a sheet, or there is no such sheet.
    """
    if not marker.strip() or not marker.isprintable() or len(marker) > 80:
        raise SignOffError(marker, rule="The marker is a text of 1 to 80 characters.", remedy="Say it with --marker.")
    rows = _rows(file)
    findings: list[Finding] = []
    with gradebook.opened(course, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        ledger.hold()
        sheets = {each.sheet: each for _, each in drawn(ledger)}
        known = {(entry.sheet, entry.line, entry.marker): entry for entry in ledger.entries(SecondJudged, marks=False)}
        givers = ledger.read(
            Entry, {line.entry for each in sheets.values() for line in each.lines if line.apprentice}, marks=False
        )
        news: list[SecondJudged] = []
        same = 0
        for number, row in rows:
            place = f"{file.name} line {number}"
            try:
                line, points = _line(sheets, row)
            except SignOffError as error:
                findings.append(Finding("refused", place, str(error)))
                continue
            if line is None or points is None:
                continue
            entry = _judged(row["sheet"].strip().upper(), line, points, marker.strip(), row.get("remark") or "", why)
            before = known.get((entry.sheet, line.line, marker.strip()))
            if before is not None and before.second == points:
                same += 1
            elif before is not None and not why.strip():
                text = f"{before.second:g} is on record. If that is right, say --why."
                findings.append(Finding("refused", place, text))
            else:
                giver = givers.get(line.entry)
                if giver is not None and same_person(giver.by, marker):
                    findings.append(Finding("warning", place, "First and second marker are the same person."))
                news.append(entry)
        ledger.add(news)
        found = compare(ledger)
    done = [f"{len(news)} second marks recorded{f', {same} on record already' if same else ''}."]
    done += [f"Of all second marks: {found.kappa}.", f"{found.agreement}."]
    findings += [
        Finding(
            "warning",
            f"{pair.module} {pair.apprentice}",
            f"{pair.item}: {pair.first:g} and {pair.second:g} of {counted(pair.out_of, 'point')}, more than "
            f"{100 * DIFFERS:g} per cent apart. Decide: trainkit-course decide {pair.entry} --outcome settled …",
        )
        for pair in found.waiting
    ]
    return Outcome("second", tuple(done), tuple(findings), data=to_dict(found))


def _judged(sheet: str, line: SampleLine, points: float, marker: str, remark: str, why: str) -> SecondJudged:
    notes = [Note("remark", remark.strip())] if remark.strip() else []
    notes += [Note("why", why.strip())] if why.strip() else []
    return SecondJudged(
        line.apprentice,
        line.module,
        line.attempt,
        line.form,
        notes=tuple(notes),
        sheet=sheet,
        line=line.line,
        item=line.item,
        answer=line.answer,
        first=line.points,
        first_entry=line.entry,
        second=points,
        most=line.out_of,
        marker=marker,
    )


def _line(sheets: dict[str, Drawn], row: dict[str, str]) -> tuple[SampleLine | None, float | None]:
    """Return which line of which sheet a row is about, and its points; none where nothing was filled in."""
    said = (row.get("points") or "").strip().replace(",", ".")
    if not said:
        return None, None
    sheet = sheets.get((row.get("sheet") or "").strip().upper())
    number = (row.get("line") or "").strip()
    if sheet is None:
        raise SignOffError(row.get("sheet") or "", rule="No sheet of this code was drawn.", remedy="Look at its head.")
    line = next((each for each in sheet.lines if str(each.line) == number and each.apprentice), None)
    if line is None:
        raise SignOffError(number, rule="The sheet has no such line.", remedy="Look at its number.")
    try:
        points = float(said)
    except ValueError:
        points = math.nan
    if not 0 <= points <= line.out_of:
        raise SignOffError(
            said, rule=f"Points are a number from 0 to {line.out_of:g}.", remedy="Mend it, then enter the file again."
        )
    return line, points


def _rows(file: Path) -> Iterable[tuple[int, dict[str, str]]]:
    try:
        with file.open("rb") as stream:
            text = stream.read(_SIZE).decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise SignOffError(
            str(file),
            rule=f"The table cannot be read ({type(error).__name__}).",
            remedy="In the spreadsheet, save it as “CSV UTF-8”.",
        ) from None
    head = text.partition("\n")[0]
    delimiter = max(",;\t", key=head.count)
    reader = csv.DictReader(io.StringIO(text, newline=""), delimiter=delimiter)
    names: list[Any] = [(name or "").strip().casefold() for name in reader.fieldnames or ()]
    missing = [name for name in COLUMNS if name not in names and name != "remark"]
    if missing:
        raise SignOffError(
            head[:80],
            rule=f"The first line names the columns {', '.join(COLUMNS)}.",
            remedy="Use the table that was written with the sheet.",
        )
    reader.fieldnames = names
    return [(reader.line_num, {k: v or "" for k, v in row.items() if isinstance(k, str)}) for row in reader]
