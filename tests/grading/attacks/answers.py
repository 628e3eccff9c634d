"""Answers that nobody gave by hand, and files that lie beside them."""

from __future__ import annotations

import base64
from collections.abc import Callable
from typing import Any

from .base import Attack, Given, Scene, chained
from .folders import JOURNAL, NOTEBOOK, _file, _gone, _graded, _link, _notebook, _odd
from .journals import _and_a_line, _and_raw, _no_answer, _response, _unreadable, _whole
from .payloads import TEXTS

__all__ = ["ANSWERS"]


def _new_item(name: str) -> Callable[[Scene], bytes]:
    """A further answer, in an honest chain, to a question of that name."""
    return lambda scene: chained([*scene.lines, {**scene.lines[0], "item": name}])


def _all(response: dict[str, Any]) -> tuple[Callable[[Scene], bytes], Callable[[Scene], Given]]:
    """Every question is answered with the same."""
    return (
        lambda scene: chained({**line, "response": response} for line in scene.lines),
        lambda scene: {line["item"]: response for line in scene.lines},
    )


def _everywhere(name: str, tries: str, response: dict[str, Any]) -> Attack:
    write, counts = _all(response)
    return Attack(name, tries, write=write, counts=counts)


def _folder(name: str) -> Callable[[Scene], None]:
    def lay(scene: Scene) -> None:
        _gone(scene.folder / name)
        (scene.folder / name).mkdir()
        (scene.folder / name / "x").write_text(scene.evil, "utf-8")

    return lay


def _holds(name: str, content: Callable[[Scene], bytes]) -> Callable[[Scene], None]:
    def lay(scene: Scene) -> None:
        (scene.folder / name).write_bytes(content(scene))

    return lay


def _not_graded(notebook: dict[str, Any], _: Scene) -> None:
    for cell in _graded(notebook):
        cell["metadata"]["nbgrader"] |= {"grade": False, "task": True, "points": None}


def _as_text(notebook: dict[str, Any], _: Scene) -> None:
    for cell in _graded(notebook):
        cell["cell_type"], cell["source"] = "markdown", TEXTS["script"]
        cell.pop("outputs", None)
        cell.pop("execution_count", None)


def _priceless(notebook: dict[str, Any], _: Scene) -> None:
    for cell in _graded(notebook):
        cell["metadata"]["nbgrader"]["points"] = float("nan")


def _minus(notebook: dict[str, Any], _: Scene) -> None:
    for cell in _graded(notebook):
        cell["metadata"]["nbgrader"] |= {"points": -1000, "grade_id": "../../x"}


ANSWERS = (
    Attack(
        "item-zero-byte", "Answers a question with a zero byte in its name.", write=_new_item("A1\0"), flagged="item"
    ),
    Attack("item-blank", "Answers a question with blanks around its name.", write=_new_item(" A1 "), flagged="item"),
    Attack(
        "item-alike", "Answers a question that looks like one of its own.", write=_new_item("\u04101"), flagged="item"
    ),
    Attack(
        "item-path", "Answers a question whose name is a path.", write=_new_item("../../../keys/seed"), flagged="item"
    ),
    Attack("item-cell", "Answers a cell of the notebook.", write=_new_item("answer-A1"), flagged="item"),
    _unreadable("number-below", "Counts from minus one.", _and_a_line(n=-1)),
    _unreadable("number-beyond", "Counts beyond all numbers.", _and_a_line(n=10**30)),
    _unreadable("number-half", "Counts in halves.", _and_a_line(n=1.5)),
    _unreadable("number-text", "Counts in words.", _and_a_line(n="1")),
    _unreadable("answer-nothing", "Answers with nothing.", _and_a_line(response=None)),
    _unreadable(
        "answer-two-kinds",
        "Answers in two kinds at once.",
        _and_a_line(response={"kind": ["order", "choice"], "cards": ["a"]}),
    ),
    _unreadable("answer-points", "Answers with points.", _and_a_line(response={"kind": "points", "points": 20})),
    _unreadable("time-zone", "Dates an answer in another zone.", _and_a_line(at="2027-03-01T08:15:30.123+14:00")),
    _unreadable("time-leap", "Dates an answer to a second that is none.", _and_a_line(at="2027-03-01T23:59:60.000Z")),
    _unreadable("journal-name", "Gives the journal a name of its own choice.", _and_a_line(journal="../../keys")),
    _unreadable("hash-long", "Gives a hash of another length.", _and_a_line(before="0" * 64)),
    _unreadable("commented-line", "Writes a comment into a line.", _and_raw(b'{"format":1,/* all right */"n":9}')),
    _unreadable("python-line", "Writes a line in Python.", _and_raw(b"{'format': 1, 'n': __import__('os').getpid()}")),
    _unreadable(
        "yaml-line", "Writes a line in YAML that makes an object.", _and_raw(b"!!python/object/apply:os.system [ls]")
    ),
    _unreadable(
        "coded-lines",
        "Writes lines in base 64.",
        lambda scene: b"".join([_whole(scene), *(base64.b64encode(row) + b"\n" for row in _whole(scene).splitlines())]),
    ),
    _no_answer(
        "one-line", "Ends lines as no system does now.", lambda scene: _whole(scene).replace(b"\n", b"\r"), flagged=""
    ),
    _no_answer(
        "a-list", "Is one list of all answers.", lambda scene: b"[" + b",".join(_whole(scene).splitlines()) + b"]\n"
    ),
    _response("all-cards-twice", "Puts one card into every place.", {"kind": "order", "cards": ["a"] * 8}),
    _response(
        "cards-of-others", "Puts cards into order that nobody showed.", {"kind": "order", "cards": ["z9", "z8", "z7"]}
    ),
    _response("card-longest", "Names a card that fills a page.", {"kind": "order", "cards": ["right"]}),
    _everywhere(
        "numbers-everywhere",
        "Answers every question with a number.",
        {"kind": "number", "text": "1e308", "unit": "N·m"},
    ),
    _everywhere("points-everywhere", "Answers every question with a place.", {"kind": "point", "target": "right"}),
    _everywhere("nothing-everywhere", "Answers every question with no option.", {"kind": "several", "options": []}),
    _everywhere(
        "actions-everywhere",
        "Answers every question with two hundred actions.",
        {"kind": "actions", "actions": ["pin"] * 200},
    ),
    _everywhere(
        "signed-everywhere",
        "Signs every question as an observer.",
        {"kind": "observed", "steps": {"a": "unprompted"}, "observer": "The instructor"},
    ),
    _odd("brings-gradebook", "Brings a gradebook of its own.", _file("gradebook.db", "SQLite format 3")),
    _odd(
        "brings-keys", "Brings keys and a seed.", _file("keys/seed", "0" * 64), _file("keys/bench-order/1.json", "{}")
    ),
    _odd("brings-course", "Brings settings of a course.", _file("course.toml", 'format = 1\nname = "mine"\n')),
    _odd("brings-receipt", "Brings a receipt of an earlier day.", _file("arrival.json", '{"arrived": "2027-01-01"}')),
    _odd("brings-feedback", "Brings feedback with full points.", _file("feedback.html", "<h1>20 of 20</h1>EVIL")),
    _odd("brings-person", "Brings a folder of somebody else.", _file("honest-b/bench-order/answers.jsonl", "{}")),
    _odd("brings-half", "Brings what a killed command leaves.", _file(".answers.jsonl.0123abcd.tmp", "EVIL")),
    _odd(
        "brings-lock",
        "Brings a lock and a folder of work.",
        _file(".trainkit-lock", ""),
        _file(".trainkit-work/old/x", ""),
    ),
    _odd("link-autograded", "Has a link named as marked work is.", _link("autograded", lambda scene: scene.outside)),
    _odd("folder-forms", "Has a folder for its questions.", _folder("forms.json")),
    _odd("folder-time", "Has a folder for the time of arrival.", _folder("timestamp.txt")),
    _odd("folder-notebook", "Has a folder for a notebook.", _folder(NOTEBOOK)),
    Attack("not-graded", "Says that nothing of it is graded.", lay=_notebook(_not_graded)),
    Attack("graded-text", "Makes text of every graded cell.", lay=_notebook(_as_text)),
    Attack("priceless", "Makes every item worth no number.", lay=_notebook(_priceless)),
    Attack("minus-cells", "Makes every item worth less than nothing.", lay=_notebook(_minus)),
    Attack(
        "notebook-utf16",
        "Has a notebook in another encoding.",
        lay=_holds(NOTEBOOK, lambda _: "{}".encode("utf-16")),
    ),
    Attack(
        "notebook-is-journal",
        "Has its journal for a notebook.",
        lay=_holds(NOTEBOOK, lambda scene: (scene.folder / JOURNAL).read_bytes()),
    ),
)
