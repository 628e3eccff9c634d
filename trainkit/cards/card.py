"""What stands on a summary card, as words, as a part of a page, and as a page of its own to be printed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

from trainkit import figures
from trainkit.figures.style import themed


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: a few words, and what it says."""

    head: str
    text: str


@dataclass(frozen=True, slots=True)
class ValueTable:
    """Values of the engine: what they are, the heads of the columns, and the rows."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class SummaryCard:
    """A summary card.

    Parameters
    ----------
    title, engine : str
        The module, and the engine that the values belong to.
    rules : tuple of Rule
        What to remember.
    table : ValueTable, optional
        Values of the engine.
    steps : tuple of str
        Steps of the work in their order.
    figure : mapping, optional
        A picture, as :mod:`trainkit.figures` takes it.
    cautions : tuple of Rule
        The cautions in their order, each in full; they stand first.
    notice : str
        Where the values come from, and who decides in real work.
    """

    title: str
    engine: str
    rules: tuple[Rule, ...]
    table: ValueTable | None
    steps: tuple[str, ...]
    figure: Mapping[str, Any] | None
    cautions: tuple[Rule, ...]
    notice: str

    def __str__(self) -> str:
        parts = [
            f"{self.title}: card to keep",
            self.engine,
            _BEFORE,
            *(f"- {caution.head}. {caution.text}" for caution in self.cautions),
            *(f"- {rule.head.rstrip('?')}: {rule.text}" for rule in self.rules),
        ]
        if self.table is not None:
            parts += [self.table.title, *("; ".join(part for part in row if part) for row in self.table.rows)]
        if self.steps:
            parts += [_STEPS, *(f"{place}. {step}" for place, step in enumerate(self.steps, start=1))]
        if self.figure is not None:
            parts.append(f"Picture: {figures.Picture(self.figure).text}")
        return "\n".join((*parts, self.notice, LAST))

    @property
    def html(self) -> str:
        """The card as a part of a page, with its own style."""
        rules = "".join(f"<div><dt>{escape(rule.head)}</dt><dd>{escape(rule.text)}</dd></div>" for rule in self.rules)
        steps = "".join(f"<li>{escape(step)}</li>" for step in self.steps)
        cautions = "".join(
            f"<li><strong>{escape(caution.head)}.</strong> {escape(caution.text)}</li>" for caution in self.cautions
        )
        picture = "" if self.figure is None else f'<div class="tk-pocket-picture">{self._drawn}</div>'
        return (
            f'<div class="tk-pocket"><style>{_STYLE}</style>'
            f"<header><strong>{escape(self.title)}</strong><span>{escape(self.engine)}</span></header>"
            f'<div class="tk-pocket-cautions"><p>{figures.warning_sign(20)}<strong>{_BEFORE}</strong></p>'
            f"<ul>{cautions}</ul></div>"
            f'<div class="tk-pocket-body"><dl>{rules}</dl><div>{picture}{self._table}</div></div>'
            + (f"<p><strong>{_STEPS}</strong></p><ol>{steps}</ol>" if steps else "")
            + f"<footer><p>{escape(self.notice)}</p><p><strong>{LAST}</strong></p></footer></div>"
        )

    @property
    def page(self) -> str:
        """The card as a page of its own, one sheet of A4 with the cautions above the fold, that needs nothing else."""
        return (
            f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(self.title)}: card</title>'
            f"<style>{_PAGE}</style></head><body>{self.html}</body></html>"
        )

    @property
    def _drawn(self) -> str:
        return figures.Picture(self.figure).svg if self.figure is not None else ""

    @property
    def _table(self) -> str:
        if self.table is None:
            return ""
        heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in self.table.heads)
        rows = "".join(
            f'<tr><th scope="row">{escape(row[0])}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in row[1:])}</tr>'
            for row in self.table.rows
        )
        return (
            f"<table><caption>{escape(self.table.title)}</caption>"
            f"<thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"
        )


_BEFORE = "Before any work: see to each"
LAST = "Last of all: take the lock pin and the barring tool out of the engine, and count both."
_STEPS = "Steps that can hurt somebody or the engine if they go wrong, in an order that works"
_STYLE = (
    themed(".tk-pocket")
    + """
.tk-pocket { box-sizing: border-box; max-width: 64rem; padding: 12px 16px; background: var(--tk-paper);
  color: var(--tk-ink); border: 2.4px solid var(--tk-ink); font: 16px/1.4 system-ui, sans-serif;
  font-variant-numeric: tabular-nums; overflow-wrap: normal }
.tk-pocket * { box-sizing: border-box }
.tk-pocket header { display: flex; flex-wrap: wrap; justify-content: space-between; gap: 0 1.5em;
  border-bottom: 1px solid var(--tk-ink); margin-bottom: .5em }
.tk-pocket header strong { font-size: 1.15em }
.tk-pocket header span { color: var(--tk-quiet) }
.tk-pocket-body { display: grid; grid-template-columns: minmax(0, 1.1fr) minmax(0, 1fr); gap: 8px 20px }
.tk-pocket.tk-pocket :is(dl, dt, dd, p, ol, ul) { margin: 0; padding: 0; max-width: none }
/* A notebook's page lets the words of a list float; here each stands in a line of its own. */
.tk-pocket.tk-pocket :is(dt, dd) { float: none; width: auto; display: block }
.tk-pocket dl > div { margin-bottom: .45em }
.tk-pocket.tk-pocket dt { font-weight: 700 }
.tk-pocket-picture .tk-figure { max-height: 20em; width: auto; margin: 0 auto .4em }
.tk-pocket table { border-collapse: collapse; width: 100%; font-size: .95em; background: none; margin: 0 0 .4em }
.tk-pocket caption { text-align: left; font-weight: 700; color: var(--tk-ink); padding: 0 }
.tk-pocket tr { background: none }
.tk-pocket th, .tk-pocket td { border: 1px solid var(--tk-quiet); padding: 2px 8px; text-align: left;
  vertical-align: top; color: var(--tk-ink); background: none; font-weight: 400; white-space: normal; max-width: none }
.tk-pocket thead th { color: var(--tk-quiet) }
.tk-pocket :is(ol, ul) { columns: 2; column-gap: 24px }
.tk-pocket-cautions { border-bottom: 1px solid var(--tk-ink); padding-bottom: .4em; margin-bottom: .5em }
.tk-pocket.tk-pocket .tk-pocket-cautions p { color: var(--tk-caution); margin-bottom: .3em }
.tk-pocket-cautions svg { vertical-align: -.3em; margin-right: .4em }
.tk-pocket.tk-pocket ul { list-style: none }
.tk-pocket.tk-pocket ul li { break-inside: avoid; margin: 0 0 .25em; padding: 0 }
.tk-pocket ol li { break-inside: avoid; margin: 0 0 .15em 2em }
.tk-pocket footer { border-top: 1px solid var(--tk-ink); margin-top: .5em; padding-top: .4em; font-size: .92em }
.tk-pocket.tk-pocket footer p:first-child { margin-bottom: .2em }
@media screen and (max-width: 800px) {
  .tk-pocket-body { grid-template-columns: minmax(0, 1fr) }
  .tk-pocket :is(ol, ul) { columns: 1 }
}
@media screen and (max-width: 400px) {
  .tk-pocket { padding: 8px 10px; overflow-wrap: anywhere }
  .tk-pocket-picture .tk-figure { width: 100%; height: auto; max-height: none }
  .tk-pocket th, .tk-pocket td { padding: 2px 4px }
}
"""
)
# A sheet of A4, folded across: outside the cautions, inside what goes with the work.
_PAGE = """
@page { size: A4 portrait; margin: 8mm }
body { margin: 0; width: 194mm }
body .tk-pocket { max-width: none; padding: 2.5mm 4mm; font-size: 8.5pt; line-height: 1.26 }
body .tk-pocket-cautions { height: 126mm; border-bottom: 1px dashed #51616b }
body .tk-pocket-picture .tk-figure { max-height: 52mm }
body .tk-pocket ol { columns: 3; column-gap: 4mm; font-size: .9em }
body .tk-pocket ol li { margin-left: 1.6em }
"""
