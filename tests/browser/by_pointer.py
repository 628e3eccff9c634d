"""Where to press with mouse and finger, how to drag, and whether there is room for it."""

from __future__ import annotations

import math
import time

from playwright.sync_api import Locator, Page

from tests.browser.lab import stand_still

# Twice the size on a laptop leaves a page half its width and height; a tablet of ten inches, a window beside another.
SIZES = {(1366, 768): "laptop", (683, 384): "laptop at 200 percent", (800, 1280): "tablet", (420, 800): "narrow"}


def box_of(shown: Locator) -> dict[str, float]:
    """Return where something is on the screen, in view and standing still."""
    shown.scroll_into_view_if_needed()
    stand_still(shown)
    box = shown.bounding_box()
    assert box is not None
    return {"x": box["x"], "y": box["y"], "width": box["width"], "height": box["height"]}


def middle(shown: Locator) -> tuple[float, float]:
    """Return where the middle of something is on the screen."""
    box = box_of(shown)
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def on_face(question: Locator, hours: float, share: float = 0.7) -> tuple[float, float]:
    """Return where an hour stands on the clock face, on the screen."""
    face = box_of(question.locator(".tk-face"))
    reach = face["width"] / 2 * share
    angle = math.radians(30 * hours)
    return (
        face["x"] + face["width"] / 2 + reach * math.sin(angle),
        face["y"] + face["height"] / 2 - reach * math.cos(angle),
    )


def pull_bar(page: Page, shown: Locator, degrees: float, steps: int = 8) -> None:
    """Pull the bar of a question's bench with the mouse: degrees clockwise from straight up, and let it go."""
    box = box_of(shown.locator(".tk-pin-bar"))
    x, y, reach = box["x"] + box["width"] / 2, box["y"] + box["height"] * 0.68, 50
    page.mouse.move(x, y - reach)
    page.mouse.down()
    for step in range(1, steps + 1):
        angle = math.radians(degrees * step / steps)
        page.mouse.move(x + reach * math.sin(angle), y - reach * math.cos(angle))
    page.mouse.up()


def mouse_card(page: Page, question: Locator, start: int, end: int) -> None:
    """Drag a card to where another one stands, with the mouse."""
    cards = question.locator(".tk-card")
    one, other = box_of(cards.nth(start)), box_of(cards.nth(end))
    page.mouse.move(one["x"] + 60, one["y"] + 20)
    page.mouse.down()
    for share in (0.3, 0.6, 0.9, 1.0):
        page.mouse.move(one["x"] + 60, one["y"] + 20 + (other["y"] + 25 - one["y"] - 20) * share)
    page.mouse.up()


def finger_card(page: Page, question: Locator, start: int, end: int) -> None:
    """Drag a card by its grip to where another one stands, with a finger."""
    grips = question.locator(".tk-grip")
    one, other = box_of(grips.nth(start)), box_of(grips.nth(end))
    x, y = one["x"] + 20, one["y"] + 22
    finger(page, [(x, y + (other["y"] + 8 - y) * share) for share in (0, 0.2, 0.4, 0.6, 0.8, 1.0)])


def finger(page: Page, points: list[tuple[float, float]]) -> None:
    """Drag a finger from the first point to the last, through the browser's own touch input."""
    session = page.context.new_cdp_session(page)
    for number, (x, y) in enumerate(points):
        kind = "touchMove" if number else "touchStart"
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
        page.wait_for_timeout(60)  # a finger takes its time; a fling would swallow the tap that follows
    page.wait_for_timeout(200)
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def fits_the_screen(question: Locator) -> None:
    """Expect targets as large as a finger, nothing wider than its room, no words cut off, and no scrolling sideways.

    A page that was made narrower takes a moment to lay itself out; what does not fit after that does not fit.
    """
    until = time.monotonic() + 5
    while (faults := _faults(question)) and time.monotonic() < until:
        question.page.wait_for_timeout(100)
    assert not faults, "\n".join((f"at {question.page.viewport_size}", *faults))


def _faults(question: Locator) -> list[str]:
    found: list[str] = question.evaluate(
        """(root) => {
          const told = [], all = [root, ...root.querySelectorAll("*")];
          const unseen = all.filter((node) => getComputedStyle(node).clipPath !== "none");
          const seen = (node) => node.checkVisibility() && !unseen.some((each) => each.contains(node));
          const name = (node) => node.outerHTML.slice(0, 160), room = root.getBoundingClientRect();
          const page = root.closest(".jp-WindowedPanel-outer");
          if (page.scrollWidth > page.clientWidth + 1) told.push("the page scrolls sideways");
          if (room.right > innerWidth + 1) told.push("wider than the screen");
          // A word that opens stands in a line of text, where a finger's height would tear the lines apart.
          const pressed = "button:not(.tk-term), a, label:has(input), textarea, .tk-slider, .tk-grip";
          for (const node of root.querySelectorAll(pressed)) {
            const { width, height } = node.getBoundingClientRect();
            if (seen(node) && Math.min(width, height) < 43.99) told.push(`${width} x ${height}: ${name(node)}`);
          }
          for (const node of all) {
            const box = node.getBoundingClientRect();
            if (!seen(node) || node.parentElement.closest("svg")) continue;
            if (box.right > room.right + 1) told.push(`sticks out: ${name(node)}`);
            if (node.scrollWidth > node.clientWidth + 1 && getComputedStyle(node).display !== "inline"
              && node.namespaceURI.endsWith("xhtml")) told.push(`cut off: ${name(node)}`);
          }
          for (const words of root.querySelectorAll("svg text")) {
            const sheet = words.closest("svg").getBoundingClientRect(), box = words.getBoundingClientRect();
            if (box.left < sheet.left - 1 || box.right > sheet.right + 1 || box.top < sheet.top - 1
              || box.bottom > sheet.bottom + 1) told.push(`outside its picture: ${words.textContent}`);
          }
          return told;
        }"""
    )
    return found
