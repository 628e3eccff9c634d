"""The instructor's page: without a script, without a request, readable on paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC
from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit_grading.decisions.pending import KINDS, grouped
from trainkit_grading.reports.basis import LISTED
from trainkit_grading.statistics import Figure
from trainkit_grading.support.jinja import template

if TYPE_CHECKING:
    from trainkit_grading.reports.instructor.overview import InstructorsView, ModuleView
    from trainkit_grading.results.proof import Proof


_NAMED = 12  # names beside a misconception; of more people it is said how many


def html_text(view: InstructorsView, cautions: Mapping[str, Any], proof: Proof | None = None) -> str:
    """Return the view as one self-contained page.

    Parameters
    ----------
    view : InstructorsView
        What it says.
    cautions : mapping
        ``hazards`` and ``notices`` of the course's packs.
    proof : Proof, optional
        How far what it says is proven; without, the page says nothing of it.
    """
    return template("reports/instructor/class.html.j2").render(
        view=view,
        proof=proof,
        written=view.written.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC"),
        cautions=cautions,
        sign=figures.warning_sign(24),
        titles={module.facts.name: module.facts.title for module in view.modules},
        figure=figure_words,
        who=lambda names: _who(view, names),
        bars=bars,
        kinds=KINDS,
        pending=grouped(view.pending),
        listed=LISTED,
    )


def figure_words(figure: Figure) -> str:
    """Return a figure with its interval and its number of cases, or why there is none.

    Examples
    --------
    >>> from trainkit_grading.statistics import share
    >>> figure_words(share(8, 10)), figure_words(share(2, 3))
    ('0.80 (0.49 to 0.94), n = 10', '3 people are too few; it is given from 5 on.')
    """
    if not figure.shown:
        return figure.why
    low, high = (f"{limit:.2f}".replace("-", "−") for limit in (figure.interval.low, figure.interval.high))
    return f"{f'{figure.value:.2f}'.replace('-', '−')} ({low} to {high}), n = {figure.n:,}"


def _who(view: InstructorsView, names: Sequence[str]) -> str:
    known = [view.names[name] for name in names if name in view.names]
    shown = ", ".join(known[:_NAMED])
    return f"{shown} and {len(known) - _NAMED} more" if len(known) > _NAMED else shown


def bars(module: ModuleView) -> str:
    """Return a drawing of how many reached what: bands of ten per cent, the cut score as a line across.

    It holds numbers only, nothing that anybody wrote.
    """
    wide, tall, left, top = 40, 120, 30, 12
    most = max(module.bands) or 1
    body = []
    for place, count in enumerate(module.bands):
        height = tall * count / most
        x, y = left + place * wide, top + tall - height
        body.append(f'<rect x="{x + 2}" y="{y:.1f}" width="{wide - 4}" height="{height:.1f}" class="bar"/>')
        if count:
            body.append(f'<text x="{x + wide / 2}" y="{y - 3:.1f}" text-anchor="middle">{count}</text>')
        body.append(f'<text x="{x}" y="{top + tall + 16}" text-anchor="middle">{10 * place}</text>')
    at = left + wide * module.facts.cut_score / 10
    body.append(f'<line x1="{at:.1f}" x2="{at:.1f}" y1="{top - 8}" y2="{top + tall}" class="cut"/>')
    width = left + 11 * wide + 20
    words = ", ".join(f"{10 * place} %: {count}" for place, count in enumerate(module.bands) if count)
    return (
        f'<svg viewBox="0 0 {width} {top + tall + 40}" class="bars" role="img" '
        f'aria-label="How many reached each band of ten per cent. From {words or "nobody yet"}. '
        f'Passed from {module.facts.cut_score:g} %.">{"".join(body)}'
        f'<text x="{left + 5.5 * wide}" y="{top + tall + 34}" text-anchor="middle">per cent of all points; '
        f"the dashed line is the cut score</text></svg>"
    )
