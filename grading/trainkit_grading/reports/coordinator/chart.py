"""A drawing of how cohorts get on: one line each, named where it ends, so that no legend and no colour is needed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING

from trainkit_grading.support.plaintext import plain

if TYPE_CHECKING:
    from trainkit_grading.reports.coordinator.progress import CohortWeek


_WIDTH, _HEIGHT, _LEFT, _TOP, _RIGHT, _BOTTOM = 720, 260, 56, 14, 170, 44
# Lines differ by their dashes, as the lines of a drawing do.
_DASHES = ("", "9 5", "2 4", "12 4 2 4", "5 3", "1 3 6 3")
_LINE = 17.0


def chart(weeks: Sequence[CohortWeek], titles: Mapping[str, str]) -> str:
    """Return the drawing as SVG, or an empty string where there is nothing to draw.

    Parameters
    ----------
    weeks : sequence of CohortWeek
        Where each cohort was at the end of each week.
    titles : mapping of str to str
        Titles of the cohorts.

    Examples
    --------
    >>> from trainkit_grading.reports.coordinator.progress import CohortWeek
    >>> drawn = chart([CohortWeek("n", 1, 7, 0.2), CohortWeek("n", 2, 7, 0.6)], {"n": "North"})
    >>> "North, 60" in drawn, chart([], {})
    (True, '')
    """
    lines: dict[str, list[CohortWeek]] = {}
    for each in weeks:
        lines.setdefault(each.cohort, []).append(each)
    if not lines:
        return ""
    last = max(each.week for each in weeks)
    wide, tall = _WIDTH - _LEFT - _RIGHT, _HEIGHT - _TOP - _BOTTOM

    def x(week: int) -> float:
        return _LEFT + wide * week / last

    def y(part: float) -> float:
        return _TOP + tall * (1 - part)

    body = [
        f'<line x1="{_LEFT}" y1="{y(part):.1f}" x2="{_LEFT + wide}" y2="{y(part):.1f}" class="grid"/>'
        f'<text x="{_LEFT - 8}" y="{y(part) + 5:.1f}" text-anchor="end">{100 * part:.0f}\u2009%</text>'
        for part in (0.0, 0.25, 0.5, 0.75, 1.0)
    ]
    step = max(1, -(-last // 10))
    body += [
        f'<text x="{x(week):.1f}" y="{_HEIGHT - _BOTTOM + 18}" text-anchor="middle">{week}</text>'
        for week in range(0, last + 1, step)
    ]
    body.append(
        f'<text x="{_LEFT + wide / 2}" y="{_HEIGHT - 6}" text-anchor="middle">weeks since the first hand-in</text>'
    )
    names = []
    for place, (cohort, of) in enumerate(lines.items()):
        points = " ".join(f"{x(each.week):.1f},{y(each.passed):.1f}" for each in of)
        dash = _DASHES[place % len(_DASHES)]
        body.append(f'<polyline points="{x(0):.1f},{y(0):.1f} {points}" class="line" stroke-dasharray="{dash}"/>')
        title = plain(titles.get(cohort) or cohort or "in no cohort")
        names.append((y(of[-1].passed), x(of[-1].week), f"{title}, {100 * of[-1].passed:.0f}\u2009%"))
    below = _TOP - _LINE
    for at, right, name in sorted(names):
        below = max(at + 5, below + _LINE)
        shown = name if len(name) <= 24 else f"{name[:12]}…{name[-10:]}"
        body.append(f'<text x="{right + 8:.1f}" y="{below:.1f}" class="name">{escape(shown)}</text>')
    said = "; ".join(name for _, _, name in names)
    return (
        f'<svg viewBox="0 0 {_WIDTH} {_HEIGHT}" class="chart" role="img" aria-label="'
        f'{escape(f"Modules passed, week by week. At the end: {said}.", quote=True)}">{"".join(body)}</svg>'
    )
