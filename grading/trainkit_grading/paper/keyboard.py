"""Typing a sheet at a terminal: one question after another, each kept before the next.

No pass shows what the other one says; only where both are complete and differ are the two shown side by side.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from trainkit_grading.errors import PaperError
from trainkit_grading.paper import codes
from trainkit_grading.paper.notation import UNANSWERED
from trainkit_grading.paper.passes import same_person

if TYPE_CHECKING:
    from trainkit_grading.paper.answered import AnswerSheet
    from trainkit_grading.paper.passes import Typing


Ask = Callable[[str], str]
"""Says a text and returns what was typed; raises ``EOFError`` where nobody types any more."""


class Stopped(Exception):  # noqa: N818 - nothing went wrong: somebody goes on later
    """Whoever typed has stopped; everything so far is kept."""


def type_pass(sheet: AnswerSheet, typing: Typing, ask: Ask, by: str = "") -> None:
    """Type the pass that is next: the first, the second, or what the two differ in.

    Raises
    ------
    Stopped
        If whoever typed stops before it is complete.
    """
    number = next((n for n in (1, 2) if not typing.passes[n].ended), 3)
    if number == 3 and not sheet.differing(typing):
        return  # typed and agreed; only handing it in was cut off
    try:
        _name(sheet, typing, number, ask, by)
        if number < 3:
            _through(sheet, typing, number, ask)
            typing.end(number)
            # Whoever typed the first pass still sees it: the second is for somebody else, at another time.
            if number == 1:
                return
        if typing.passes[1].ended and typing.passes[2].ended and sheet.differing(typing):
            _third(sheet, typing, ask)
    except (EOFError, KeyboardInterrupt):
        raise Stopped from None


def _name(sheet: AnswerSheet, typing: Typing, number: int, ask: Ask, by: str) -> None:
    what = ("first pass", "second pass", "what the two passes differ in")[number - 1]
    said = f"Form {codes.on_paper(sheet.code)}, {sheet.given.entry.name}: {what}."
    of = typing.passes[number]
    if of.by and (not by or same_person(by, of.by)):
        ask(f"{said} {of.by} has begun it and goes on. Press Enter.\n{_HOW}\n")
        return
    name = by.strip()
    if 0 < len(name) <= 80:
        ask(f"{said} {name} types. Press Enter.\n{_HOW}\n")
    start = f"{said}\n{_HOW}\n"
    while not 0 < len(name) <= 80:
        name = ask(f"{start}Who types? ").strip()
        start = ""
    if not (of.by and number < 3 and of.texts):
        typing.begin(number, name)
        return
    # Somebody else goes on with a pass that was begun: what was typed stays, and both are named.
    kept = dict(of.texts)
    typing.begin(number, f"{of.by}, {name}"[:160])
    for key, text in kept.items():
        typing.typed(number, key, text)


_HOW = "Type - for what was not answered, < to go back one, STOP! to stop and go on later."


def _through(sheet: AnswerSheet, typing: Typing, number: int, ask: Ask) -> None:
    of = typing.passes[number]
    place = next((n for n, what in enumerate(sheet.asked) if what not in of.texts), len(sheet.asked))
    while place < len(sheet.asked):
        what = sheet.asked[place]
        text = _one(sheet, what, ask, of.texts)
        if text is None:
            place = max(place - 1, 0)
            continue
        typing.typed(number, what, text)
        place += 1


def _third(sheet: AnswerSheet, typing: Typing, ask: Ask) -> None:
    if not typing.passes[3].by:
        typing.begin(3, typing.passes[2].by)
    while open_ := sheet.differing(typing):
        for what in open_:
            first, second = (typing.passes[n].texts[what] for n in (1, 2))
            shown = f"\n{what}: the first pass says “{first}”, the second “{second}”. Look at the sheet.\n"
            if sheet.is_text(what):
                shown += "Type 1 if the first is right, 2 if the second is, or the whole text anew.\n"
            ask_with = _saying(shown, ask)
            text = _one(sheet, what, ask_with, typing.passes[1].texts)
            if text is None:
                continue
            if sheet.is_text(what):
                text = {"1": first, "2": second}.get(text.strip(), text)
            typing.typed(3, what, text)
    typing.end(3)


def _saying(first: str, ask: Ask) -> Ask:
    said = [first]

    def asked(text: str) -> str:
        return ask(f"{said.pop()}{text}" if said else text)

    return asked


def _one(sheet: AnswerSheet, what: str, ask: Ask, before: dict[str, str]) -> str | None:
    """Return what was typed for one thing, once it can be an answer; None to go back one."""
    prompt = f"{what} ({sheet.hint(what)}): "
    while True:
        text = _lines(ask, prompt) if sheet.is_text(what) else ask(prompt).strip()
        if text == "STOP!":
            raise EOFError
        if text == "<":
            return None
        if not text:
            # A key that was pressed once too often is no answer that was not given.
            prompt = f"  Type {UNANSWERED} if nothing stands there.\n{what}: "
            continue
        try:
            sheet.read(what, text, before)
        except PaperError as error:
            prompt = f"  {error}\n{what}: "
        else:
            return text


def _lines(ask: Ask, prompt: str) -> str:
    """Return a text of several lines; an empty one ends it."""
    lines = [ask(f"{prompt}\n(an empty line ends it)\n")]
    while lines[-1].strip() and lines[0].strip() not in {"-", "<", "STOP!", "1", "2"}:
        lines.append(ask(""))
    return "\n".join(line for line in lines if line.strip())
