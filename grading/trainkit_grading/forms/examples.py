"""Questions that a workbook works itself: nobody is asked them in its assessment."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit import packs
from trainkit.errors import ItemError, TrainkitError
from trainkit.items.asking import asked
from trainkit.items.halfworked import half_worked
from trainkit.items.template import find
from trainkit_grading.course.practice_packs import practice_pack_of

if TYPE_CHECKING:
    from trainkit.modules import Blueprint
    from trainkit.packs import Pack
    from trainkit_grading.course.folder import Course, CourseModule


def worked_in(course: Course, entry: CourseModule, blueprint: Blueprint) -> frozenset[str]:
    """Return what stands for the half-worked examples of a module, on the engine that the course practises on."""
    try:
        own = practice_pack_of(course, entry)
        return half_worked_in(blueprint, own.pack if own is not None else packs.load(blueprint.pack))
    except TrainkitError:
        return frozenset()  # build says what is wrong with the pack; without it nothing is practised


def half_worked_in(blueprint: Blueprint, pack: Pack) -> frozenset[str]:
    """Return what stands for the half-worked example of each skill of a module (:func:`~trainkit.items.asking.asked`).

    A workbook may show that of any skill. Skills without one are left out.

    Examples
    --------
    >>> from trainkit import modules
    >>> len(half_worked_in(modules.load("lock-pin").blueprint, packs.load("dunlin"))) > 0
    True
    """
    found = set()
    for skill in blueprint.skills:
        try:
            found.add(asked(half_worked(skill.id, [find(name) for name in skill.templates], pack).item))
        except ItemError:
            continue
    return frozenset(found)
