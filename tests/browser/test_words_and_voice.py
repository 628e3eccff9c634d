"""Words of the trade that open on a press, and a voice that reads aloud, in the texts of a workbook."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import pytest
from playwright.sync_api import Page, expect

from tests.browser.by_keyboard import answer_number, tab_to
from tests.browser.by_pointer import finger, middle
from tests.browser.copies import ITEMS
from tests.browser.drawn import WATCHED
from tests.browser.lab import Chrome, Lab, Server
from tests.browser.released import write_released
from trainkit import glossary

pytestmark = pytest.mark.browser

SPOKEN = Path(__file__).resolve().parents[2] / "trainkit" / "labextension" / "src" / "spoken.js"
# The browser of the tests has no voice, and none can be installed for it without a sound system. This stands in for
# the browser's own part alone, as the standard describes it: it notes what it is given and is done a moment later.
VOICES = """() => {
  window.heard = [];
  let timer, talking;
  const stand_in = {
    getVoices: () => [
      { name: "far", lang: "en-GB", localService: false },
      { name: "other", lang: "de-DE", localService: true },
      { name: "near", lang: "en-US", localService: true },
    ],
    speak(utterance) {
      window.heard.push([utterance.voice.name, utterance.text]);
      talking = utterance;
      timer = setTimeout(() => utterance.onend(), 150);
    },
    cancel() { clearTimeout(timer); window.heard.push(["", "cancelled"]); talking?.onerror(); },
  };
  window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
  const own = window.speechSynthesis;
  Object.defineProperty(window, "speechSynthesis", { value: stand_in, configurable: true });
  own.dispatchEvent(new Event("voiceschanged"));
}"""


@pytest.fixture(scope="module")
def lab(opening: Server, chrome: Chrome) -> Iterator[Lab]:
    """A workbook with all its texts and a question of each kind, opened once for the tests of this file."""
    notebook = write_released(opening.root / "words", items=(*ITEMS, WATCHED), texts=True)
    chrome.begin_anew()
    opened = Lab(chrome.page, opening)
    opened.open(notebook.relative_to(opening.root).as_posix())
    opened.wait_ready()
    yield opened
    assert chrome.errors == []
    opening.close_kernels()
    chrome.begin_anew()


def number_of(lab: Lab, text: str) -> int:
    """Return the number of the first cell that holds a text."""
    return next(number for number, cell in enumerate(lab.cells()) if text in cell["source"])


def of_several_words(lab: Lab) -> int:
    """Return the number of a text below a title that uses several words of the trade."""
    for number, cell in enumerate(lab.cells()):
        if cell["type"] == "markdown" and cell["source"].startswith("##") and len(glossary.find(body_of(cell))) > 1:
            return number
    raise AssertionError("No text of the workbook uses two words of the trade.")


def body_of(cell: dict[str, str]) -> str:
    """Return a text without its titles and without its marks of emphasis."""
    lines = [line for line in cell["source"].splitlines() if not line.startswith("#")]
    return "\n".join(lines).replace("*", "")


def shown_terms(page: Page, round_: str) -> list[list[str]]:
    """Return the words that are marked in each text that is in the page, as they stand there."""
    found: list[list[str]] = page.evaluate(
        """(round) => [...document.querySelectorAll(round)].map((text) =>
          [...text.querySelectorAll(".tk-term")].map((word) => word.textContent))""",
        round_,
    )
    return found


def test_the_first_of_each_word_is_marked_where_things_are_explained_and_nowhere_else(lab: Lab) -> None:
    page = lab.page
    texts = [
        *shown_terms(page, ".jp-MarkdownCell .jp-MarkdownOutput"),
        *shown_terms(page, ".tk-note"),
        *shown_terms(page, '.tk-question[data-mode="practise"] > .tk-prompt'),
    ]
    assert sum(map(bool, texts)) > 5
    for words in texts:
        terms = [glossary.term(word) for word in words]
        assert None not in terms
        assert len(set(terms)) == len(terms), words
    assert page.locator('.tk-question[data-mode="assess"]').count() == len(ITEMS)
    assert (
        page.locator(".tk-question[data-mode=assess] .tk-term, .tk-watched .tk-term, .tk-strip .tk-term").count() == 0
    )
    assert page.locator(":is(h1, h2, h3, code, pre, a, svg, label) .tk-term").count() == 0
    # What Python finds in a text, the page finds too.
    number = of_several_words(lab)
    lab.show_cell(number)
    (shown,) = shown_terms(page, ".jp-mod-active .jp-MarkdownOutput")
    assert {glossary.term(word) for word in shown} == set(glossary.find(body_of(lab.cells()[number])))


def test_a_word_opens_right_there_by_keyboard_mouse_and_finger_and_nothing_is_changed(lab: Lab) -> None:
    page = lab.page
    page.keyboard.press("Control+s")
    page.wait_for_function("() => !window.jupyterapp.shell.currentWidget.context.model.dirty")
    before = lab.cells()
    lab.show_cell(of_several_words(lab))
    active = page.locator(".jp-mod-active .jp-MarkdownOutput")
    words = active.locator(".tk-term")
    word, other = words.nth(0), words.nth(1)
    tab_to(page, word)
    expect(word).to_have_attribute("aria-expanded", "false")
    for key in ("Enter", "Space"):
        page.keyboard.press(key)
        expect(word).to_have_attribute("aria-expanded", "true")
        note = page.locator(f"#{word.get_attribute('aria-controls')}")
        term = glossary.term(word.inner_text())
        assert term is not None
        expect(note).to_have_text(f"{term.term}: {term.text}")
        # Right behind its paragraph, said to those who cannot see it, and the focus has not moved.
        assert note.evaluate(
            "(note) => (note.previousElementSibling ?? note.parentElement).contains(document.activeElement)"
        )
        expect(page.locator(".tk-strip [role=status]")).to_contain_text(term.text)
        expect(word).to_be_focused()
        page.keyboard.press("Escape" if key == "Enter" else "Space")
        expect(page.locator(".tk-word")).to_have_count(0)
        expect(word).to_have_attribute("aria-expanded", "false")
        expect(word).to_be_focused()
    # Tab goes from word to word, as they are read.
    page.keyboard.press("Tab")
    expect(other).to_be_focused()

    other.click()
    expect(page.locator(".tk-word")).to_have_count(1)
    other.click()
    expect(page.locator(".tk-word")).to_have_count(0)
    x, y = middle(word)
    finger(page, [(x, y)])
    expect(page.locator(".tk-word")).to_have_count(1)
    for key in "xdmbyr":
        page.keyboard.press(key)

    # Drawn again, it is marked again; an open note is gone with the text it stood in.
    marked = words.count()
    page.evaluate(
        """() => { const cell = window.jupyterapp.shell.currentWidget.content.activeCell;
          cell.rendered = false; cell.rendered = true; }"""
    )
    expect(active.locator(".tk-term")).to_have_count(marked)
    assert lab.cells() == before
    assert not page.evaluate("() => window.jupyterapp.shell.currentWidget.context.model.dirty")
    # What stands for it in the file has no trace of any of this.
    assert "tk-term" not in page.evaluate("() => JSON.stringify(window.jupyterapp.shell.currentWidget.model.toJSON())")


def test_the_next_question_of_practice_is_marked_too(lab: Lab) -> None:
    lab.show_cell(number_of(lab, "book.practice("))
    question = lab.page.locator(".tk-question[data-mode=practise]")
    for _ in range(6):
        words = glossary.find("\n".join(question.locator("> .tk-prompt").all_inner_texts()))
        assert bool(words) == bool(question.locator("> .tk-prompt .tk-term").count())
        before = question.inner_text()
        question.locator(".tk-next").click()
        expect(question).not_to_have_text(before)


def test_a_voice_of_this_computer_reads_what_is_in_view_or_has_the_focus(lab: Lab) -> None:
    page = lab.page
    button = page.locator(".tk-strip-read")
    # Without a voice there is no button at all.
    assert page.evaluate("() => speechSynthesis.getVoices().length") == 0
    expect(button).to_be_hidden()
    page.evaluate(VOICES)
    expect(button).to_have_text("Read aloud")
    lab.show_cell(number_of(lab, "## What the pin does"))
    page.evaluate("() => document.activeElement.blur()")
    title = page.get_by_role("heading", name="What the pin does")
    title.evaluate("(title) => title.closest('.jp-Cell').scrollIntoView({ block: 'start' })")
    button.click()
    expect(button).to_have_text("Stop reading")
    expect(page.locator(".tk-read")).to_have_count(1)
    page.wait_for_function("() => window.heard.length >= 3")
    button.click()
    expect(button).to_have_text("Read aloud")
    expect(page.locator(".tk-read")).to_have_count(0)
    heard = page.evaluate("() => window.heard")
    # The nearest voice that speaks English and is on this computer; sentence by sentence.
    assert heard[0] == ["near", "What the pin does."]
    assert heard[1][1].startswith("The lock pin holds")
    assert heard[-1] == ["", "cancelled"]
    page.wait_for_timeout(400)
    assert page.evaluate("() => window.heard") == heard, "stopped is stopped"

    # A question that has the focus is read, and only that: what is asked, what is given with units in words, no hints.
    page.evaluate("() => { window.heard = []; }")
    question = lab.question("A1")
    answer_number(page, question, "35", "lbf·ft", saving=False)
    button.click()
    expect(button).to_have_text("Read aloud", timeout=10_000)
    said = [text for _, text in page.evaluate("() => window.heard")]
    assert said[0] == "Question A1."
    assert "The sheet prints 47 newton metres." in said
    assert "Printed: 47 newton metres." in " ".join(said)
    assert "Step of the wrench: 1 pound-force foot." in " ".join(said)
    assert not [text for text in said if "Save" in text or "NOT" in text]
    # It ends when the page is left.
    button.click()
    page.wait_for_function("() => window.heard.at(-1)[0] === 'near'")
    page.evaluate("() => window.dispatchEvent(new Event('pagehide'))")
    expect(button).to_have_text("Read aloud")
    assert page.evaluate("() => window.heard.at(-1)") == ["", "cancelled"]


@pytest.mark.parametrize(
    ("written", "heard"),
    [
        ("Set it to 47\u2009N·m.", "Set it to 47 newton metres."),
        ("1 N·m is 8.85 lbf·in", "1 newton metre is 8.85 pound-force inches"),
        ("How many N·m is that?", "How many newton metres is that?"),
        ("N·m or lbf·ft", "newton metres or pound-force feet"),
        ("300 ÷ (300 + 75) × 42", "300 divided by (300 plus 75) times 42"),
        ("Bar 90° on, at −5 °C", "Bar 90 degrees on, at minus 5 °C"),
        ("8 − 3 = 5", "8 minus 3 equals 5"),
        ("20–100 N·m, ±4 %", "20 to 100 newton metres, plus or minus 4 percent"),
        ("58.0 mm² of an M10x1.25 bolt", "58.0 square millimetres of an M10x1.25 bolt"),
        ("A preload of 24 kN, 640 MPa", "A preload of 24 kilonewtons, 640 megapascals"),
        ("about 0.5 kgf·m or 50 kgf·cm", "about 0.5 kilogram-force metres or 50 kilogram-force centimetres"),
        ("✓ SAVED · 12:05", "SAVED, 12:05"),
        ("In-line four, one a minute", "In-line four, one a minute"),
        ("Step: 1 lbf·ft", "Step: 1 pound-force foot"),
    ],
)
def test_units_and_signs_are_said_in_words(chrome: Chrome, written: str, heard: str) -> None:
    module = "data:text/javascript;charset=utf-8," + quote(SPOKEN.read_text("utf-8"))
    said = chrome.page.evaluate(
        "async ([module, written]) => (await import(module)).spoken(written)", [module, written]
    )
    assert said == heard
