"""The summary card on the screen: shown as it will be printed, with a button that prints it and nothing else."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trainkit.cards import SummaryCard


class Printed:
    """A summary card.

    Parameters
    ----------
    card : Card
        What stands on it.

    Examples
    --------
    >>> from trainkit import cards, packs
    >>> shown = Printed(cards.card("lock-pin", "Lock pin", packs.load("dunlin"))).shown()
    >>> shown["kind"], shown["page"].startswith("<!doctype html>")
    ('card', True)
    """

    def __init__(self, card: SummaryCard) -> None:
        self.card = card

    def shown(self) -> dict[str, Any]:
        """Return everything that the screen shows, as plain JSON data."""
        return {
            "format": 1,
            "mode": "card",
            "kind": "card",
            "name": "card",
            "heading": f"Card to keep: {self.card.title}",
            "html": self.card.html,
            # The page that is printed: it stands alone, so that nothing else of the notebook gets on the paper.
            "page": self.card.page,
        }

    def hear(self, message: object) -> dict[str, Any]:
        """Refuse what the screen sends: a card has nothing to answer."""
        ticket = message.get("ticket") if isinstance(message, Mapping) else None
        return {"type": "refused", "text": "A card has nothing to answer.", "ticket": ticket}

    def text(self) -> str:
        """Return the card as plain text."""
        return str(self.card)

    def html(self) -> str:
        """Return the card as static HTML."""
        return self.card.html
