"""Cards put in order: a place to write beside each."""

from __future__ import annotations

import re
from html import escape

from trainkit.items.kinds import OrderItem, OrderResponse
from trainkit_grading.paper.kinds.blank import Blank, lettered, refused, say


def _html(item: OrderItem, _: str) -> str:
    rows = "".join(
        f'<li><i class="place"></i><b>{mark}</b><span>{escape(text)}</span></li>' for mark, text in lettered(item.cards)
    )
    to_do = say(f"Write its place beside each: 1 for what comes first, up to {len(item.cards)}. Use each number once.")
    return f'{to_do}<ul class="ticks">{rows}</ul>'


def _read(item: OrderItem, typed: str) -> OrderResponse:
    cards = [card.id for card in item.cards]
    count = len(cards)
    tokens = re.findall(r"\d+", typed) if re.search(r"[\s,;]", typed.strip()) else list(typed)
    if re.search(r"[^\d\s,;.]", typed):
        way = f"Type the {count} numbers from the top card to the last one, like 3 1 2."
        raise refused(typed, "Beside each card stands its place, a number.", way)
    numbers = [int(token) for token in tokens]
    if sorted(numbers) != list(range(1, count + 1)):
        missing = sorted(set(range(1, count + 1)) - set(numbers))
        lacking = f" Missing: {', '.join(map(str, missing))}." if missing else ""
        raise refused(typed, f"The {count} cards have the places 1 to {count}, each once.{lacking}")
    return OrderResponse(cards=tuple(card for _, card in sorted(zip(numbers, cards, strict=True))))


BLANK: Blank[OrderItem, OrderResponse] = Blank(
    "order",
    html=_html,
    hint=lambda item: f"the {len(item.cards)} numbers beside the cards, from the top down",
    read=_read,
    write=lambda item, response: " ".join(str(response.cards.index(card.id) + 1) for card in item.cards),
)
