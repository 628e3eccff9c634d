"""What a class gets wrong and why: misconceptions, how often each showed, and how often it could have."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.errors import TrainkitError
from trainkit.items.misconceptions import misconception
from trainkit_grading.forms.generation import open_keys
from trainkit_grading.statistics import Figure, share

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from trainkit_grading.course.folder import Course
    from trainkit_grading.results.marksheet import Marksheet


# Worth a lesson for all: shown by at least two people, and by at least this part of those who could have shown it.
_TEACH_PART, _TEACH_PEOPLE, _TEACH_MOST = 0.15, 2, 5


@dataclass(frozen=True, slots=True)
class Mistake:
    """One misconception in a class.

    Parameters
    ----------
    code, area : str
        Its code, and the module that it belongs to.
    shows, cure : str
        What an answer of this sort shows, and the step that puts it right.
    shown, chances : int
        In how many answers it showed, and in how many it could have.
    people : Figure
        The part of those who could have shown it that did, at least once.
    who : tuple of str
        Identifiers of those, whoever showed it most often first.
    again : tuple of str
        Identifiers of those who showed it more than once.
    modules : tuple of str
        Where it showed.
    unsafe : int
        How many of the answers that showed it were unsafe.
    """

    code: str
    area: str
    shows: str
    cure: str
    shown: int
    chances: int
    people: Figure
    who: tuple[str, ...]
    again: tuple[str, ...]
    modules: tuple[str, ...]
    unsafe: int = 0


@dataclass(frozen=True, slots=True)
class NotAskable:
    """A misconception that items of a module should be able to show, and that the engine cannot show.

    Parameters
    ----------
    module : str
        Title of the module.
    items : tuple of str
        The items that are drawn without it.
    shows : str
        What an answer of this sort would show.
    """

    module: str
    items: tuple[str, ...]
    shows: str


def not_askable(course: Course, titles: Mapping[str, str]) -> tuple[NotAskable, ...]:
    """Return what cannot be asked of the engines of a course, in the current attempt at each module.

    Parameters
    ----------
    course : Course
        The course.
    titles : mapping of str to str
        Title of each module by its name.
    """
    found: dict[tuple[str, str], list[str]] = {}
    for entry in course.modules:
        keys = open_keys(course.key_file(entry.name, entry.attempt))
        for item, codes in keys.head.not_askable.items() if keys is not None else ():
            for code in codes:
                found.setdefault((titles.get(entry.name, entry.name), code), []).append(item)
    return tuple(NotAskable(title, tuple(items), _shown_by(code)) for (title, code), items in found.items())


def _shown_by(code: str) -> str:
    try:
        return misconception(code).shows
    except TrainkitError:
        return code  # as in _mistake


def mistakes(sheets: Sequence[Marksheet]) -> tuple[Mistake, ...]:
    """Return every misconception that showed, the most widespread first.

    Parameters
    ----------
    sheets : sequence of Marksheet
        The marks of the modules.
    """
    times: dict[str, dict[str, int]] = {}
    could: dict[str, set[str]] = {}
    counts: dict[str, list[int]] = {}
    where: dict[str, list[str]] = {}
    for sheet in sheets:
        for code in sheet.codes:
            own = times.setdefault(code, {})
            for name, count in _counted(sheet, sheet.showed(code)).items():
                own[name] = own.get(name, 0) + count
            where.setdefault(code, []).append(sheet.module)
    for sheet in sheets:
        for code in times:
            chance = sheet.could_show(code)
            showed = sheet.showed(code)
            of = counts.setdefault(code, [0, 0, 0])
            for place, which in enumerate((showed, chance, showed & sheet.critical)):
                of[place] += int(which.sum())
            could.setdefault(code, set()).update(_counted(sheet, chance))
    found = [_mistake(code, people, could[code], counts[code], where[code]) for code, people in times.items()]
    return tuple(sorted(found, key=lambda each: (-len(each.who) / max(each.people.n, 1), -each.shown, each.code)))


def _counted(sheet: Marksheet, where: NDArray[np.bool_]) -> dict[str, int]:
    """Return in how many answers of each person something is so; whoever was forgotten is told apart by the row."""
    import numpy as np

    count = where.sum(axis=1)
    return {sheet.people[row] or f"\0{sheet.module} {row}": int(count[row]) for row in np.flatnonzero(count).tolist()}


def _mistake(code: str, of: Mapping[str, int], could: set[str], counts: Sequence[int], where: Sequence[str]) -> Mistake:
    try:
        entry = misconception(code)
        area, shows, cure = entry.area, entry.shows, entry.cure
    except TrainkitError:
        area, shows, cure = "", code, ""  # of a module of the course's own whose release is not installed here
    n = len({*could, *of})
    people = share(len(of), n, name="showed it", what="The part of those who could show it that did.")
    who = tuple(sorted((name for name in of if name[0] != "\0"), key=lambda name: (-of[name], name)))
    again = tuple(name for name in who if of[name] > 1)
    shown, chances, unsafe = counts
    return Mistake(code, area, shows, cure, shown, chances, people, who, again, tuple(where), unsafe)


def to_teach(found: Sequence[Mistake]) -> tuple[Mistake, ...]:
    """Return what is worth a lesson for all tomorrow: at most five, the most widespread first."""
    worth = [
        each
        for each in found
        if len(each.who) >= _TEACH_PEOPLE and len(each.who) >= _TEACH_PART * max(each.people.n, 1)
    ]
    return tuple(worth[:_TEACH_MOST])
