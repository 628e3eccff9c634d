"""Readiness: every combination of evidence against the rules as they are written, by a way that shares no code."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from trainkit_grading.course.folder import Course, read_course
from trainkit_grading.course.settings import Criterion
from trainkit_grading.release import init
from trainkit_grading.results import readiness
from trainkit_grading.results.results import Result
from trainkit_grading.signoff.judging import ObservedStep
from trainkit_grading.signoff.judging import judge as judge_work
from trainkit_grading.signoff.observations import SignOff


def result(module: str = "lock-pin", **how: Any) -> Result:
    plain = Result("amir", "Amir", module, "handed in", "F1", 8.0, 10.0, "passed", attempt=1, attempts=1, watched=True)
    return replace(plain, **how)


# What a module's result is taken for, from the words of the rules.
MODULES = {
    "M1": result(),
    "M2": result(watched=False),
    "M3": result(verdict="waiting"),
    "M4": result(verdict="not yet", critical=("A3",)),
    "M5": result(verdict="not yet", points=3.0),
    "M6": result(state="missing", points=0.0, verdict="not yet", attempt=0, attempts=0, watched=False),
    "M7": result(verdict="waiting", critical=("A3",), spoken="waiting"),
}
STATES = {"M1": "met", "M2": "almost", "M3": "almost", "M4": "open", "M5": "open", "M6": "none", "M7": "almost"}


def signed(outcomes: dict[str, str], critical: tuple[str, ...] = (), same: bool = False, **again: str) -> SignOff:
    steps = tuple(ObservedStep(name, name, name in critical, outcome) for name, outcome in outcomes.items())
    shown = tuple(ObservedStep(name, name, name in critical, outcome) for name, outcome in again.items())
    return SignOff(
        "amir",
        "dunlin",
        "Dunlin",
        judge_work(steps, shown),
        steps,
        7,
        (),
        (),
        "M. Orrin",
        "M. Orrin" if same else "P. Tidewell",
        "Set 2",
        "2027-03-04T09:00+00:00",
        "paper",
        "dunlin",
        "a" * 64,
        same,
        shown,
    )


@pytest.mark.parametrize("code", MODULES)
def test_a_module_is_taken_for_what_its_rule_says(code: str) -> None:
    assert readiness.of_module(MODULES[code]) == code
    assert readiness.EVIDENCE_RULES[code][0] == STATES[code]


def test_a_pass_that_nobody_watched_counts_only_where_the_course_says_so() -> None:
    alone = result(watched=False)
    assert readiness.of_module(alone, supervised=False) == "M8"
    assert readiness.of_module(result(), supervised=False) == "M1"
    wanted = Criterion(number="1", text="Pins the engine", modules=("lock-pin",))
    asked = readiness.judge(wanted, {"lock-pin": alone}, {})
    accepted = readiness.judge(wanted, {"lock-pin": alone}, {}, unsupervised={"lock-pin"})
    assert (asked.verdict, accepted.verdict) == ("nearly", "ready")
    assert (alone.supervision, result().supervision, MODULES["M6"].supervision) == ("not supervised", "supervised", "")


def test_a_new_course_wants_the_capstone_watched_and_one_made_before_everything(tmp_path: Path) -> None:
    made = init.create(tmp_path / "course", "saltmere", "Saltmere")
    read, _ = read_course(made.folder)
    assert read is not None
    assert readiness.unsupervised_of(read) == {entry.name for entry in made.modules} - {"capstone"}
    made.file.write_text(re.sub(r"(?m)^supervised = .*\n", "", made.file.read_text("utf-8")), "utf-8")
    before, findings = read_course(made.folder)
    assert before is not None
    assert (readiness.unsupervised_of(before), findings) == (frozenset(), ())


def test_marks_to_come_are_not_the_apprentices_to_do() -> None:
    assert readiness.of_module(result(state="to mark", verdict="waiting")) == "M3"
    assert readiness.of_module(None) == "M6"


@pytest.mark.parametrize("codes", list(itertools.combinations_with_replacement(MODULES, 3)), ids="-".join)
def test_a_criterion_follows_from_its_evidence(codes: tuple[str, ...]) -> None:
    names = ("one", "two", "three")
    asked = Criterion(number="1.1", text="All three", modules=names)
    found = readiness.judge(asked, {n: replace(MODULES[c], module=n) for n, c in zip(names, codes, strict=True)}, {})
    states = [STATES[code] for code in codes]
    if set(states) == {"none"}:
        expected = "no evidence"
    elif set(states) == {"met"}:
        expected = "ready"
    elif "open" not in states and len([state for state in states if state != "met"]) <= 1:
        expected = "nearly"
    else:
        expected = "not yet"
    assert found.verdict == expected
    assert [piece.code for piece in found.evidence] == list(codes)


@pytest.mark.parametrize(
    ("step", "sign_off", "code"),
    [
        ("a", signed({"a": "unprompted", "b": "unprompted"}), "S1"),
        ("a", signed({"a": "unprompted"}, same=True), "S2"),
        ("a", signed({"a": "prompted", "b": "unprompted"}), "S3"),
        ("a", signed({"a": "prompted"}, critical=("a",)), "S3"),
        ("a", signed({"a": "prompted"}, critical=("a",), a="unprompted"), "S1"),
        ("a", signed({"a": "not done", "b": "unprompted"}), "S4"),
        ("a", signed({"a": "stopped for safety"}), "S4"),
        ("a", signed({"a": "unprompted"}, a="not done"), "S4"),
        ("a", signed({"a": "prompted"}, a="unprompted"), "S1"),  # one that is not critical is made up for, too
        ("a", signed({"a": "prompted", "b": "not done"}, critical=("a",), a="unprompted"), "S1"),
        ("a", signed({"a": "unprompted", "b": "stopped for safety"}, a="not done"), "S4"),
        ("a", signed({"a": "unprompted"}, a="prompted"), "S3"),
        ("a", signed({"a": "not done"}, a="unprompted"), "S4"),
        ("c", signed({"a": "unprompted"}), "S6"),
        ("a", None, "S6"),
    ],
)
def test_a_step_is_taken_for_what_was_observed(step: str, sign_off: SignOff | None, code: str) -> None:
    asked = Criterion(number="2", text="Seen", steps=(f"dunlin:{step}",))
    found = readiness.judge(asked, {}, {"dunlin": sign_off} if sign_off else {})
    assert [piece.code for piece in found.evidence] == [code]


def test_a_whole_sheet_is_taken_for_its_verdict() -> None:
    asked = Criterion(number="2", text="Seen", steps=("dunlin",))
    ways = {
        "S1": {"dunlin": signed({"a": "unprompted"})},
        "S2": {"dunlin": signed({"a": "unprompted"}, same=True)},
        "S5": {"dunlin": signed({"a": "not done"})},
        "S6": {"curlew": signed({"a": "unprompted"})},
    }
    for code, by_sheet in ways.items():
        assert [piece.code for piece in readiness.judge(asked, {}, by_sheet).evidence] == [code]


def test_of_any_sheet_the_best_one_counts() -> None:
    asked = Criterion(number="2", text="Seen", steps=("any",))
    bad, good = signed({"a": "not done"}), signed({"a": "unprompted"})
    assert readiness.judge(asked, {}, {"curlew": bad, "dunlin": good}).evidence == (
        readiness.Evidence("sheet", "dunlin", "S1"),
    )
    assert readiness.judge(asked, {}, {"curlew": bad}).verdict == "not yet"
    assert readiness.judge(asked, {}, {}).verdict == "no evidence"


def test_nobody_is_put_forward_without_work_that_somebody_else_has_seen() -> None:
    ready = [readiness.Readiness("1", "C2", ())]
    seen = {"dunlin": signed({"a": "unprompted"})}
    assert readiness.forward(ready, seen)[0]
    assert not readiness.forward(ready, {"dunlin": signed({"a": "unprompted"}, same=True)})[0]
    assert not readiness.forward(ready, {})[0]
    assert readiness.forward(ready, seen, waiting=2) == (False, "2 matters wait for a decision.")
    short = [*ready, readiness.Readiness("2.1", "C3", ())]
    assert readiness.forward(short, seen) == (False, "Not ready: 2.1.")


def course(folder: Path, more: str) -> tuple[Course | None, list[str]]:
    head = 'format = 1\nname = "saltmere"\ntitle = "Saltmere"\n'
    body = '[[modules]]\nname = "lock-pin"\n'
    (folder / "course.toml").write_text(head + body + more, "utf-8")
    found, findings = read_course(folder)
    return found, [finding.text for finding in findings]


def test_criteria_stand_in_the_course(tmp_path: Path) -> None:
    found, wrong = course(
        tmp_path, '[[criteria]]\nnumber = "1.1"\ntext = "Pins it"\nmodules = ["lock-pin"]\nsteps = ["dunlin:isolate"]\n'
    )
    assert wrong == []
    assert found is not None
    assert readiness.criteria_of(found, {"lock-pin": "Lock pin"}) == found.criteria
    assert found.criteria[0].steps == ("dunlin:isolate",)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ('[[criteria]]\nnumber = "1"\ntext = "x"\n', "names no evidence"),
        ('[[criteria]]\nnumber = "1"\ntext = "x"\nmodules = ["else"]\n', "the course runs no such module"),
        (2 * '[[criteria]]\nnumber = "1"\ntext = "x"\nsteps = ["any"]\n', "stands there twice"),
        ('[[criteria]]\nnumber = 1\ntext = "x"\nsteps = ["any"]\n', "between quotation marks"),
    ],
)
def test_criteria_that_cannot_be_are_refused(tmp_path: Path, more: str, said: str) -> None:
    assert any(said in text for text in course(tmp_path, more)[1])


def test_without_criteria_each_module_and_the_practical_work_are_one(tmp_path: Path) -> None:
    found, _ = course(tmp_path, "")
    assert found is not None
    criteria = readiness.criteria_of(found, {"lock-pin": "Lock pin", "sequence": "Sequence"})
    assert [(each.number, each.modules, each.steps) for each in criteria] == [
        ("1", ("lock-pin",), ()),
        ("2", ("sequence",), ()),
        ("3", (), ("any",)),
    ]
