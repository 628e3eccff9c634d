"""Questions and answers on paper: as words and as static HTML, for prints, exports and pages without a kernel.

Nothing here is markup unless this module wrote it: every word of an item or an answer is escaped.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

from trainkit import figures, quantities
from trainkit.errors import FormError, QuantityError, ResponseError
from trainkit.items.item import GridItem
from trainkit.widgets.reading import understood

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from trainkit.items.item import ActionsItem, Card, InsertItem, Item, NumberItem, ObservedItem, Option, SetItem
    from trainkit.items.responses import (
        ActionsResponse,
        InsertResponse,
        NumberResponse,
        ObservedResponse,
        Response,
        SetResponse,
    )

__all__ = ["answer_words", "begun_html", "item_html", "item_text", "paragraphs", "picture", "task"]


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
    if _is_clock(item):
        minutes = round(response.value * 60) % 720
        return f"{minutes // 60 or 12}:{minutes % 60:02d}"
    return _measured(response.value, item.scale.unit)


def _is_clock(item: SetItem) -> bool:
    return item.scale.round and item.scale.high - item.scale.low == 12


def _measured(value: float, unit: str) -> str:
    return f"{quantities.plain(value)}{quantities.THIN}{unit}"


def _set_task(item: SetItem) -> str:
    scale = item.scale
    if _is_clock(item):
        return f"Set the hand of the clock, in steps of {_measured(scale.step * 60, 'minutes')}."
    ends = f"from {quantities.plain(scale.low)} to {_measured(scale.high, scale.unit)}"
    return f"Set the scale, {ends} in steps of {_measured(scale.step, scale.unit)}."


def _observed(item: ObservedItem, response: ObservedResponse) -> str:
    steps = "; ".join(f"{_named(item.steps, step)}: {how}" for step, how in response.steps.items())
    return f"{steps or 'no step'}, observed by {response.observer}"


def _steps(item: ObservedItem) -> list[str]:
    """Return the steps, with a word at those that must be done."""
    return [f"{step.text}{' (critical)' if step.id in item.critical else ''}" for step in item.steps]


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
    "observed": _observed,
}


_CRITICAL = " “Critical” marks a step that can hurt a person or the engine if it goes wrong."

# What the reader is to do, and what stands to choose from.
_TASKS: dict[str, Callable[[Any], tuple[str, Iterable[str]]]] = {
    "number": lambda item: (f"Answer with a number in {' or '.join(item.units)}, {item.to_nearest}.", ()),
    "choice": lambda item: ("Choose one.", _texts(item.options)),
    "several": lambda item: ("Choose all that belong.", _texts(item.options)),
    "order": lambda item: ("Put these in order, first to last.", _texts(item.cards)),
    "insert": lambda item: (f"Where does this step go: {item.missing.text}", _texts(item.written)),
    "grid": lambda item: (f"Choose for each one of: {'; '.join(_texts(item.columns))}.", _texts(item.rows)),
    "point": lambda item: ("Point to one of these on the picture.", _texts(item.targets)),
    "set": lambda item: (_set_task(item), ()),
    "actions": lambda item: ("Work at the bench, one action at a time.", _texts(item.actions)),
    "text": lambda item: (f"Write at most {item.limit} characters. A person reads them.", ()),
    "observed": lambda item: (f"These steps are watched.{_CRITICAL if item.critical else ''}", _steps(item)),
}


def _texts(things: Iterable[Option | Card]) -> list[str]:
    return [thing.text for thing in things]


def task(item: Item) -> tuple[str, list[str]]:
    """Return what the reader of a question is to do, and what stands to choose from.

    Examples
    --------
    >>> from trainkit.items.item import ChoiceItem, Option
    >>> task(ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back"))))
    ('Choose one.', ['on', 'back'])
    """
    said, choices = _TASKS[item.kind](item)
    return said, list(choices)


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
    if isinstance(item, GridItem):
        # A table to be filled in by hand says the columns itself.
        parts.append(f"<p>Choose one in each row.</p>{_grid(item)}")
        choices = []
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


def _grid(item: GridItem) -> str:
    heads = "".join(f'<th scope="col">{escape(column.text)}</th>' for column in item.columns)
    boxes = "<td>☐</td>" * len(item.columns)
    rows = "".join(f'<tr><th scope="row">{escape(row.text)}</th>{boxes}</tr>' for row in item.rows)
    return f"<table><thead><tr><td></td>{heads}</tr></thead><tbody>{rows}</tbody></table>"


def _each(tag: str, texts: Iterable[str]) -> list[str]:
    return [f"<{tag}>{escape(text)}</{tag}>" for text in texts]
