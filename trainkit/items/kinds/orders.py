"""What orders and the missing card of a written order have in common: bonds that are kept or broken."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Protocol

from trainkit.items.marks import UNRECOGNISED, Mark, share_of
from trainkit.items.misconceptions import misconception

if TYPE_CHECKING:
    from trainkit.items.kinds.values import Bond, Shown


# A dangerous pair the wrong way round leaves at most this share of the points, however good the rest.
DANGEROUS_CAP = 0.25
HARMS = "Two of the steps stand the wrong way round, and that can hurt the engine or a person."


class Bonded(Protocol):
    """What the keys of both hold: the text of each card, and what has to come before what."""

    @property
    def cards(self) -> dict[str, str]: ...  # noqa: D102 - described above

    @property
    def bonds(self) -> tuple[Bond, ...]: ...  # noqa: D102 - described above


def broken(bonds: Iterable[Bond], order: Sequence[str]) -> list[Bond]:
    """Return the bonds whose cards stand the wrong way round."""
    return [bond for bond in bonds if order.index(bond.before) > order.index(bond.after)]


def mark_broken(item: Shown, key: Bonded, wrong: Sequence[Bond], share: float, closing: str) -> Mark:
    """Mark an order that breaks some bonds."""
    dangerous = [bond for bond in wrong if bond.dangerous]
    shown = _first_shown(wrong) or None
    sentences = [
        f"“{key.cards[bond.before].rstrip('.')}” comes before “{key.cards[bond.after].rstrip('.')}”: {bond.reason}"
        for bond in (dangerous or wrong)[:2]
    ]
    sentences.append(closing)
    if dangerous:
        sentences.append("The wrong way round, this pair can hurt the engine or a person.")
        share = min(share, DANGEROUS_CAP)
    if shown:
        sentences.append(misconception(shown).advice())
    told = [closing]
    if dangerous:
        # Why it harms is told at all times; which two steps it is about is for the next attempt to find.
        told = [f"{HARMS} {dangerous[0].reason}", closing]
    told.append(misconception(shown).method() if shown else UNRECOGNISED)
    return share_of(item, share, " ".join(sentences), shown, bool(dangerous), " ".join(told))


def shown_in(orders: Iterable[Sequence[str]], bonds: Sequence[Bond]) -> Mapping[str, float]:
    """Return what part of some wrong orders shows each misconception."""
    shown = [_first_shown(broken(bonds, order)) for order in orders]
    return {code: count / len(shown) for code, count in Counter(shown).items() if code}


def _first_shown(wrong: Sequence[Bond]) -> str:
    """Return what is named: of the broken bonds that show something the first, dangerous ones before others."""
    first = sorted(wrong, key=lambda bond: not bond.dangerous)
    return next((bond.misconception for bond in first if bond.misconception), "")
