"""Questions and answers on paper: as words and as static HTML, for prints, exports and pages without a kernel.

Nothing here is markup unless this module wrote it: every word of an item or an answer is escaped.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from trainkit import figures
from trainkit.errors import FormError, QuantityError, ResponseError
from trainkit.items.item import ActionsItem, ChoiceItem, InsertItem, NumberItem, OrderItem, SeveralItem
from trainkit.items.responses import (
    ActionsResponse,
    ChoiceResponse,
    InsertResponse,
    NumberResponse,
    OrderResponse,
    SeveralResponse,
)
from trainkit.widgets.reading import understood

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trainkit.items.item import Item
    from trainkit.items.responses import Response

__all__ = ["answer_words", "item_html", "item_text", "paragraphs", "picture"]


def paragraphs(text: str) -> list[str]:
    r"""Return the paragraphs of a plain text; an empty line parts them.

    Examples
    --------
    >>> paragraphs("One.\n\nTwo,\nstill two.")
    ['One.', 'Two,\nstill two.']
    """
    return [part.strip() for part in text.split("\n\n") if part.strip()]


def picture(item: Item) -> figures.Picture | None:
    """Return the picture of an item, or None if it has none that can be drawn."""
    if item.figure is None:
        return None
    try:
        return figures.Picture(item.figure)
    except FormError:
        # The words of the question stand without it; a question must not vanish for the sake of its picture.
        return None


def answer_words(item: Item, response: Response) -> str:
    """Return an answer in words.

    Examples
    --------
    >>> from trainkit.items.item import Option
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> answer_words(item, ChoiceResponse(option="b"))
    'back'
    """
    if isinstance(item, NumberItem) and isinstance(response, NumberResponse):
        try:
            return understood(item, response.text, response.unit).words
        except (QuantityError, ResponseError):
            return f"{response.text} {response.unit}".strip()
    if isinstance(item, ChoiceItem) and isinstance(response, ChoiceResponse):
        return {option.id: option.text for option in item.options}.get(response.option, response.option)
    if isinstance(item, SeveralItem) and isinstance(response, SeveralResponse):
        texts = {option.id: option.text.rstrip(".") for option in item.options}
        return "; ".join(texts.get(option, option) for option in response.options) or "none of them"
    if isinstance(item, InsertItem) and isinstance(response, InsertResponse):
        if response.place >= len(item.written):
            return f"after “{item.written[-1].text}”"
        return f"before “{item.written[response.place].text}”"
    if isinstance(item, OrderItem) and isinstance(response, OrderResponse):
        texts = {card.id: card.text.rstrip(".") for card in item.cards}
        return "; ".join(f"{place}. {texts.get(card, card)}" for place, card in enumerate(response.cards, start=1))
    if isinstance(item, ActionsItem) and isinstance(response, ActionsResponse):
        texts = {option.id: option.text.rstrip(".") for option in item.actions}
        done = "; ".join(texts.get(action, action) for action in response.actions) or "nothing"
        return f"{done}; stopped there" if response.gave_up else done
    return response.model_dump_json(exclude={"kind"})


def _lines(item: Item) -> tuple[str, list[str]]:
    """Return what the reader is to do, and what stands to choose from."""
    if isinstance(item, NumberItem):
        units = " or ".join(item.units)
        return f"Answer with a number in {units}, {item.to_nearest}.", []
    if isinstance(item, ChoiceItem):
        return "Choose one.", [option.text for option in item.options]
    if isinstance(item, SeveralItem):
        return "Choose all that belong.", [option.text for option in item.options]
    if isinstance(item, InsertItem):
        return f"Where does this step go: {item.missing.text}", [card.text for card in item.written]
    if isinstance(item, OrderItem):
        return "Put these in order, first to last.", [card.text for card in item.cards]
    if isinstance(item, ActionsItem):
        return "Work at the bench, one action at a time.", [option.text for option in item.actions]
    return "Answer on the screen.", []


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
    task, choices = _lines(item)
    shown = picture(item)
    parts = [heading, *paragraphs(item.prompt)]
    if item.given:
        parts.append("\n".join(f"{given.label}: {given.value}" for given in item.given))
    if shown is not None:
        parts.append(f"Picture: {shown.text}")
    parts.append("\n".join([task, *(f"- {choice}" for choice in choices)]))
    if answer:
        parts.append(answer)
    return "\n\n".join(parts)


def item_html(heading: str, item: Item, answer: str = "") -> str:
    """Return a question as HTML that needs no script and no style sheet; parameters as in :func:`item_text`."""
    task, choices = _lines(item)
    shown = picture(item)
    parts = [f"<p><strong>{escape(heading)}</strong></p>", *_each("p", paragraphs(item.prompt))]
    if item.given:
        rows = "".join(
            f'<tr><th scope="row">{escape(given.label)}</th><td>{escape(given.value)}</td></tr>' for given in item.given
        )
        parts.append(f"<table><tbody>{rows}</tbody></table>")
    if shown is not None:
        parts.append(shown.svg)
    parts.append(f"<p>{escape(task)}</p>")
    if choices:
        parts.append(f"<ul>{''.join(_each('li', choices))}</ul>")
    if answer:
        parts.append(f"<p><em>{escape(answer)}</em></p>")
    return f"<section>{''.join(parts)}</section>"


def _each(tag: str, texts: Iterable[str]) -> list[str]:
    return [f"<{tag}>{escape(text)}</{tag}>" for text in texts]
