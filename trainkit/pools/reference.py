"""Reference draws: from streams that depend on template and pack alone, the same for every course and check.

They say how hard the items of a template are on a pack, and which of the misconceptions that a blueprint wishes for
its questions can show there.
"""

from __future__ import annotations

import random
import statistics
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.errors import DrawFault, ItemError
from trainkit.items.kept import once_a_pack
from trainkit.items.template import fault_of

if TYPE_CHECKING:
    from trainkit.items.facts import Draw
    from trainkit.items.template import Template
    from trainkit.packs import Pack

REFERENCE = 64
"""Draws that a yardstick rests on."""
RARE = 20
"""Where an item has to be able to show something, up to so many times as many draws are looked through."""
ENOUGH = 36
"""No more are looked through once so many of them have been found."""
# A code that does not come up in so many draws is one that the pack cannot show. Where each comes up, yet not all
# together, they may be rare together: more are looked through.
_LOOKED_AT = 320
_RARE_TOGETHER = REFERENCE * RARE
# Where not all wishes can be met together, a part of them that fewer draws can show is not worth asking.
_OFTEN = 4
# A template that fails so often before its first draw has nothing to ask here.
FAILURES = 3


@dataclass(frozen=True, slots=True)
class Yardstick:
    """How hard the items of a template on a pack are: mean and standard deviation, in steps of thought."""

    mean: float
    spread: float


@dataclass(frozen=True, slots=True)
class _Seen:
    """What is kept of a reference draw: how hard it is, and what it can show where that is wanted."""

    difficulty: float
    shows: frozenset[str]


class _Reference:
    """The reference draws of a template on a pack, drawn as far as they are needed."""

    def __init__(self, template: Template, pack: Pack, wished: tuple[str, ...]) -> None:
        self._template, self._pack, self._wished = template, pack, wished
        self._known: list[_Seen | None] = []
        self._error: ItemError | DrawFault | None = None

    def first(self, many: int) -> Iterator[_Seen]:
        """Yield the draws among the first so many streams; a stream that fails gives none.

        Raises
        ------
        ItemError, DrawFault
            If the first streams all fail.
        """
        for number in range(many):
            if number == len(self._known):
                self._known.append(self._drawn(number))
            if number + 1 == FAILURES and not any(self._known) and self._error is not None:
                raise self._error
            if (seen := self._known[number]) is not None:
                yield seen

    def _drawn(self, number: int) -> _Seen | None:
        name = self._template.name
        try:
            drawn = self._template.draw(random.Random(f"{name} {number}"), self._pack)  # noqa: S311 - no secret
            shows = shown_by(self._template, self._pack, drawn) if self._wished else frozenset()
        except (ItemError, DrawFault) as error:
            self._error = self._error or error
            return None
        return _Seen(self._template.difficulty(drawn.features), shows)


def shown_by(template: Template, pack: Pack, drawn: Draw) -> frozenset[str]:
    """Return the codes that an answer to a draw can show.

    Raises
    ------
    DrawFault
        If finding them fails.
    """
    try:
        return frozenset(drawn.could_show)
    except Exception as error:
        raise fault_of(template.name, pack, error) from error


def askable(template: Template, pack: Pack, wished: tuple[str, ...]) -> tuple[str, ...]:
    """Return those of the wished misconceptions that the items of a template can show together on a pack.

    Template, pack and wishes alone decide it, so it is the same in every form of every course. Where not all can be
    shown together, it is the largest part of them that draws can show.

    Parameters
    ----------
    template : Template
        What draws.
    pack : Pack
        What it asks about.
    wished : tuple of str
        Codes of misconceptions.

    Raises
    ------
    ItemError
        If the pack has nothing that the template could ask about.
    DrawFault
        If the template fails by a fault of its own, however often it draws.

    Examples
    --------
    >>> from trainkit import packs
    >>> from trainkit.items.template import find
    >>> askable(find("torque-units/convert"), packs.load("dunlin"), ("inch-for-foot", "clock-backwards"))
    ('inch-for-foot',)
    """
    if not wished:
        return ()
    known = _wishes(pack)
    name = (template.name, *wished)
    if name not in known:
        known[name] = _largest_part(_reference(template, pack, wished), wished)
    return known[name]


@once_a_pack
def _wishes(pack: Pack) -> dict[tuple[str, ...], tuple[str, ...]]:  # noqa: ARG001 - kept for each pack
    return {}


def _largest_part(reference: _Reference, wished: tuple[str, ...]) -> tuple[str, ...]:
    whole = frozenset(wished)
    met: list[frozenset[str]] = []
    for seen in reference.first(_RARE_TOGETHER):
        met.append(seen.shows & whole)
        if met[-1] == whole:
            return wished
        if len(met) == _LOOKED_AT and frozenset().union(*met) != whole:
            break
    often = {part: sum(part <= other for other in met) for part in dict.fromkeys(met)}
    able = [part for part, count in often.items() if count >= _OFTEN] or [frozenset()]
    place = {code: number for number, code in enumerate(wished)}
    best = max(able, key=lambda part: (len(part), often.get(part, 0), sorted(-place[code] for code in part)))
    return tuple(code for code in wished if code in best)


def yardstick(template: Template, pack: Pack, shows: tuple[str, ...] = ()) -> Yardstick:
    """Return how hard the items of a template on a pack are, by a fixed reference pool.

    Parameters
    ----------
    template : Template
        What draws.
    pack : Pack
        What it asks about.
    shows : tuple of str
        Codes of misconceptions that every item has to be able to show; see :func:`askable`.

    Raises
    ------
    ItemError
        If the pack has nothing that the template could ask about, or no draw can show the misconceptions.
    DrawFault
        If the template fails by a fault of its own, however often it draws.

    Examples
    --------
    >>> from trainkit import packs
    >>> from trainkit.items.template import find
    >>> found = yardstick(find("torque-units/convert"), packs.load("dunlin"))
    >>> found.mean > 0, found.spread > 0
    (True, True)
    """
    known = _yardsticks(pack)
    name = (template.name, *sorted(shows))
    if name not in known:
        found = list(_difficulties(_reference(template, pack, shows), frozenset(shows)))
        if not found:
            raise none_shows(template, shows, _RARE_TOGETHER)
        known[name] = Yardstick(statistics.fmean(found), statistics.pstdev(found))
    return known[name]


@once_a_pack
def _yardsticks(pack: Pack) -> dict[tuple[str, ...], Yardstick]:  # noqa: ARG001 - kept for each pack
    return {}


def _difficulties(reference: _Reference, shows: frozenset[str]) -> Iterator[float]:
    found = 0
    for number, seen in enumerate(reference.first(_RARE_TOGETHER if shows else REFERENCE)):
        if number >= REFERENCE and found >= ENOUGH:
            return
        if shows <= seen.shows:
            found += 1
            yield seen.difficulty


def none_shows(template: Template, shows: tuple[str, ...], tries: int) -> ItemError:
    """Return the error that says that no draw was found that can show what it has to."""
    return ItemError(
        template.name,
        rule=f"None of {tries} draws of {template.name} can show {' and '.join(shows)}.",
        remedy="Take this out of `shows` in the blueprint, or name another template.",
    )


def _reference(template: Template, pack: Pack, wished: tuple[str, ...]) -> _Reference:
    """Return the reference draws of a template that is aimed at what is wished; most draw the same however aimed."""
    aimed = template.aimed(wished) if wished else template
    name = (template.name, bool(wished), () if aimed is template else wished)
    known = _references(pack)
    if name not in known:
        known[name] = _Reference(aimed, pack, wished)
    return known[name]


@once_a_pack
def _references(pack: Pack) -> dict[tuple[str, bool, tuple[str, ...]], _Reference]:  # noqa: ARG001 - as above
    return {}
