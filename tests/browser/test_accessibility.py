"""What everybody needs who works with a screen reader, a keyboard, one finger, a small screen or large letters.

axe looks at all outputs in both themes. The rest is what it has no rule for: the order of the focus, what is said when
something changes, a way round every dragging, room for a finger, twice the size, and colours that somebody chose.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.accessible import findings, show_all, take_theme
from tests.browser.by_keyboard import answer_choice, answer_number, answer_order, card_order, save, tab_to
from tests.browser.by_pointer import fits_the_screen
from tests.browser.copies import ITEMS, STEPS
from tests.browser.drawn import WATCHED
from tests.browser.lab import LAPTOP, Chrome, Lab, Server, expect_status
from tests.browser.released import write_released
from trainkit import modules

pytestmark = pytest.mark.browser

ASKED = tuple(f"A{place}" for place in range(1, len(ITEMS) + 1))


@pytest.fixture(scope="module")
def lab(opening: Server, chrome: Chrome) -> Iterator[Lab]:
    """A workbook with all its texts and a question of each kind, opened once for the tests of this file."""
    notebook = write_released(opening.root / "everybody", items=(*ITEMS, WATCHED), texts=True)
    chrome.begin_anew()
    opened = Lab(chrome.page, opening)
    opened.open(notebook.relative_to(opening.root).as_posix())
    opened.wait_ready()
    show_all(chrome.page)
    yield opened
    assert chrome.errors == []
    opening.close_kernels()
    chrome.begin_anew()


def test_the_focus_goes_through_everything_as_it_is_read_and_out_again(lab: Lab) -> None:
    page = lab.page
    page.locator(".tk-strip-next").focus()
    page.evaluate("() => { window.passed = []; }")
    for _ in range(200):
        page.keyboard.press("Tab")
        inside = page.evaluate(
            """() => {
              const now = document.activeElement, before = window.passed.at(-1);
              if (!now.closest(".jp-Notebook")) return "out";
              window.passed.push(now);
              if (!before) return "";
              const follows = before.compareDocumentPosition(now) & Node.DOCUMENT_POSITION_FOLLOWING;
              // Within a question what comes next stands below or to the right of it.
              const one = before.getBoundingClientRect(), other = now.getBoundingClientRect();
              const question = before.closest(".tk-question");
              const below = !question || question !== now.closest(".tk-question") || other.bottom > one.top;
              return follows && below ? "" : `${before.outerHTML.slice(0, 90)} then ${now.outerHTML.slice(0, 90)}`;
            }"""
        )
        if inside == "out":
            break
        assert inside == ""
    else:
        raise AssertionError("Tab does not lead out of the workbook.")
    # All that can be pressed or typed in was passed; of the cards, and of the radio buttons of a group, one: arrows do
    # the rest.
    missed = page.evaluate(
        """() => [...document.querySelectorAll(".jp-Notebook :is(.tk-question, .tk-note, .jp-MarkdownOutput) "
            + ":is(button, input:not([type=radio]), textarea, select, summary, a[href], [role=slider])")]
          .filter((node) => node.checkVisibility() && !window.passed.includes(node)
            && !node.matches(".jp-InternalAnchorLink, .tk-up, .tk-down, .tk-card"))
          .map((node) => node.outerHTML.slice(0, 120))"""
    )
    assert missed == []
    groups = page.evaluate(
        """() => new Set([...document.querySelectorAll(".tk-question input[type=radio]")].map(({ name }) => name)).size
          - new Set(window.passed.filter(({ type }) => type === "radio").map(({ name }) => name)).size"""
    )
    assert groups == 0
    page.keyboard.press("Shift+Tab")
    expect(page.locator('.tk-question[data-name="finish"] .tk-look')).to_be_focused()


def test_every_target_has_room_and_nothing_is_lost_on_small_screens_and_at_twice_the_size(lab: Lab) -> None:
    page = lab.page
    # A laptop at twice the size, and 320 pixels: what is left of a wide window at four times the size.
    for width, height in ((683, 384), (320, 640)):
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(300)
        for shown in page.locator(".jp-Notebook :is(.tk-question, .tk-note, .tk-watched)").all():
            fits_the_screen(shown)
        for text in page.locator(".jp-Notebook .jp-MarkdownOutput").all():
            assert text.evaluate("(text) => text.getBoundingClientRect().right <= innerWidth + 1"), text.inner_text()
    page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
    button = page.locator(".tk-strip-next").bounding_box()
    assert button is not None
    assert min(button["height"], button["width"]) >= 44
    # Words within a line of text are the one exception: finger-high ones would tear the lines apart. What can be
    # pressed reaches beyond the letters, and each word stands in the list of words too.
    word = page.locator(".jp-MarkdownOutput .tk-term").first
    assert word.evaluate("(word) => parseFloat(getComputedStyle(word, '::after').height)") >= 36


def test_whatever_is_dragged_can_be_had_by_pressing(lab: Lab) -> None:
    page = lab.page
    dragged = page.evaluate(
        """() => [...document.querySelectorAll(".tk-question *")]
          .filter((node) => getComputedStyle(node).touchAction === "none")
          .map((node) => node.closest(".tk-question").dataset.kind)"""
    )
    assert set(dragged) == {"order", "set", "actions"}  # a kind that is added here has to be pressed below
    bench = lab.question("A6")
    done = bench.locator(".tk-log li").count()
    bench.locator('.tk-action[aria-disabled="false"]').first.click()
    expect(bench.locator(".tk-log li")).to_have_count(done + 1)
    question = lab.question("A3")
    question.get_by_role("button", name=f"Move down: {STEPS[0]}").click()
    assert card_order(question)[:2] == [STEPS[1], STEPS[0]]
    for name, value in (("A8", "0:15"), ("A9", "20.5")):
        question = lab.question(name)
        on = question.locator(".tk-nudge").last
        on.click()
        on.click()
        expect(question.locator(".tk-readout")).to_contain_text(value.replace("0:15", "12:30"))


def test_what_changes_is_said(lab: Lab) -> None:
    page = lab.page
    page.evaluate(
        """() => {
          window.said = [];
          const region = (node) => (node.closest ? node : node.parentElement)?.closest("[role=status], [role=alert]");
          new MutationObserver((records) => {
            for (const node of new Set(records.map(({ target }) => region(target))))
              if (node) window.said.push(node.textContent.trim());
          }).observe(document.querySelector(".tk-workbook"), { subtree: true, childList: true, characterData: true });
        }"""
    )

    def said(words: str) -> None:
        page.wait_for_function("(words) => window.said.some((text) => text.includes(words))", arg=words, timeout=10_000)
        page.evaluate("() => { window.said = []; }")

    question = lab.question("A1")
    answer_number(page, question, "a lot")
    expect_status(question, "failed")
    expect(question.get_by_role("alert")).to_be_visible()
    said(question.get_by_role("alert").inner_text())
    answer_number(page, question, "35", "lbf·ft")
    said("SAVED")
    question = lab.question("A3")
    answer_order(page, question, [STEPS[0], *STEPS[:0:-1]], saving=False)
    said(f"{STEPS[4]} is put down as number 2 of 5.")
    save(page, question)
    said("2 of 11 answered")  # by the strip, too
    practice = page.locator('.tk-question[data-mode="practise"]')
    choices = practice.locator(".tk-choice input")
    if choices.count():
        answer_choice(page, practice, str(choices.first.get_attribute("value")))
    else:
        answer_number(page, practice, "98765 N·m")
    expect(practice.locator(".tk-verdict")).to_be_visible()
    tab_to(page, practice.locator(".tk-show"))
    page.keyboard.press("Enter")
    said("The working")
    hand_in = lab.question("finish")
    tab_to(page, hand_in.locator(".tk-hand"))
    page.keyboard.press("Enter")
    said("Something is not answered yet.")


def test_no_colour_stands_alone(lab: Lab) -> None:
    page = lab.page
    # Each state has a sign and a word of its own, whatever its colour. The tests above have left several.
    told: dict[str, set[str]] = {}
    for name in ASKED:
        question = lab.question(name)
        words = re.sub(r"\d\d:\d\d", "", question.locator(".tk-status").inner_text()).strip()
        assert re.match(r"[▲✓○]\s*\w", words)
        told.setdefault(str(question.get_attribute("data-status")), set()).add(words)
    assert {"saved", "none", "draft"} <= set(told)
    assert len(set.union(*told.values())) == len(told), told
    verdict = page.locator('.tk-question[data-mode="practise"] .tk-verdict')
    assert re.fullmatch(r"\W\s*\w[\w ]+", verdict.inner_text())
    expect(page.locator(".tk-strip-status")).to_have_text(re.compile(r"^[▲✓○] "))


@pytest.fixture
def chosen_colours(lab: Lab) -> Iterator[Page]:
    """Colours that somebody chose for all pages, and no wish to see anything move."""
    lab.page.emulate_media(forced_colors="active", reduced_motion="reduce")
    yield lab.page
    lab.page.emulate_media(forced_colors="none", reduced_motion="no-preference")


def test_chosen_colours_and_stillness_are_kept(lab: Lab, chosen_colours: Page) -> None:
    page = chosen_colours
    # What is chosen, what is saved and where the focus is are told by lines and words; pictures keep ink and paper.
    question = lab.question("A2")
    answer_choice(page, question, "cw")
    expect_status(question, "saved")
    chosen, other = (question.locator(f'.tk-option:has([value="{value}"])') for value in ("cw", "still"))
    assert style(chosen, "borderWidth") != style(other, "borderWidth")
    question.locator("input").first.focus()
    page.keyboard.press("Tab")
    assert "3px" in page.evaluate("() => getComputedStyle(document.activeElement).outline")
    pictures = page.locator(".jp-Notebook svg.tk-figure:has(text:not(.paper)):has(rect.paper)").all()
    assert pictures
    for picture in pictures:
        assert style(picture.locator("text:not(.paper)").first, "fill") != style(
            picture.locator("rect.paper").first, "fill"
        )
    steps = page.locator(".tk-strip-steps i")
    assert style(steps.nth(0), "backgroundColor") != style(steps.nth(4), "backgroundColor")
    assert style(question.locator(".tk-settle"), "color") == style(question.locator(".tk-head"), "color")
    ours = ".tk-question, .tk-note, .tk-strip"
    moving = f"() => document.getAnimations().filter(({{ effect }}) => effect.target.closest('{ours}')).length"
    assert page.evaluate(moving) == 0


def style(shown: Locator, name: str) -> str:
    """Return a property as the browser has worked it out."""
    return str(shown.evaluate("(node, name) => getComputedStyle(node)[name]", name))


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_nothing_in_any_state(lab: Lab, dark: bool) -> None:
    page = lab.page
    take_theme(page, dark=dark)
    # A word that is open, a card that is lifted, beside all that the tests above have left: saved and not saved,
    # explained, asked back before the hand-in; and a number that cannot be read.
    word = page.locator(".jp-MarkdownOutput .tk-term").first
    if word.get_attribute("aria-expanded") == "false":
        word.click()
    answer_number(page, lab.question("A1"), "a lot")
    expect_status(lab.question("A1"), "failed")
    question = lab.question("A3")
    tab_to(page, question.locator('.tk-card[tabindex="0"]'))
    page.keyboard.press("Space")
    assert findings(page) == []
    page.keyboard.press("Escape")
    # It can find something: a button without a name in one of the outputs.
    question.evaluate("(node) => node.append(document.createElement('button'))")
    (found,) = findings(page)
    assert found.startswith("button-name")
    question.evaluate("(node) => node.lastElementChild.remove()")


@pytest.mark.parametrize("name", modules.names())
def test_axe_finds_nothing_in_any_workbook_and_it_fits_the_narrowest_screen(
    page: Page, opening: Server, name: str
) -> None:
    home = opening.root / f"practised {name}"
    shutil.copytree(modules.load(name).folder, home)
    lab = Lab(page, opening)
    lab.open(f"{home.name}/{name}.ipynb")
    lab.wait_ready()
    expect(page.locator(".tk-strip-notes p")).to_have_count(0)  # every cell is ready
    show_all(page)
    for dark in (False, True):
        take_theme(page, dark=dark)
        assert findings(page) == []
    no_button = page.evaluate(
        """() => {
          const dragged = (node) => getComputedStyle(node).touchAction === "none";
          return [...document.querySelectorAll(".tk-question")]
            .filter((root) => [...root.querySelectorAll("*")].some(dragged))
            .filter((root) => !root.querySelector(".tk-nudge, .tk-up, .tk-action"))
            .map((root) => root.innerText.slice(0, 80));
        }"""
    )
    assert no_button == [], "it can be dragged, and not be had by pressing"
    page.set_viewport_size({"width": 320, "height": 640})
    page.wait_for_timeout(300)
    for shown in page.locator(".jp-Notebook :is(.tk-question, .tk-note)").all():
        fits_the_screen(shown)
    wide = page.evaluate(
        """() => [...document.querySelectorAll(".jp-Notebook :is(.jp-MarkdownOutput, .jp-OutputArea-output)")]
          .filter(({ scrollWidth, clientWidth }) => scrollWidth > clientWidth + 1)
          .map((node) => node.innerText.slice(0, 80))"""
    )
    assert wide == []
    opening.close_kernels()
    shutil.rmtree(home)
