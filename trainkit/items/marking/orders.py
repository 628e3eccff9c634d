"""Orders, and the missing card of a written order."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trainkit import procedures
from trainkit.items.marking.marks import UNRECOGNISED, Mark, share_of, unusable
from trainkit.items.misconceptions import misconception

if TYPE_CHECKING:
    from trainkit.items.item import InsertItem, OrderItem
    from trainkit.items.key import Bond, InsertKey, OrderKey
    from trainkit.items.responses import InsertResponse, OrderResponse

__all__ = ["DANGEROUS_CAP", "mark_insert", "mark_order"]

# A dangerous pair the wrong way round leaves at most this share of the points, however good the rest.
DANGEROUS_CAP = 0.25
HARMS = "Two of the steps stand the wrong way round, and that can hurt the engine or a person."


def mark_order(item: OrderItem, key: OrderKey, given: OrderResponse) -> Mark:
    """Mark an order by the fewest moves that repair it, rescaled so that a random one earns nothing on average."""
    if sorted(given.cards) != sorted(card.id for card in item.cards):
        return unusable(item, "Every card has to stand in the order once. Put all of them in order.")
    broken = [bond for bond in key.bonds if _stands_wrong(bond, given.cards)]
    if not broken:
        # An order that keeps every bond keeps what follows from them.
        return share_of(item, 1.0, "Every step stands where it may stand.")
    procedure = _procedure(key)
    moves = procedure.judge(given.cards).fewest_moves
    closing = f"{'One move' if moves == 1 else f'{moves} moves'} would put the order right."
    return _broken_order(item, key, broken, procedure.score(given.cards), closing)


def mark_insert(item: InsertItem, key: InsertKey, given: InsertResponse) -> Mark:
    """Mark where the missing card was put; every right place is as good as another."""
    if given.place > len(item.written):
        return unusable(item, "The card goes before, between or after the written ones. Place it again.")
    if given.place in key.right:
        return share_of(item, 1.0, "The step stands where it may stand.")
    order = [*key.written[: given.place], key.missing, *key.written[given.place :]]
    broken = [bond for bond in key.bonds if _stands_wrong(bond, order)]
    return _broken_order(item, key, broken, 0.0, "Think what has to be done first, and what waits for this step.")


def _procedure(key: OrderKey) -> procedures.Procedure:
    edges = tuple(procedures.Edge(bond.before, bond.after, bond.reason, bond.dangerous) for bond in key.bonds)
    return procedures.Procedure(tuple(key.cards), edges)


def _stands_wrong(bond: Bond, order: Sequence[str]) -> bool:
    return order.index(bond.before) > order.index(bond.after)


def _broken_order(
    item: OrderItem | InsertItem, key: OrderKey | InsertKey, broken: Sequence[Bond], share: float, closing: str
) -> Mark:
    dangerous = [bond for bond in broken if bond.dangerous]
    shown = next((bond.misconception for bond in (*dangerous, *broken) if bond.misconception), None)
    sentences = [
        f"“{key.cards[bond.before].rstrip('.')}” comes before “{key.cards[bond.after].rstrip('.')}”: {bond.reason}"
        for bond in (dangerous or broken)[:2]
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
