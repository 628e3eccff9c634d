"""A plot as a value: its curves, what stands beside them, and the words that say the same; and drawing it.

The look is that of the pictures: ink on paper, lines that differ by their dashes and bear their names, one accent.
Colours are those of the palette by name, so a plot follows the theme of the page like every picture.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import count
from typing import TYPE_CHECKING, Any

from trainkit.figures.style import PALETTE, themed

if TYPE_CHECKING:
    from matplotlib.axes import Axes


_DASHES = {"plain": "-", "dashed": (0, (7, 3)), "dotted": (0, (1.5, 2.5))}
_SERIAL = count(1)


@dataclass(frozen=True, slots=True)
class Curve:
    """A line through points, named at its end.

    Parameters
    ----------
    x, y : tuple of float
        The points, in the units of the axes; a gap is not a number.
    name : str
        What stands at its end.
    dash : str
        ``"plain"``, ``"dashed"`` or ``"dotted"``.
    stepped : bool
        Whether it keeps each value until the next point.
    accent : bool
        Whether it is what the plot is about.
    named_at : int or None
        At which of its points the name stands, above it; None for beside its end.
    """

    x: tuple[float, ...]
    y: tuple[float, ...]
    name: str = ""
    dash: str = "plain"
    stepped: bool = False
    accent: bool = False
    named_at: int | None = None


@dataclass(frozen=True, slots=True)
class ReferenceLine:
    """A straight line across the panel, at a value of x or of y, with its name."""

    at: float
    name: str
    upright: bool = False
    dash: str = "dotted"


@dataclass(frozen=True, slots=True)
class Point:
    """A point with a word beside it; without a word the dot alone."""

    x: float
    y: float
    name: str = ""


@dataclass(frozen=True, slots=True)
class Panel:
    """One pair of axes; ``y_name`` says what goes up, with its unit."""

    curves: tuple[Curve, ...]
    y_name: str
    y_range: tuple[float, float]
    lines: tuple[ReferenceLine, ...] = ()
    points: tuple[Point, ...] = ()
    y_ticks: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Plot:
    """One or more panels over one axis, with the words that say the same.

    Parameters
    ----------
    title : str
        What is plotted.
    x_name : str
        What goes to the right, with its unit.
    x_range : (float, float)
        From where to where.
    panels : tuple of Panel
        One above the other.
    words : tuple of str
        What the plot shows, in sentences.
    x_ticks : tuple of float
        Where numbers stand; wherever they fit without.
    """

    title: str
    x_name: str
    x_range: tuple[float, float]
    panels: tuple[Panel, ...]
    words: tuple[str, ...]
    x_ticks: tuple[float, ...] = ()

    def __str__(self) -> str:
        return "\n".join((self.title, *self.words))

    def _repr_mimebundle_(self, **_: object) -> dict[str, str]:
        said = "".join(f"<p>{escape(line)}</p>" for line in self.words)
        html = (
            f"<style>{_STYLE}</style><figure class='tk-plot'>"
            f"<figcaption><strong>{escape(self.title)}</strong></figcaption>{self.svg}{said}</figure>"
        )
        return {"text/html": html, "text/plain": str(self)}

    @property
    def svg(self) -> str:
        """The plot as SVG whose colours are the page's; empty where matplotlib is not installed."""
        try:
            import matplotlib as mpl
            from matplotlib.backends.backend_svg import FigureCanvasSVG
            from matplotlib.figure import Figure
        except ImportError:
            return ""
        buffer = io.StringIO()
        # Text stays text, the same plot gives the same bytes, and nobody's own settings change it.
        look: Any = {**mpl.rcParamsDefault, "svg.fonttype": "none", "svg.hashsalt": "trainkit", **_LOOK}
        with mpl.rc_context(look):
            figure = Figure(figsize=(7.2, 1.1 + 2.6 * len(self.panels) ** 0.75), layout="constrained")
            FigureCanvasSVG(figure)
            axes = figure.subplots(len(self.panels), 1, sharex=True, squeeze=False)[:, 0]
            for panel, drawn in zip(self.panels, axes, strict=True):
                _draw(panel, drawn, self.x_range)
            axes[-1].set_xlabel(self.x_name)
            axes[-1].set_xlim(*self.x_range)
            if self.x_ticks:
                axes[-1].set_xticks(self.x_ticks)
            figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None}, transparent=True)
        return _of_the_page(buffer.getvalue(), " ".join((self.title + ".", *self.words)))


_LIGHT = {role: colours[0] for role, colours in PALETTE.items()}
_LOOK: dict[str, Any] = {
    "font.family": "sans-serif",
    "font.size": 12,
    "text.color": _LIGHT["ink"],
    "axes.edgecolor": _LIGHT["ink"],
    "axes.labelcolor": _LIGHT["ink"],
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.color": _LIGHT["quiet"],
    "ytick.color": _LIGHT["quiet"],
    "lines.linewidth": 2.0,
}
_STYLE = (
    themed(".tk-plot")
    + """
.tk-plot { box-sizing: border-box; max-width: 48rem; margin: 2px; padding: 12px 18px; background: var(--tk-paper);
  color: var(--tk-ink); border: 1px solid var(--tk-quiet); font: 17px/1.5 system-ui, sans-serif }
.tk-plot svg { display: block; width: 100%; height: auto }
.tk-plot svg text { font-family: system-ui, sans-serif !important }
.tk-plot p { margin: .3em 0 0; max-width: 46em }
"""
)


def _draw(panel: Panel, axes: Axes, x_range: tuple[float, float]) -> None:
    for line in panel.lines:
        style: dict[str, Any] = {"color": _LIGHT["quiet"], "linestyle": _DASHES[line.dash], "linewidth": 1.6}
        if line.upright:
            axes.axvline(line.at, **style)
            axes.annotate(
                line.name, (line.at, panel.y_range[1]), (4, -2), textcoords="offset points", va="top", **_QUIET
            )
        else:
            axes.axhline(line.at, **style)
            axes.annotate(line.name, (x_range[0], line.at), (6, 4), textcoords="offset points", va="bottom", **_QUIET)
    for curve in panel.curves:
        colour = _LIGHT["accent" if curve.accent else "ink"]
        how: dict[str, Any] = {"drawstyle": "steps-post"} if curve.stepped else {}
        axes.plot(curve.x, curve.y, color=colour, linestyle=_DASHES[curve.dash], solid_capstyle="round", **how)
        if curve.name:
            at = -1 if curve.named_at is None else curve.named_at
            place: dict[str, Any] = {"ha": "left", "va": "center"} if at == -1 else {"ha": "center", "va": "bottom"}
            axes.annotate(
                curve.name,
                (curve.x[at], curve.y[at]),
                (6, 0) if at == -1 else (0, 5),
                textcoords="offset points",
                color=colour,
                weight="bold",
                annotation_clip=False,
                **place,
            )
    for point in panel.points:
        axes.plot([point.x], [point.y], marker="o", markersize=7, color=_LIGHT["accent"], clip_on=False)
        if point.name:
            axes.annotate(
                point.name, (point.x, point.y), (0, 9), textcoords="offset points", ha="center", annotation_clip=False
            )
    axes.set_ylim(*panel.y_range)
    axes.set_ylabel(panel.y_name)
    if panel.y_ticks:
        axes.set_yticks(panel.y_ticks)


_QUIET: dict[str, Any] = {"color": _LIGHT["quiet"], "annotation_clip": False}


def _of_the_page(drawn: str, words: str) -> str:
    """Return matplotlib's SVG with the page's colours, a name for those who do not see it, and ids of its own."""
    body = drawn[drawn.index("<svg") :]
    head = r'<svg viewBox="\1" xmlns:xlink="http://www.w3.org/1999/xlink">'
    body = re.sub(r'<svg [^>]*viewBox="([^"]*)"[^>]*>', head, body, count=1)
    body = re.sub(r"<metadata>.*?</metadata>", "", body, flags=re.DOTALL)
    for role, colour in _LIGHT.items():
        body = body.replace(colour, f"var(--tk-{role})")
    serial = next(_SERIAL)
    body = re.sub(r'(id="|url\(#|xlink:href="#)', rf"\g<1>tkp{serial}-", body)
    return body.replace("<svg ", f'<svg role="img" aria-label="{escape(words, quote=True)}" ', 1)


def curve_of(points: Sequence[tuple[float, float]], name: str = "", **how: Any) -> Curve:
    """Return a curve through points.

    Examples
    --------
    >>> curve_of([(0, 0), (1, 2)], "preload").y
    (0.0, 2.0)
    """
    return Curve(tuple(float(x) for x, _ in points), tuple(float(y) for _, y in points), name, **how)
