"""Questions and answers on paper: as words and as static HTML, for prints, exports and pages without a kernel.

Nothing here is markup unless this module wrote it: every word of an item or an answer is escaped.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

from trainkit.items.kinds import kind_of
from trainkit.widgets.kinds import look_of
from trainkit.widgets.kinds.look import picture

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from trainkit.items.kinds import Item, Response

__all__ = ["answer_words", "begun_html", "item_html", "item_text", "paragraphs", "picture", "said", "task"]


def paragraphs(text: str) -> list[str]:
    r"""Return the paragraphs of a plain text; an empty line parts them.

    Examples
    --------
    >>> paragraphs("One.\n\nTwo,\nstill two.")
    ['One.', 'Two,\nstill two.']
    """
    return [part.strip() for part in text.split("\n\n") if part.strip()]


def answer_words(item: Item, response: Response) -> str:
    """Return an answer in words.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> from trainkit.items.kinds import ChoiceResponse
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> answer_words(item, ChoiceResponse(option="b"))
    'back'
    """
    if item.kind != response.kind:
        return response.model_dump_json(exclude={"kind"})
    return look_of(item.kind).words(item, response)


def said(item: Item, response: Response | None) -> tuple[str, ...]:
    r"""Return what was answered, in the words of the item, one line for each part; plain text, not HTML.

    An option, card or place that the item never offered is named as such.

    Examples
    --------
    >>> from trainkit.items.kinds import NumberItem
    >>> from trainkit.items.kinds import NumberResponse
    >>> item = NumberItem(prompt="How much?", units=("N·m",), to_nearest="to the nearest 1 N·m")
    >>> said(item, NumberResponse(text="31", unit="N·m"))
    ('31\u2009N·m',)
    """
    if response is None:
        return ()
    words = {thing.id: thing.text for thing in kind_of(item.kind).named(item)}
    return look_of(response.kind).said(
        item, response, lambda name: words.get(name) or f"“{name}”, which was not offered"
    )


def task(item: Item) -> tuple[str, list[str]]:
    """Return what the reader of a question is to do, and what stands to choose from.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> task(ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back"))))
    ('Choose one.', ['on', 'back'])
    """
    to_do, choices = look_of(item.kind).task(item)
    return to_do, list(choices)


def item_text(heading: str, item: Item, answer: str = "") -> str:
    """Return a question as plain text.

    Parameters
    ----------
    heading : str
        What stands above it, "Question A1".
    item : Item
        The question.
    answer : str, optional
        A line about the answer.
    """
    to_do, choices = task(item)
    shown = picture(item)
    parts = [heading, *paragraphs(item.prompt)]
    if item.given:
        parts.append("\n".join(f"{given.label}: {given.value}" for given in item.given))
    if shown is not None:
        parts.append(f"Picture: {shown.text}")
    parts.append("\n".join([to_do, *(f"- {choice}" for choice in choices)]))
    if answer:
        parts.append(answer)
    return "\n\n".join(parts)


# A page that shows notebooks sets what stands in tables to the right, as if all of it were numbers.
_LEFT = ' style="text-align: left"'


def item_html(heading: str, item: Item, answer: str = "") -> str:
    """Return a question as HTML that needs no script and no style sheet; parameters as in :func:`item_text`."""
    to_do, choices = task(item)
    shown = picture(item)
    parts = [f"<p><strong>{escape(heading)}</strong></p>", *_each("p", paragraphs(item.prompt))]
    if item.given:
        rows = "".join(
            f'<tr><th scope="row"{_LEFT}>{escape(given.label)}</th><td{_LEFT}>{escape(given.value)}</td></tr>'
            for given in item.given
        )
        parts.append(f"<table><tbody>{rows}</tbody></table>")
    if shown is not None:
        parts.append(shown.svg)
    table = look_of(item.kind).table
    if table is not None:
        parts.append(table(item))
    else:
        parts.append(f"<p>{escape(to_do)}</p>")
        if choices:
            parts.append(f"<ul>{''.join(_each('li', choices))}</ul>")
    if answer:
        parts.append(f"<p><em>{escape(answer)}</em></p>")
    return f"<section>{''.join(parts)}</section>"


def begun_html(begun: Mapping[str, Any]) -> str:
    """Return the lines of a working that is begun, as a half-worked example shows them."""
    lines = "".join(_each("li", begun["lines"]))
    return f"<p><strong>{escape(begun['title'])}</strong></p><ol>{lines}</ol><p>{escape(begun['rest'])}</p>"


def _each(tag: str, texts: Iterable[str]) -> list[str]:
    return [f"<{tag}>{escape(text)}</{tag}>" for text in texts]
