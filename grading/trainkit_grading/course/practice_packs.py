"""The engine that a module explains and practises, where the course names another than the module's own.

Its pack travels as ``pack.toml`` beside the notebook, in the release, on the shared disk and in every zip. Anybody can
read it there, so it is never one that the course draws an assessment from, unless everybody has that one anyway.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit import packs
from trainkit.errors import DrawFault, ItemError, TrainkitError
from trainkit.items.template import find
from trainkit_grading.course import packs as assessment
from trainkit_grading.course.folder import PACK_COPY
from trainkit_grading.errors import BuildError
from trainkit_grading.support.files import write_atomically

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from trainkit.modules import Blueprint
    from trainkit.packs import Pack
    from trainkit_grading.course.folder import Course, CourseModule


# A template that fails unexpectedly so often is taken for one that asks nothing.
_TRIES = 5
# Names of files that hold earlier editions of packs that every apprentice has.
_SHIPPED = tuple(f"{name}-" for name in packs.shipped())
# What makes an engine and a job what they are; a comment, a title or a notice does not.
_WHAT_IT_IS = ("engine", "gears", "meshes", "lock_pin_table", "fasteners", "steps", "precedence")


@dataclass(frozen=True, slots=True)
class PracticePack:
    """A pack to practise on.

    Parameters
    ----------
    pack : Pack
        As it was read.
    content : bytes
        Its file, which is given out as it is.
    """

    pack: Pack
    content: bytes


def practice_pack_of(course: Course, entry: CourseModule) -> PracticePack | None:
    """Return the pack that a module is to be practised on, or None where that is the module's own.

    Raises
    ------
    PackError
        If there is none of that name, or it cannot be used.
    BuildError
        If it is one that an assessment of this course is drawn from.
    """
    if not entry.practise_on:
        return None
    place = f"{entry.name} {entry.practise_on}"
    if entry.practise_on in assessment.names():
        raise BuildError(entry.practise_on, place=place, rule=_APART, remedy=_NAME_ANOTHER)
    where = place_of(course, entry)
    pack = packs.load(where)
    content, _ = packs.bytes_of(where)
    if any(all(getattr(pack, part) == getattr(other, part) for part in _WHAT_IT_IS) for other in _assessed(course)):
        raise BuildError(entry.practise_on, place=place, rule=_APART, remedy=_NAME_ANOTHER)
    return PracticePack(pack, content)


def place_of(course: Course, entry: CourseModule) -> Path | str:
    """Return the file that ``practise_on`` names, or the name as it is, for a pack that comes with the workbooks."""
    return course.folder / entry.practise_on if entry.practise_on.endswith(".toml") else entry.practise_on


_APART = "A pack to practise on is given out and can be read, so no assessment of the course is drawn from it."
_NAME_ANOTHER = "Name another pack, or draw the assessment from another."


def _assessed(course: Course) -> Iterator[Pack]:
    """Yield the packs that assessments are or were drawn from, but those that every apprentice has installed."""
    named: list[str | Path] = [assessment.find_pack(name) for name in assessment.names()]
    for entry in course.modules:
        try:
            named.append(course.pack_of(entry, course.present_workbook(entry).blueprint))
        except TrainkitError:
            continue  # that module tells of it itself
    for name in dict.fromkeys(named):
        if name in packs.shipped():
            continue
        try:
            yield packs.load(name)
        except TrainkitError:
            continue  # as above
    public = {packs.load(name).digest for name in packs.shipped()}
    public |= {digest for digest, path in assessment.earlier().items() if path.name.startswith(_SHIPPED)}
    for path in sorted(course.folder.glob(f"forms/*/attempt-*/{PACK_COPY}")):
        pack = packs.load_accepted(path)
        if pack.digest not in public:
            yield pack


def lay(own: PracticePack | None, home: Path) -> None:
    """Lay the pack beside the notebook of a module's source folder, or take an earlier one away."""
    path = home / packs.PACK_FILE
    if own is not None:
        write_atomically(path, own.content)
    else:
        path.unlink(missing_ok=True)


def without_questions(blueprint: Blueprint, pack: Pack) -> tuple[str, ...]:
    """Return the skills of a module that nothing can be asked about on an engine, in words."""
    return tuple(skill.name for skill in blueprint.skills if not any(_asks(name, pack) for name in skill.templates))


def _asks(template: str, pack: Pack) -> bool:
    for number in range(_TRIES):
        try:
            find(template).draw(random.Random(number), pack)  # noqa: S311 - whether it can be drawn; nothing is kept
        except ItemError:
            return False
        except DrawFault:
            continue  # another draw may do
        return True
    return False
