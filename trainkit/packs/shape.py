"""From TOML text to a document: everything that is wrong with the text or its shape, at once."""

from __future__ import annotations

import difflib
import re
import tomllib
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ValidationError, create_model

from trainkit.packs.base import PackModel
from trainkit.packs.findings import PackFinding, Path, key_of, shorten
from trainkit.packs.places import Places
from trainkit.packs.schema import Document

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

__all__ = ["LARGEST", "decode", "read"]

LARGEST = 2_000_000  # bytes; the largest pack anyone has a use for is a tenth of it

_DEEPEST = 30  # levels; a pack needs five


def decode(content: bytes, file: str) -> tuple[str, tuple[PackFinding, ...]]:
    """Return the text of a pack's bytes, or what is wrong with them."""
    if len(content) > LARGEST:
        return "", (
            PackFinding(
                "file-too-large",
                "refuse",
                file,
                0,
                "",
                f"{len(content)} bytes",
                f"A pack has at most {LARGEST} bytes.",
                "Check that this is a pack.",
            ),
        )
    try:
        # Some editors put a byte-order mark in front, which TOML does not know.
        return content.decode("utf-8-sig").replace("\r\n", "\n"), ()
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        return "", (
            PackFinding(
                "text-not-utf8",
                "refuse",
                file,
                line,
                "",
                f"byte {content[error.start]:#04x}",
                "A pack is UTF-8 text.",
                "Save the file again with the encoding UTF-8.",
            ),
        )


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
        found = PackFinding(
            "text-not-toml",
            "refuse",
            file,
            1,
            "",
            type(error).__name__,
            "A pack is a TOML file with sensible numbers and little nesting.",
            "Take out what is nested too deeply or written with too many digits.",
        )
        return frozenset(), None, (found,)
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
    found = [
        PackFinding(
            "text-not-toml",
            "refuse",
            file,
            line,
            "",
            shorten(lines[line - 1].strip()) if line <= len(lines) else "",
            f"A pack is a TOML file ({said}).",
            "Mend this line; text stands in double quotes, one key a line.",
        )
    ]
    found += [
        PackFinding(
            "text-not-toml",
            "refuse",
            file,
            other,
            "",
            shorten(lines[other - 1].strip()) if other <= len(lines) else "",
            "A pack is a TOML file, and this line is not.",
            "Mend this line; text stands in double quotes, one key a line.",
        )
        for other in places.faults()
        if other != line
    ]
    return tuple(sorted(found, key=lambda each: each.line))


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


def _finding(error: ErrorDetails, file: str, places: Places) -> PackFinding:
    path: Path = tuple(error["loc"])
    key, sort, context = shorten(key_of(path), 200), error["type"], error.get("ctx", {})
    value, name = shorten(error["input"]), shorten(str(path[-1]), 40) if path else ""
    line = places.line(path)

    def found(code: str, rule: str, remedy: str, value: str = value) -> PackFinding:
        return PackFinding(code, "refuse", file, line, key, value, rule, remedy)

    if sort == "missing":
        if path == ("notice",):
            return found("notice-missing", "A pack says where its values come from.", _NOTICE, "")
        if path == ("hazards",):
            return found("hazards-missing", "A pack opens with its cautions.", _HAZARDS, "")
        if isinstance(path[-1], int):
            return found("key-missing", "The list is too short.", f"Give an entry number {path[-1] + 1}.", "")
        return found("key-missing", f"The key {name} is required here.", f"Add {name} = … to this table.", "")
    if sort == "too_short" and path == ("hazards",):
        return found("hazards-missing", "A pack opens with its cautions.", _HAZARDS, "")
    if sort == "extra_forbidden":
        return found("key-unknown", f"No key {name} is known here.", _suggest(path))
    if sort == "literal_error":
        allowed = str(context.get("expected", ""))
        if path == ("format",):
            return found("format-unknown", f"This program reads format {allowed}.", f"Write format = {allowed}.")
        return found("value-not-allowed", f"The value is one of {allowed}.", "Write one of them.")
    if sort in _TYPES:
        wanted = _TYPES[sort]
        return found("value-wrong-type", f"The value is {wanted}.", f"Write {wanted}.")
    if sort in ("greater_than", "greater_than_equal", "less_than", "less_than_equal", "finite_number"):
        return found("value-out-of-range", f"{_sentence(error['msg'])}", "Check the value and its unit.")
    if sort in ("too_short", "too_long", "string_too_short", "string_too_long"):
        bound = "at least" if sort.endswith("short") else "at most"
        count = context.get("min_length" if sort.endswith("short") else "max_length", 1)
        what = "character" if sort.startswith("string") else "entry" if count == 1 else "entries"
        what += "s" if what == "character" and count != 1 else ""
        thing = "text" if sort.startswith("string") else "list"
        return found("value-wrong-length", f"This {thing} has {bound} {count} {what}.", "Shorten or complete it.")
    if sort == "string_pattern_mismatch":
        pattern = str(context.get("pattern", ""))
        if pattern.startswith(r"^\d"):
            return found("clock-unreadable", "A clock position is hours and minutes.", 'Write it as "2:10".')
        if pattern.startswith("^[a-z0-9]"):
            return found(
                "identifier-unreadable",
                "An identifier is small letters a to z, digits and hyphens.",
                'Write it as "drive-gear-screws".',
            )
        return found("text-unprintable", "A text has no control characters.", "Delete them.")
    return found("value-not-allowed", _sentence(error["msg"]), "Check the entry against a shipped pack.")


_NOTICE = 'Add [notice] with values = "invented", or values = "manual" with manual and edition.'
_HAZARDS = "Add [[hazards]] entries, the usual cautions first; `trainkit new-pack` writes them."


def _sentence(message: str) -> str:
    message = message.replace("Input should", "The value should").replace("Tuple", "The list")
    return message if message.endswith(".") else message + "."


def _suggest(path: Path) -> str:
    known = _known_keys(path)
    near = difflib.get_close_matches(str(path[-1]), known, n=1, cutoff=0.7)
    if near:
        return f"Did you mean {near[0]}? Otherwise delete it."
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
