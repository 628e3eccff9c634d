"""Practical work that the instructor watches: shown to the apprentice, answered by nobody in the workbook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.figures.style import themed
from trainkit.widgets import paper

if TYPE_CHECKING:
    from trainkit.items.kinds import ObservedItem


_SAID = "Your instructor watches this and signs for it. There is nothing to answer or to save here."
_STYLE = (
    themed(".tk-watched")
    + """
.tk-watched { box-sizing: border-box; max-width: 64rem; margin: 2px; padding: 12px 18px; background: var(--tk-paper);
  color: var(--tk-ink); border: 1px solid var(--tk-quiet); font: 17px/1.5 system-ui, sans-serif }
.tk-watched p { margin: 0 0 .5em; max-width: 46em }
.tk-watched ul { margin: 0 0 .6em; padding-left: 1.4em; max-width: 46em }
/* Twice the class: JupyterLab has rules of its own for tables, which set small figures to the right. */
.tk-watched.tk-watched table { border-collapse: collapse; margin: 0 0 .9em; font-size: 1em; background: none }
.tk-watched.tk-watched tr { background: none }
.tk-watched.tk-watched :is(th, td) { padding: 4px 14px 4px 8px; text-align: left; border: 1px solid var(--tk-quiet);
  color: var(--tk-ink); background: none; white-space: normal; max-width: none; font-weight: 500 }
.tk-watched.tk-watched td { font-weight: 400 }
"""
)


class Watched:
    """Practical work as an output of a notebook: what will be watched, and that there is nothing to answer.

    Parameters
    ----------
    name : str
        Identifier of the item, ``"A7"``.
    item : ObservedItem
        What will be watched.

    Examples
    --------
    >>> from trainkit.items.kinds import ObservedItem, Option
    >>> item = ObservedItem(prompt="Pin the engine.", steps=(Option(id="a", text="Lock out the starter."),))
    >>> print(Watched("A7", item))
    Practical work A7
    <BLANKLINE>
    Pin the engine.
    <BLANKLINE>
    These steps are watched.
    - Lock out the starter.
    <BLANKLINE>
    Your instructor watches this and signs for it. There is nothing to answer or to save here.
    """

    def __init__(self, name: str, item: ObservedItem) -> None:
        self.name = name
        self.item = item

    @property
    def heading(self) -> str:
        """What stands above it."""
        return f"Practical work {self.name}"

    def _repr_mimebundle_(self, **_: object) -> dict[str, str]:
        html = paper.item_html(self.heading, self.item, _SAID)
        return {"text/html": f'<style>{_STYLE}</style><div class="tk-watched">{html}</div>', "text/plain": str(self)}

    def __str__(self) -> str:
        return paper.item_text(self.heading, self.item, _SAID)
