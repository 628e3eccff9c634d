"""Practical work: a row to tick for each step, for the assessor."""

from __future__ import annotations

from html import escape

from trainkit.items.kinds import ObservedItem, ObservedResponse
from trainkit_grading.paper.kinds.blank import BOX, UNANSWERED, Blank, refused
from trainkit_grading.signoff.checklists import OUTCOMES


def _html(item: ObservedItem, code: str) -> str:
    critical = set(item.critical)
    heads = "".join(f'<th scope="col">{name}</th>' for name in OUTCOMES)
    boxes = f'<td class="tick">{BOX}</td>' * len(OUTCOMES)
    rows = "".join(
        f'<tr{" class=critical" if step.id in critical else ""}><th scope="row">{number}. {escape(step.text)}'
        f"{' <strong>▲ CRITICAL</strong>' if step.id in critical else ''}</th>{boxes}</tr>"
        for number, step in enumerate(item.steps, start=1)
    )
    sheet = f" Sheet <strong>{escape(code)}</strong>." if code else ""
    return (
        f'<p class="do">For the assessor: one tick in each row.{sheet}</p>'
        f'<table class="grid watched"><thead><tr><td></td>{heads}</tr></thead><tbody>{rows}</tbody></table>'
        '<p class="signs"><span>Engine or set, number</span><u></u><span>Who trained the apprentice</span><u></u></p>'
        '<p class="signs"><span>Date and time</span><u></u><span>Signed by the assessor</span><u></u></p>'
    )


def _read(_: ObservedItem, typed: str) -> ObservedResponse:
    way = "Give the command: trainkit-course observe --checklist CODE"
    raise refused(typed, "Practical work is recorded from its checklist.", way)


BLANK: Blank[ObservedItem, ObservedResponse] = Blank(
    "observed",
    html=_html,
    hint=lambda _: "nothing here: its checklist is recorded with trainkit-course observe",
    read=_read,
    write=lambda _, __: UNANSWERED,
    long="for the assessor",
)
