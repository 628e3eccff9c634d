"""What a new course is to be like: from options, and at a terminal from a few questions about the rest.

Nothing is asked where nobody can answer: without a terminal, or where a program wants JSON.
"""

from __future__ import annotations

import re
import sys
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TypeVar

import typer

from trainkit.cli.speech import say
from trainkit.errors import TrainkitError
from trainkit.sentences import counted
from trainkit_grading.errors import CourseError

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Wishes:
    """What somebody wants a new course to be; None where nothing was said of it yet."""

    title: str | None = None
    name: str | None = None
    modules: tuple[str, ...] | None = None
    cohorts: tuple[str, ...] | None = None
    due: dict[str, datetime] | None = None  # by module; under "" for all of them
    attempts: int | None = None
    exchange: str | None = None
    database: str | None = None


def at_terminal() -> bool:
    """Tell whether somebody sits at a terminal who can be asked and can read the question."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def answered(folder: Path, wishes: Wishes) -> Wishes:
    """Ask for what has not been said, each with a word about what Enter does; return all of it."""
    from trainkit import modules as shipped

    known = shipped.names()
    open_questions = sum(getattr(wishes, name) is None for name in Wishes.__dataclass_fields__)
    if open_questions:
        say(f"A new course in {folder}. {counted(open_questions, 'question')}; Enter takes what stands in brackets.")
    plain = " ".join(folder.absolute().name.split()) or "Course"

    def wish(name: str, question: str, default: str, understood: Callable[[str], T]) -> T:
        said: T | None = getattr(wishes, name)
        return said if said is not None else _ask(question, default, understood)

    title = wish("title", "Title, as people read it", plain, _title)
    name = wish("name", "Short name: small letters, digits, hyphens", short_name(title), _short)
    if wishes.modules is None:
        for number, module in enumerate(known, start=1):
            say(f"  {number}  {module}")
    return Wishes(
        title,
        name,
        wish("modules", "Modules, as numbers like 1-4,7", "all", lambda text: _modules(text, known)),
        wish("cohorts", "Cohorts, names parted by commas", "none", _cohorts),
        wish("due", "When the modules are due, like 2027-04-01 16:00", "no date", _due),
        wish("attempts", "Attempts that count at most", "3", _attempts),
        wish("exchange", "Folder on a disk that the apprentices share with you", "none: zips", _folder),
        wish("database", "Marks in a file here, or the address of a PostgreSQL database", "file", _database),
    )


def _ask(question: str, default: str, understood: Callable[[str], T]) -> T:
    """Ask until an answer is understood."""

    def read(text: str) -> T:
        try:
            return understood(text.strip())
        except TrainkitError as error:
            raise typer.BadParameter(f"{error.rule} {error.remedy}") from None

    answer: T = typer.prompt(question, default=default, value_proc=read)
    return answer


def _title(text: str) -> str:
    if not text or len(text) > 120 or not text.isprintable():
        raise CourseError(text, rule="A title has 1 to 120 characters.", remedy="Try again.")
    return text


def _short(text: str) -> str:
    if not re.fullmatch(r"[a-z0-9][a-z0-9-]{0,39}", text):
        raise CourseError(text, rule="A short name has 1 to 40 small letters, digits and hyphens.", remedy="Try again.")
    return text


def _modules(text: str, known: tuple[str, ...]) -> tuple[str, ...]:
    if text.casefold() == "all":
        return ()
    chosen = []
    for part in re.split(r"[,;\s]+", text):
        numbers = re.fullmatch(r"(\d{1,3})(?:-(\d{1,3}))?", part)
        if numbers is not None:
            first, last = int(numbers[1]), int(numbers[2] or numbers[1])
            chosen += [known[number - 1] for number in range(first, last + 1) if 1 <= number <= len(known)]
            fits = 1 <= first <= last <= len(known)
        else:
            chosen.append(part)
            fits = part in known
        if not fits:
            raise CourseError(part, rule=f"The modules are 1 to {len(known)}.", remedy="Try again, like 1-4,7.")
    # In the order in which they are taught, each once.
    return tuple(module for module in known if module in chosen)


def _cohorts(text: str) -> tuple[str, ...]:
    return () if text in ("", "none") else tuple(filter(None, (part.strip() for part in re.split("[,;]", text))))


def _due(text: str) -> dict[str, datetime]:
    return {} if text in ("", "no date") else {"": moment(text)}


def _attempts(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 20:
        raise CourseError(text, rule="The most attempts are a whole number from 1 to 20.", remedy="Try again.")
    return int(text)


def _folder(text: str) -> str:
    return "" if text == "none: zips" else text


def _database(text: str) -> str:
    if text in ("", "file"):
        return ""
    from trainkit_grading.support.database import url_of

    url_of(text)
    return text


def moment(text: str) -> datetime:
    """Return the moment that is meant: a day is its last minute, a time without a zone is that of this computer.

    Raises
    ------
    CourseError
        If it is none.

    Examples
    --------
    >>> moment("2027-04-01 16:00+01:00").isoformat(), moment("2027-04-01").strftime("%H:%M")
    ('2027-04-01T16:00:00+01:00', '23:59')
    """
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        raise CourseError(
            text, rule="A due date is a day, or a day and a time, like 2027-04-01 16:00.", remedy="Write it so."
        ) from None
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}|\d{8}", text.strip()):
        when = when.replace(hour=23, minute=59)
    return when if when.tzinfo is not None else when.astimezone()


def dues(words: Iterable[str]) -> dict[str, datetime]:
    """Return due dates by module, out of options like ``lock-pin=2027-04-01``; under "" the one for all.

    Raises
    ------
    CourseError
        If one cannot be understood.
    """
    found = {}
    for word in words:
        module, parted, when = word.rpartition("=")
        found[module.strip() if parted else ""] = moment(when.strip())
    return found


def short_name(folder: Path | str) -> str:
    """Return a short name made of a folder's, or of any words: accents dropped, everything else to hyphens.

    Examples
    --------
    >>> short_name(Path("Saltmère 2027")), short_name("Autumn intake")
    ('saltmere-2027', 'autumn-intake')
    """
    words = folder if isinstance(folder, str) else folder.absolute().name
    plain = unicodedata.normalize("NFKD", words).encode("ascii", "ignore").decode().lower()
    return re.sub("[^a-z0-9]+", "-", plain).strip("-")[:40] or "course"
