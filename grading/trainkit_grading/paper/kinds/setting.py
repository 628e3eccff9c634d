"""A hand or a scale that is set: a face or a scale to draw on, and boxes for the value."""

from __future__ import annotations

import math
import re
from html import escape

from trainkit import quantities
from trainkit.items.kinds import SetItem, SetResponse
from trainkit.widgets.kinds.setting import clock, step_words
from trainkit_grading.paper.kinds.blank import Blank, refused, say

_COUNTS = "If the two differ, what is written counts."


def _html(item: SetItem, _: str) -> str:
    scale = item.scale
    steps = f"in steps of {step_words(scale)}"
    if scale.is_clock:
        two = '<span class="cells"><i></i><i></i></span>'
        written = f'<p class="number">Position {two} : {two}</p>'
        said = say(f"Draw the hand on this face, {steps}, and write the position, like 4:45. {_COUNTS}")
        return f'{said}<div class="face">{_face()}{written}</div>'
    cells = '<span class="cells">' + "<i></i>" * 6 + "</span>"
    said = say(f"Mark the scale, {steps}, and write the value. {_COUNTS}")
    return f'{said}{_ruler(item)}<p class="number">{cells}<span class="unit">{escape(scale.unit)}</span></p>'


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


def _read(item: SetItem, typed: str) -> SetResponse:
    scale = item.scale
    # A hand that was drawn between two steps is an answer, too; the mark says what it is worth.
    if not scale.is_clock:
        return SetResponse(value=float(quantities.number(typed.removesuffix(scale.unit).strip())))
    found = re.fullmatch(r"(\d{1,2})(?:[:.h ]\s?(\d{2}))?", typed)
    if found is None or not 0 <= int(found[1]) <= 12 or int(found[2] or 0) > 59:
        raise refused(typed, "A clock position is an hour from 1 to 12 and minutes, like 4:45.")
    return SetResponse(value=int(found[1]) % 12 + int(found[2] or 0) / 60)


def _write(item: SetItem, response: SetResponse) -> str:
    return clock(response.value) if item.scale.is_clock else quantities.plain(response.value)


BLANK: Blank[SetItem, SetResponse] = Blank(
    "set",
    html=_html,
    hint=lambda item: f"the written value, in steps of {step_words(item.scale)}",
    read=_read,
    write=_write,
)
