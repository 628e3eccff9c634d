"""What to practise next: the skills in which points were lost, each with its workbook and section.

Most useful first. Skills with an unsafe answer stand at the top. After these counts what there is to gain:
the points that were lost, and once more those that a recognised misconception cost, since practice, where that very
misconception is explained, mends them soonest.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from trainkit import modules
from trainkit.errors import TrainkitError

_PRACTICE = re.compile(r"""\bpractice\(\s*["']([^"']+)["']""")


@dataclass(frozen=True, slots=True)
class Lost:
    """What one item cost: its template, the points lost, and whether a misconception showed, whether it is unsafe."""

    item: str
    template: str
    points: float
    recognised: bool = False
    unsafe: bool = False


@dataclass(frozen=True, slots=True)
class PracticePlace:
    """Where a skill is practised: the workbook's name and title, and the heading above the practice."""

    module: str
    workbook: str
    section: str


@dataclass(frozen=True, slots=True)
class Practice:
    """One skill to practise: its words, where, the items it would have helped in and the points there are to gain."""

    skill: str
    places: tuple[PracticePlace, ...]
    items: tuple[str, ...]
    points: float
    unsafe: bool = False


def next_practice(module: modules.Module, losses: Iterable[Lost]) -> tuple[Practice, ...]:
    """Return what to practise, most useful first.

    Parameters
    ----------
    module : trainkit.modules.Module
        The workbook that was assessed. A skill that another workbook teaches is named with both.
    losses : iterable of Lost
        Every item that was not right, waiting ones left out.

    Examples
    --------
    >>> lost = [Lost("A3", "lock-pin/how-far-back", 2.0), Lost("A9", "lock-pin/what-next", 1.0, unsafe=True)]
    >>> [(practice.skill, practice.items) for practice in next_practice(modules.load("lock-pin"), lost)]
    [('Choose the next safe action', ('A9',)), ('Back off far enough', ('A3',))]
    """
    by_skill: dict[tuple[str, tuple[PracticePlace, ...]], list[Lost]] = {}
    for lost in losses:
        by_skill.setdefault(_skill(module, lost.template), []).append(lost)
    found = [
        (
            sum(lost.points * (2 if lost.recognised else 1) for lost in group),
            Practice(
                skill,
                places,
                tuple(lost.item for lost in group),
                round(sum(lost.points for lost in group), 2),
                any(lost.unsafe for lost in group),
            ),
        )
        for (skill, places), group in by_skill.items()
    ]
    # The sort keeps the order of the items between skills that are as useful as each other.
    return tuple(practice for _, practice in sorted(found, key=lambda pair: (not pair[1].unsafe, -pair[0])))


def _skill(module: modules.Module, template: str) -> tuple[str, tuple[PracticePlace, ...]]:
    """Return the words of the skill that a template belongs to, and where it is practised: here, and where taught."""
    places = []
    words = ""
    home = _module(template.partition("/")[0])
    for book in (module, *((home,) if home is not None and home.folder != module.folder else ())):
        skill = next((skill for skill in book.blueprint.skills if template in skill.templates), None)
        if skill is None:
            continue
        words = words or skill.name
        heading = section(book.notebook, skill.id) or skill.name
        places.append(PracticePlace(book.blueprint.module, book.blueprint.title, heading))
    if not places:
        places.append(PracticePlace(module.blueprint.module, module.blueprint.title, ""))
    return words or module.blueprint.title, tuple(places)


@lru_cache(maxsize=64)
def _module(name: str) -> modules.Module | None:
    try:
        return modules.load(name)
    except TrainkitError:
        return None  # a module of the course's own may use templates of any home


@lru_cache(maxsize=256)
def section(notebook: Path, skill: str) -> str:
    """Return the heading above the practice of a skill in a workbook; empty where it is not practised there.

    Examples
    --------
    >>> section(modules.load("lock-pin").notebook, "back-off")
    'Back off far enough'
    """
    heading = ""
    try:
        cells = json.loads(notebook.read_bytes())["cells"]
        for cell in cells:
            source = "".join(cell["source"])
            if cell["cell_type"] == "markdown":
                heads = [line.lstrip("#").strip() for line in source.splitlines() if line.startswith("#")]
                heading = heads[-1] if heads else heading
            elif skill in _PRACTICE.findall(source):
                return heading
    except (OSError, ValueError, KeyError, TypeError):
        return ""  # what to practise is named without its section
    return ""
