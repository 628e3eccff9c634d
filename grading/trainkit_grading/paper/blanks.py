"""The form of each kind of answer on paper, as HTML: boxes to tick, places to write in, lines to write on.

Everything shown comes out of the released item; every word of it is escaped.
"""

from __future__ import annotations

import math
from html import escape
from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit.errors import TrainkitError
from trainkit.items import scenarios
from trainkit.widgets import paper
from trainkit_grading.paper.bench import LETTERS
from trainkit_grading.paper.notation import is_clock, places, step_words
from trainkit_grading.signoff.checklists import OUTCOMES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from trainkit.items.item import (
        ActionsItem,
        ChoiceItem,
        GridItem,
        InsertItem,
        Item,
        NumberItem,
        ObservedItem,
        OrderItem,
        PointItem,
        SetItem,
        SeveralItem,
        TextItem,
    )

__all__ = ["blank", "drawn", "shown"]

_BOX = '<i class="box"></i>'
# So many letters of a hand stand on a line that is as wide as the sheet.
_ON_A_LINE = 60


def shown(item: Item) -> str:
    """Return the question itself as HTML: its words, its data, its picture."""
    parts = [f"<p>{_text(part)}</p>" for part in paper.paragraphs(item.prompt)]
    if item.given:
        rows = "".join(
            f'<tr><th scope="row">{_text(given.label)}</th><td>{_text(given.value)}</td></tr>' for given in item.given
        )
        parts.append(f'<table class="given"><tbody>{rows}</tbody></table>')
    picture = drawn(item)
    if picture:
        parts.append(f'<div class="picture">{picture}</div>')
    return "".join(parts)


def blank(item: Item, code: str = "") -> str:
    """Return what is written or ticked, as HTML.

    Parameters
    ----------
    item : Item
        What is asked.
    code : str, optional
        Code of the checklist, for practical work.

    Examples
    --------
    >>> from trainkit.items.item import ChoiceItem, Option
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> "<b>B</b>" in blank(item) and "Tick one box." in blank(item)
    True
    """
    return _watched(item, code) if item.kind == "observed" else _BLANKS[item.kind](item)


def drawn(item: Item) -> str:
    """Return the picture of a question, without its style sheet; a bench as it stands when the play begins."""
    data = item.figure
    if item.kind == "actions":
        data = dict(scenarios.begin(item.model, item.scene).view)
    if data is None:
        return ""
    # A hand that is to be drawn is not drawn already, and a face has no arrow of what is asked.
    try:
        return figures.draw(data, styled=False)
    except TrainkitError:
        return ""  # the words stand without it, as on the screen


def _text(text: str) -> str:
    return escape(text)


def _say(text: str) -> str:
    return f'<p class="do">{_text(text)}</p>'


def _ticks(options: Iterable[tuple[str, str]], kind: str = "") -> str:
    rows = "".join(f"<li>{_BOX}<b>{_text(mark)}</b><span>{_text(text)}</span></li>" for mark, text in options)
    return f'<ul class="ticks {kind}">{rows}</ul>'


def _lettered(things: Iterable[Any]) -> list[tuple[str, str]]:
    return [(LETTERS[place], thing.text) for place, thing in enumerate(things)]


def _number(item: NumberItem) -> str:
    cells = '<span class="cells">' + "<i></i>" * 8 + "</span>"
    if len(item.units) == 1:
        units = f'<span class="unit">{_text(item.units[0])}</span>'
        said = f"Write the number in {item.units[0]}, {item.to_nearest}. One sign in each box."
    else:
        units = "".join(
            f'<span class="unit">{_BOX}<b>{LETTERS[place]}</b> {_text(unit)}</span>'
            for place, unit in enumerate(item.units)
        )
        said = f"Write the number, one sign in each box, and tick its unit. Answer {item.to_nearest}."
    return f'{_say(said)}<p class="number">{cells}{units}</p>'


def _choice(item: ChoiceItem) -> str:
    return _say("Tick one box.") + _ticks(_lettered(item.options))


def _several(item: SeveralItem) -> str:
    return _say("Tick all that belong. If none does, tick NONE.") + _ticks(
        [*_lettered(item.options), ("NONE", "none of them")]
    )


def _order(item: OrderItem) -> str:
    rows = "".join(
        f'<li><i class="place"></i><b>{mark}</b><span>{_text(text)}</span></li>' for mark, text in _lettered(item.cards)
    )
    return (
        _say(f"Write its place beside each: 1 for what comes first, up to {len(item.cards)}. Use each number once.")
        + f'<ul class="ticks">{rows}</ul>'
    )


def _insert(item: InsertItem) -> str:
    rows = []
    for place, card in enumerate(item.written, start=1):
        rows.append(f'<li class="gap">{_BOX}<b>{place}</b><span>here</span></li>')
        rows.append(f'<li class="written"><span>{_text(card.text)}</span></li>')
    rows.append(f'<li class="gap">{_BOX}<b>{len(item.written) + 1}</b><span>here</span></li>')
    return (
        f'<p class="missing">The missing step: <strong>{_text(item.missing.text)}</strong></p>'
        + _say("Tick the gap in which it belongs.")
        + f'<ul class="ticks gaps">{"".join(rows)}</ul>'
    )


def _grid(item: GridItem) -> str:
    heads = "".join(
        f'<th scope="col"><b>{LETTERS[place]}</b><br>{_text(column.text)}</th>'
        for place, column in enumerate(item.columns)
    )
    boxes = f'<td class="tick">{_BOX}</td>' * len(item.columns)
    rows = "".join(
        f'<tr><th scope="row">{number}. {_text(row.text)}</th>{boxes}</tr>'
        for number, row in enumerate(item.rows, start=1)
    )
    return (
        _say("Tick one box in each row.")
        + f'<table class="grid"><thead><tr><td></td>{heads}</tr></thead><tbody>{rows}</tbody></table>'
    )


def _point(item: PointItem) -> str:
    texts = {target.id: target.text for target in item.targets}
    said = "The numbers are those of the picture. Tick one here; you may ring it in the picture, too."
    return _say(said) + _ticks(((number, texts[name]) for number, name in places(item).items()), "close")


def _set(item: SetItem) -> str:
    if is_clock(item):
        said = (
            f"Draw the hand on this face, in steps of {step_words(item)}, and write the position, like 4:45. "
            "If the two differ, what is written counts."
        )
        two = '<span class="cells"><i></i><i></i></span>'
        written = f'<p class="number">Position {two} : {two}</p>'
        return f'{_say(said)}<div class="face">{_face()}{written}</div>'
    scale = item.scale
    said = (
        f"Mark the scale, in steps of {step_words(item)}, and write the value. "
        "If the two differ, what is written counts."
    )
    cells = '<span class="cells">' + "<i></i>" * 6 + "</span>"
    return f'{_say(said)}{_ruler(item)}<p class="number">{cells}<span class="unit">{_text(scale.unit)}</span></p>'


def _face() -> str:
    """Return the face of a clock without a hand: a long stroke at each hour, a short one at each quarter of it."""
    strokes = []
    for quarter in range(48):
        angle = math.radians(quarter * 7.5)
        long = 15 if quarter % 4 == 0 else 7
        x, y = math.sin(angle), -math.cos(angle)
        strokes.append(
            f'<line x1="{120 + 100 * x:.1f}" y1="{120 + 100 * y:.1f}" '
            f'x2="{120 + (100 - long) * x:.1f}" y2="{120 + (100 - long) * y:.1f}"/>'
        )
    hours = "".join(
        f'<text x="{120 + 72 * math.sin(math.radians(30 * hour)):.1f}" '
        f'y="{125 - 72 * math.cos(math.radians(30 * hour)):.1f}">{hour}</text>'
        for hour in range(1, 13)
    )
    return (
        '<svg class="clock" viewBox="0 0 240 240" role="img" aria-label="A clock face to draw the hand on">'
        f'<circle cx="120" cy="120" r="100"/><circle cx="120" cy="120" r="2.5" class="dot"/>'
        f"{''.join(strokes)}{hours}</svg>"
    )


def _ruler(item: SetItem) -> str:
    """Return a scale to mark, from its low to its high end."""
    scale = item.scale
    count = round((scale.high - scale.low) / scale.step)
    every = max(1, math.ceil(count / 10))
    body = ['<line x1="20" y1="40" x2="620" y2="40"/>']
    for step in range(count + 1):
        x = 20 + 600 * step / count
        named = step % every == 0
        body.append(f'<line x1="{x:.1f}" y1="40" x2="{x:.1f}" y2="{24 if named else 32}"/>')
        if named:
            body.append(f'<text x="{x:.1f}" y="18">{scale.low + step * scale.step:g}</text>')
    return f'<svg class="ruler" viewBox="0 0 640 50" role="img" aria-label="A scale to mark">{"".join(body)}</svg>'


def _actions(item: ActionsItem) -> str:
    listed = "".join(f"<li><b>{mark}</b> {_text(text)}</li>" for mark, text in _lettered(item.actions))
    rows = "".join(
        f'<li><b>{row}</b><i class="place"></i><i class="place told"></i><i class="note"></i></li>'
        for row in range(1, item.limit + 1)
    )
    return (
        _say(
            "Write the letter of one action in the next row. Your invigilator then tells you what eye and hand get, "
            "and writes the number of that sentence beside it. Go on row by row. What is written stands; an action "
            "that cannot be done is struck out and does not count."
        )
        + f'<ul class="actions">{listed}</ul>'
        + '<p class="heads">Row, <b>action</b>, sentence (invigilator), what you noted</p>'
        + f'<ol class="rows">{rows}</ol>'
        + f'<p class="stop">{_BOX} <b>STOP</b> I stop here, as it stands.</p>'
    )


def _text_lines(item: TextItem) -> str:
    lines = "<i></i>" * math.ceil(item.limit / _ON_A_LINE)
    return (
        _say(f"Write at most {item.limit} characters; the lines are enough for that. A person reads them.")
        + f'<div class="lines">{lines}</div>'
    )


def _watched(item: ObservedItem, code: str) -> str:
    critical = set(item.critical)
    heads = "".join(f'<th scope="col">{name}</th>' for name in OUTCOMES)
    boxes = f'<td class="tick">{_BOX}</td>' * len(OUTCOMES)
    rows = "".join(
        f'<tr{" class=critical" if step.id in critical else ""}><th scope="row">{number}. {_text(step.text)}'
        f"{' <strong>▲ CRITICAL</strong>' if step.id in critical else ''}</th>{boxes}</tr>"
        for number, step in enumerate(item.steps, start=1)
    )
    sheet = f" Sheet <strong>{_text(code)}</strong>." if code else ""
    return (
        f'<p class="do">For the assessor: one tick in each row.{sheet}</p>'
        f'<table class="grid watched"><thead><tr><td></td>{heads}</tr></thead><tbody>{rows}</tbody></table>'
        '<p class="signs"><span>Engine or set, number</span><u></u><span>Who trained the apprentice</span><u></u></p>'
        '<p class="signs"><span>Date and time</span><u></u><span>Signed by the assessor</span><u></u></p>'
    )


_BLANKS: dict[str, Callable[[Any], str]] = {
    "number": _number,
    "choice": _choice,
    "several": _several,
    "order": _order,
    "insert": _insert,
    "grid": _grid,
    "point": _point,
    "set": _set,
    "actions": _actions,
    "text": _text_lines,
}
