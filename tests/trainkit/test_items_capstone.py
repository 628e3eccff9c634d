"""What a person judges: texts by a rubric that is worked out, practical work by steps that hang together."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import FrozenInstanceError

import pytest

from tests.trainkit.draws import as_kind, changed, drawn
from tests.trainkit.second_ways.capstone import WAYS
from tests.trainkit.second_ways.reading import PACKS, pack
from tests.trainkit.second_ways.sequence import breaks
from trainkit import packs
from trainkit.errors import ItemError
from trainkit.items.capstone import MISCONCEPTIONS, rubric_of
from trainkit.items.kinds import Item, ObservedItem, ObservedKey, ObservedResponse, TextItem, TextKey
from trainkit.items.marking import mark
from trainkit.items.reading import read_key
from trainkit.items.template import find
from trainkit.widgets.watched import Watched

TEXT, WORK = "capstone/explain-why", "capstone/observed-work"


def text(seed: int, engine: str = "curlew") -> tuple[TextItem, TextKey]:
    return as_kind(drawn(TEXT, engine, seed), TextItem, TextKey)


def work(seed: int, engine: str = "curlew") -> tuple[ObservedItem, ObservedKey]:
    return as_kind(drawn(WORK, engine, seed), ObservedItem, ObservedKey)


def test_a_text_shows_nothing_of_its_rubric() -> None:
    assert MISCONCEPTIONS == ()
    for seed in range(40):
        item, key = text(seed)
        shown = item.model_dump_json()
        assert not any(
            each in shown for each in [*(name for line in key.rubric for name in line.names), *key.dangerous]
        )
        assert "rubric" not in shown


# Texts


@pytest.mark.parametrize("engine", PACKS)
def test_four_families_come_up_and_weigh_the_same(engine: str) -> None:
    seen: dict[str, list[float]] = {}
    for seed in range(200):
        item, key = text(seed, engine)
        assert (len(key.rubric), item.points, item.limit) == (4, 4, 1200)
        assert rubric_of(key).points == 4
        assert len(item.prompt.split()) <= 60
        seen.setdefault(family(item), []).append(find(TEXT).difficulty(drawn(TEXT, engine, seed).features))
    assert len(seen) == 4
    assert min(len(found) for found in seen.values()) > 3
    means = [sum(found) / len(found) for found in seen.values()]
    assert max(means) - min(means) < 0.5  # half a step of thought


def family(item: Item) -> str:
    return item.prompt[:19]


def spoilt(key: TextKey, pattern: str, put: Callable[[re.Match[str]], str]) -> TextKey:
    """Return a key with the first match in the names of its rubric changed."""
    for at, line in enumerate(key.rubric):
        for number, name in enumerate(line.names):
            other = re.sub(pattern, put, name, count=1)
            if other != name:
                names = (*line.names[:number], other, *line.names[number + 1 :])
                lines = (*key.rubric[:at], line.model_copy(update={"names": names}), *key.rubric[at + 1 :])
                return key.model_copy(update={"rubric": lines})
    return key


@pytest.mark.parametrize("engine", PACKS)
@pytest.mark.parametrize(
    ("opening", "pattern", "put"),
    [
        ("You barred", r"\d+(\.\d+)?(?=\u2009crank degrees)", lambda found: str(float(found[0]) + 1)),
        ("You barred", r"pressed from \d+", lambda _: "pressed from 7"),
        ("Somebody", r"\d+\.\d\d(?=° of the)", lambda found: f"{float(found[0]) + 0.02:.2f}"),
        ("Somebody", r"(anti)?clockwise", lambda found: {"clockwise": "anticlockwise"}.get(found[0], "clockwise")),
        ("A colleague is about", r"^“.+?”", lambda _: "“Wipe it”"),
        ("You are about to tighten", r"^\d+", lambda found: str(int(found[0]) + 3)),
        ("You are about to tighten", r"\d+(\.\d+)?(?=\u2009\S+, \d+)", lambda found: str(float(found[0]) + 0.2)),
    ],
)
def test_the_second_way_sees_a_wrong_fact(
    engine: str, opening: str, pattern: str, put: Callable[[re.Match[str]], str]
) -> None:
    met = 0
    for seed in range(150):
        item, key = text(seed, engine)
        if item.prompt.startswith(opening):
            met += 1
            with pytest.raises((AssertionError, KeyError)):
                WAYS[TEXT](item, spoilt(key, pattern, put), engine)
            with pytest.raises((AssertionError, ValueError)):
                WAYS[TEXT](item, key.model_copy(update={"dangerous": key.dangerous[1:]}), engine)
    assert met > 2


def test_a_text_waits_for_a_person_and_its_reason_holds_nothing_of_the_rubric() -> None:
    item, key = text(1)
    found = mark(item, key, {"kind": "text", "text": "Back to the mark, then forward."})
    assert (found.verdict, found.points, found.critical) == ("waiting", 0, False)
    assert not any(name in found.reason for line in key.rubric for name in line.names)
    assert mark(item, key, {"kind": "text", "text": "x" * 1201}).verdict == "not yet"


def test_a_rubric_reads_as_plain_text_and_follows_the_points_of_the_blueprint() -> None:
    _, key = text(2)
    rubric = rubric_of(key, 6)
    assert rubric.points == pytest.approx(6)
    assert [each.points for each in rubric.criteria] == [1.5] * 4
    said = str(rubric)
    assert "6 points in all" in said
    for line in key.rubric:
        assert f"{line.looks_for} (1.5 points)" in said
        assert all(f"- {name}" in said for name in line.names)
    flagged = said.partition("To be flagged")[2]
    assert all(each in flagged for each in key.dangerous)
    assert said.endswith(key.working[-1])
    with pytest.raises(FrozenInstanceError):
        rubric.working = ()  # type: ignore[misc]  # read-only
    with pytest.raises(ItemError, match="Only a text"):
        rubric_of(work(1)[1])


def test_a_key_of_an_older_course_has_a_rubric_without_names() -> None:
    old = {"kind": "text", "template": "t/t", "working": ["On."], "rubric": [{"looks_for": "the pin", "points": 2}]}
    rubric = rubric_of(read_key(old))
    assert (rubric.points, rubric.criteria[0].names, rubric.dangerous) == (2, (), ())
    assert "flagged" not in str(rubric)


# Practical work


def all_steps(item: ObservedItem, how: str, **others: str) -> ObservedResponse:
    steps = {step.id: others.get(step.id, how) for step in item.steps}
    return ObservedResponse(steps=steps, observer="Ines")  # type: ignore[arg-type]  # the words are checked by pydantic


@pytest.mark.parametrize("seed", range(12))
def test_watched_work_is_marked_by_its_steps(seed: int) -> None:
    item, key = work(seed)
    assert mark(item, key, all_steps(item, "unprompted")).verdict == "right"
    half = mark(item, key, all_steps(item, "prompted"))
    assert half.points == item.points / 2
    for step in item.steps:
        missed = mark(item, key, all_steps(item, "unprompted", **{step.id: "not done"}))
        assert missed.critical == (step.id in key.critical)
        assert (missed.points == 0) == (step.id in key.critical)
    assert mark(item, key, all_steps(item, "unprompted", a="stopped for safety")).critical


def test_the_second_way_sees_a_step_left_out_or_out_of_order() -> None:
    item, key = work(3)
    others = [
        item.model_copy(update={"steps": (*item.steps[:4], *item.steps[5:])}),
        item.model_copy(update={"steps": (item.steps[0], *reversed(item.steps[1:]))}),
        item.model_copy(update={"critical": item.critical[:-1]}),
        item.model_copy(update={"given": tuple(line for line in item.given if "Caution" not in line.label)}),
    ]
    for each in others:
        with pytest.raises(AssertionError):
            WAYS[WORK](each, key, "curlew")
    assert breaks(["b", "a"], frozenset({("a", "b")}))


def test_the_sheet_opens_with_the_cautions_and_marks_what_is_critical() -> None:
    item, _ = work(5)
    said = str(Watched("A12", item))
    for hazard in pack("curlew").cautions:
        assert hazard.text in said
    assert said.index(pack("curlew").cautions[0].text) < said.index("These steps are watched.")
    assert said.count("(critical)") == len(item.critical) >= 3
    assert "not answered on the screen" in said
    assert "There is nothing to answer or to save here." in said


def test_a_family_that_the_engine_lacks_is_passed_over() -> None:
    def families(engine: packs.Pack) -> set[str]:
        return {family(drawn(TEXT, engine, seed)[0]) for seed in range(40)}

    every = families(pack("dunlin"))
    assert len(every) == 4
    for opening, changes in {
        "Somebody": [(r"^lash_mm = 0\.[12]\d\n", "")],
        "You are about to ti": [(r"^length = .*\n", ""), (r"^adapter = .*\n", "")],
    }.items():
        left = families(changed(*changes))
        assert left == {each for each in every if not each.startswith(opening)}
