"""The form of each kind of answer on paper, as HTML: boxes to tick, places to write in, lines to write on.

Everything shown comes out of the released item; every word of it is escaped.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from trainkit import figures
from trainkit.errors import TrainkitError
from trainkit.items import scenarios
from trainkit.widgets import paper
from trainkit_grading.paper.kinds import blank_of

if TYPE_CHECKING:
    from trainkit.items.kinds import Item


def shown(item: Item) -> str:
    """Return the question itself as HTML: its words, its data, its picture."""
    parts = [f"<p>{escape(part)}</p>" for part in paper.paragraphs(item.prompt)]
    if item.given:
        rows = "".join(
            f'<tr><th scope="row">{escape(given.label)}</th><td>{escape(given.value)}</td></tr>' for given in item.given
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
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> "<b>B</b>" in blank(item) and "Tick one box." in blank(item)
    True
    """
    return blank_of(item.kind).html(item, code)


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
