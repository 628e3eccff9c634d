"""The roster: who is on the course, from a CSV file that people edit in a spreadsheet.

Two columns are needed, ``apprentice`` (a short identifier) and ``name``. Six may stand beside them: ``cohort``,
``joined``, ``left``, ``extra_percent``, ``account`` and ``email``; others are left alone. A wrong line is reported with
its number and costs no other line; a wrong cell of the six costs nothing but itself.
"""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from trainkit_grading.errors import CourseError, RosterError
from trainkit_grading.support.outcome import Finding
from trainkit_grading.support.refusals import refusal

# What a roster can say of a person, in the order in which it is written.
COLUMNS = ("apprentice", "name", "cohort", "joined", "left", "extra_percent", "account", "email")
EMPTY_ROSTER = """\
apprentice,name,cohort,joined,left,extra_percent,account
# One line for each apprentice, for example:
# amir,Amir Shah,,,,,
# The first column is the user name on a shared server, or any short name of your choice.
# account: the user name on a shared server, where the first column is another name.
# cohort: a name from course.toml. joined, left: days like 2027-03-01. extra_percent: 25 gives a quarter more time.
"""

_SIZE_LIMIT = 4_000_000
# What Windows keeps for itself as a file name, with or without an ending.
_RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}
# Characters that turn the reading direction of what follows: a name must look like what it is.
_TURNING = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


@dataclass(frozen=True, slots=True)
class Apprentice:
    """One person on the course.

    Parameters
    ----------
    id : str
        Identifier; names folders and files.
    name : str
        As people write it.
    cohort : str
        Name of the cohort; empty for none.
    joined, left : date or None
        The day they came, and the first day on which they were gone.
    extra_percent : float
        By how much longer than others they may work.
    account : str
        User name on a shared server; empty where that is the identifier.
    email : str
        Address by which lists from elsewhere know them; empty where none said it.
    """

    id: str
    name: str
    cohort: str = ""
    joined: date | None = None
    left: date | None = None
    extra_percent: float = 0.0
    account: str = ""
    email: str = ""

    @property
    def login(self) -> str:
        """User name on a shared server."""
        return self.account or self.id

    def gone(self, day: date) -> bool:
        """Tell whether they have left by this day."""
        return self.left is not None and self.left <= day


@dataclass(frozen=True, slots=True)
class Roster:
    """Everybody on the course, in the order of the file, and what was wrong with it."""

    apprentices: tuple[Apprentice, ...] = ()
    findings: tuple[Finding, ...] = ()

    def __contains__(self, apprentice: object) -> bool:
        return any(person.id == apprentice for person in self.apprentices)

    def __iter__(self) -> Iterator[Apprentice]:
        return iter(self.apprentices)

    def __len__(self) -> int:
        return len(self.apprentices)

    def find(self, apprentice: str) -> Apprentice | None:
        """Return the person with this identifier, or None.

        Composed and decomposed letters count as the same, as file systems and zip programs mix them up.
        """
        wanted = unicodedata.normalize("NFC", apprentice)
        return next((person for person in self.apprentices if person.id == wanted), None)

    def of_account(self, login: str) -> Apprentice | None:
        """Return the person with this user name on a shared server, or None."""
        wanted = unicodedata.normalize("NFC", login)
        return next((person for person in self.apprentices if person.login == wanted), None)

    def named(self, names: Iterable[str]) -> list[Apprentice]:
        """Return the people with these identifiers, in their order.

        Raises
        ------
        CourseError
            If nobody has one of them.
        """
        found = []
        for name in names:
            person = self.find(name)
            if person is None:
                raise CourseError(
                    name, rule="Nobody on the roster has this identifier.", remedy="Check the name, or roster.csv."
                )
            found.append(person)
        return found


def wrong_identifier(text: str) -> str:
    """Say what is wrong with an identifier, or return nothing.

    Examples
    --------
    >>> wrong_identifier("o'brien"), wrong_identifier("אמיר"), wrong_identifier("søren.k")
    ('', '', '')
    >>> wrong_identifier("../amir")
    "An identifier has no '/'."
    """
    if not text:
        return "An identifier has at least one letter or digit."
    if len(text) > 64 or len(text.encode("utf-8", "replace")) > 120:
        return "An identifier has at most 64 characters and 120 bytes."
    for sign in text:
        # Letters, marks and digits of any script; a few signs that no file system, zip or shell tool trips over.
        if unicodedata.category(sign)[0] not in "LMN" and sign not in "._-'’@ ":
            shown = sign if sign.isprintable() else f"U+{ord(sign):04X}"
            return f"An identifier has no {shown!r}."
    if not any(unicodedata.category(sign)[0] in "LN" for sign in text):
        return "An identifier has at least one letter or digit."
    if text[0] in "._-' " or text[-1] in ". ":
        return "An identifier begins with a letter or digit and ends with no dot or space."
    if text.casefold().split(".")[0] in _RESERVED:
        return "An identifier is none of the names that Windows keeps for devices."
    return ""


def read_roster(path: Path) -> Roster:
    r"""Read a roster; each wrong line is a finding, all others count.

    Commas, semicolons or tabs part the columns, as the header line shows. Lines that begin with ``#`` and empty
    lines are passed over.

    Raises
    ------
    RosterError
        If there is no file, it is not CSV in UTF-8, or its header lacks a column.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "roster.csv"
    ...     _ = path.write_text("apprentice;name\namir;Amir Shah\n;Nobody\n", "utf-8")
    ...     roster = read_roster(path)
    >>> roster.apprentices[0].name, roster.findings[0].place
    ('Amir Shah', 'roster.csv line 3')
    """
    # Not splitlines: it also parts at signs that no editor shows as a line end.
    lines = re.split("\r\n|\r|\n", _text(path))
    header_at = next((n for n, line in enumerate(lines) if counts(line)), None)
    header_line = lines[header_at] if header_at is not None else ""
    delimiter = max(",;\t", key=header_line.count)
    header = [cell.strip().casefold() for cell in next(csv.reader([header_line], delimiter=delimiter), [])]
    for column in COLUMNS:
        if header.count(column) > 1 or (column in ("apprentice", "name") and column not in header):
            raise RosterError(
                header_line,
                place=path.name,
                rule="The first line of a roster names the columns apprentice and name, and every column once each.",
                remedy="Write: apprentice,name",
            )
    if header_at is None:  # pragma: no cover - an empty header has no such column, so this was refused above
        return Roster()
    people: list[Apprentice] = []
    findings: list[Finding] = []
    lines_of: dict[str, int] = {}
    for number, line in enumerate(lines[header_at + 1 :], start=header_at + 2):
        if not counts(line):
            continue
        person = _person(line, delimiter, header)
        if isinstance(person, Apprentice):
            first = lines_of.setdefault(person.id.casefold(), number)
            if first != number:
                person = f"{person.id!r}: Line {first} has this identifier already. Give each person one of their own."
        place = f"{path.name} line {number}"
        if isinstance(person, Apprentice):
            cells = _cells(line, delimiter)
            # A line may end before the optional columns do.
            said = {column: cell for column, cell in zip(header, cells, strict=False) if column in COLUMNS[2:]}
            person, wrong = with_dates(person, said)
            people.append(person)
            findings += [Finding("refused", place, f"{person.id}: {text}") for text in wrong]
        else:
            findings.append(Finding("refused", place, person))
    known, twice = _each_account_once(people)
    return Roster(known, (*findings, *twice))


def _each_account_once(people: Iterable[Apprentice]) -> tuple[tuple[Apprentice, ...], list[Finding]]:
    """Return the people, and what is told of those whose account is another person's; theirs is passed over."""
    everybody = list(people)
    owner_of = {person.id: person for person in everybody if not person.account}
    findings = []
    for place, person in enumerate(everybody):
        other = owner_of.setdefault(person.login, person)
        if other is not person:
            text = f"{person.account[:40]!r} in account: {other.name} has this account. The cell was passed over."
            findings.append(Finding("refused", f"roster.csv {person.id}", text))
            everybody[place] = replace(person, account="")
    return tuple(everybody), findings


def in_cohorts(roster: Roster, cohorts: Container[str]) -> Roster:
    """Return the roster; whoever is in a cohort that is not among these is told of, and counts as being in none."""
    findings = [
        Finding(
            "refused",
            f"roster.csv {person.id}",
            f"{person.cohort!r}: course.toml has no such cohort; until then the dates of the module count. "
            "Mend the cell, or add [[cohorts]] to course.toml.",
        )
        for person in roster
        if person.cohort and person.cohort not in cohorts
    ]
    if not findings:
        return roster
    people = tuple(p if not p.cohort or p.cohort in cohorts else replace(p, cohort="") for p in roster)
    return Roster(people, (*roster.findings, *findings))


def with_dates(person: Apprentice, said: Mapping[str, str]) -> tuple[Apprentice, list[str]]:
    """Return the person with what the optional columns say, and what is wrong with these, a text each.

    ``said`` has cells by column; a column that is not there changes nothing.
    """
    found: dict[str, date] = {}
    wrong = []
    for column in ("joined", "left"):
        text = said.get(column, "")
        try:
            found |= {column: _day(text)} if text else {}
        except ValueError:
            wrong.append(f"{text[:40]!r} in {column}: A day is written like 2027-03-01. The cell was passed over.")
    joined = found.get("joined", person.joined)
    if joined is not None and "left" in found and found["left"] < joined:
        wrong.append(f"{said['left']!r} in left: Nobody leaves before they come. The cell was passed over.")
        del found["left"]
    extra = said.get("extra_percent", "").rstrip("% ").replace(",", ".")
    percent = float(extra) if re.fullmatch(r"[0-9]{1,3}(\.[0-9]+)?", extra) else 0.0
    if extra and (percent > 300 or not re.fullmatch(r"[0-9]{1,3}(\.[0-9]+)?", extra)):
        wrong.append(f"{extra[:40]!r} in extra_percent: It is a number from 0 to 300. The cell was passed over.")
        percent = 0.0
    account = unicodedata.normalize("NFC", said.get("account", ""))
    if len(account) > 64 or any(sign in "+/" or not sign.isprintable() for sign in account):
        wrong.append(f"{account[:40]!r} in account: A user name has no + and no /. The cell was passed over.")
        account = ""
    return replace(
        person,
        cohort=said["cohort"].casefold() if "cohort" in said else person.cohort,
        joined=found.get("joined") if "joined" in said else person.joined,
        left=found.get("left") if "left" in said else person.left,
        extra_percent=percent if "extra_percent" in said else person.extra_percent,
        account=account if "account" in said else person.account,
        email=said.get("email", person.email),
    ), wrong


def _day(text: str) -> date:
    """Return the day that is meant; a German spreadsheet writes 01.03.2027, and 01/03/2027 could be two days."""
    german = re.fullmatch(r"(\d{1,2})\.(\d{1,2})\.(\d{4})", text)
    return date(int(german[3]), int(german[2]), int(german[1])) if german else date.fromisoformat(text)


def counts(line: str) -> bool:
    """Tell whether a line of a roster says something: it is not empty, and no comment."""
    return bool(line.strip(" ,;\t")) and not line.lstrip("\"' ").startswith("#")


def _person(line: str, delimiter: str, header: list[str]) -> Apprentice | str:
    """Return the person on a line, or what is wrong with it."""
    try:
        # Each line by itself: an open quotation mark must not swallow the lines after it.
        cells = _cells(line, delimiter)
    except csv.Error as error:
        return f"{line[:60]!r}: A line is CSV ({error}). Close its quotation mark, or leave it out."
    if len(cells) < len(header) and any(column not in COLUMNS[2:] for column in header[len(cells) :]):
        return f"{line[:60]!r}: A line has {len(header)} columns, this one {len(cells)}. Fill in what is missing."
    if any(cells[len(header) :]):
        return (
            f"{line[:60]!r}: A line has {len(header)} columns, this one {len(cells)}. "
            "Put a cell that holds a comma between quotation marks."
        )
    identifier = unicodedata.normalize("NFC", cells[header.index("apprentice")])
    name = unicodedata.normalize("NFC", cells[header.index("name")])
    wrong = wrong_identifier(identifier)
    if wrong:
        return f"{identifier[:60]!r}: {wrong} Use letters and digits, like amir or o'brien."
    if not name:
        return f"{identifier!r}: A person has a name. Write it in the column name."
    return wrong_name(name) or Apprentice(identifier, name)


def wrong_name(name: str) -> str:
    """Say what is wrong with the name of a person, or return nothing."""
    if len(name) > 120:
        return f"{name[:40]!r}…: A name has at most 120 characters. Shorten it."
    if any(sign in _TURNING or unicodedata.category(sign) in ("Cc", "Cs", "Co", "Cn", "Zl", "Zp") for sign in name):
        return f"{name[:60]!r}: A name has no control characters. Type it again."
    return ""


def _cells(line: str, delimiter: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter, strict=True), [])]


def _text(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            data = stream.read(_SIZE_LIMIT + 1)
    except FileNotFoundError:
        raise RosterError(
            str(path), rule="A course has a roster.csv.", remedy="Write one with the columns apprentice and name."
        ) from None
    except OSError as error:
        raise refusal(error, path) from None
    if len(data) > _SIZE_LIMIT:
        raise RosterError(str(path), rule=f"A roster has at most {_SIZE_LIMIT} bytes.", remedy="Shorten it.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise RosterError(
            f"line {line}",
            place=path.name,
            rule="A roster is text in UTF-8.",
            remedy="In the spreadsheet, save it as “CSV UTF-8”.",
        ) from None
