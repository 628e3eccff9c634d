"""Taking a list of people into the roster: who is new, who has changed, who is no longer on the list.

The roster stays the instructor's own file: lines that nothing is new about are kept byte for byte, comments and other
columns too. What the list does not say is not taken out of the roster, and nobody is ever deleted.
"""

from __future__ import annotations

import csv
import io
import re
import stat
import unicodedata
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainkit import journal
from trainkit_grading.course import cohorts, people_csv
from trainkit_grading.course import roster as rosters
from trainkit_grading.course.roster import COLUMNS, Apprentice, Roster
from trainkit_grading.support.files import held, write_atomically
from trainkit_grading.support.outcome import Finding, Outcome

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.people_csv import Listed


@dataclass(frozen=True, slots=True)
class _Line:
    """What is to stand in the roster about somebody: identifier, name, and new values by column."""

    id: str
    name: str
    values: Mapping[str, str]


def enrol(
    course: Course,
    source: Path,
    cohort: str = "",
    *,
    leavers: bool = False,
    dry_run: bool = False,
    clock: Callable[[], datetime] = journal.now,
) -> Outcome:
    """Take the people of a list into the roster.

    Parameters
    ----------
    course : Course
        The course folder.
    source : Path
        A CSV file.
    cohort : str, optional
        The cohort of everybody on the list; without, what the list says.
    leavers : bool, optional
        Write down that whoever is no longer on the list has left: with ``cohort`` those of that cohort alone.
    dry_run : bool, optional
        Only tell what would be done.
    clock : callable, optional
        Returns the time with its time zone; it is the day on which people have left.

    Returns
    -------
    Outcome
        ``data`` has identifiers of who is new, changed, unchanged and missing.

    Raises
    ------
    CourseError
        If the cohort is not of this course, the list cannot be read, or the roster cannot.
    """
    if cohort:
        cohorts.named(course, cohort)
    listed = people_csv.read_people(source)
    findings = [*listed.findings]
    with held(course.folder):
        roster = rosters.read_roster(course.roster_file)
        # Whoever stands on a line that cannot be read is missing nowhere.
        findings += roster.findings if leavers else ()
        new: list[_Line] = []
        changed: list[tuple[_Line, str]] = []
        unchanged: list[str] = []
        seen: set[str] = set()
        addresses = Counter(person.email.casefold() for person in listed.people)
        # An address that several people have tells nobody apart.
        shared = {address for address, count in addresses.items() if count > 1}
        for person in listed.people:
            place = f"{source.name} line {person.line}"
            found = _matched(person, roster, shared)
            if isinstance(found, str):
                findings.append(Finding("refused", place, found))
                continue
            taken = {*(p.id.casefold() for p in roster), *(line.id.casefold() for line in new)}
            identifier = found.id if found is not None else person.said.get("apprentice") or proposed(person, taken)
            wrong = rosters.wrong_identifier(identifier) or rosters.wrong_name(person.name)
            if wrong or identifier.casefold() in seen:
                text = wrong or "The list has this person already."
                findings.append(Finding("refused", place, f"{identifier!r}: {text} The line was not taken."))
                continue
            seen.add(identifier.casefold())
            said, told = _said(course, person, cohort)
            login = person.said.get("apprentice", "")
            if found is not None and login and login.casefold() != found.id.casefold():
                told.append(f"{login!r}: The roster has this person as {found.id}, and that stays: forms hang on it.")
            findings += [Finding("warning", place, text) for text in told]
            if found is None:
                new.append(_Line(identifier, person.name, said))
                continue
            # A name is only another one where the identifier says that it is the same person.
            name = person.name if login else found.name
            news = _news(found, name, said)
            if news:
                changed.append((_Line(found.id, name, said), f"{found.name} ({found.id}): {news}"))
            else:
                unchanged.append(found.id)
            if found.left is not None:
                told_left = (
                    f"{found.name} is on the list, and left {found.left} by the roster. Take that out if not so."
                )
                findings.append(Finding("warning", place, told_left))
        today = clock().date()
        gone = [
            person
            for person in roster
            if person.id.casefold() not in seen and person.left is None and (not cohort or person.cohort == cohort)
        ]
        lines = [*new, *(line for line, _ in changed)]
        if leavers:
            lines += [_Line(person.id, person.name, {"left": today.isoformat()}) for person in gone]
            unsure = _why_nobody_leaves(gone, new, findings, source.name)
            findings += unsure
            lines = [] if unsure else lines
        elif gone:
            findings.append(Finding("note", "roster.csv", _not_listed(gone)))
        if lines and not dry_run:
            mode = stat.S_IMODE(course.roster_file.stat().st_mode)
            write_atomically(course.roster_file, _rewritten(course.roster_file, lines), mode)
    done = [
        f"Taken as {what}: the column {column!r}." for what, column in listed.columns.items() if what in _WORTH_TELLING
    ]
    done += [f"New: {line.name} ({line.id}){_in(line)}." for line in new if lines]
    done += [f"Changed: {text}." for _, text in changed if lines]
    done += [f"Left: {person.name} ({person.id}), on {today.isoformat()}." for person in gone if leavers and lines]
    counts = f"{len(new)} new, {len(changed)} changed, {len(unchanged)} unchanged, {len(gone)} not on the list"
    done.append(f"{counts}. {'Nothing was written.' if dry_run or not lines else 'They stand in roster.csv.'}")
    return Outcome(
        "roster import",
        tuple(done),
        tuple(findings),
        _next(dry_run, bool(lines), source),
        {
            "new": [line.id for line in new],
            "changed": [line.id for line, _ in changed],
            "unchanged": unchanged,
            "missing": [person.id for person in gone],
            "written": bool(lines) and not dry_run,
        },
    )


_WORTH_TELLING = ("apprentice", "cohort", "account")


def _next(dry_run: bool, news: bool, source: Path) -> str:
    if dry_run and news:
        return f"If that is right: trainkit-course roster import {source.name}, without --dry-run."
    return (
        "Look at roster.csv, then: trainkit-course check"
        if news
        else "See how the course stands: trainkit-course status"
    )


def _in(line: _Line) -> str:
    return f", cohort {line.values['cohort']}" if line.values.get("cohort") else ""


def _not_listed(gone: Iterable[Apprentice]) -> str:
    names = [person.name for person in gone]
    more = f" and {len(names) - 8} more" if len(names) > 8 else ""
    return (
        f"Not on the list: {', '.join(names[:8])}{more}. Nothing was changed about them. "
        "If they have left, give the command again with --leavers."
    )


_NO_LEAVERS = "With --leavers nothing is written while a line is refused. Mend what is listed, then try again."


def _why_nobody_leaves(
    gone: Iterable[Apprentice], new: Iterable[_Line], findings: Iterable[Finding], place: str
) -> list[Finding]:
    """Say why it is not certain who has left; whoever stands on a refused line would be taken for one of them."""
    names = {_folded(line.name) for line in new}
    doubtful = [person for person in gone if _folded(person.name) in names]
    told = [Finding("refused", f"roster.csv {person.id}", _doubtful(person)) for person in doubtful]
    wrong = any(finding.severity == "refused" for finding in (*findings, *told))
    return [*told, Finding("refused", place, _NO_LEAVERS)] if wrong else []


def _doubtful(person: Apprentice) -> str:
    return (
        f"{person.name!r}: The list has this name under another identifier, so nobody can tell whether they have left. "
        f"Write {person.id} as their Login into the list, or the day into the column left of roster.csv."
    )


def _same_address(known: Apprentice, person: Listed) -> bool:
    """Tell whether it is the same e-mail address; that of whoever has none is what their identifier was made of."""
    address = person.email.casefold()
    if known.email or not address:
        return bool(address) and known.email.casefold() == address
    own = known.id.casefold() in (address, address.partition("@")[0])
    return own and _folded(known.name) == _folded(person.name)


def _matched(person: Listed, roster: Roster, shared: Collection[str]) -> Apprentice | str | None:
    """Return who of the roster it is, by identifier, e-mail address or name; a text where that cannot be told."""
    identifier = person.said.get("apprentice", "").casefold()
    by_id = next((known for known in roster if known.id.casefold() == identifier), None)
    telling = person.email.casefold() not in shared
    by_address = [known for known in roster if telling and _same_address(known, person)]
    if by_id is not None and by_address and by_id not in by_address:
        return (
            f"{person.email!r}: The roster has this address for {by_address[0].id}, the list for {by_id.id}. "
            "Mend the list or the column email of roster.csv. The line was not taken."
        )
    if by_id is not None or len(by_address) == 1:
        return by_id or by_address[0]
    if identifier:
        return None
    alike = [known for known in roster if _folded(known.name) == _folded(person.name)]
    others = [known.email for known in alike if telling and known.email and person.email]
    if others:
        return (
            f"{person.email!r}: The roster has {person.name} with another address, {others[0]}. "
            "Say in a column Login who it is. The line was not taken."
        )
    if len(alike) > 1:
        named = ", ".join(known.id for known in alike)
        return f"{person.name!r}: The roster has this name more than once ({named}). Say which, in a column Login."
    return alike[0] if alike else None


def _folded(name: str) -> str:
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def proposed(person: Listed, taken: set[str]) -> str:
    """Return an identifier for somebody who has none: from the e-mail address, else from the name.

    Parameters
    ----------
    person : Listed
        Who it is.
    taken : set of str
        Identifiers that others have, in small letters.

    Examples
    --------
    >>> from trainkit_grading.course.people_csv import Listed
    >>> proposed(Listed(2, "Amir Shah"), set()), proposed(Listed(3, "Amir Shah"), {"amir"})
    ('amir', 'amir.shah')
    >>> proposed(Listed(2, "Søren Å. Dahl", email="s.dahl@saltmere.example"), set())
    's.dahl'
    """
    given, *others = (re.sub(r"[^\w'’-]", "", part).strip("'’-_") for part in person.name.casefold().split())
    candidates = [person.email.partition("@")[0].casefold(), given]
    candidates += [f"{given}.{others[-1]}"] if others else []
    candidates += [f"{given or 'apprentice'}{number}" for number in range(2, 1000)]
    return next((name for name in candidates if not rosters.wrong_identifier(name) and name not in taken), "")


def _said(course: Course, person: Listed, cohort: str) -> tuple[dict[str, str], list[str]]:
    """Return what the list says of somebody, by column of the roster, and what could not be taken, a text each."""
    said = {column: person.said[column] for column in COLUMNS[2:] if column in person.said}
    told = []
    if cohort:
        said["cohort"] = cohort
    elif "cohort" in said:
        wanted = _folded(said["cohort"])
        names = [known.name for known in course.cohorts if wanted in (known.name, _folded(known.title))]
        if names:
            said["cohort"] = names[0]
        else:
            del said["cohort"]
            if course.cohorts:
                told.append(f"{wanted!r}: This course has no such cohort; {person.name} was taken without.")
    _, wrong = rosters.with_dates(Apprentice("a", "A"), said)
    for text in wrong:
        column = next(name for name in ("joined", "left", "extra_percent", "account") if f" in {name}: " in text)
        del said[column]
        told.append(text)
    return said, told


def _news(known: Apprentice, name: str, said: Mapping[str, str]) -> str:
    """Say what a list says that the roster does not."""
    there, _ = rosters.with_dates(known, said)
    news = [f"name {name}"] if _folded(name) != _folded(known.name) else []
    for column, value in said.items():
        before, after = getattr(known, column), getattr(there, column)
        if before != after:
            news.append(f"{column} {value}" + (f", before {before}" if before else ""))
    return ", ".join(news)


def _rewritten(path: Path, news: Iterable[_Line]) -> bytes:
    """Return the roster with these lines changed or added, and every other line as it was."""
    data = path.read_bytes()
    mark = b"\xef\xbb\xbf" if data.startswith(b"\xef\xbb\xbf") else b""
    text = data.decode("utf-8-sig")
    parts = re.split("(\r\n|\r|\n)", text)
    lines, ends = parts[0::2], [*parts[1::2], ""]
    end = ends[0] or "\n"
    at = next(number for number, line in enumerate(lines) if rosters.counts(line))
    delimiter = max(",;\t", key=lines[at].count)
    header = [cell.strip().casefold() for cell in next(csv.reader([lines[at]], delimiter=delimiter))]
    lines_of = list(news)
    needed = {column for line in lines_of for column in line.values} - set(header)
    added = [column for column in COLUMNS if column in needed]
    if added:
        lines[at] = delimiter.join((lines[at], *added))
        header += added
    by_id = {line.id: line for line in lines_of}
    for number, line in enumerate(lines):
        if number <= at or not rosters.counts(line):
            continue
        cells = next(csv.reader([line], delimiter=delimiter), [])
        place = header.index("apprentice")
        of = by_id.pop(unicodedata.normalize("NFC", cells[place].strip()), None) if place < len(cells) else None
        if of is not None:
            lines[number] = _as_line(of, header, cells, delimiter)
    if lines[-1]:
        ends[-1] = end
        lines.append("")
        ends.append("")
    # What is left are new people, in the order of the list.
    fresh = [_as_line(line, header, [], delimiter) + end for line in lines_of if line.id in by_id]
    kept = "".join(line + stop for line, stop in zip(lines, ends, strict=True))
    return mark + (kept + "".join(fresh)).encode()


def _as_line(of: _Line, header: list[str], cells: list[str], delimiter: str) -> str:
    values = {"apprentice": of.id, "name": of.name, **of.values}
    cells = cells + [""] * (len(header) - len(cells))
    buffer = io.StringIO()
    writer = csv.writer(buffer, delimiter=delimiter, lineterminator="")
    writer.writerow([values.get(column, cell) for column, cell in zip(header, cells, strict=True)])
    return buffer.getvalue()
