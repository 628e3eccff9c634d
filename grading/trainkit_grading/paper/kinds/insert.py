"""The missing card of a written order: a gap to tick."""

from __future__ import annotations

from html import escape

from trainkit.items.kinds import InsertItem, InsertResponse
from trainkit_grading.paper.kinds.blank import BOX, Blank, say, whole


def _html(item: InsertItem, _: str) -> str:
    rows = []
    for place, card in enumerate(item.written, start=1):
        rows.append(_gap(place))
        rows.append(f'<li class="written"><span>{escape(card.text)}</span></li>')
    rows.append(_gap(len(item.written) + 1))
    return (
        f'<p class="missing">The missing step: <strong>{escape(item.missing.text)}</strong></p>'
        + say("Tick the gap in which it belongs.")
        + f'<ul class="ticks gaps">{"".join(rows)}</ul>'
    )


def _gap(place: int) -> str:
    return f'<li class="gap">{BOX}<b>{place}</b><span>here</span></li>'


BLANK: Blank[InsertItem, InsertResponse] = Blank(
    "insert",
    html=_html,
    hint=lambda item: f"the ticked gap, 1 to {len(item.written) + 1}",
    read=lambda item, typed: InsertResponse(place=whole(typed, 1, len(item.written) + 1, "gaps") - 1),
    write=lambda _, response: str(response.place + 1),
)
