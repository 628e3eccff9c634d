"""Questions of an assessment: what is recorded, and that nothing is called saved before it is on the disk."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.trainkit.asked import ANGLE, CLOCK, GOOD, GRID, INSERT, NUMBER, ORDER, POINT, SEVERAL, TEXT, WRENCH, say
from tests.trainkit.given_out import CHOICE, journal_in
from trainkit.errors import FormError, JournalError, QuantityError, ResponseError
from trainkit.forms import Form, FormItem
from trainkit.items.kinds import ChoiceItem, Given, Item, NumberItem, NumberKey, ObservedItem, Option
from trainkit.items.reading import read_response
from trainkit.journal import Journal, read
from trainkit.widgets.assessed import Assessed
from trainkit.widgets.finishing import Finishing, progress
from trainkit.widgets.understanding import fit, understood
from trainkit.widgets.watched import Watched


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

    def full(*_: object, **__: object) -> None:
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
        *("saved", "draft", "kept", "buttons"),
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


@pytest.mark.parametrize(
    ("text", "unit", "typed"),
    [("31 ft-lb", "N·m", "lbf·ft"), ("31 lbf·in", "N·m", "lbf·in"), ("4,2 kgf·m", "lbf·ft", "kgf·m")],
)
def test_another_unit_than_the_chosen_one_is_asked_about(tmp_path: Path, text: str, unit: str, typed: str) -> None:
    question = Assessed("A1", NUMBER, journal_in(tmp_path))
    clash = say(question, type="read", text=text, unit=unit)["clash"]
    assert clash["words"] == f"You typed {typed}, and {unit} is chosen. Which unit do you mean?"
    assert (clash["typed"], clash["picked"]) == (typed, unit)
    keep, change = clash["choices"]
    # Either way out is read without asking again, and as what it says.
    ways = {keep: (f"{clash['number']} {typed}", ""), change: (clash["number"], unit)}
    for words, (as_typed, chosen) in ways.items():
        reply = say(question, type="read", text=as_typed, unit=chosen)
        assert "clash" not in reply
        assert words.endswith(reply["text"])


@pytest.mark.parametrize(("text", "unit"), [("31", "N·m"), ("31 N·m", "N·m"), ("31 Nm", "N·m"), ("31 lbf·ft", "")])
def test_where_the_units_agree_nothing_is_asked(tmp_path: Path, text: str, unit: str) -> None:
    question = Assessed("A1", NUMBER, journal_in(tmp_path))
    assert "clash" not in say(question, type="read", text=text, unit=unit)


@given(st.text(max_size=80), st.text(max_size=20))
def test_any_text_is_refused_by_an_error_of_ours_or_is_read_the_same_twice(text: str, unit: str) -> None:
    for item in (NUMBER, ANGLE):
        try:
            read_back = understood(item, text, unit)
        except (QuantityError, ResponseError):
            continue
        else:
            assert fit(item, read_back.response.model_dump(mode="json")) == read_back.response


# Hand-in --------------------------------------------------------------------------------------------------------------


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
