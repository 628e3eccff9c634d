"""Modules: one workbook's worth each, described by a blueprint in ``module.toml``.

A module lives in a folder of its own name under ``workbooks/``: the blueprint and the authored notebook. From a
checkout or an editable install they are found through the link ``trainkit/_workbooks``, from a wheel in the folder
that the link became; a checkout on a system without links is found by its layout.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, ValidationInfo, model_validator

from trainkit.errors import ItemError, ModuleError
from trainkit.items.misconceptions import all_misconceptions
from trainkit.items.template import find
from trainkit.packs.findings import shorten
from trainkit.sentences import NEWER, newer_format

__all__ = ["Blueprint", "Module", "PlannedItem", "Skill", "folder", "load", "load_accepted", "names"]

FORMAT = 1
# Says that a blueprint was accepted before: a later release may lack a template or a misconception that it names.
_ACCEPTED = "accepted"
# What a module builds on comes before it.
_TAUGHT = ("torque-units", "tightening", "turning-direction", "lock-pin", "lash-and-timing", "sequence", "capstone")


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Skill(_Entry):
    """One thing to be able to do: an identifier, its words and the templates that practise it."""

    id: str
    name: str
    templates: tuple[str, ...]


class PlannedItem(_Entry):
    """One item of the assessment: where it comes from, what it is worth, and what a wrong answer should show.

    ``shows`` names misconceptions and is a wish: of those that the pack can show, every draw can show every one, so
    that each form gives each apprentice the same chances to show them. The others are left out, and told of.
    """

    id: Annotated[str, Field(pattern=r"^[A-Z][0-9]{1,2}$")]
    template: str
    points: Annotated[float, Field(gt=0, le=20)] = 1.0
    critical: bool = False
    shows: tuple[str, ...] = ()


class Blueprint(_Entry):
    """A module as its ``module.toml`` states it.

    ``cut_score`` is the percentage from which the module counts as passed, as long as no critical error stands;
    ``minutes`` the time it is meant to take. ``pack`` is the engine that is explained and practised on.
    ``assessed_on`` names the pack that the assessment is drawn from, where that is another one: a pack that the
    course side knows, and that apprentices need not have. Empty, it is ``pack`` too.
    """

    format: Literal[1]
    module: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$")]
    title: str
    pack: str
    assessed_on: Annotated[str, Field(pattern=r"^([a-z][a-z0-9-]*)?$")] = ""
    minutes: Annotated[int, Field(ge=1, le=240)]
    cut_score: Annotated[float, Field(ge=0, le=100)]
    objectives: Annotated[tuple[str, ...], Field(min_length=1)]
    skills: Annotated[tuple[Skill, ...], Field(min_length=1)]
    items: Annotated[tuple[PlannedItem, ...], Field(min_length=1, max_length=12)]

    @model_validator(mode="after")
    def _consistent(self, info: ValidationInfo) -> Blueprint:
        if info.context == _ACCEPTED:
            return self
        for what, ids in (("skill", [s.id for s in self.skills]), ("item", [i.id for i in self.items])):
            twice = sorted({name for name in ids if ids.count(name) > 1})
            if twice:
                raise ValueError(f"the {what} {twice[0]!r} stands there twice")
        for name in (*(t for s in self.skills for t in s.templates), *(i.template for i in self.items)):
            try:
                find(name)
            except ItemError as error:
                raise ValueError(str(error)) from None
        unknown = sorted({code for item in self.items for code in item.shows} - set(all_misconceptions()))
        if unknown:
            raise ValueError(f"the catalogue has no misconception {unknown[0]!r}")
        return self

    @property
    def points(self) -> float:
        """Sum of the points of all items."""
        return sum(item.points for item in self.items)

    def skill(self, name: str) -> Skill:
        """Return the skill with this identifier.

        Raises
        ------
        ModuleError
            If the module has none.
        """
        for skill in self.skills:
            if skill.id == name:
                return skill
        raise ModuleError(
            name,
            rule=f"{self.title} has the skills {', '.join(s.id for s in self.skills)}.",
            remedy="Name one.",
        )


class Module(_Entry):
    """A module on disk: its folder, its blueprint and its authored notebook."""

    folder: Path
    blueprint: Blueprint

    @property
    def notebook(self) -> Path:
        """Path of the authored notebook."""
        return self.folder / f"{self.blueprint.module}.ipynb"


def folder() -> Path:
    """Return the folder that holds the modules.

    Raises
    ------
    ModuleError
        If this installation has none.
    """
    here = Path(__file__).resolve().parent
    for candidate in (here / "_workbooks", here.parent / "workbooks"):
        # On a system without links a checkout holds a text file in the link's place.
        if candidate.is_dir():
            return candidate
    raise ModuleError(str(here), rule="The workbooks come with the package.", remedy="Install the package again.")


def names() -> tuple[str, ...]:
    """Return the names of the modules that come with the package, in the order in which they are taught.

    Examples
    --------
    >>> names()[0], names()[-1]
    ('torque-units', 'capstone')
    """
    found = {path.parent.name for path in folder().glob("*/module.toml")}
    return (*(name for name in _TAUGHT if name in found), *sorted(found - set(_TAUGHT)))


def load_accepted(path: Path) -> Blueprint:
    """Load a blueprint that was accepted before, such as the copy that a course keeps of it.

    It may name a template or a misconception that this release does not know: what was drawn is marked all the same.

    Raises
    ------
    ModuleError
        If there is none, or it cannot be read.

    Examples
    --------
    >>> load_accepted(folder() / "lock-pin" / "module.toml") == load("lock-pin").blueprint
    True
    """
    return _blueprint(path, _ACCEPTED)


def load(name: str | Path) -> Module:
    """Load a module by its name, or from a folder of one's own.

    Raises
    ------
    ModuleError
        If there is none, or its blueprint cannot be used: all that is wrong with it at once.

    Examples
    --------
    >>> load("lock-pin").blueprint.module
    'lock-pin'
    """
    home = name if isinstance(name, Path) else folder() / name
    path = home / "module.toml"
    if not isinstance(name, Path) and name not in names():
        raise ModuleError(name, rule=f"The modules are {', '.join(names())}.", remedy="Name one of them.")
    blueprint = _blueprint(path)
    if blueprint.module != home.name:
        raise ModuleError(
            blueprint.module,
            place=str(path),
            rule=f"A module is named like its folder, {home.name}.",
            remedy="Rename one.",
        )
    return Module(folder=home, blueprint=blueprint)


def _blueprint(path: Path, context: str = "") -> Blueprint:
    try:
        data = tomllib.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        raise ModuleError(str(path), rule="A module has a module.toml.", remedy="Create it.") from None
    except UnicodeDecodeError:
        raise ModuleError(str(path), rule="A blueprint is text in UTF-8.", remedy="Save it again as UTF-8.") from None
    except tomllib.TOMLDecodeError as error:
        raise ModuleError(str(path), rule=f"A blueprint is TOML: {error}.", remedy="Mend it.") from None
    try:
        return Blueprint.model_validate(data, context=context)
    except ValidationError as error:
        errors = error.errors(include_url=False)
        newer = newer_format(errors)
        if newer:
            raise ModuleError(str(path), rule=newer, remedy=NEWER) from None
        keys = (".".join(str(part) for part in found["loc"]) or "module" for found in errors)
        wrong = "; ".join(
            f"{key} = {shorten(found['input'], 60)}: {found['msg']}" for key, found in zip(keys, errors, strict=True)
        )
        raise ModuleError(
            blueprint_name(data),
            place=str(path),
            rule=f"The blueprint cannot be used: {wrong}.",
            remedy="Mend these.",
        ) from None


def blueprint_name(data: dict[str, object]) -> object:
    """Return what the blueprint calls its module, whatever that is."""
    return data.get("module", "module.toml")
