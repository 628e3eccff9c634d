"""Journals that try something."""

from __future__ import annotations

import gzip
import pickle
from collections.abc import Callable
from typing import Any

from .base import Attack, Given, Scene, chained, theirs, written
from .payloads import SHORT, TEXTS

__all__ = ["JOURNALS"]

Write = Callable[[Scene], bytes]


def _whole(scene: Scene) -> bytes:
    return scene.parts["answers.jsonl"]


def _rows(scene: Scene) -> list[bytes]:
    return _whole(scene).splitlines(keepends=True)


def _each(**changes: Any) -> Write:
    """Every line claims something else."""
    return lambda scene: chained({**line, **changes} for line in scene.lines)


def _and_a_line(**changes: Any) -> Write:
    """An honest journal, and one more line with something in it that no answer has."""
    return lambda scene: _whole(scene) + written([{**scene.lines[0], **changes}])


def _and_raw(line: bytes) -> Write:
    return lambda scene: _whole(scene) + line + b"\n"


def _answered(response: dict[str, Any]) -> Callable[[Scene], Given]:
    return lambda scene: {**scene.honest, scene.lines[0]["item"]: response}


def _response(name: str, tries: str, response: dict[str, Any]) -> Attack:
    def write(scene: Scene) -> bytes:
        return chained([*scene.lines, {**scene.lines[0], "response": response}])

    return Attack(name, tries, write=write, counts=_answered(response))


def _unreadable(name: str, tries: str, write: Write) -> Attack:
    """An attack with lines that cannot be read, which costs no other line."""
    return Attack(name, tries, write=write, flagged="unreadable")


def _no_answer(name: str, tries: str, write: Write, flagged: str = "unreadable") -> Attack:
    """An attack in which no answer can be read."""
    return Attack(name, tries, write=write, counts=lambda _: {}, refused="no readable answer", flagged=flagged)


def _text(name: str) -> dict[str, Any]:
    return {"kind": "text", "text": TEXTS[name]}


def _without_hash(scene: Scene) -> bytes:
    return written({**line, "before": "0123456789abcdef"} for line in scene.lines)


def _dated(*moments: str) -> Write:
    return lambda scene: chained({**line, "at": at} for line, at in zip(scene.lines, moments, strict=True))


def _nul(scene: Scene) -> bytes:
    return b"\0" * 4096 + b"\n" + b"\0\n".join(_rows(scene)) + b"\0" * 4096


def _no_numbers(scene: Scene) -> bytes:
    odd = (float("nan"), float("inf"), float("-inf"))
    return _whole(scene) + written({**scene.lines[0], "response": {"kind": "set", "value": value}} for value in odd)


def _query(scene: Scene) -> bytes:
    names = {"item": "A1'; update grade set auto_score=20; --"[:40], "apprentice": "x'); drop table grade; --"}
    return chained([*scene.lines, {**scene.lines[0], **names}])


def _fields(scene: Scene) -> bytes:
    """Every free string of a line holds something."""
    tag, tiny, name = SHORT
    claims = {"course": name, "module": name, "form": name, "apprentice": name}
    item = scene.lines[0]["item"]
    responses: list[dict[str, Any]] = [
        {"kind": "number", "text": TEXTS["image"], "unit": tiny},
        {"kind": "choice", "option": tag},
        {"kind": "several", "options": [tag, tag]},
        {"kind": "order", "cards": [tag, "b"]},
        {"kind": "grid", "rows": {tag: tag}},
        {"kind": "point", "target": tag},
        {"kind": "actions", "actions": [tag]},
        {"kind": "observed", "steps": {tag: "unprompted"}, "observer": name},
        {"kind": "text", "text": "\n".join(TEXTS.values())},
    ]
    more = [{**scene.lines[0], **claims, "item": tag, "response": entry} for entry in responses]
    more += [{**scene.lines[0], "item": item, "response": entry} for entry in responses]
    odd = written([{**scene.lines[0], "response": {"kind": tag}}, {**scene.lines[0], name: 1}])
    return chained([*scene.lines, *more]) + odd


_ALL_TEXT = {"kind": "text", "text": "\n".join(TEXTS.values())}
_DEEP = b'{"format":1,"n":' + b"[" * 16_000 + b"]" * 16_000 + b"}"
_HALF = {"kind": "text", "text": "\ud800"}
_SIGNED = {"kind": "observed", "steps": {"a": "unprompted"}, "observer": "The instructor"}
_TALL = "9" * 5000
_LATE = ("2999-01-01T00:00:00.000Z", "9999-12-31T23:59:59.999Z", "9999-12-31T23:59:59.999Z")
_EARLY = ("2027-03-01T08:00:00.000Z", "0001-01-01T00:00:00.000Z", "0001-01-01T00:00:00.001Z")

JOURNALS = (
    Attack("says-another-person", "Claims to be somebody else's.", write=_each(apprentice="honest-b"), flagged="name"),
    Attack("says-another-form", "Claims a form of its own choice.", write=_each(form="EASYFORM"), flagged="form"),
    Attack(
        "says-another-course",
        "Claims to belong to another course.",
        write=_each(course="elsewhere"),
        refused="no answer in this journal is of it",
        flagged="course",
    ),
    Attack(
        "says-another-module",
        "Claims to belong to another module.",
        write=_each(module="lock-pin"),
        refused="lock-pin",
        flagged="module",
    ),
    Attack(
        "anothers-journal",
        "Hands in a copy of somebody else's journal under one's own name.",
        write=lambda scene: scene.theirs,
        counts=theirs,
        flagged="name",
    ),
    Attack("forged-chain", "Puts invented hashes into every line.", write=_without_hash, flagged="chain"),
    Attack(
        "line-taken-out",
        "Takes the first answer out.",
        write=lambda scene: b"".join(_rows(scene)[1:]),
        counts=lambda scene: {line["item"]: line["response"] for line in scene.lines[1:]},
        flagged="chain",
    ),
    Attack(
        "lines-doubled",
        "Repeats all answers, backwards.",
        write=lambda scene: b"".join((*_rows(scene), *_rows(scene)[::-1])),
        flagged="chain",
    ),
    Attack("before-all-times", "Dates answers to the year 1.", write=_dated(*_EARLY), flagged="times"),
    Attack("after-all-times", "Dates the answers to the end of time.", write=_dated(*_LATE), flagged="times"),
    _unreadable("no-such-day", "Dates an answer to the 31st of April.", _and_a_line(at="2027-04-31T00:00:00.000Z")),
    Attack("digits-of-a-script", "Writes a date in other digits.", write=_and_a_line(at="٢٠٢٧-٠٣-٠١T08:15:30.123Z")),
    _unreadable("deep", "Nests lists until a reader falls over.", _and_raw(_DEEP)),
    Attack("tall-number", "Counts with five thousand digits.", write=_and_raw(b'{"n":' + _TALL.encode() + b"}")),
    Attack("endless-number", "Sets a hand to 1e400.", write=_and_raw(b'{"response":{"kind":"set","value":1e400}}')),
    _unreadable("not-a-number", "Sets a hand to NaN, Infinity and minus nothing.", _no_numbers),
    _unreadable("true-for-one", "Gives true where a number stands.", _and_a_line(n=True)),
    _unreadable("list-for-text", "Gives a list where a name stands.", _and_a_line(item=["A1"])),
    Attack("unknown-kind", "Answers in no known kind.", write=_and_a_line(response={"kind": TEXTS["terminal"]})),
    _unreadable("more-keys", "Adds points of its own.", _and_a_line(points=20, mark="right")),
    Attack(
        "class-name", "Names a class to be made.", write=_and_a_line(**{"__class__": "os.system", "py/object": "x"})
    ),
    Attack("half-letters", "Writes half of a letter that takes two.", write=_and_a_line(response=_HALF)),
    _unreadable("zeros", "Puts zero bytes before, between and after the lines.", _nul),
    Attack("mark-in-front", "Begins with the mark of UTF-8.", write=lambda scene: b"\xef\xbb\xbf" + _whole(scene)),
    _no_answer("two-bytes", "Is written in UTF-16.", lambda scene: _whole(scene).decode().encode("utf-16")),
    Attack(
        "line-ends",
        "Is saved with the line ends of Windows.",
        write=lambda scene: _whole(scene).replace(b"\n", b"\r\n"),
        flagged="chain",
    ),
    _unreadable("long-line", "Adds a line of a megabyte.", _and_a_line(item="A" * 1_000_000)),
    Attack(
        "too-large",
        "Is larger than any honest journal.",
        write=_and_raw((b" " * 999 + b"\n") * 9000),
        refused="at most",
        flagged="size",
    ),
    Attack("many-lines", "Changes its mind again and again.", write=lambda scene: chained([*scene.lines * 1000])),
    _unreadable("same-key-twice", "Says a key twice, once rightly.", _and_raw(b'{"format":1,"format":2,"n":1,"n":2}')),
    _no_answer(
        "pickled",
        "Is a pickle that would run a command.",
        lambda scene: pickle.dumps(scene.evil) + b"cos\nsystem\n(S'true'\ntR.",
    ),
    _no_answer("squeezed", "Is packed with gzip.", lambda scene: gzip.compress(_whole(scene)), flagged=""),
    _no_answer("program", "Is a program.", lambda scene: ("#!/usr/bin/env python\n" + scene.evil).encode()),
    _no_answer("empty", "Is empty.", lambda _: b"", flagged=""),
    Attack("query", "Puts a query of a database into every name.", write=_query, flagged="item"),
    _response("signs-for-itself", "Signs for its own practical work.", _SIGNED),
    Attack(
        "every-string",
        "Puts a script into every free string of a journal.",
        write=_fields,
        counts=_answered(_ALL_TEXT),
        flagged="item",
    ),
    *(
        _response(f"text-{name}", "Answers with a text that would do something if shown.", _text(name))
        for name in ("script", "maths", "terminal", "turning")
    ),
)
