"""Items: what is shown, what is right, what was given and what it earned."""

from __future__ import annotations

import importlib

_HOMES = {
    "Item": "item",
    "Key": "key",
    "Mark": "marking",
    "Response": "responses",
    "find": "template",
    "mark": "marking",
    "misconception": "misconceptions",
    "names": "template",
    "no_answer": "marking",
    "read_item": "item",
    "read_key": "key",
    "read_response": "responses",
}

__all__ = [
    "Item",
    "Key",
    "Mark",
    "Response",
    "find",
    "mark",
    "misconception",
    "names",
    "no_answer",
    "read_item",
    "read_key",
    "read_response",
]


def __getattr__(name: str) -> object:
    if name in _HOMES:
        return getattr(importlib.import_module(f"trainkit.items.{_HOMES[name]}"), name)
    raise AttributeError(f"module 'trainkit.items' has no attribute {name!r}")


def __dir__() -> list[str]:
    return list(__all__)
