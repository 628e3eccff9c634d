"""From TOML text to a document: everything that is wrong with the text or its shape, at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NamedTuple

from pydantic import BaseModel, ValidationError, create_model

from trainkit.packs.base import PackModel
from trainkit.packs.findings import PackFinding, Path, key_of, shorten
from trainkit.packs.near import meant
from trainkit.packs.places import Places
from trainkit.packs.schema import Document
from trainkit.sentences import NEWER, newer_format

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails


LARGEST = 2_000_000  # bytes; the largest pack anyone has a use for is a tenth of it

_DEEPEST = 30  # levels; a pack needs five


def _refused(code: str, file: str, line: int, value: str, rule: str, remedy: str) -> PackFinding:
    return PackFinding(code, "refuse", file, line, "", value, rule, remedy)


def decode(content: bytes, file: str) -> tuple[str, tuple[PackFinding, ...]]:
    """Return the text of a pack's bytes, or what is wrong with them."""
    if len(content) > LARGEST:
        rule, remedy = f"A pack has at most {LARGEST} bytes.", "Check that this is a pack."
        return "", (_refused("file-too-large", file, 0, f"{len(content)} bytes", rule, remedy),)
    try:
        # Some editors put a byte-order mark in front, which TOML does not know.
        return content.decode("utf-8-sig").replace("\r\n", "\n"), ()
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        rule, remedy = "A pack is UTF-8 text.", "Save the file again with the encoding UTF-8."
        return "", (_refused("text-not-utf8", file, line, f"byte {content[error.start]:#04x}", rule, remedy),)


def read(text: str, file: str, places: Places) -> tuple[frozenset[str], dict[str, Any] | None, tuple[PackFinding, ...]]:
    """Return the sections that are in shape, their values by field, and what is wrong with the others.

    The values are None where the text is no TOML, or a TOML of another format.
    """
    try:
        data = _frozen(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        return frozenset(), None, _not_toml(str(error), text, file, places)
    except (RecursionError, ValueError, OverflowError) as error:
        # Numbers of absurd length and nesting of absurd depth: Python refuses them in its own words.
        rule = "A pack is a TOML file with sensible numbers and little nesting."
        remedy = "Take out what is nested too deeply or written with too many digits."
        return frozenset(), None, (_refused("text-not-toml", file, 1, type(error).__name__, rule, remedy),)
    findings: list[PackFinding] = []
    sections = frozenset(field.alias or name for name, field in Document.model_fields.items())
    values, errors = _validated(Document, data)
    if errors:
        findings = [_finding(error, file, places) for error in errors]
        if other := [finding for finding in findings if finding.code == "format-unknown"]:
            return frozenset(), None, tuple(other)
        sections -= {str(error["loc"][0]) for error in errors if error["loc"]}
        # What is in shape is judged all the same, so that everything is found at once.
        fields: dict[str, Any] = {
            name: (field.annotation, field)
            for name, field in Document.model_fields.items()
            if (field.alias or name) in sections
        }
        part = create_model("Part", __base__=PackModel, **fields)
        values, _ = _validated(part, {key: value for key, value in data.items() if key in sections})
    return sections, values, tuple(findings)


def _validated(model: type[BaseModel], data: dict[str, Any]) -> tuple[dict[str, Any], list[ErrorDetails]]:
    try:
        made = model.model_validate(data)
    except ValidationError as error:
        return {}, error.errors(include_url=False)
    return {name: getattr(made, name) for name in model.model_fields}, []


def _frozen(value: Any, depth: int = 0) -> Any:
    """Turn lists into tuples, so that the strict rules of types apply to what is inside them."""
    if depth > _DEEPEST:
        raise RecursionError
    if isinstance(value, list):
        return tuple(_frozen(each, depth + 1) for each in value)
    if isinstance(value, dict):
        return {key: _frozen(each, depth + 1) for key, each in value.items()}
    return value


def _not_toml(message: str, text: str, file: str, places: Places) -> tuple[PackFinding, ...]:
    where = re.search(r"\(at line (\d+), column (\d+)\)", message)
    line = int(where[1]) if where else max(text.count("\n"), 1)
    said = message[: where.start()].strip() if where else message.replace("(at end of document)", "").strip()
    lines = text.split("\n")
    rules = dict.fromkeys(places.faults(), "A pack is a TOML file, and this line is not.")
    rules[line] = f"A pack is a TOML file ({said})."
    met = {at: shorten(lines[at - 1].strip()) if at <= len(lines) else "" for at in rules}
    remedy = "Mend this line; text stands in double quotes, one key a line."
    return tuple(_refused("text-not-toml", file, at, met[at], rule, remedy) for at, rule in sorted(rules.items()))


_TYPES = {
    "string_type": "a text in double quotes",
    "int_type": "a whole number without quotes",
    "float_type": "a number without quotes",
    "bool_type": "true or false, without quotes",
    "tuple_type": "a list in square brackets",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
}


class _Told(NamedTuple):
    """A code with its rule and remedy, and whether there is a value to show."""

    code: str
    rule: str
    remedy: str
    has_value: bool = True


def _finding(error: ErrorDetails, file: str, places: Places) -> PackFinding:
    path: Path = tuple(error["loc"])
    told = _SORTS.get(error["type"], _other)(error, path)
    value = shorten(error["input"]) if told.has_value else ""
    key = shorten(key_of(path), 200)
    return PackFinding(told.code, "refuse", file, places.line(path), key, value, told.rule, told.remedy)


def _missing(_: ErrorDetails, path: Path) -> _Told:
    if path == ("notice",):
        return _Told("notice-missing", "A pack says where its values come from.", _NOTICE, has_value=False)
    if path == ("hazards",):
        return _Told("hazards-missing", "A pack opens with its cautions.", _HAZARDS, has_value=False)
    if isinstance(path[-1], int):
        return _Told("key-missing", "The list is too short.", f"Give an entry number {path[-1] + 1}.", has_value=False)
    name = shorten(str(path[-1]), 40)
    return _Told("key-missing", f"The key {name} is required here.", f"Add {name} = … to this table.", has_value=False)


def _unknown(_: ErrorDetails, path: Path) -> _Told:
    return _Told("key-unknown", f"No key {shorten(str(path[-1]), 40)} is known here.", _suggest(path))


def _not_one_of(error: ErrorDetails, path: Path) -> _Told:
    allowed = str(error.get("ctx", {}).get("expected", ""))
    if path == ("format",):
        newer = newer_format([{**error}])
        if newer:
            return _Told("format-unknown", newer, NEWER)
        return _Told("format-unknown", f"This program reads format {allowed}.", f"Write format = {allowed}.")
    return _Told("value-not-allowed", f"The value is one of {allowed}.", "Write one of them.")


def _wrong_type(error: ErrorDetails, _: Path) -> _Told:
    wanted = _TYPES[error["type"]]
    return _Told("value-wrong-type", f"The value is {wanted}.", f"Write {wanted}.")


def _out_of_range(error: ErrorDetails, _: Path) -> _Told:
    return _Told("value-out-of-range", _sentence(error["msg"]), "Check the value and its unit.")


def _wrong_length(error: ErrorDetails, path: Path) -> _Told:
    sort = error["type"]
    if sort == "too_short" and path == ("hazards",):
        return _missing(error, path)
    bound, least_or_most = ("at least", "min_length") if sort.endswith("short") else ("at most", "max_length")
    count = error.get("ctx", {}).get(least_or_most, 1)
    thing, one, many = ("text", "character", "characters") if "string" in sort else ("list", "entry", "entries")
    rule = f"This {thing} has {bound} {count} {one if count == 1 else many}."
    return _Told("value-wrong-length", rule, "Shorten or complete it.")


def _wrong_pattern(error: ErrorDetails, _: Path) -> _Told:
    pattern = str(error.get("ctx", {}).get("pattern", ""))
    if pattern.startswith(r"^\d"):
        return _Told("clock-unreadable", "A clock position is hours and minutes.", 'Write it as "2:10".')
    if pattern.startswith("^(|to the mark"):
        rule = "How far the engine is turned is: to the mark, a number of degrees, or a number of turns."
        return _Told("value-not-allowed", rule, 'Write "to the mark", "90 degrees" or "2 turns".')
    if pattern.startswith("^[a-z0-9]"):
        rule = "An identifier is small letters a to z, digits and hyphens."
        return _Told("identifier-unreadable", rule, 'Write it as "drive-gear-screws".')
    return _Told("text-unprintable", "A text has no control characters.", "Delete them.")


def _other(error: ErrorDetails, _: Path) -> _Told:
    return _Told("value-not-allowed", _sentence(error["msg"]), "Check the entry against a shipped pack.")


# What to say of each sort of error that pydantic finds.
_SORTS: dict[str, Callable[[ErrorDetails, Path], _Told]] = {
    "missing": _missing,
    "extra_forbidden": _unknown,
    "literal_error": _not_one_of,
    **dict.fromkeys(_TYPES, _wrong_type),
    **dict.fromkeys(("greater_than", "greater_than_equal", "less_than", "less_than_equal"), _out_of_range),
    "finite_number": _out_of_range,
    **dict.fromkeys(("too_short", "too_long", "string_too_short", "string_too_long"), _wrong_length),
    "string_pattern_mismatch": _wrong_pattern,
}
_NOTICE = 'Add [notice] with values = "invented", or values = "manual" with manual and edition.'
_HAZARDS = "Add [[hazards]] entries, the usual cautions first; `trainkit new-pack` writes them."


def _sentence(message: str) -> str:
    message = message.replace("Input should", "The value should").replace("Tuple", "The list")
    return message if message.endswith(".") else message + "."


def _suggest(path: Path) -> str:
    known = _known_keys(path)
    if near := meant(str(path[-1]), known, cutoff=0.7):
        return f"Did you mean {near}? Otherwise delete it."
    return f"Delete it; the keys here are {', '.join(known)}." if known else "Delete it."


def _known_keys(path: Path) -> list[str]:
    """Return the keys of the table that a path's last key stands in."""
    model: type[BaseModel] | None = Document
    for part in path[:-1]:
        if isinstance(part, int) or model is None:
            continue
        field = next((each for name, each in model.model_fields.items() if (each.alias or name) == part), None)
        model = _model_in(field.annotation) if field is not None else None
    return [each.alias or name for name, each in model.model_fields.items()] if model else []


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in getattr(annotation, "__args__", ()):
        if (found := _model_in(inner)) is not None:
            return found
    return None
