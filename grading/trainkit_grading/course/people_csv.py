"""A list of people from elsewhere, as a CSV file: which column is which, and what each line says.

Spreadsheets and learning platforms name their columns in their own ways and save in their own encodings. Of each line
is taken what a roster can hold; everything else is left alone.
"""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from trainkit_grading.course.roster import COLUMNS
from trainkit_grading.errors import RosterError
from trainkit_grading.support.outcome import Finding
from trainkit_grading.support.refusals import refusal

# A spreadsheet would take a cell that begins so for a formula and run it.
FORMULA = ("=", "+", "-", "@", "\t", "\r")
_SIZE_LIMIT = 4_000_000
_LINES_BEFORE_HEADER = 10
# By what a column is for, its names without spaces, signs and capitals; the first that is there is taken.
_NAMES = {
    "apprentice": (
        *("apprentice", "apprenticeid", "login", "loginname", "loginid", "username", "user", "userid", "account"),
        *("identifier", "id", "studentid", "studentnumber", "learnerid", "traineeid", "idnumber", "matrikelnummer"),
    ),
    "name": ("name", "fullname", "apprenticename", "studentname", "learnername", "traineename", "displayname"),
    "first": ("firstname", "firstnames", "givenname", "givennames", "forename", "forenames", "first", "vorname"),
    "last": ("lastname", "surname", "familyname", "last", "nachname", "familienname"),
    "email": ("email", "emailaddress", "mail", "mailaddress"),
    "cohort": ("cohort", "group", "groups", "class", "intake", "section", "gruppe", "klasse"),
    "joined": ("joined", "joinedon", "startdate", "started", "start", "enrolled"),
    "left": ("left", "lefton", "leavingdate", "enddate", "leaver"),
    "extra_percent": ("extrapercent", "extratime", "extratimepercent"),
    "account": ("account", "accountname", "hubaccount"),
}


@dataclass(frozen=True, slots=True)
class Listed:
    """One person of the list: the line, the name, and what else the list says, by the roster's name of the column."""

    line: int
    name: str
    said: Mapping[str, str] = field(default_factory=dict)
    email: str = ""


@dataclass(frozen=True, slots=True)
class PeopleList:
    """The people of a list in its order, what was wrong with it, and which of its columns were taken for what."""

    people: tuple[Listed, ...]
    findings: tuple[Finding, ...]
    columns: Mapping[str, str]


def read_people(path: Path) -> PeopleList:
    r"""Read a list; each wrong line is a finding, all others count.

    Commas, semicolons or tabs part the columns. The header is among the first lines.

    Raises
    ------
    RosterError
        If it cannot be read, or no column names the people.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "list.csv"
    ...     _ = path.write_text("Surname;First Name;E-mail\nShah;Amir;a.shah@saltmere.example\n", "utf-8")
    ...     found = read_people(path)
    >>> found.people[0].name, found.people[0].email
    ('Amir Shah', 'a.shah@saltmere.example')
    """
    text, findings = _text(path)
    rows = list(_rows(text, path))
    heads = [(number, _columns(cells)) for number, (_, cells) in enumerate(rows[:_LINES_BEFORE_HEADER])]
    place, columns = next((head for head in heads if head[1].keys() & {"name", "first", "last"}), (-1, {}))
    if place < 0:
        shown = ", ".join(rows[0][1])[:80] if rows else ""
        raise RosterError(
            shown,
            place=path.name,
            rule="The first line of a list names its columns, and one of them is Name, or First name and Last name.",
            remedy="Add such a line in the spreadsheet and save it as CSV.",
        )
    people = []
    for line, cells in rows[place + 1 :]:
        said = {what: _plain(cells[at]) for what, at in columns.items() if at < len(cells)}
        if not any(said.values()):
            continue
        listed = _listed(line, said)
        wrong = next((value[:60] for value in said.values() if value.startswith(FORMULA)), "")
        if wrong or not listed.name:
            text = f"{wrong!r}: A spreadsheet would take this for a formula." if wrong else "This line has no name."
            findings.append(Finding("refused", f"{path.name} line {line}", f"{text} It was not taken; mend the line."))
        else:
            people.append(listed)
    header = rows[place][1]
    return PeopleList(tuple(people), tuple(findings), {what: header[at].strip() for what, at in columns.items()})


def _listed(line: int, said: Mapping[str, str]) -> Listed:
    name = said.get("name", "") or " ".join(part for part in (said.get("first", ""), said.get("last", "")) if part)
    if not said.get("first") and name.count(",") == 1:
        # "Shah, Amir", as lists sort people.
        family, given = (part.strip() for part in name.split(","))
        name = f"{given} {family}".strip()
    kept = {what: value for what, value in said.items() if what in COLUMNS and what != "name" and value}
    return Listed(line, name, kept, said.get("email", ""))


def _plain(cell: str) -> str:
    """Return a cell without what exports put before a formula, composed, its spaces single."""
    text = " ".join(unicodedata.normalize("NFC", cell).split())
    return text[1:] if text.startswith("'") and text[1:].startswith(FORMULA) else text


def _columns(header: list[str]) -> dict[str, int]:
    names = ["".join(sign for sign in cell.casefold() if sign.isalnum()) for cell in header]
    found = {}
    for what, known in _NAMES.items():
        there = next((name for name in known if name in names), None)
        if there is not None:
            found[what] = names.index(there)
    if found.get("account") == found.get("apprentice"):
        found.pop("account", None)  # the only name that the list has for them is their identifier
    return found


def _rows(text: str, path: Path) -> Iterator[tuple[int, list[str]]]:
    first = next((line for line in text.splitlines() if line.strip()), "")
    # Some spreadsheets say in a first line what parts the columns.
    told = first[4:5] if first.casefold().startswith("sep=") else ""
    head = "\n".join(text.splitlines()[:_LINES_BEFORE_HEADER])
    delimiter = told or max(",;\t", key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells) and not (told and reader.line_num == 1):
                yield reader.line_num, cells
    except csv.Error as error:
        raise RosterError(
            f"line {reader.line_num}", place=path.name, rule=f"The file is no CSV ({error}).", remedy="Save it again."
        ) from None


def _text(path: Path) -> tuple[str, list[Finding]]:
    try:
        with path.open("rb") as stream:
            data = stream.read(_SIZE_LIMIT + 1)
    except OSError as error:
        raise refusal(error, path) from None
    if len(data) > _SIZE_LIMIT:
        raise RosterError(str(path), rule=f"A list has at most {_SIZE_LIMIT} bytes.", remedy="Shorten it.")
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise RosterError(
            path.name,
            rule="This is a spreadsheet, and a list is CSV.",
            remedy="In the spreadsheet: save as “CSV UTF-8”.",
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", "replace"), []
    try:
        return data.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        pass
    try:
        text = data.decode("cp1252")
    except UnicodeDecodeError as error:
        raise RosterError(
            f"line {data[: error.start].count(10) + 1}",
            place=path.name,
            rule="A list is text in UTF-8, or in the encoding of Windows in western Europe (1252).",
            remedy="In the spreadsheet, save it as “CSV UTF-8”.",
        ) from None
    told = "The file is not UTF-8; it was read as Windows-1252. Look at names with accents, or save it as “CSV UTF-8”."
    return text, [Finding("warning", path.name, told)]
