"""What anybody wrote stands on a page as text; what was answered is told in the words of the item."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainkit.items import kinds
from trainkit.items.marking import Mark
from trainkit.sentences import decimal
from trainkit_grading.support.markup import attribute, paragraphs, plain, said, text, verdict

from .made_up import cards, options


class Reader(HTMLParser):
    """Reads HTML as a browser does: tags here, text there."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.runs: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002 - as the base has it
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.runs.append(data)


@given(st.text(max_size=60))
def test_text_shows_exactly_what_was_written(written: str) -> None:
    read = Reader(f"<p>{text(written)}</p>")
    assert "".join(read.runs) == plain(written)
    assert set(read.tags) <= {"p", "span"}


@given(st.text(alphabet="$\\()[]{}be gin", max_size=40))
def test_no_run_of_text_could_be_set_as_mathematics(written: str) -> None:
    for run in Reader(text(written)).runs:
        assert run in ("$", "\\") or not set(run) & {"$", "\\"}


@given(st.text(max_size=40))
def test_attributes_end_where_they_should(written: str) -> None:
    class Attributes(HTMLParser):
        seen: tuple[tuple[str, str | None], ...] = ()

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002 - as above
            self.seen = tuple(attrs)

    reader = Attributes()
    reader.feed(f'<p title="{attribute(written)}">')
    assert reader.seen == (("title", plain(written)),)


def test_controls_and_turning_signs_do_not_hide_anything() -> None:
    assert plain("4\u202e2\u200f\x1b[31m\n") == "42\ufffd[31m\n"


def test_paragraphs_are_parted_by_an_empty_line() -> None:
    assert paragraphs("a <b>\n\n\n\nc\nd") == "<p>a &lt;b&gt;</p><p>c\nd</p>"


def test_numbers_are_written_short() -> None:
    assert [decimal(value) for value in (0.0, 1.0, 1.5, 1.25, 10.0, 2 / 3)] == ["0", "1", "1.5", "1.25", "10", "0.67"]


def test_verdict_has_a_shape_and_a_word() -> None:
    shown = [verdict(Mark(0, 1, word, "")) for word in ("right", "in part", "not yet", "no answer", "waiting")]
    assert len({line[0] for line in shown}) == 5
    assert verdict(Mark(0, 1, "not yet", "", critical=True)) == "○ not yet ▲ unsafe answer"


CHOICE = kinds.ChoiceItem(prompt="?", options=options("ab"))
INSERT = kinds.InsertItem(prompt="?", written=cards("ab"), missing=cards("c")[0])
PLAYED = kinds.ActionsItem(prompt="?", model="lock-pin", scene={}, actions=options("ab"))


@pytest.mark.parametrize(
    ("item", "response", "lines"),
    [
        (CHOICE, None, ()),
        (CHOICE, kinds.ChoiceResponse(option="b"), ("option b",)),
        (CHOICE, kinds.ChoiceResponse(option="<z>"), ("“<z>”, which was not offered",)),
        (CHOICE, kinds.NumberResponse(text=" 31 ", unit="N·m"), ("31\u2009N·m",)),
        (CHOICE, kinds.NumberResponse(text="31 ft-lb", unit="N·m"), ("31 ft-lb",)),
        (CHOICE, kinds.NumberResponse(text="1,250", unit="N·m"), ("1,250\u2009N·m",)),
        (CHOICE, kinds.SetResponse(value=7.5), ("7.5",)),
        (
            kinds.SetItem(prompt="?", scale=kinds.Scale(low=0, high=9, step=1, unit="h")),
            kinds.SetResponse(value=7.5),
            ("7.5\u2009h",),
        ),
        (
            kinds.SetItem(prompt="?", scale=kinds.Scale(low=0, high=12, step=0.25, unit="o'clock", round=True)),
            kinds.SetResponse(value=0.75),
            ("12:45",),
        ),
        (
            kinds.SeveralItem(prompt="?", options=options("abc")),
            kinds.SeveralResponse(options=("a", "c")),
            ("option a", "option c"),
        ),
        (
            kinds.SeveralItem(prompt="?", options=options("abc")),
            kinds.SeveralResponse(options=()),
            ("none of them",),
        ),
        (
            kinds.OrderItem(prompt="?", cards=cards("abc")),
            kinds.OrderResponse(cards=("c", "a", "b")),
            ("1. card c", "2. card a", "3. card b"),
        ),
        (INSERT, kinds.InsertResponse(place=0), ("before “card a”",)),
        (INSERT, kinds.InsertResponse(place=2), ("after “card b”",)),
        (INSERT, kinds.InsertResponse(place=12), ("after “card b”",)),
        (
            kinds.GridItem(prompt="?", rows=options("ab"), columns=options("xy")),
            kinds.GridResponse(rows={"a": "y"}),
            ("option a: option y",),
        ),
        (
            kinds.PointItem(prompt="?", targets=options("ab")),
            kinds.PointResponse(target="a"),
            ("option a",),
        ),
        (PLAYED, kinds.ActionsResponse(actions=("b",), gave_up=True), ("1. option b", "Stopped there.")),
        (PLAYED, kinds.ActionsResponse(actions=()), ("Nothing was done.",)),
        (kinds.TextItem(prompt="?"), kinds.TextResponse(text="One.\nTwo."), ("One.", "Two.")),
        (
            kinds.ObservedItem(prompt="?", steps=options("ab")),
            kinds.ObservedResponse(steps={"a": "prompted"}, observer="R. Tarn"),
            ("option a: prompted", "Observed by R. Tarn."),
        ),
    ],
)
def test_answers_are_told_in_words(item: kinds.Item, response: kinds.Response | None, lines: object) -> None:
    assert said(item, response) == lines
