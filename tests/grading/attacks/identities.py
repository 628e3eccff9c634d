"""Zips that say who they are from in ways that nobody was given."""

from __future__ import annotations

import json
import pickle
from collections.abc import Callable
from typing import Any

from .base import Attack, Scene
from .zips import zipped

__all__ = ["IDENTITIES"]

CODE, ODD, NOBODY = "personal code", "not as it was given out", "Nobody on the roster"


def _said(scene: Scene) -> dict[str, Any]:
    said: dict[str, Any] = json.loads(scene.parts["identity.json"])
    return said


def _raw(content: Callable[[Scene], bytes]) -> Callable[[Scene], bytes]:
    return lambda scene: zipped({**scene.parts, "identity.json": content(scene)})


def _changed(change: Callable[[dict[str, Any]], dict[str, Any]]) -> Callable[[Scene], bytes]:
    return _raw(lambda scene: json.dumps(change(_said(scene))).encode())


def _code(change: Callable[[str], Any]) -> Callable[[Scene], bytes]:
    return _changed(lambda said: said | {"code": change(said["code"])})


_WIDE = {ord(sign): ord(sign) + 0xFEE0 for sign in "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"}


def _half(scene: Scene) -> bytes:
    return json.dumps(_said(scene) | {"code": "\ud800"}).encode()


def _twice(scene: Scene) -> bytes:
    said = json.dumps(_said(scene))
    return (said[:-1] + ', "apprentice": "honest-b"}').encode()


def _without(scene: Scene) -> bytes:
    return zipped({"answers.jsonl": scene.parts["answers.jsonl"]})


def _below(scene: Scene) -> bytes:
    return zipped({"answers.jsonl": scene.parts["answers.jsonl"], "x/identity.json": scene.parts["identity.json"]})


def _above(scene: Scene) -> bytes:
    return zipped({"x/answers.jsonl": scene.parts["answers.jsonl"], "identity.json": scene.parts["identity.json"]})


def _refused(name: str, tries: str, pack: Callable[[Scene], bytes], refused: str) -> Attack:
    return Attack(name, tries, pack=pack, refused=refused)


IDENTITIES = (
    _refused("code-empty", "Gives an empty code.", _code(lambda _: ""), CODE),
    _refused("code-nothing", "Gives nothing for a code.", _code(lambda _: None), ODD),
    _refused("code-list", "Gives a list of codes to choose from.", _code(lambda code: [code, "A"]), ODD),
    _refused("code-truth", "Gives true for a code.", _code(lambda _: True), ODD),
    _refused("code-short", "Gives the beginning of a code.", _code(lambda code: code[:8]), CODE),
    _refused("code-star", "Gives a pattern that fits every code.", _code(lambda _: "*" * 16), CODE),
    _refused("code-wide", "Gives the code in letters twice as wide.", _code(lambda code: code.translate(_WIDE)), CODE),
    _refused("code-query", "Gives a query of a database for a code.", _code(lambda _: "' or '1'='1"), CODE),
    _refused("code-half", "Gives half of a letter that takes two.", _raw(_half), ODD),
    _refused(
        "from-preview",
        "Hands in from a preview.",
        _changed(lambda said: said | {"course": f"{said['course']}-preview"}),
        "preview",
    ),
    _refused(
        "from-elsewhere",
        "Hands in from another course.",
        _changed(lambda said: said | {"course": "elsewhere"}),
        "This is the course",
    ),
    _refused("two-names", "Says two names, the second one somebody else's.", _raw(_twice), CODE),
    _refused(
        "looks-alike",
        "Takes a name that looks like somebody else's.",
        _changed(lambda said: said | {"apprentice": "h\u043enest-b"}),
        NOBODY,
    ),
    _refused(
        "turned-name",
        "Takes a name with a sign that turns the writing.",
        _changed(lambda said: said | {"apprentice": "\u202eb-tsenoh"}),
        NOBODY,
    ),
    _refused("nobody-at-all", "Takes no name.", _changed(lambda said: said | {"apprentice": ""}), ODD),
    _refused(
        "name-list",
        "Takes the names of everybody.",
        _changed(lambda said: said | {"apprentice": ["honest-b", "zz-honest-one"]}),
        ODD,
    ),
    _refused(
        "self-pickle",
        "Says who it is in a pickle that runs a command.",
        _raw(lambda scene: pickle.dumps(scene.evil) + b"cos\nsystem\n(S'true'\ntR."),
        ODD,
    ),
    _refused(
        "self-list", "Says who it is in a list.", _raw(lambda scene: b"[" + scene.parts["identity.json"] + b"]"), ODD
    ),
    _refused(
        "self-utf16",
        "Says who it is in another encoding.",
        _raw(lambda scene: scene.parts["identity.json"].decode().encode("utf-16")),
        ODD,
    ),
    _refused("self-more", "Says more than it was given.", _changed(lambda said: said | {"points": 20}), ODD),
    _refused("self-two-texts", "Says who it is twice.", _raw(lambda scene: scene.parts["identity.json"] * 2), ODD),
    _refused(
        "self-large", "Says who it is at length.", _changed(lambda said: said | {"name": "A" * 30_000}), "at most"
    ),
    _refused("self-bomb", "Says who it is in 49 megabytes.", _raw(lambda _: bytes(49_000_000)), "at most"),
    _refused("self-newer", "Says that it is of a later format.", _changed(lambda said: said | {"format": 2}), ODD),
    _refused("self-missing", "Does not say who it is.", _without, "identity.json"),
    _refused("self-below", "Says who it is in another folder.", _below, "identity.json"),
    _refused("self-above", "Says who it is for a folder above.", _above, "identity.json"),
)
