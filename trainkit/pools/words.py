"""Sentences about pools: what a pack lacks, what is asked about something else, what cannot be asked of an engine."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from trainkit.errors import ItemError
from trainkit.items.misconceptions import misconception
from trainkit.sentences import listed

if TYPE_CHECKING:
    from trainkit.pools.readiness import ModuleReadiness

COLUMNS = ("Module", "Ready", "What to know", "Seconds")
"""Headings of the table about modules."""


def row(found: ModuleReadiness) -> tuple[str, str, str, str]:
    """Return what a table says of a module: its name, whether it is ready, what to know, and how long it took.

    Examples
    --------
    >>> from trainkit.pools.readiness import ModuleReadiness
    >>> row(ModuleReadiness("lock-pin", "Lock pin", seconds=1.25))
    ('lock-pin', 'ready', '', '1.2')
    """
    word = "ready" if found.ready else "not ready"
    return found.module, word, "\n".join(lines(found)), f"{found.seconds:.1f}"


def lines(found: ModuleReadiness) -> list[str]:
    """Return what is to be known of a module, a line each, the most important first.

    Examples
    --------
    >>> from trainkit.pools.filling import Missing
    >>> from trainkit.pools.readiness import ModuleReadiness
    >>> lacks = "a step that tries the pin in and out"
    >>> missing = tuple(Missing(item, "lock-pin/what-next", lacks, "Add one.") for item in ("A3", "A5"))
    >>> lines(ModuleReadiness("lock-pin", "Lock pin", missing))
    ['Missing: a step that tries the pin in and out (A3 and A5)']
    """
    missing = _together((each.needs, each.item) for each in found.missing)
    instead = _together(
        (f"{'Drawn' if each.always else 'Partly drawn'} on {each.about}: {each.skill}", each.item)
        for each in found.instead
    )
    unable = _together((not_askable(codes), item) for item, codes in found.not_askable.items())
    return [
        *(f"Missing: {needs}{_items(items)}" for needs, items in missing.items()),
        *(f"{text}{_items(items)}" for text, items in instead.items()),
        *(f"{text}{_items(items)}" for text, items in unable.items()),
        *(f"Failed unexpectedly: {fault}" for fault in found.faults),
    ]


def not_askable(codes: Iterable[str]) -> str:
    """Return the words for mistakes that questions should be able to show and that cannot show on this engine.

    Examples
    --------
    >>> not_askable(["seal-reused"])
    'Not askable here: “This order closes the joint before its new single-use part is in.”'
    """
    return f"Not askable here: {listed([f'“{_words(code)}”' for code in codes])}"


def _words(code: str) -> str:
    try:
        return misconception(code).shows
    except ItemError:
        return code  # of a release that knows other ones


def _items(names: list[str]) -> str:
    said = listed([name for name in dict.fromkeys(names) if name])
    return f" ({said})" if said else ""


def _together(pairs: Iterable[tuple[str, str]]) -> Mapping[str, list[str]]:
    found: dict[str, list[str]] = {}
    for text, item in pairs:
        found.setdefault(text, []).append(item)
    return found
