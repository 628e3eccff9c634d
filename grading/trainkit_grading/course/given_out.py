"""What forms were drawn from, kept by the course itself: a copy of pack and blueprint for each attempt at a module.

The copies are written when forms are drawn. Until one of them is given out, drawing again writes them anew, so a pack
can still be edited. From then on they stay: whoever joins late, marking, reports and paper use them, and neither an
edit of the pack nor an upgrade changes what was given out. The next attempt takes pack and blueprint as they are then.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import tomlkit

from trainkit import modules, packs
from trainkit.errors import TrainkitError
from trainkit_grading.course import packs as own_packs
from trainkit_grading.course.folder import MODULE_COPY, PACK_COPY
from trainkit_grading.support.files import write_atomically

if TYPE_CHECKING:
    from trainkit.modules import Blueprint, PlannedItem
    from trainkit.packs import Pack
    from trainkit_grading.course.folder import Course, CourseModule


@dataclass(frozen=True, slots=True)
class Origin:
    """What the forms of an attempt are drawn from.

    Parameters
    ----------
    blueprint : Blueprint
        What a form consists of.
    pack : Pack
        What it is about.
    blueprint_content, pack_content : bytes
        The same as they are kept.
    """

    blueprint: Blueprint
    pack: Pack
    blueprint_content: bytes
    pack_content: bytes

    def same_as(self, other: Origin) -> bool:
        """Tell whether forms come out the same from both."""
        return self.pack.digest == other.pack.digest and self.blueprint.items == other.blueprint.items


def present(course: Course, entry: CourseModule) -> Origin:
    """Return pack and blueprint of a module as they are now.

    Raises
    ------
    ModuleError, PackError
        If one of them cannot be used.
    """
    module = course.present_workbook(entry)
    where = course.pack_of(entry, module.blueprint)
    content, _ = packs.bytes_of(where)
    return Origin(module.blueprint, packs.load(where), (module.folder / MODULE_COPY).read_bytes(), content)


def kept(course: Course, entry: CourseModule) -> Origin | None:
    """Return the copies of the current attempt, or None where there are none.

    Raises
    ------
    ModuleError, PackError
        If one of them cannot be used.
    """
    home = course.given_folder(entry.name, entry.attempt)
    blueprint, pack = home / MODULE_COPY, home / PACK_COPY
    if not (blueprint.is_file() and pack.is_file()):
        return None
    return Origin(
        modules.load_accepted(blueprint), packs.load_accepted(pack), blueprint.read_bytes(), pack.read_bytes()
    )


def found_again(course: Course, entry: CourseModule, plan: tuple[PlannedItem, ...], pack_digest: str) -> Origin | None:
    """Return what forms without copies were drawn from, or None where it is not at hand any more.

    An earlier release kept no copies. What comes with trainkit may have changed with the release: its packs are kept
    in their earlier editions, and its blueprints follow from the plan that stands with the keys.

    Parameters
    ----------
    course : Course
        The course.
    entry : CourseModule
        The module.
    plan : tuple of PlannedItem
        The items as they were drawn.
    pack_digest : str
        SHA-256 of the pack.
    """
    module = course.present_workbook(entry)
    content = (module.folder / MODULE_COPY).read_bytes()
    blueprint = module.blueprint
    if blueprint.items != plan:
        if entry.folder:
            return None
        said = tomlkit.parse(content.decode())
        said["items"] = [item.model_dump(mode="json") for item in plan]
        content, blueprint = tomlkit.dumps(said).encode(), blueprint.model_copy(update={"items": plan})
    found = _pack_of(course, entry, module.blueprint, pack_digest)
    return None if found is None else Origin(blueprint, found[0], content, found[1])


def _pack_of(course: Course, entry: CourseModule, blueprint: Blueprint, digest: str) -> tuple[Pack, bytes] | None:
    try:
        where = course.pack_of(entry, blueprint)
        pack = packs.load(where)
    except TrainkitError:
        pass  # what it is now does not matter where its earlier edition is at hand
    else:
        if pack.digest == digest:
            return pack, packs.bytes_of(where)[0]
    path = own_packs.earlier().get(digest)
    return None if path is None else (packs.load_accepted(path), path.read_bytes())


def keep(course: Course, entry: CourseModule, origin: Origin) -> bool:
    """Write the copies of an attempt, and tell whether that changed anything."""
    home = course.given_folder(entry.name, entry.attempt)
    home.mkdir(parents=True, exist_ok=True)
    changed = write_atomically(home / PACK_COPY, origin.pack_content)
    return write_atomically(home / MODULE_COPY, origin.blueprint_content) or changed
