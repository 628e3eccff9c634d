"""Journals that try something."""

from __future__ import annotations

import gzip
import json
import pickle
from collections.abc import Callable
from typing import Any

from .base import Attack, Given, Scene, chained, written
from .payloads import SHORT, TEXTS

__all__ = ["JOURNALS"]

NOTHING: Callable[[Scene], Given] = lambda _: {}  # noqa: E731 - a named constant of the data below


def _each(**changes: Any) -> Callable[[Scene], bytes]:
    """Every line claims something else."""
    return lambda scene: chained({**line, **changes} for line in scene.lines)


def _and_a_line(**changes: Any) -> Callable[[Scene], bytes]:
    """An honest journal, and one more line with something in it that no answer has."""
    return lambda scene: scene.parts["answers.jsonl"] + written([{**scene.lines[0], **changes}])


def _and_raw(line: bytes) -> Callable[[Scene], bytes]:
    return lambda scene: scene.parts["answers.jsonl"] + line + b"\n"


def _answers(scene: Scene, response: dict[str, Any]) -> bytes:
    return chained([*scene.lines, {**scene.lines[0], "response": response}])


def _answered(response: dict[str, Any]) -> Callable[[Scene], Given]:
    return lambda scene: {**scene.honest, scene.lines[0]["item"]: response}


def _response(name: str, tries: str, response: dict[str, Any]) -> Attack:
    return Attack(name, tries, write=lambda scene: _answers(scene, response), counts=_answered(response))


def _text(name: str) -> dict[str, Any]:
    return {"kind": "text", "text": TEXTS[name]}


def _theirs(scene: Scene) -> Given:
    return {line["item"]: line["response"] for line in map(json.loads, scene.theirs.splitlines())}


def _without_hash(scene: Scene) -> bytes:
    return written({**line, "before": "0123456789abcdef"} for line in scene.lines)


def _dated(*moments: str) -> Callable[[Scene], bytes]:
    return lambda scene: chained({**line, "at": at} for line, at in zip(scene.lines, moments, strict=True))


def _nul(scene: Scene) -> bytes:
    lines = scene.parts["answers.jsonl"].splitlines(keepends=True)
    return b"\0" * 4096 + b"\n" + b"\0\n".join(lines) + b"\0" * 4096


def _again(scene: Scene) -> bytes:
    lines = scene.parts["answers.jsonl"].splitlines(keepends=True)
    return b"".join(lines) + b"".join(lines[::-1])


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
        counts=_theirs,
        flagged="name",
    ),
    Attack("forged-chain", "Puts invented hashes into every line.", write=_without_hash, flagged="chain"),
    Attack(
        "line-taken-out",
        "Takes the first answer out.",
        write=lambda scene: b"".join(scene.parts["answers.jsonl"].splitlines(keepends=True)[1:]),
        counts=lambda scene: {line["item"]: line["response"] for line in scene.lines[1:]},
        flagged="chain",
    ),
    Attack("lines-doubled", "Repeats all answers, backwards.", write=_again, flagged="chain"),
    Attack("before-all-times", "Dates answers to the year 1.", write=_dated(*_EARLY), flagged="times"),
    Attack("after-all-times", "Dates the answers to the end of time.", write=_dated(*_LATE), flagged="times"),
    Attack(
        "no-such-day",
        "Adds an answer dated to the 31st of April.",
        write=_and_a_line(at="2027-04-31T00:00:00.000Z"),
        flagged="unreadable",
    ),
    Attack("digits-of-a-script", "Writes a date in other digits.", write=_and_a_line(at="٢٠٢٧-٠٣-٠١T08:15:30.123Z")),
    Attack("deep", "Nests lists until a reader falls over.", write=_and_raw(_DEEP), flagged="unreadable"),
    Attack("tall-number", "Counts with five thousand digits.", write=_and_raw(b'{"n":' + _TALL.encode() + b"}")),
    Attack("endless-number", "Sets a hand to 1e400.", write=_and_raw(b'{"response":{"kind":"set","value":1e400}}')),
    Attack(
        "not-a-number",
        "Sets a hand to NaN, Infinity and minus nothing.",
        write=lambda scene: (
            scene.parts["answers.jsonl"]
            + written(
                {**scene.lines[0], "response": {"kind": "set", "value": value}}
                for value in (float("nan"), float("inf"), float("-inf"))
            )
        ),
        flagged="unreadable",
    ),
    Attack("true-for-one", "Gives true where a number stands.", write=_and_a_line(n=True), flagged="unreadable"),
    Attack("list-for-text", "Gives a list where a name stands.", write=_and_a_line(item=["A1"]), flagged="unreadable"),
    Attack(
        "unknown-kind", "Gives an answer of no known kind.", write=_and_a_line(response={"kind": TEXTS["terminal"]})
    ),
    Attack("more-keys", "Adds points of its own.", write=_and_a_line(points=20, mark="right"), flagged="unreadable"),
    Attack(
        "class-name", "Names a class to be made.", write=_and_a_line(**{"__class__": "os.system", "py/object": "x"})
    ),
    Attack(
        "half-letters",
        "Writes half of a letter that takes two.",
        write=_and_a_line(response={"kind": "text", "text": "\ud800"}),
    ),
    Attack("zeros", "Puts zero bytes before, between and after the lines.", write=_nul, flagged="unreadable"),
    Attack(
        "mark-in-front",
        "Begins with the mark of UTF-8.",
        write=lambda scene: b"\xef\xbb\xbf" + scene.parts["answers.jsonl"],
    ),
    Attack(
        "two-bytes",
        "Is written in UTF-16.",
        write=lambda scene: scene.parts["answers.jsonl"].decode().encode("utf-16"),
        counts=NOTHING,
        refused="no readable answer",
        flagged="unreadable",
    ),
    Attack(
        "line-ends",
        "Is saved with the line ends of Windows.",
        write=lambda scene: scene.parts["answers.jsonl"].replace(b"\n", b"\r\n"),
        flagged="chain",
    ),
    Attack("long-line", "Adds a line of a megabyte.", write=_and_a_line(item="A" * 1_000_000), flagged="unreadable"),
    Attack(
        "too-large",
        "Is larger than any honest journal.",
        write=lambda scene: scene.parts["answers.jsonl"] + (b" " * 999 + b"\n") * 9000,
        refused="at most",
        flagged="size",
    ),
    Attack(
        "many-lines",
        "Changes its mind three thousand times.",
        write=lambda scene: chained([*scene.lines * 1000]),
    ),
    Attack(
        "same-key-twice",
        "Says a key twice, once rightly.",
        write=_and_raw(b'{"format":1,"format":2,"n":1,"n":2}'),
        flagged="unreadable",
    ),
    Attack(
        "pickled",
        "Is a pickle that would run a command.",
        write=lambda scene: pickle.dumps(scene.evil) + b"cos\nsystem\n(S'true'\ntR.",
        counts=NOTHING,
        refused="no readable answer",
        flagged="unreadable",
    ),
    Attack(
        "squeezed",
        "Is packed with gzip.",
        write=lambda scene: gzip.compress(scene.parts["answers.jsonl"]),
        counts=NOTHING,
        refused="no readable answer",
    ),
    Attack(
        "program",
        "Is a program.",
        write=lambda scene: ("#!/usr/bin/env python\n" + scene.evil).encode(),
        counts=NOTHING,
        refused="no readable answer",
        flagged="unreadable",
    ),
    Attack("empty", "Is empty.", write=lambda _: b"", counts=NOTHING, refused="no readable answer"),
    Attack(
        "query",
        "Puts a query of a database into every name.",
        write=lambda scene: chained(
            [
                *scene.lines,
                {
                    **scene.lines[0],
                    "item": "A1'; update grade set auto_score=20; --"[:40],
                    "apprentice": "x'); drop table grade; --",
                },
            ]
        ),
        flagged="item",
    ),
    Attack(
        "signs-for-itself",
        "Signs for its own practical work.",
        write=lambda scene: _answers(
            scene, {"kind": "observed", "steps": {"a": "unprompted"}, "observer": "The instructor"}
        ),
        counts=_answered({"kind": "observed", "steps": {"a": "unprompted"}, "observer": "The instructor"}),
    ),
    Attack(
        "every-string",
        "Puts a script into every free string of a journal.",
        write=_fields,
        counts=lambda scene: {**scene.honest, scene.lines[0]["item"]: _ALL_TEXT},
        flagged="item",
    ),
    *(
        _response(f"text-{name}", "Answers with a text that would do something if shown.", _text(name))
        for name in ("script", "maths", "terminal", "turning")
    ),
)
