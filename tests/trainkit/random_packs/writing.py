"""Plain data as the TOML text of a pack."""

from __future__ import annotations

import json
from typing import Any

Document = dict[str, Any]


def written(document: Document) -> str:
    """Write tables one after another, so that every value has a line of its own."""
    lines: list[str] = []
    _table(document, (), lines)
    return "\n".join(lines).lstrip("\n") + "\n"


def _table(table: Document, path: tuple[str, ...], lines: list[str]) -> None:
    inner = {key: value for key, value in table.items() if _has_tables(value)}
    lines += [f"{key} = {_value(value)}" for key, value in table.items() if key not in inner]
    for key, value in inner.items():
        name = ".".join((*path, key))
        for entry in value if isinstance(value, list) else [value]:
            lines += ["", f"[[{name}]]" if isinstance(value, list) else f"[{name}]"]
            _table(entry, (*path, key), lines)


def _has_tables(value: object) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))


def _value(value: object) -> str:
    # What TOML and JSON write alike: texts, numbers, true and false, lists of them.
    return json.dumps(list(value) if isinstance(value, tuple) else value, ensure_ascii=False)
