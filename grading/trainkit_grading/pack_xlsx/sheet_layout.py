"""The sheets of a pack and their columns, taken from the classes of its tables."""

from __future__ import annotations

import types
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from trainkit.packs.base import ClockText, Id
from trainkit.packs.fastening import STAGE_MEANINGS
from trainkit.packs.schema import Document
from trainkit_grading.pack_xlsx.headings import MARKED, OWNERS, REFERS, SHAFTS, STAGE_NAMES, help_of, title_of

# ``text`` is kept letter by letter; spaces around a ``name`` or a ``clock`` mean nothing.
# ``names``, ``wholes`` and ``numbers`` are lists in one cell.
Kind = Literal["text", "name", "clock", "choice", "flag", "whole", "number", "names", "wholes", "numbers"]


@dataclass(frozen=True, slots=True)
class PackColumn:
    """One column of a sheet, or one row of a sheet that stands upright.

    Parameters
    ----------
    path : tuple of str and int
        Where the value goes inside its entry: ``("teeth",)``, or ``("torque", 1)`` for the second of a pair.
    kind : str
        What its cells hold.
    title, help : str
        Its heading, with the unit, and what it holds.
    required : bool
        Whether an entry cannot do without it.
    choices : tuple of str
        The words that a ``choice`` is one of.
    refers : str
        Sheet whose identifiers it names; empty where it names none.
    marked : bool
        Whether it says what can hurt the engine or a person.
    open : bool
        Whether other words than the choices may stand there too.
    """

    path: tuple[str | int, ...]
    kind: Kind
    title: str
    help: str = ""
    required: bool = False
    choices: tuple[str, ...] = ()
    refers: str = ""
    marked: bool = False
    open: bool = False


@dataclass(frozen=True, slots=True)
class PackSheet:
    """One sheet.

    Parameters
    ----------
    sheet : str
        Its name.
    path : tuple of str
        The table in the pack: ``("gears",)``, ``("fasteners", "stages")``, or nothing for the keys at the top.
    upright : bool
        Whether it holds one entry, with a row for each key.
    columns : tuple of PackColumn
        Its columns. Where ``path`` has two parts, the first names whose entries they are.

    Examples
    --------
    >>> [table.sheet for table in pack_sheets() if table.upright]
    ['pack', 'notice', 'engine', 'barring', 'lock_pin']
    """

    sheet: str
    path: tuple[str, ...]
    upright: bool
    columns: tuple[PackColumn, ...]


@cache
def pack_sheets() -> tuple[PackSheet, ...]:
    """Return all sheets in the order in which they stand: the cautions first."""
    top: list[PackColumn] = []
    found: list[PackSheet] = []
    for name, field in Document.model_fields.items():
        key = field.alias or name
        kind, inner = _kind(field.annotation, field)
        if kind == "table":
            found.append(PackSheet(key, (key,), True, _columns(key, inner)))
        elif kind == "tables":
            found.append(PackSheet(key, (key,), False, _columns(key, inner)))
            found += [
                _child(key, inside, each) for inside, each in inner.model_fields.items() if (key, inside) in OWNERS
            ]
        else:
            top += _column("pack", key, field)
    found.insert(0, PackSheet("pack", (), True, tuple(top)))
    return tuple(sorted(found, key=lambda table: table.sheet != "hazards"))


def _columns(sheet: str, model: type[BaseModel]) -> tuple[PackColumn, ...]:
    fields = [
        (field.alias or name, field)
        for name, field in model.model_fields.items()
        if (sheet, field.alias or name) not in OWNERS
    ]
    # What tells entries apart stands first, where a manual prints them last; the classes inherit it the other way.
    fields.sort(key=lambda each: each[0] in ("page", "as_printed"))
    return tuple(column for key, field in fields for column in _column(sheet, key, field, model))


def _column(sheet: str, key: str, field: FieldInfo, model: type[BaseModel] | None = None) -> list[PackColumn]:
    kind, inner = _kind(field.annotation, field)
    told = help_of(sheet, key, model)
    if kind == "pair":
        return [
            PackColumn((key, 0), "text", title_of(sheet, key), told),
            PackColumn((key, 1), "text", title_of(sheet, f"{key}2"), told),
        ]
    refers = REFERS.get((sheet, key), "")
    choices: tuple[str, ...] = inner if kind == "choice" else ()
    if kind == "text" and refers:
        kind = "name"
    if (sheet, key) in SHAFTS:
        choices = ("flywheel",)
    if (sheet, key) in STAGE_NAMES:
        kind, choices = "choice", tuple(STAGE_MEANINGS)
    return [
        PackColumn(
            (key,),
            kind,
            title_of(sheet, key),
            told,
            field.is_required() and kind != "flag",
            choices,
            refers,
            (sheet, key) in MARKED,
            (sheet, key) in STAGE_NAMES,
        )
    ]


def _child(owner: str, key: str, field: FieldInfo) -> PackSheet:
    sheet, names = OWNERS[owner, key]
    first = PackColumn(
        (names,), "name", title_of(sheet, names), help_of(sheet, names), required=True, refers=REFERS[sheet, names]
    )
    kind, inner = _kind(field.annotation, field)
    if kind == "tables":
        rest = _columns(sheet, inner)
    elif kind == "points":
        rest = tuple(
            PackColumn((number,), "number", title_of(sheet, axis), help_of(sheet, axis), required=True)
            for number, axis in enumerate("xy")
        )
    else:
        rest = tuple(
            PackColumn((part,), "name", title_of(sheet, part), help_of(sheet, part), required=True, refers="steps")
            for part in ("without", "instead")
        )
    return PackSheet(sheet, (owner, key), False, (first, *rest))


_SIMPLE: dict[Any, Kind] = {str: "text", int: "whole", float: "number", bool: "flag"}
_LISTS: dict[Any, Kind] = {str: "names", int: "wholes", float: "numbers"}


def _kind(annotation: Any, field: FieldInfo | None = None) -> tuple[Any, Any]:
    """Return what a field holds, and the class or the words inside it."""
    if field is not None and field.metadata:
        annotation = Annotated[(annotation, *field.metadata)]  # pydantic has taken the two apart
    annotation = _without_none(annotation)
    for known, kind in ((Id, "name"), (ClockText, "clock")):
        if _pattern(annotation) and _pattern(annotation) == _pattern(known):
            return kind, None
    while get_origin(annotation) is Annotated:
        annotation = _without_none(get_args(annotation)[0])
    if annotation in _SIMPLE:
        return _SIMPLE[annotation], None
    origin, inside = get_origin(annotation), get_args(annotation)
    if origin is Literal:
        return ("choice", inside) if isinstance(inside[0], str) else ("whole", None)
    if origin is dict:
        return "mapping", None
    if origin is tuple and inside[-1] is not Ellipsis:
        return "pair", None
    if origin is tuple:
        if inside[0] in _LISTS:
            return _LISTS[inside[0]], None
        return ("points", None) if get_origin(inside[0]) is tuple else ("tables", inside[0])
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return "table", annotation
    # A pack has learnt something that its sheets cannot hold yet.
    raise TypeError(f"no column can hold {annotation}")


def _without_none(annotation: Any) -> Any:
    if get_origin(annotation) in (Union, types.UnionType):
        return next(each for each in get_args(annotation) if each is not type(None))
    return annotation


def _pattern(annotation: Any) -> str:
    """Return the pattern that a text has to follow, however deep it stands among what is said about a type."""
    for each in get_args(annotation)[1:] if get_origin(annotation) is Annotated else ():
        for said in (each, *getattr(each, "metadata", ())):
            if pattern := getattr(said, "pattern", None):
                return str(pattern)
    return ""
