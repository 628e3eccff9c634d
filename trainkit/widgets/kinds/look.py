"""What a question needs to know of one kind of answer: its control, how an answer is understood, and its words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from trainkit import figures
from trainkit.errors import FormError, ResponseError
from trainkit.items.kinds import Option

if TYPE_CHECKING:
    from trainkit.items.kinds import Card, Item, Name, Response
    from trainkit.packs import Pack


I = TypeVar("I")  # noqa: E741 - item, key and response of one kind
K = TypeVar("K")
R = TypeVar("R")
Named = Callable[[str], str]
"""Gives the words of an identifier."""


@dataclass(frozen=True, slots=True)
class Exercise:
    """What is tried out with one control; no knowledge is asked.

    Parameters
    ----------
    title : str
        What the control does, in words.
    item : Item
        What is shown.
    mouse, finger, keys : str
        How it is done by each of them.
    done : callable
        Tells whether a response does what the item says.
    """

    title: str
    item: Item
    mouse: str
    finger: str
    keys: str
    done: Callable[[Response], bool]


def _no_answers(_: object, __: object) -> Sequence[Any]:
    return ()


@dataclass(frozen=True, slots=True)
class Look(Generic[I, K, R]):
    """How one kind of answer is asked, understood and told.

    Parameters
    ----------
    name : str
        The ``kind`` of its item, key and response.
    task : callable
        What the reader is to do, and what stands to choose from.
    words : callable
        A response in words, on one line.
    said : callable
        The same in lines, whatever item it answers; the words of an identifier come from the last parameter.
    right : callable
        What is right, a line each; nothing where the working says it.
    worked : callable, optional
        What is right, for whoever marks; without it, ``right``.
    wrong : callable
        Wrong answers, each with the code that it shows and whether it would do harm.
    control : callable
        What the control needs, as plain JSON data.
    fit : callable
        Returns a response as it will be recorded, or raises what is wrong with it.
    exercise : callable, optional
        What is tried out with the control, on an engine; None where nobody answers on the screen.
    table : callable, optional
        A table to fill in by hand, as HTML, in place of ``task``.
    draws : bool
        Whether the control draws the picture itself.
    """

    name: Name
    task: Callable[[I], tuple[str, Iterable[str]]]
    words: Callable[[I, R], str]
    said: Callable[[Item, R, Named], tuple[str, ...]]
    right: Callable[[I, K], Sequence[str]] = _no_answers
    worked: Callable[[I, K], Sequence[str]] | None = None
    wrong: Callable[[I, K], Iterable[tuple[str, str, bool]]] = _no_answers
    control: Callable[[I], Mapping[str, object]] = lambda _: {}
    fit: Callable[[I, R], R] = lambda _, response: response
    exercise: Callable[[Pack], Exercise] | None = None
    table: Callable[[I], str] | None = None
    draws: bool = False


# What is tried out with the controls for options.
ROWS = (
    Option(id="a", text="The upper one"),
    Option(id="b", text="The middle one"),
    Option(id="c", text="The lower one"),
)


def picture(item: Item) -> figures.Picture | None:
    """Return the picture of an item, or None if it has none that can be drawn."""
    if item.figure is None:
        return None
    try:
        return figures.Picture(item.figure)
    except FormError:
        # The words of the question stand without it; a question must not vanish for the sake of its picture.
        return None


def drawn(item: Item) -> str:
    """Return the picture of an item as SVG, or nothing."""
    found = picture(item)
    return found.svg if found else ""


def as_data(things: Iterable[Option | Card]) -> list[dict[str, str]]:
    """Return options or cards as plain JSON data."""
    return [{"id": thing.id, "text": thing.text} for thing in things]


def texts(things: Iterable[Option | Card]) -> list[str]:
    """Return the words of options or cards."""
    return [thing.text for thing in things]


def text_of(things: Iterable[Option | Card], name: str) -> str:
    """Return the words of one option or card as they stand within a sentence."""
    return next((thing.text.rstrip(".") for thing in things if thing.id == name), name)


def chosen(things: Iterable[Option], names: Iterable[str]) -> tuple[str, ...]:
    """Return the words of those options that are named."""
    wanted = set(names)
    return tuple(thing.text for thing in things if thing.id in wanted)


def numbered(names: Iterable[str], named: Named) -> tuple[str, ...]:
    """Return the words of identifiers in their order, numbered."""
    return tuple(f"{place}. {named(name)}" for place, name in enumerate(names, start=1))


def offered(response: R, taken: Sequence[str], options: Iterable[Option]) -> R:
    """Return a response, unless something was taken twice, or was never offered."""
    known = {option.id for option in options}
    for option in taken:
        if option not in known or taken.count(option) > 1:
            raise ResponseError(
                option, rule="Only what is shown can be chosen, and each once.", remedy="Choose from those shown."
            )
    return response
