"""The reader is eighteen and reads slowly: sentences are short, and every word of the trade is explained."""

from __future__ import annotations

import re
from collections.abc import Iterator
from statistics import mean

import pytest

from tests.workbooks.workbook_text import cells, said, sentences, source, words
from trainkit import glossary, modules

NAMES = modules.names()
BOLD = re.compile(r"\*\*(.+?)\*\*")


def test_sentences_are_taken_apart_honestly() -> None:
    text = """## A heading: with a colon

One sentence of 1.356 N·m, e.g. this. And *two*? Yes!
It goes on over
two lines; and after a semicolon.

| ask | because |
| --- | --- |
| Where do I stand? Which end? | it matters |

- an item
  goes on
1. another item. Of two sentences.
"""
    assert list(sentences(text)) == [
        "A heading: with a colon",
        "One sentence of 1.356 N·m, e.g. this.",
        "And two?",
        "Yes!",
        "It goes on over two lines; and after a semicolon.",
        *("ask", "because", "Where do I stand?", "Which end?", "it matters"),
        "an item goes on",
        *("another item.", "Of two sentences."),
    ]
    assert words("Setting = 27 N·m × 320 ÷ (320 + 48)") == 6


def markdown(name: str) -> str:
    return "\n\n".join(source(cell) for cell in cells(name) if cell["cell_type"] == "markdown")


def read(name: str) -> Iterator[str]:
    """Yield everything that an author wrote for the reader of a module."""
    blueprint = modules.load(name).blueprint
    yield from sentences(markdown(name))
    for text in (*blueprint.objectives, *(skill.name for skill in blueprint.skills), blueprint.title):
        yield from sentences(text)


def notes(name: str) -> Iterator[str]:
    """Yield what the worked examples say."""
    for cell in cells(name):
        if cell["cell_type"] == "code" and cell["id"].startswith(("example", "the-")):
            yield from sentences(said(cell))


def check(found: list[str], over_fifteen: float) -> None:
    long = [sentence for sentence in found if words(sentence) > 15]
    assert max(map(words, found)) <= 20
    assert len(long) <= over_fifteen * len(found), long
    # Headings and cells of tables are short and flatter the mean.
    whole = [words(sentence) for sentence in found if sentence.endswith((".", "?", "!"))]
    assert mean(whole) <= 12


@pytest.mark.parametrize("name", NAMES)
def test_sentences_are_short(name: str) -> None:
    found = list(read(name))
    assert len(found) >= 40
    check([sentence for sentence in found if sentence.endswith((".", "?", "!"))], 0.05)
    check(found, 0.05)


@pytest.mark.parametrize("name", NAMES)
def test_worked_examples_speak_in_short_sentences(name: str) -> None:
    # Names of parts come from the pack, and may have four words.
    check(list(notes(name)), 0.2)


def test_worked_examples_together_are_as_short() -> None:
    check([sentence for name in NAMES for sentence in notes(name)], 0.08)


def test_the_glossary_is_as_short() -> None:
    check([sentence for each in glossary.TERMS for sentence in sentences(each.text)], 0.05)
    for each in glossary.TERMS:
        assert len(list(sentences(each.text))) <= 2


@pytest.mark.parametrize("name", NAMES)
def test_what_is_bold_is_a_word_of_the_trade(name: str) -> None:
    bold = BOLD.findall(markdown(name))
    assert bold
    assert [each for each in bold if glossary.term(each) is None] == []


def test_every_word_of_the_trade_is_explained_bold_in_a_workbook() -> None:
    bold = {glossary.term(each) for name in NAMES for each in BOLD.findall(markdown(name))}
    assert [each.term for each in glossary.TERMS if each not in bold] == []


@pytest.mark.parametrize("name", NAMES)
def test_a_sense_or_a_clock_position_says_from_which_end(name: str) -> None:
    """Each cell that speaks of a sense of rotation says from where it is seen, or that it speaks of senses as such."""
    ends = re.compile(r"seen from|from which end|the other end|flywheel end")
    texts = {cell["id"]: source(cell) for cell in cells(name) if cell["cell_type"] == "markdown"}
    spoken = [each for each, text in texts.items() if re.search(r"\b(?:anti)?clockwise\b", text, re.IGNORECASE)]
    assert [each for each in spoken if not ends.search(texts[each])] == []
