"""Questions answered with the keyboard alone, the way an apprentice without a mouse does."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from playwright.sync_api import Locator, Page, expect


def focused(page: Page) -> str:
    """Return what has the focus: its classes and words."""
    return str(
        page.evaluate("() => `${document.activeElement.className} ${document.activeElement.textContent.slice(0, 60)}`")
    )


def tab_to(page: Page, wanted: Locator, limit: int = 40) -> None:
    """Press Tab, or Shift+Tab if it lies behind, until something has the focus, as a person without a mouse does."""
    for _ in range(limit):
        where = wanted.evaluate(
            """(node) => {
              const now = document.activeElement;
              if (node === now) return "here";
              return now.compareDocumentPosition(node) & Node.DOCUMENT_POSITION_PRECEDING ? "behind" : "ahead";
            }"""
        )
        if where == "here":
            return
        page.keyboard.press("Tab" if where == "ahead" else "Shift+Tab")
    raise AssertionError(f"Tab does not reach it in {limit} presses; the focus is on: {focused(page)}")


def save(page: Page, question: Locator) -> None:
    """Press the button that saves, by keyboard."""
    tab_to(page, question.locator(".tk-settle"))
    page.keyboard.press("Enter")


def answer_number(page: Page, question: Locator, text: str, unit: str = "", *, saving: bool = True) -> None:
    """Type a number, pick its unit and save, by keyboard."""
    tab_to(page, question.locator(".tk-input"))
    page.keyboard.press("Control+a")
    page.keyboard.type(text)
    if unit:
        _pick(page, question.locator(".tk-units input"), unit)
    if saving:
        save(page, question)


def answer_choice(page: Page, question: Locator, option: str) -> None:
    """Choose an option by its identifier and save, by keyboard."""
    _pick(page, question.locator(".tk-choice input"), option)
    save(page, question)


def answer_several(page: Page, question: Locator, options: Sequence[str]) -> None:
    """Take exactly these options and save, by keyboard."""
    for box in question.locator(".tk-choice input").all():
        tab_to(page, box)
        if box.is_checked() != (box.get_attribute("value") in options):
            page.keyboard.press("Space")
    save(page, question)


def answer_insert(page: Page, question: Locator, place: int) -> None:
    """Put the missing step before the written one of that number, counted from 0, and save, by keyboard."""
    _pick(page, question.locator(".tk-insert input"), str(place))
    save(page, question)


def answer_point(page: Page, question: Locator, target: str) -> None:
    """Choose a place on the picture from its list and save, by keyboard."""
    _pick(page, question.locator(".tk-point-list input"), target)
    save(page, question)


def answer_set(page: Page, question: Locator, value: float, step: float, low: float) -> None:
    """Set a hand or a scale by single steps from its lower end and save, by keyboard."""
    slider = question.locator(".tk-slider")
    tab_to(page, slider)
    page.keyboard.press("Home")
    for _ in range(round((value - low) / step)):
        page.keyboard.press("ArrowUp")
    expect(slider).to_have_attribute("aria-valuenow", re.compile(rf"^{re.escape(f'{value:.9g}'[:7])}"))
    save(page, question)


def answer_grid(page: Page, question: Locator, rows: Mapping[str, str]) -> None:
    """Choose a column for each row, given by their words, and save, by keyboard."""
    for row, column in rows.items():
        line = question.locator(".tk-grid-row", has=page.get_by_text(row, exact=True))
        radios = line.locator("input")
        words = line.locator(".tk-option").all_inner_texts()
        value = radios.nth(words.index(column)).get_attribute("value")
        _pick(page, radios, str(value))
    save(page, question)


def answer_text(page: Page, question: Locator, text: str) -> None:
    """Write a text and save, by keyboard."""
    tab_to(page, question.locator(".tk-text-area"))
    page.keyboard.press("Control+a")
    page.keyboard.type(text)
    save(page, question)


def _pick(page: Page, radios: Locator, value: str) -> None:
    """Pick one of a group of radio buttons: Tab reaches the group, arrows move in it."""
    every = radios.all()
    values = [radio.get_attribute("value") for radio in every]
    start = next((place for place, radio in enumerate(every) if radio.is_checked()), 0)
    tab_to(page, every[start])
    page.keyboard.press("Space")
    for _ in range((values.index(value) - start) % len(values)):
        page.keyboard.press("ArrowDown")
    expect(every[values.index(value)]).to_be_checked()


def card_order(question: Locator) -> list[str]:
    """Return the texts of the cards as they stand."""
    return question.locator(".tk-card .tk-text").all_text_contents()


def answer_order(page: Page, question: Locator, texts: Sequence[str], *, saving: bool = True) -> None:
    """Put the cards in an order, given by their texts, and save, by keyboard."""
    tab_to(page, question.locator('.tk-card[tabindex="0"]'))
    page.keyboard.press("Home")
    for place, text in enumerate(texts):
        standing = card_order(question)
        now = standing.index(text)
        page.keyboard.press("Home")
        for _ in range(now):
            page.keyboard.press("ArrowDown")
        page.keyboard.press("Space")
        for _ in range(now - place):
            page.keyboard.press("ArrowUp")
        page.keyboard.press("Space")
    assert card_order(question) == list(texts)
    if saving:
        save(page, question)


def play_actions(page: Page, question: Locator, actions: Sequence[str]) -> None:
    """Play a scenario by the keys that stand on its buttons; each action waits for its answer."""
    buttons = {button.get_attribute("data-action"): button for button in question.locator(".tk-action").all()}
    tab_to(page, next(iter(buttons.values())))
    for done, action in enumerate(actions, start=1):
        page.keyboard.press(str(buttons[action].get_attribute("aria-keyshortcuts")).lower())
        expect(question.locator(".tk-count")).to_contain_text(f"{done} of")


def explained_and_gone_on(page: Page, question: Locator) -> None:
    """Check the answer that stands in a practice question, twice: it is explained, and the next one has the focus."""
    page.keyboard.press("Enter")
    expect(question.locator(".tk-verdict")).to_be_visible()
    if not question.locator(".tk-working").count():  # a hint first
        page.keyboard.press("Enter")
    expect(question.locator(".tk-working li").first).to_be_visible()
    expect(question.locator(".tk-tally")).to_contain_text("of 1 right at the first try")
    tab_to(page, question.locator(".tk-next"))
    page.keyboard.press("Enter")
    expect(question.locator(".tk-verdict")).to_have_count(0)
    assert question.evaluate("(node) => node.querySelector('.tk-control').contains(document.activeElement)")
