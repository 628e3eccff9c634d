"""What settings and roster may say, but hardly mean: two of one name, identifiers that look alike, 0.6 for 60."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING

from trainkit.sentences import listed
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from trainkit.modules import Blueprint
    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.roster import Apprentice, Roster

# Signs of other scripts that are drawn like a Latin one, and digits that are read for a letter.
_DRAWN_LIKE = str.maketrans(
    "01|I\u0430\u0432\u0435\u043a\u043c\u043d\u043e\u0440\u0441\u0442\u0443\u0445\u0456\u0458\u0455\u0501"  # Cyrillic
    "\u03b1\u03b2\u03b5\u03b7\u03b9\u03ba\u03bd\u03bf\u03c1\u03c4\u03c5\u03c7\u0131",  # Greek, and an i without its dot
    "olllabekmhopctyxijsdabenikvoptuxi",
)


def of_people(roster: Roster) -> Iterator[Finding]:
    """Tell of people with one name, of identifiers that look alike, and of extra time below one per cent."""
    for alike in _groups(roster, lambda person: _folded(person.name)):
        text = (
            f"{len(alike)} people are called {alike[0].name}: {_ids(alike)}. "
            "If it is one person, delete the other line before forms go out."
        )
        yield Finding("warning", "roster.csv", text)
    for alike in _groups(roster, lambda person: skeleton(person.id)):
        text = (
            f"The identifiers {_ids(alike)} look alike, so one is easily taken for the other. "
            "Give one of them another identifier before forms go out."
        )
        yield Finding("warning", "roster.csv", text)
    for person in roster:
        if 0 < person.extra_percent < 1:
            yield _fraction(f"roster.csv {person.id}", "extra_percent", person.extra_percent)


def of_settings(course: Course) -> Iterator[Finding]:
    """Tell of settings in per cent that are fractions."""
    for name in ("percent_a_day", "at_most_percent"):
        value = getattr(course.lateness, name)
        if 0 < value < 1:
            yield _fraction("course.toml lateness", name, value)


def of_blueprint(blueprint: Blueprint) -> Iterator[Finding]:
    """Tell of a pass mark that is a fraction."""
    if 0 < blueprint.cut_score <= 1:
        yield _fraction(blueprint.module, "cut_score", blueprint.cut_score)


def skeleton(identifier: str) -> str:
    r"""Return what an identifier looks like: the same for two that the eye takes for one another.

    Examples
    --------
    >>> skeleton("B0b") == skeleton("bob"), skeleton("\u0430mir") == skeleton("amir")
    (True, True)
    >>> skeleton("s101") == skeleton("s110"), skeleton("ali") == skeleton("all")
    (False, False)
    """
    composed = unicodedata.normalize("NFKC", identifier)
    plain = unicodedata.normalize("NFKD", composed.translate(_DRAWN_LIKE).casefold().translate(_DRAWN_LIKE))
    letters = "".join(sign for sign in plain if sign.isalnum())
    return letters.replace("rn", "m").replace("vv", "w")


def _groups(people: Iterable[Apprentice], alike: Callable[[Apprentice], str]) -> Iterator[list[Apprentice]]:
    found: dict[str, list[Apprentice]] = {}
    for person in people:
        found.setdefault(alike(person), []).append(person)
    return (group for group in found.values() if len(group) > 1)


def _folded(name: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def _ids(people: Iterable[Apprentice]) -> str:
    # A sign of another script hides among Latin ones, so it is named.
    return listed([person.id if person.id.isascii() else f"{person.id} ({_scripts(person.id)})" for person in people])


def _scripts(identifier: str) -> str:
    r"""Name the scripts of an identifier.

    Examples
    --------
    >>> _scripts("\u0430mir")
    'Cyrillic and Latin'
    """
    names = {unicodedata.name(sign, "other").split()[0].capitalize() for sign in identifier if sign.isalpha()}
    return listed(sorted(names))


def _fraction(place: str, name: str, value: float) -> Finding:
    meant = f"{value * 100:g}"
    text = f"{name} = {value:g} is {value:g} per cent. If {meant} per cent is meant, write {meant}."
    return Finding("warning", place, text)
