"""The words of the trade: each found in every form in which it is met, and told to page and reader."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from IPython.core.formatters import DisplayFormatter

from trainkit import glossary, modules, workbook
from trainkit.widgets.kernel_messages import Channel


@pytest.mark.parametrize("each", glossary.TERMS, ids=lambda each: each.term)
def test_a_term_is_found_in_every_form(each: glossary.Term) -> None:
    for spelling in each.spellings:
        assert glossary.term(spelling.upper()) is each
        assert glossary.find(f"What is, then, {spelling}? Read on.") == (each,)
        if " " not in spelling:
            assert glossary.find(f"No word: x{spelling}x, nor {spelling}-like, nor un-{spelling}.") == ()


def test_no_spelling_belongs_to_two_terms() -> None:
    spellings = Counter(spelling.casefold() for each in glossary.TERMS for spelling in each.spellings)
    assert [spelling for spelling, times in spellings.items() if times > 1] == []


def test_a_spelling_is_found_over_a_line_break_and_before_a_shorter_one_within_it() -> None:
    assert [each.term for each in glossary.find("at top dead\n  centre on compression")] == [
        "top dead centre on compression"
    ]


def test_keys_of_a_keyboard_and_of_a_lock_are_no_words_of_the_trade() -> None:
    assert glossary.find("Move the card with the arrow keys or the space bar. Keep the key in your pocket.") == ()


def test_the_page_gets_them_when_a_workbook_is_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    followed: list[dict[str, object]] = []
    monkeypatch.setattr(Channel, "follow", lambda *said: followed.append(said[-1]))
    workbook.open("lock-pin", tmp_path)
    words = followed[0]["words"]
    assert words == [{"term": t.term, "forms": list(t.forms), "text": t.text} for t in glossary.TERMS]


@pytest.mark.parametrize("name", modules.names())
def test_a_workbook_lists_its_own(name: str, tmp_path: Path) -> None:
    words = workbook.Book(modules.load(name), tmp_path).words()
    assert words.terms
    data, _ = DisplayFormatter().format(words)  # type: ignore[no-untyped-call]  # IPython has not annotated it
    assert data["text/html"].count("<dt>") == len(words.terms)
    assert "<details>" in data["text/html"]
    for each in words.terms:
        assert f"- {each.term}: {each.text}" in data["text/plain"].splitlines()
