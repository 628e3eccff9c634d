"""Questions as state: what is recorded, what is said, and that nothing is called saved before it is on the disk."""

from __future__ import annotations

import json
import random
import threading
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.trainkit.answers import right_answer, wrong_answer
from tests.trainkit.draws import drawn
from tests.trainkit.given_out import CHOICE, journal_in
from trainkit import packs
from trainkit.errors import FormError, ItemError, JournalError, QuantityError, ResponseError
from trainkit.forms import Form, FormItem
from trainkit.items import template
from trainkit.items.item import (
    ActionsItem,
    Card,
    ChoiceItem,
    Given,
    GridItem,
    InsertItem,
    Item,
    NumberItem,
    ObservedItem,
    Option,
    OrderItem,
    PointItem,
    Scale,
    SetItem,
    SeveralItem,
    TextItem,
)
from trainkit.items.key import NumberKey, SetKey
from trainkit.items.responses import read_response
from trainkit.journal import Journal, read
from trainkit.widgets import paper
from trainkit.widgets.assessed import Assessed
from trainkit.widgets.finishing import Finishing, progress
from trainkit.widgets.practised import Practised
from trainkit.widgets.reading import fit, understood
from trainkit.widgets.watched import Watched

NASTY = "<img src=x onerror=alert(1)> & \"'"
UNITS = ("N·m", "lbf·ft", "lbf·in")
NUMBER = NumberItem(prompt="What do you set?", units=UNITS, to_nearest="to the nearest 1 lbf·ft")
ANGLE = NumberItem(prompt="How far does the crank turn?", units=("°",), to_nearest="to the nearest degree")
SEVERAL = SeveralItem(prompt="Which?", options=(Option(id="a", text="seal"), Option(id="b", text="bolt")))
ORDER = OrderItem(prompt="In order:", cards=tuple(Card(id=name, text=f"Step {name}.") for name in "abcd"))
INSERT = InsertItem(
    prompt="Where?", written=(Card(id="a", text="First"), Card(id="b", text="Last")), missing=Card(id="m", text="Lock")
)
POINT = PointItem(
    prompt="Which comes next?",
    figure={"draw": "bolts", "noun": "screw", "bolts": [{"id": "1", "x": 0, "y": 9}, {"id": "2", "x": 0, "y": -9}]},
    targets=(Option(id="1", text="Screw 1"), Option(id="2", text="Screw 2")),
)
CLOCK = SetItem(prompt="Where?", scale=Scale(low=0.0, high=12.0, step=0.25, unit="o'clock", round=True))
WRENCH = SetItem(prompt="Set it.", scale=Scale(low=20.0, high=100.0, step=0.5, unit="N·m"))
GRID = GridItem(
    prompt="What becomes of each?",
    rows=(Option(id="seal", text="Seal"), Option(id="gear", text="Gear")),
    columns=(Option(id="renew", text="renew"), Option(id="refit", text="refit")),
)
TEXT = TextItem(prompt="Say why.", limit=80)
GOOD: list[tuple[Item, dict[str, Any]]] = [
    (NUMBER, {"kind": "number", "text": "31", "unit": "lbf·ft"}),
    (CHOICE, {"kind": "choice", "option": "b"}),
    (SEVERAL, {"kind": "several", "options": ["b"]}),
    (ORDER, {"kind": "order", "cards": ["d", "a", "c", "b"]}),
    (INSERT, {"kind": "insert", "place": 1}),
    (POINT, {"kind": "point", "target": "2"}),
    (CLOCK, {"kind": "set", "value": 2.75}),
    (WRENCH, {"kind": "set", "value": 42.5}),
    (GRID, {"kind": "grid", "rows": {"seal": "renew"}}),
    (TEXT, {"kind": "text", "text": "<b>Because</b> the key falls."}),
]


def say(state: Any, **message: Any) -> dict[str, Any]:
    reply: dict[str, Any] = state.hear({"ticket": "t1", **message})
    assert reply["ticket"] == "t1"
    json.dumps(reply)  # it has to go through the wire
    return reply


@pytest.mark.parametrize(("item", "response"), GOOD, ids=lambda value: getattr(value, "kind", ""))
def test_an_answer_is_on_the_disk_before_it_is_called_saved(
    tmp_path: Path, item: Item, response: dict[str, Any]
) -> None:
    question = Assessed("A1", item, journal_in(tmp_path))
    assert question.shown()["saved"] is None
    reply = say(question, type="save", response=response)
    on_disk = read(tmp_path / "answers.jsonl").latest()["A1"]
    assert reply["type"] == "saved"
    assert reply["saved"] == {"response": on_disk.response.model_dump(mode="json"), "at": on_disk.at, "n": 1}
    assert on_disk.response == read_response(response)
    # The cell is run again, in another kernel.
    again = Assessed("A1", item, journal_in(tmp_path))
    assert again.shown()["saved"] == reply["saved"]
    assert again.shown()["draft"] == question.shown()["draft"]


def test_an_answer_can_be_changed_and_the_last_one_counts(tmp_path: Path) -> None:
    question = Assessed("A1", CHOICE, journal_in(tmp_path))
    for option in "aba":
        assert say(question, type="save", response={"kind": "choice", "option": option})["type"] == "saved"
    assert [entry.n for entry in read(tmp_path / "answers.jsonl").entries] == [1, 2, 3]
    assert question.shown()["saved"]["response"]["option"] == "a"


def test_nothing_is_called_saved_when_the_disk_refuses(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    question = Assessed("A1", CHOICE, journal_in(tmp_path))

    def full(*_: object) -> None:
        raise JournalError("answers.jsonl", rule="The disk is full.", remedy="Make room.")

    with monkeypatch.context() as patched:
        patched.setattr(Journal, "append", full)
        reply = say(question, type="save", response={"kind": "choice", "option": "a"})
    assert reply == {"type": "refused", "text": "The disk is full. Make room.", "ticket": "t1"}
    assert question.shown()["saved"] is None
    assert say(question, type="save", response={"kind": "choice", "option": "a"})["type"] == "saved"


@pytest.mark.parametrize(
    ("item", "response"),
    [
        (NUMBER, {"kind": "number", "text": "", "unit": "N·m"}),
        (NUMBER, {"kind": "number", "text": "31", "unit": ""}),
        (NUMBER, {"kind": "number", "text": "31 lb", "unit": "N·m"}),
        (NUMBER, {"kind": "number", "text": "1,250", "unit": "N·m"}),
        (NUMBER, {"kind": "number", "text": "x" * 61, "unit": "N·m"}),
        (ANGLE, {"kind": "number", "text": "a right angle", "unit": "°"}),
        (CHOICE, {"kind": "choice", "option": "z"}),
        (CHOICE, {"kind": "order", "cards": ["a", "b"]}),
        (SEVERAL, {"kind": "several", "options": ["a", "a"]}),
        (ORDER, {"kind": "order", "cards": ["a", "b", "c"]}),
        (ORDER, {"kind": "order", "cards": ["a", "b", "c", "c"]}),
        (INSERT, {"kind": "insert", "place": 3}),
        (POINT, {"kind": "point", "target": "3"}),
        (CLOCK, {"kind": "set", "value": 12.25}),
        (WRENCH, {"kind": "set", "value": float("nan")}),
        (GRID, {"kind": "grid", "rows": {"seal": "paint"}}),
        (GRID, {"kind": "grid", "rows": {"bolt": "renew"}}),
        (TEXT, {"kind": "text", "text": "  "}),
        (TEXT, {"kind": "text", "text": "x" * 81}),
        (CHOICE, None),
        (CHOICE, "b"),
        (CHOICE, {"kind": "choice", "option": "a", "verdict": "right"}),
    ],
)
def test_what_can_be_no_answer_is_refused_with_a_remedy_and_not_recorded(
    tmp_path: Path, item: Item, response: object
) -> None:
    reply = say(Assessed("A1", item, journal_in(tmp_path)), type="save", response=response)
    assert reply["type"] == "refused"
    assert reply["text"].endswith(".")
    assert not (tmp_path / "answers.jsonl").exists()


@pytest.mark.parametrize(
    "message", [None, 3, {}, {"type": ["save"]}, {"type": "magic"}, {"type": "act"}, {"type": "next"}]
)
def test_a_message_that_nobody_sends_is_refused(tmp_path: Path, message: object) -> None:
    assert Assessed("A1", CHOICE, journal_in(tmp_path)).hear(message)["type"] == "refused"


def test_the_assessment_tells_no_verdict(tmp_path: Path) -> None:
    question = Assessed("A1", CHOICE, journal_in(tmp_path))
    reply = say(question, type="save", response={"kind": "choice", "option": "a"})
    assert set(reply) == {"type", "saved", "ticket"}
    assert set(question.shown()) == {
        *("format", "mode", "kind", "name", "heading", "points", "prompt", "given", "figure", "control", "play"),
        *("saved", "draft", "buttons"),
    }


def test_the_draft_of_one_person_and_form_is_not_that_of_another(tmp_path: Path) -> None:
    names: dict[str, Any] = {"course": "c", "module": "m", "form": "f", "apprentice": "a"}
    kept = {
        Assessed("A1", CHOICE, Journal(tmp_path / "j", **{**names, **change})).shown()["draft"]
        for change in ({}, {"course": "x"}, {"module": "x"}, {"form": "x"}, {"apprentice": "x"})
    }
    kept.add(Assessed("A1", NUMBER, Journal(tmp_path / "j", **names)).shown()["draft"])  # asked something else
    assert len(kept) == 6


def test_a_recorded_answer_that_cannot_be_one_is_not_shown_as_one(tmp_path: Path) -> None:
    say(Assessed("A1", CHOICE, journal_in(tmp_path)), type="save", response={"kind": "choice", "option": "b"})
    other = ChoiceItem(prompt="?", options=(Option(id="x", text="x"), Option(id="y", text="y")))
    assert Assessed("A1", other, journal_in(tmp_path)).shown()["saved"] is None
    assert Assessed("A1", ORDER, journal_in(tmp_path)).shown()["saved"] is None


def test_answers_from_many_threads_are_all_recorded(tmp_path: Path) -> None:
    questions = [Assessed(f"A{number}", CHOICE, journal_in(tmp_path)) for number in range(1, 7)]
    replies: list[dict[str, Any]] = []

    def press(question: Assessed) -> None:
        replies.extend(question.hear({"type": "save", "response": {"kind": "choice", "option": name}}) for name in "ab")

    threads = [threading.Thread(target=press, args=(question,)) for question in questions]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert {reply["type"] for reply in replies} == {"saved"}
    assert read(tmp_path / "answers.jsonl").problems == ()
    assert sorted(reply["saved"]["n"] for reply in replies) == list(range(1, 13))


def test_a_kind_without_a_control_is_said_at_once(tmp_path: Path) -> None:
    with pytest.raises(FormError, match="can be shown"):
        Assessed("A1", ObservedItem(prompt="Do it.", steps=(Option(id="a", text="Do it."),)), journal_in(tmp_path))


@pytest.mark.parametrize(
    ("item", "text", "unit", "words"),
    [
        (NUMBER, "12,5", "N·m", "12.5\u2009N·m"),
        (NUMBER, "12.5", "lbf·ft", "12.5\u2009lbf·ft"),
        (NUMBER, " 31 ft-lb ", "N·m", "31\u2009lbf·ft"),
        (NUMBER, "96 in-lb", "", "96\u2009lbf·in"),
        (ANGLE, "137", "", "137°"),
        (ANGLE, "137,5°", "", "137.5°"),
    ],
)
def test_a_number_is_read_back_the_way_marking_reads_it(item: NumberItem, text: str, unit: str, words: str) -> None:
    read_back = understood(item, text, unit)
    assert read_back.words == words
    from trainkit.items.marking import mark

    asked_in = words.rsplit("\u2009", 1)[-1] if "\u2009" in words else "°"
    key = NumberKey(
        template="t/t",
        working=("so",),
        quantity="torque" if item is NUMBER else "crank angle",
        answer=float(words.replace("°", "").split("\u2009")[0]),
        unit=asked_in,
        tolerance=0.0,
        shown=words,
    )
    assert mark(item, key, read_back.response).verdict == "right"


def test_reading_back_records_nothing(tmp_path: Path) -> None:
    question = Assessed("A1", NUMBER, journal_in(tmp_path))
    assert say(question, type="read", text="12,5", unit="N·m")["text"] == "12.5\u2009N·m"
    assert say(question, type="read", text="12 lb", unit="N·m")["type"] == "refused"
    assert say(question, type="read", text=3, unit="N·m")["type"] == "refused"
    assert not (tmp_path / "answers.jsonl").exists()


@given(st.text(max_size=80), st.text(max_size=20))
def test_any_text_is_refused_by_an_error_of_ours_or_is_read_the_same_twice(text: str, unit: str) -> None:
    for item in (NUMBER, ANGLE):
        try:
            read_back = understood(item, text, unit)
        except (QuantityError, ResponseError):
            continue
        else:
            assert fit(item, read_back.response.model_dump(mode="json")) == read_back.response


# Practice ------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def dunlin() -> packs.Pack:
    return packs.load("dunlin")


def practice(dunlin: packs.Pack, seed: int = 1) -> Practised:
    names = ("torque-units/convert", "torque-units/nearest-mark")
    return Practised("Convert a torque", [template.find(name) for name in names], dunlin, random.Random(seed))


def test_practice_explains_at_once_and_shows_the_working(dunlin: packs.Pack) -> None:
    state = practice(dunlin)
    assert isinstance(state.key, NumberKey)
    reply = say(state, type="save", response={"kind": "number", "text": state.key.shown})
    assert reply["explained"]["verdict"] == "right"
    assert reply["explained"]["working"] == list(state.key.working)
    assert reply["tally"] == "1 of 1 right at the first try"


def test_practice_names_the_misconception_and_its_cure(dunlin: packs.Pack) -> None:
    from trainkit.items.misconceptions import misconception

    state = practice(dunlin)
    assert isinstance(state.key, NumberKey)
    rule = state.key.rules[0]
    reply = say(state, type="save", response={"kind": "number", "text": repr(rule.value), "unit": state.key.unit})
    assert reply["explained"]["verdict"] == "not yet"
    assert misconception(rule.misconception).cure in reply["explained"]["reason"]
    assert reply["tally"] == "0 of 1 right at the first try"


def test_practice_has_no_end_and_comes_back_to_what_was_not_right(dunlin: packs.Pack) -> None:
    state = practice(dunlin)
    prompts = set()
    for _ in range(12):
        before = state._template
        assert say(state, type="save", response={"kind": "number", "text": "99999 N·m"})["type"] == "explained"
        # A second try at the same question is explained too, and counts no second time.
        say(state, type="save", response={"kind": "number", "text": "99999 N·m"})
        follows = [before, *state._queue[:2]]
        assert before in follows[1:]
        reply = say(state, type="next")
        assert reply["shown"]["explained"] is None
        prompts.add(json.dumps([reply["shown"]["prompt"], reply["shown"]["given"]]))
    assert state.asked == 12
    assert len(prompts) >= 8


def test_practice_records_nothing(dunlin: packs.Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    state = practice(dunlin)
    say(state, type="save", response={"kind": "number", "text": "31 N·m"})
    say(state, type="next")
    assert list(tmp_path.iterdir()) == []


def test_a_skill_without_templates_is_refused(dunlin: packs.Pack) -> None:
    with pytest.raises(ItemError, match="at least one template"):
        Practised("Nothing", [], dunlin, random.Random(1))


class _Judged(template.Template):
    """A template whose answers a person has to judge."""

    name = "t/why"
    skill = "say why"
    kind = "text"

    def sketch(self, rng: random.Random, pack: packs.Pack, shuffle: random.Random) -> Any:  # noqa: ARG002 - the base class's
        raise AssertionError("nobody draws it")


def test_what_a_person_judges_cannot_be_practised(dunlin: packs.Pack) -> None:
    with pytest.raises(ItemError, match="wait for a person") as caught:
        Practised("Say why", [template.find("torque-units/convert"), _Judged()], dunlin, random.Random(1))
    assert caught.value.value == "t/why"


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("sequence/fate-of-parts", "grid"),
        ("turning-direction/gear-on-picture", "point"),
        ("tightening/next-bolt", "point"),
        ("turning-direction/other-end-clock", "set"),
        ("lash-and-timing/key-at-dead-centre", "set"),
    ],
)
def test_every_kind_that_can_be_practised_explains_its_answer(dunlin: packs.Pack, name: str, kind: str) -> None:
    state = Practised("All", [template.find(name)], dunlin, random.Random(3))
    assert state.item.kind == kind
    reply = say(state, type="save", response=right_answer(state.item, state.key))
    assert reply["explained"]["verdict"] == "right"
    assert reply["explained"]["working"]
    wrong = wrong_answer(state.item, state.key)
    if isinstance(state.key, SetKey):
        wrong["value"] = state.key.rules[0].value % 12
    reply = say(state, type="save", response=wrong)
    assert reply["explained"]["verdict"] == "not yet"
    assert len(reply["explained"]["reason"]) > 40


# The bench -----------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def pinning(dunlin: packs.Pack) -> ActionsItem:
    item, _ = drawn("lock-pin/pin-the-engine", dunlin, 3)
    assert isinstance(item, ActionsItem)
    return item


def safe_way(item: ActionsItem) -> list[str]:
    """Return actions that end well, found by the model's own search."""
    from trainkit import lockpin
    from trainkit.items import scenarios

    play = scenarios.begin(item.model, item.scene)
    return [str(action.value) for action in lockpin.shortest_way(play.state) or ()]  # type: ignore[attr-defined] # its own play


def act(state: Any, action: str) -> dict[str, Any]:
    return say(state, type="act", action=action, so_far=len(state.bench.actions))


def test_each_action_is_on_the_disk_before_it_is_shown(tmp_path: Path, pinning: ActionsItem) -> None:
    question = Assessed("A1", pinning, journal_in(tmp_path))
    way = safe_way(pinning)
    for done, action in enumerate(way, start=1):
        reply = act(question, action)
        assert reply["play"]["count"] == done
        assert "why" not in reply["play"]["log"][-1]  # the assessment explains nothing
        recorded = read(tmp_path / "answers.jsonl").latest()["A1"].response
        assert recorded.actions == tuple(way[:done])  # type: ignore[union-attr] # a bench records actions
        again = Assessed("A1", pinning, journal_in(tmp_path))
        assert again.shown()["play"] == reply["play"]
        assert again.begun_only == (done < len(way))
    assert reply["play"]["over"]
    assert reply["play"]["can"] == []
    assert act(question, way[0])["type"] == "refused"


def test_a_press_that_is_repeated_counts_once(tmp_path: Path, pinning: ActionsItem) -> None:
    question = Assessed("A1", pinning, journal_in(tmp_path))
    first = safe_way(pinning)[0]
    say(question, type="act", action=first, so_far=0)
    reply = say(question, type="act", action=first, so_far=0)
    assert reply["play"]["count"] == 1
    assert len(read(tmp_path / "answers.jsonl").entries) == 1


def test_an_action_that_the_disk_refuses_has_not_happened(
    tmp_path: Path, pinning: ActionsItem, monkeypatch: pytest.MonkeyPatch
) -> None:
    question = Assessed("A1", pinning, journal_in(tmp_path))
    way = safe_way(pinning)
    act(question, way[0])
    before = question.shown()["play"]

    def full(*_: object) -> None:
        raise JournalError("answers.jsonl", rule="The disk is full.", remedy="Make room.")

    with monkeypatch.context() as patched:
        patched.setattr(Journal, "append", full)
        assert act(question, way[1])["type"] == "refused"
    assert question.shown()["play"] == before
    assert act(question, way[1])["play"]["count"] == 2


def test_an_attempt_is_stopped_or_started_again(tmp_path: Path, pinning: ActionsItem) -> None:
    question = Assessed("A1", pinning, journal_in(tmp_path))
    way = safe_way(pinning)
    act(question, way[0])
    reply = say(question, type="stop")
    assert reply["play"]["over"]
    assert read(tmp_path / "answers.jsonl").latest()["A1"].response.gave_up  # type: ignore[union-attr] # a bench's
    assert not question.begun_only
    reply = say(question, type="again")
    assert reply["play"]["count"] == 0
    assert reply["saved"]["response"]["gave_up"]  # the recorded attempt stands until there is another
    act(question, way[0])
    assert not question.shown()["saved"]["response"]["gave_up"]
    assert question.begun_only


@pytest.mark.parametrize("message", [{"action": "magic"}, {"action": None}, {"action": ["press"]}])
def test_an_action_that_is_not_offered_is_refused(
    tmp_path: Path, pinning: ActionsItem, message: dict[str, Any]
) -> None:
    question = Assessed("A1", pinning, journal_in(tmp_path))
    assert say(question, type="act", so_far=0, **message)["type"] == "refused"
    assert say(question, type="save", response={"kind": "actions", "actions": []})["type"] == "refused"
    assert not (tmp_path / "answers.jsonl").exists()


def test_practice_at_the_bench_explains_each_action_and_the_end(dunlin: packs.Pack) -> None:
    state = Practised("Pin", [template.find("lock-pin/pin-the-engine")], dunlin, random.Random(3))
    assert isinstance(state.item, ActionsItem)
    way = safe_way(state.item)
    for action in way:
        reply = act(state, action)
        assert reply["play"]["log"][-1]["why"]
    assert reply["explained"]["verdict"] == "right"
    assert say(state, type="again")["explained"] is None
    assert state.tally == "1 of 1 right at the first try"


# Hand-in -------------------------------------------------------------------------------------------------------------


def test_the_hand_in_lists_what_is_missing_and_asks_before_it_goes_without(tmp_path: Path) -> None:
    form = Form(code="K7", items=(FormItem(id="A1", item=CHOICE), FormItem(id="A2", item=NUMBER)))
    journal = journal_in(tmp_path)
    state = Finishing(form, journal, tmp_path)
    assert "Not answered: A1, A2." in state.shown()["lines"]
    assert say(state, type="hand", sure=True)["type"] == "refused"  # nothing at all to hand in
    say(Assessed("A1", CHOICE, journal), type="save", response={"kind": "choice", "option": "b"})
    assert progress(form, journal).missing == ("A2",)
    assert say(state, type="hand")["type"] == "unsure"
    assert list(tmp_path.glob("*.zip")) == []
    reply = say(state, type="hand", sure=True)
    assert reply["type"] == "packed"
    assert reply["file"] == "lock-pin-amir-K7.handin.zip"
    import base64

    assert base64.b64decode(reply["data"]) == (tmp_path / reply["file"]).read_bytes()
    say(Assessed("A2", NUMBER, journal), type="save", response={"kind": "number", "text": "31 N·m"})
    assert say(state, type="look")["shown"]["complete"]
    assert say(state, type="hand")["type"] == "packed"
    assert say(state, type="dance")["type"] == "refused"


def test_practical_work_is_shown_and_not_missed(tmp_path: Path) -> None:
    work = ObservedItem(
        prompt="Pin the engine.",
        given=(Given(label="Engine", value="Dunlin"),),
        steps=(Option(id="a", text="Lock out the starter."), Option(id="b", text="Press the pin in.")),
        critical=("a",),
    )
    shown = Watched("A2", work)
    assert "- Lock out the starter. (critical)" in str(shown)
    html = shown._repr_mimebundle_()["text/html"]
    for words in ("Pin the engine.", "Dunlin", "(critical)", "Your instructor watches this and signs for it."):
        assert words in html
    # A word in brackets is explained, where there is one.
    assert "“Critical” marks a step that can hurt a person or the engine" in html
    assert "Critical" not in str(Watched("A2", work.model_copy(update={"critical": ()})))
    form = Form(code="K7", items=(FormItem(id="A1", item=CHOICE), FormItem(id="A2", item=work)))
    journal = journal_in(tmp_path)
    found = progress(form, journal)
    assert (found.missing, found.watched, found.complete) == (("A1",), ("A2",), False)
    say(Assessed("A1", CHOICE, journal), type="save", response={"kind": "choice", "option": "b"})
    found = progress(form, journal)
    assert found.complete
    assert found.lines == (
        "Answered and saved: 1 of 1.",
        "Practical work, watched and signed by your instructor: A2.",
    )
    assert say(Finishing(form, journal, tmp_path), type="hand")["type"] == "packed"


# Paper ---------------------------------------------------------------------------------------------------------------


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002 - the base class's
        self.tags.append(tag)


@pytest.mark.parametrize(
    "item",
    [
        NumberItem(prompt=NASTY, given=(Given(label=NASTY, value=NASTY),), units=(NASTY[:8],), to_nearest=NASTY),
        ChoiceItem(prompt=NASTY, options=(Option(id="a", text=NASTY), Option(id="b", text="x"))),
        SeveralItem(prompt=NASTY, options=(Option(id="a", text=NASTY), Option(id="b", text="x"))),
        OrderItem(prompt=NASTY, cards=tuple(Card(id=name, text=NASTY) for name in "abc")),
        InsertItem(prompt=NASTY, written=(Card(id="a", text=NASTY),) * 2, missing=Card(id="m", text=NASTY)),
        ChoiceItem(
            prompt="x",
            options=CHOICE.options,
            figure={"draw": "clock", "seen_from": "front", "name": NASTY, "marks": [{"at": "1:00", "label": NASTY}]},
        ),
        ChoiceItem(prompt="x", options=CHOICE.options, figure={"draw": NASTY}),
        GridItem(prompt=NASTY, rows=(Option(id="a", text=NASTY),) * 2, columns=(Option(id="b", text=NASTY),) * 2),
        PointItem(prompt=NASTY, targets=(Option(id="a", text=NASTY), Option(id="b", text="x"))),
        SetItem(prompt=NASTY, scale=Scale(low=0, high=1, step=0.5, unit=NASTY)),
        TextItem(prompt=NASTY),
        ObservedItem(prompt=NASTY, steps=(Option(id="a", text=NASTY),), critical=("a",)),
    ],
)
def test_no_word_of_an_item_is_markup_on_paper(item: Item) -> None:
    tags = _Tags()
    tags.feed(paper.item_html(NASTY, item, NASTY))
    assert not {"img", "script"} & set(tags.tags)
    assert item.prompt in paper.item_text("Question A1", item)


def test_an_answered_question_is_readable_on_paper(tmp_path: Path) -> None:
    for place, (item, response) in enumerate(GOOD, start=1):
        question = Assessed(f"A{place}", item, journal_in(tmp_path))
        assert "Not answered." in question.text()
        say(question, type="save", response=response)
        words = paper.answer_words(item, read_response(response))
        assert words in question.text()
        assert "UTC" in question.html()
    assert "31\u2009lbf·ft" in Assessed("A1", NUMBER, journal_in(tmp_path)).text()
    assert "1. Step d; 2. Step a" in Assessed("A4", ORDER, journal_in(tmp_path)).text()
    assert "UTC: 2:45" in Assessed("A7", CLOCK, journal_in(tmp_path)).text()
    assert "42.5\u2009N·m" in Assessed("A8", WRENCH, journal_in(tmp_path)).text()
    assert "Seal: renew" in Assessed("A9", GRID, journal_in(tmp_path)).text()
    assert "<b>" not in Assessed("A10", TEXT, journal_in(tmp_path)).html()


def test_on_paper_a_setting_says_its_scale_and_a_grid_has_boxes(tmp_path: Path) -> None:
    assert (
        "Set the hand of the clock, in steps of 15\u2009minutes." in Assessed("A1", CLOCK, journal_in(tmp_path)).text()
    )
    wrench = "Set the scale, from 20 to 100\u2009N·m in steps of 0.5\u2009N·m."
    assert wrench in Assessed("A1", WRENCH, journal_in(tmp_path)).html()
    html = Assessed("A1", GRID, journal_in(tmp_path)).html()
    assert html.count("☐") == len(GRID.rows) * len(GRID.columns)
    assert html.count('scope="col"') == len(GRID.columns)
    assert "Choose for each one of: renew; refit." in Assessed("A1", GRID, journal_in(tmp_path)).text()


def test_a_place_to_point_to_stands_in_the_picture_under_its_name(tmp_path: Path) -> None:
    shown = Assessed("A1", POINT, journal_in(tmp_path)).shown()
    for target in POINT.targets:
        assert f'data-target="{target.id}"' in shown["control"]["figure"]
    assert shown["figure"] == ""  # drawn once, in the control
    shown = Assessed("A2", CLOCK.model_copy(update={"figure": POINT.figure}), journal_in(tmp_path)).shown()
    assert shown["control"]["figure"].startswith("<svg")  # beside the hand that is set by it
    assert shown["figure"] == ""
    assert Assessed("A3", CLOCK, journal_in(tmp_path)).shown()["control"]["figure"] == ""
