"""Simulated apprentices know, slip, guess and hold what they are said to hold, and answer as people do."""

from __future__ import annotations

import random
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from trainkit import journal, modules, packs
from trainkit.forms import Form, FormItem
from trainkit.items import kinds, scenarios
from trainkit.items.kinds import Response, TextResponse
from trainkit.items.marking import mark
from trainkit.items.misconceptions import all_misconceptions
from trainkit.items.template import find
from trainkit_grading.cli import simulate
from trainkit_grading.cli.simulate import Habits, answer, shown_by
from trainkit_grading.cli.simulate.playing import safe_way
from trainkit_grading.cli.simulate.ways import WAYS

from . import made_up
from .made_up import CARDS, NEAREST, bonds, cards, options, pin

KNOWS = Habits(skill=1.0, slip=0.0)
SLIPS = Habits(skill=1.0, slip=1.0)
GUESSES = Habits(skill=0.0, guess=1.0)
LEAVES_OUT = Habits(skill=0.0, guess=0.0)
CODE = "right-number-wrong-unit"  # any code of the catalogue will do for made-up items


def answered(item: kinds.Item, key: kinds.Key, habits: Habits, rng: random.Random) -> Response:
    given = answer(item, key, habits, rng)
    assert given is not None
    return given


KNOWN = made_up.KNOWN | {"template": "order/made-up"}
ORDERED = KNOWN | {"cards": CARDS, "bonds": bonds(CODE)}
WHO = {"course": "saltmere", "apprentice": "amir"}
START = datetime(2027, 3, 1, 8, tzinfo=UTC)


def measured(answer: float, shown: str, wrong: float) -> dict[str, Any]:
    rules = (kinds.NumberRule(misconception=CODE, value=wrong),)
    return {"answer": answer, "tolerance": 0.5, "shown": shown, "rules": rules, **KNOWN}


MADE_UP: dict[str, tuple[Any, Any]] = {
    "number": (
        kinds.NumberItem(prompt="How much?", units=("N·m", "lbf·ft"), to_nearest=NEAREST, points=2),
        kinds.NumberKey(unit="N·m", **measured(42.3, "42 N·m", 57.4)),
    ),
    "set": (
        kinds.SetItem(prompt="Set it.", scale=kinds.Scale(low=10, high=60, step=0.5, unit="N·m")),
        kinds.SetKey(**measured(31.3, "31.5 N·m", 42.0)),
    ),
    "choice": (
        kinds.ChoiceItem(prompt="Which?", options=options("abc")),
        kinds.ChoiceKey(right="b", shows={"a": CODE}, **KNOWN),
    ),
    "point": (
        kinds.PointItem(prompt="Where?", targets=options("abcd")),
        kinds.PointKey(right=("b", "d"), shows={"c": CODE}, **KNOWN),
    ),
    "several": (
        kinds.SeveralItem(prompt="Which ones?", options=options("abcd"), points=2),
        kinds.SeveralKey(right=("a", "c"), shows={"b": CODE}, **KNOWN),
    ),
    "grid": (
        kinds.GridItem(prompt="What becomes of it?", rows=options("pqr"), columns=options("xy")),
        kinds.GridKey(right={"p": "x", "q": "y", "r": "x"}, shows={"q x": CODE}, **KNOWN),
    ),
    "order": (
        kinds.OrderItem(prompt="In which order?", cards=cards("dcba"), points=3),
        kinds.OrderKey(**ORDERED),
    ),
    "insert": (
        kinds.InsertItem(prompt="Where does it go?", written=cards("adc"), missing=cards("b")[0]),
        kinds.InsertKey(right=(1, 2), written=("a", "d", "c"), missing="b", **ORDERED),
    ),
}


@pytest.mark.parametrize("kind", MADE_UP)
def test_whoever_knows_earns_all(kind: str) -> None:
    item, key = MADE_UP[kind]
    for seed in range(60):
        given = answered(item, key, KNOWS, random.Random(seed))
        assert mark(item, key, given).points == item.points, given


@pytest.mark.parametrize("kind", MADE_UP)
def test_a_slip_is_a_slip(kind: str) -> None:
    item, key = MADE_UP[kind]
    earned = [mark(item, key, answered(item, key, SLIPS, random.Random(seed))).points for seed in range(60)]
    # Neighbours in an order may change places without harm; otherwise a slip costs something.
    assert sum(points < item.points for points in earned) >= (20 if kind in ("order", "insert", "point") else 60)


@pytest.mark.parametrize("kind", MADE_UP)
def test_a_held_misconception_shows_as_marking_sees_it(kind: str) -> None:
    item, key = MADE_UP[kind]
    holds = Habits(skill=1.0, slip=0.0, misconceptions=frozenset({CODE}))
    assert shown_by(key) >= {CODE}
    seen = Counter(
        mark(item, key, answered(item, key, holds, random.Random(seed))).misconception for seed in range(200)
    )
    assert set(seen) == {CODE, None}
    assert 150 <= seen[CODE] <= 190  # 85 per cent of 200, and five standard deviations


@pytest.mark.parametrize("kind", MADE_UP)
def test_guesses_look_at_the_item_only_and_are_well_formed(kind: str) -> None:
    item, key = MADE_UP[kind]
    verdicts = set()
    for seed in range(60):
        guessed = WAYS[kind].guessed(item, random.Random(seed))
        assert answer(item, key, GUESSES, random.Random(seed)) is not None
        verdicts.add(mark(item, key, guessed).verdict)
        assert "could not be read" not in mark(item, key, guessed).reason
    assert "not yet" in verdicts


@pytest.mark.parametrize("kind", MADE_UP)
def test_what_is_left_out_is_no_answer(kind: str) -> None:
    item, key = MADE_UP[kind]
    assert all(answer(item, key, LEAVES_OUT, random.Random(seed)) is None for seed in range(20))


def test_scenarios_are_played_safely_by_those_who_know() -> None:
    item, key = pin()
    given = answered(item, key, KNOWS, random.Random(1))
    assert mark(item, key, given).verdict == "right"


def test_scenarios_go_wrong_in_the_ways_that_are_held() -> None:
    item, key = pin()
    codes = shown_by(key)
    assert codes == {code for code, entry in all_misconceptions().items() if entry.area == "lock-pin"}
    shown = set()
    for code in sorted(codes):
        holds = Habits(skill=1.0, slip=0.0, misconceptions=frozenset({code}))
        found = mark(item, key, answered(item, key, holds, random.Random(3)))
        if found.misconception is not None:
            assert found.misconception == code
            shown.add(code)
    assert shown


def test_guessed_and_slipped_plays_are_ones_that_can_be_played() -> None:
    item, key = pin()
    for seed in range(20):
        for habits in (GUESSES, SLIPS):
            given = answered(item, key, habits, random.Random(seed))
            assert given.actions  # type: ignore[union-attr]
            assert "does not offer" not in mark(item, key, given).reason


class Steps:
    """A scenario of the test's own: count to three; a wrong word ends it."""

    def __init__(self, said: tuple[str, ...] = ()) -> None:
        self.said = said

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Steps) and other.said == self.said

    def __hash__(self) -> int:
        return hash(self.said)

    @property
    def finished(self) -> bool:
        return len(self.said) == 3 or self.said != ("one", "two", "three")[: len(self.said)]

    actions = ("three", "two", "one")

    def act(self, action: str) -> tuple[Steps, str]:
        return Steps((*self.said, action)), action

    def verdict(self, gave_up: bool = False) -> scenarios.Verdict:  # noqa: ARG002 - as the protocol has it
        return scenarios.Verdict(1.0 if self.said == ("one", "two", "three") else 0.0, "Counted.")


def test_a_safe_way_is_found_in_any_scenario(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scenarios, "begin", lambda model, scene: Steps())  # noqa: ARG005 - one model is enough
    item = kinds.ActionsItem(prompt="Count.", model="count", scene={"to": 3}, actions=options("abc"))
    assert safe_way(item) == ("one", "two", "three")


@pytest.mark.parametrize("limit", [60, 1200])
def test_text_is_answered_within_its_limit(limit: int) -> None:
    item = kinds.TextItem(prompt="Why?", limit=limit)
    key = kinds.TextKey(rubric=(kinds.RubricLine(looks_for="the pin", points=1),), **KNOWN)
    for habits in (KNOWS, SLIPS, GUESSES):
        assert mark(item, key, answered(item, key, habits, random.Random(1))).verdict == "waiting"


def test_who_knows_a_text_writes_more_than_who_guesses() -> None:
    for seed in range(6):
        item, key = find("capstone/explain-why").draw(random.Random(seed), packs.load("dunlin"))
        knows, slips, guesses = (answer(item, key, habits, random.Random(seed)) for habits in (KNOWS, SLIPS, GUESSES))
        said = [each.text for each in (knows, slips, guesses) if isinstance(each, TextResponse)]
        assert len(said) == 3
        assert said[0] != said[1]
        assert key.working[0] in said[0]
        assert not any(line in said[2] for line in key.working)
        assert all(0 < len(text) <= 1200 and text[-1] in ".:" for text in said)


def test_observed_work_is_nobodys_to_answer() -> None:
    item = kinds.ObservedItem(prompt="Show it.", steps=options("ab"))
    assert answer(item, kinds.ObservedKey(**KNOWN), KNOWS, random.Random(1)) is None


def drawn(module: str, seed: int) -> tuple[Form, dict[str, Any]]:
    blueprint = modules.load(module).blueprint
    rng = random.Random(seed)
    known: dict[str, Any] = {}
    shown = []
    for planned in blueprint.items:
        item, key = find(planned.template).draw(rng, packs.load(blueprint.pack))
        shown.append(FormItem(id=planned.id, item=item.model_copy(update={"points": planned.points})))
        known[planned.id] = key
    return Form(code="F", items=tuple(shown)), known


@pytest.mark.parametrize("module", modules.names())
def test_whoever_knows_a_module_earns_all_of_it(module: str, tmp_path: Path) -> None:
    form, known = drawn(module, 7)
    written = simulate.answer_form(tmp_path, form, known, KNOWS, "seed", start=START, module=module, **WHO)
    reading = journal.read(tmp_path / "answers.jsonl")
    assert not reading.problems
    assert written == len(reading.entries)
    latest = reading.latest()
    # Practical work is left to whoever watches it.
    assert set(latest) == {entry.id for entry in form.items if entry.item.kind != "observed"}
    for entry in form.items:
        if entry.id in latest:
            got = mark(entry.item, known[entry.id], latest[entry.id].response)
            wanted = (0, "waiting") if entry.item.kind == "text" else (entry.item.points, "right")
            assert (got.points, got.verdict) == wanted, got.reason
    assert [line.when for line in reading.entries] == sorted(line.when for line in reading.entries)
    assert reading.entries[0].when > START


@pytest.mark.parametrize("module", modules.names())
def test_same_seed_same_answers_and_a_cut_off_run_goes_on(module: str, tmp_path: Path) -> None:
    form, known = drawn(module, 8)
    habits = Habits(skill=0.6, slip=0.2, misconceptions=frozenset(sorted(all_misconceptions())[:12]))

    def answers(name: str, form: Form = form, seed: str = "seed") -> list[tuple[str, Any]]:
        folder = tmp_path / name
        folder.mkdir(exist_ok=True)
        simulate.answer_form(folder, form, known, habits, seed, start=START, module=module, **WHO)
        return [(entry.item, entry.response) for entry in journal.read(folder / "answers.jsonl").entries]

    whole = answers("whole")
    answers("cut", form.model_copy(update={"items": form.items[:2]}))
    assert answers("cut") == whole
    assert answers("other", seed="another seed") != whole


def test_a_cohort_is_mixed_and_follows_from_its_seed() -> None:
    codes = sorted(all_misconceptions())
    people = simulate.cohort(60, codes, random.Random(4))
    assert people == simulate.cohort(60, codes, random.Random(4))
    assert people != simulate.cohort(60, codes, random.Random(5))
    held = Counter(len(person.misconceptions) for person in people)
    assert set(held) == {0, 1, 2}
    assert all(0.4 <= person.skill <= 1 for person in people)
    assert len({person.skill for person in people}) > 30


def test_whatever_a_scenario_can_show_is_shown_by_a_play() -> None:
    item, key = pin()
    ways = scenarios.ways_to_show(item.model, item.scene)
    assert len(ways) >= 8
    for code, way in ways.items():
        found = mark(item, key, {"kind": "actions", "actions": list(way)})
        assert (found.misconception, found.verdict == "right") == (code, False)
        # No shorter part of it does.
        assert mark(item, key, {"kind": "actions", "actions": list(way[:-1])}).misconception is None
        holds = Habits(skill=1.0, slip=0.0, hold=1.0, misconceptions=frozenset({code}))
        given = answered(item, key, holds, random.Random(1))
        assert mark(item, key, given).misconception == code


def test_a_unit_that_is_mixed_up_shows_where_another_unit_is_offered() -> None:
    template, pack = find("torque-units/convert"), packs.load("dunlin")
    holds = Habits(skill=1.0, slip=0.0, hold=1.0, misconceptions=frozenset({CODE}))
    shown: Counter[str | None] = Counter()
    for seed in range(40):
        item, key = template.draw(random.Random(seed), pack)
        shown[mark(item, key, answered(item, key, holds, random.Random(seed))).misconception] += 1
    # Now and then the same number in the other unit is what another wrong rule gives.
    assert shown[CODE] >= 35
