"""Questions and answers on paper: as words and as static HTML, for prints, exports and pages without a kernel.

Nothing here is markup unless this module wrote it: every word of an item or an answer is escaped.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

from trainkit import figures, quantities
from trainkit.errors import FormError, QuantityError, ResponseError
from trainkit.widgets.reading import understood

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from trainkit.items.item import ActionsItem, Card, InsertItem, Item, NumberItem, Option, SetItem
    from trainkit.items.responses import ActionsResponse, InsertResponse, NumberResponse, Response, SetResponse

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
    >>> from trainkit.items.item import ChoiceItem, Option
    >>> from trainkit.items.responses import ChoiceResponse
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> answer_words(item, ChoiceResponse(option="b"))
    'back'
    """
    if item.kind != response.kind or item.kind not in _WORDS:
        return response.model_dump_json(exclude={"kind"})
    return _WORDS[item.kind](item, response)


def _number(item: NumberItem, response: NumberResponse) -> str:
    try:
        return understood(item, response.text, response.unit).words
    except (QuantityError, ResponseError):
        return f"{response.text} {response.unit}".strip()


def _named(things: Sequence[Option | Card], name: str) -> str:
    return next((thing.text.rstrip(".") for thing in things if thing.id == name), name)


def _insert(item: InsertItem, response: InsertResponse) -> str:
    if response.place >= len(item.written):
        return f"after “{item.written[-1].text}”"
    return f"before “{item.written[response.place].text}”"


def _set(item: SetItem, response: SetResponse) -> str:
    scale = item.scale
    if scale.round and scale.high - scale.low == 12:  # a clock
        minutes = round(response.value * 60) % 720
        return f"{minutes // 60 or 12}:{minutes % 60:02d}"
    return f"{quantities.plain(response.value)}{quantities.THIN}{scale.unit}"


def _actions(item: ActionsItem, response: ActionsResponse) -> str:
    done = "; ".join(_named(item.actions, action) for action in response.actions) or "nothing"
    return f"{done}; stopped there" if response.gave_up else done


_WORDS: dict[str, Callable[[Any, Any], str]] = {
    "number": _number,
    "choice": lambda item, response: _named(item.options, response.option),
    "several": lambda item, response: (
        "; ".join(_named(item.options, option) for option in response.options) or "none of them"
    ),
    "order": lambda item, response: "; ".join(
        f"{place}. {_named(item.cards, card)}" for place, card in enumerate(response.cards, start=1)
    ),
    "insert": _insert,
    "grid": lambda item, response: "; ".join(
        f"{_named(item.rows, row)}: {_named(item.columns, column)}" for row, column in response.rows.items()
    ),
    "point": lambda item, response: _named(item.targets, response.target),
    "set": _set,
    "actions": _actions,
    "text": lambda _, response: str(response.text),
}


# What the reader is to do, and what stands to choose from.
_TASKS: dict[str, Callable[[Any], tuple[str, Sequence[Option | Card]]]] = {
    "number": lambda item: (f"Answer with a number in {' or '.join(item.units)}, {item.to_nearest}.", ()),
    "choice": lambda item: ("Choose one.", item.options),
    "several": lambda item: ("Choose all that belong.", item.options),
    "order": lambda item: ("Put these in order, first to last.", item.cards),
    "insert": lambda item: (f"Where does this step go: {item.missing.text}", item.written),
    "grid": lambda item: (f"Choose for each one of: {', '.join(each.text for each in item.columns)}.", item.rows),
    "point": lambda item: ("Point to one of these on the picture.", item.targets),
    "set": lambda item: (f"Set the scale in {item.scale.unit}.", ()),
    "actions": lambda item: ("Work at the bench, one action at a time.", item.actions),
    "text": lambda item: (f"Write at most {item.limit} characters.", ()),
}


def _lines(item: Item) -> tuple[str, list[str]]:
    if item.kind not in _TASKS:
        return "Answer on the screen.", []
    task, choices = _TASKS[item.kind](item)
    return task, [choice.text for choice in choices]


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
