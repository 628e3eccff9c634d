"""The pack's file: written anew, or changed in place so that its comments stay."""

from __future__ import annotations

import tomllib
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trainkit.packs.schema import Document

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class Rewritten:
    """A changed file, and the comments that did not stay."""

    text: str
    lost: tuple[str, ...]


def fresh(data: Mapping[str, Any], *comments: str) -> str:
    """Write a pack's file.

    Examples
    --------
    >>> print(fresh({"format": 1, "gears": [{"id": "crank"}]}, "Made by hand."))
    # Made by hand.
    <BLANKLINE>
    format = 1
    <BLANKLINE>
    [[gears]]
    id = "crank"
    <BLANKLINE>
    """
    import tomlkit

    document = tomlkit.document()
    for comment in comments:
        document.add(tomlkit.comment(comment))
    if comments:
        document.add(tomlkit.nl())
    # Plain keys stand before tables, or they would belong to them; the rest as the class of a pack has it.
    order = [field.alias or name for name, field in Document.model_fields.items()]
    for key in sorted(data, key=lambda key: (_is_table(data[key]), order.index(key))):
        value = data[key]
        document.add(
            key,
            tomlkit.item(
                list(map(_written, value)) if _is_table(value) and value and isinstance(value, list) else value
            ),
        )
    text = tomlkit.dumps(document)
    while "\n\n\n" in text:
        text = text.replace("\n\n\n", "\n\n")
    return text


def _is_table(value: Any) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))


def rewritten(old: str, data: Mapping[str, Any], *comments: str) -> Rewritten:
    r"""Change a pack's file to new values, and leave all lines of it that can stay.

    Parameters
    ----------
    old : str
        The file as it stands; empty where there is none.
    data : mapping
        The values that it shall hold.
    comments : str
        What opens it where it has to be written anew.

    Examples
    --------
    >>> rewritten("teeth = 42 # counted\nname = 'x'\n", {"teeth": 43, "name": "x"}).text
    "teeth = 43 # counted\nname = 'x'\n"
    """
    text = _changed(old, data) if old.strip() else None
    # A library that edits text in place is believed only where the result reads as what it should hold.
    try:
        right = text is not None and tomllib.loads(text) == data
    except tomllib.TOMLDecodeError:
        right = False
    if text is None or not right:
        text = fresh(data, *comments)
    kept = Counter(_comments(text))
    lost = []
    for comment in _comments(old):
        kept[comment] -= 1
        if kept[comment] < 0:
            lost.append(comment)
    return Rewritten(text, tuple(lost))


def _comments(text: str) -> list[str]:
    """Return what stands behind number signs, those inside of texts aside."""
    found = []
    for line in text.split("\n"):
        quote = ""
        for place, letter in enumerate(line):
            if quote:
                if letter == quote and not (quote == '"' and _escaped(line, place)):
                    quote = ""
            elif letter in "\"'":
                quote = letter
            elif letter == "#":
                found.append(line[place:].strip())
                break
    return found


def _escaped(line: str, place: int) -> bool:
    count = 0
    while place > count and line[place - 1 - count] == "\\":
        count += 1
    return count % 2 == 1


def _changed(old: str, data: Mapping[str, Any]) -> str | None:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(old)
        _into(document, data)
        return tomlkit.dumps(document)
    except (TOMLKitError, KeyError, ValueError, IndexError, TypeError, AttributeError, RecursionError):
        return None  # it is written anew


def _into(table: Any, data: Mapping[str, Any]) -> None:
    """Give a table new values, touching only those that differ."""
    from tomlkit.items import AoT

    for key in [key for key in table if key not in data]:
        del table[key]
    for key, value in data.items():
        if key not in table:
            table[key] = value
        elif isinstance(value, dict) and isinstance(table[key], dict):
            _into(table[key], value)
        elif isinstance(table[key], AoT) and isinstance(value, list) and _is_table(value):
            _entries(table[key], value)
        elif _plain(table.item(key)) != value or type(_plain(table.item(key))) is not type(value):
            was = table.item(key)
            table[key] = value
            # A comment behind a value says more often what it is than how much.
            table.item(key).trivia.comment_ws, table.item(key).trivia.comment = (
                was.trivia.comment_ws,
                was.trivia.comment,
            )


def _plain(item: Any) -> Any:
    return item.unwrap() if hasattr(item, "unwrap") else item


def _entries(tables: Any, entries: list[dict[str, Any]]) -> None:
    """Give a list of tables new entries; those of the same name keep their place in the file."""
    import tomlkit

    # What stands behind the last entry is mostly about what follows, so it stays behind the last one.
    end = _end(tables[len(tables) - 1])
    tail = _cut(end)
    loose = [end]
    names = [_name(entry) for entry in entries]
    for place in reversed(range(len(tables))):
        if _name(tables[place]) not in names:
            del tables[place]
    for place, entry in enumerate(entries):
        if place < len(tables) and _name(tables[place]) == names[place]:
            _into(tables[place], entry)
        else:
            tables.insert(place, tomlkit.item(_written(entry)))
            loose.append(_end(tables[place]))
    while len(tables) > len(entries):
        del tables[len(tables) - 1]
    last = _end(tables[len(tables) - 1])
    for body in loose:
        if body is not last:
            body.append((None, tomlkit.nl()))
    last.extend(tail)


def _end(table: Any) -> list[Any]:
    """Return the body in which a table ends: its own, or that of the last table inside of it."""
    from tomlkit.items import AoT, Table

    body: list[Any] = table.value.body
    inside = next((item for key, item in reversed(body) if key is not None), None)
    if isinstance(inside, AoT) and len(inside):
        return _end(inside[len(inside) - 1])
    return _end(inside) if isinstance(inside, Table) else body


def _cut(body: list[Any]) -> list[Any]:
    """Take comments and empty lines off the end of a body."""
    tail: list[Any] = []
    while body and body[-1][0] is None:
        tail.insert(0, body.pop())
    return tail


def _written(value: Any) -> Any:
    """Return an entry with the tables inside of it on one line each, as people write them."""
    import tomlkit

    made: dict[str, Any] = {}
    for key, each in value.items():
        if isinstance(each, dict):
            made[key] = tomlkit.inline_table()
            made[key].update(each)
        else:
            made[key] = each
    return made


def _name(entry: Mapping[str, Any]) -> tuple[Any, ...]:
    """Return what tells an entry from the others of its table."""
    keys = (
        ("id",) if "id" in entry else ("before", "after") if "before" in entry else ("driver", "driven", "kind", "name")
    )
    return tuple(str(entry.get(key, "")) for key in keys)
