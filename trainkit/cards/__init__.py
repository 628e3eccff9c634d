"""Summary cards: the rules of a module in a few lines, with the values of the engine that is practised on.

A card is made to be printed, folded and kept in a pocket. The cautions stand first, in full; its last line takes pin
and bar out of the engine. It says who decides in real work, as every sheet does. Every value on it is computed from
the pack.

============== ==========================================
:mod:`.card`    what stands on a card, and its HTML
:mod:`.rules`   the lines of each module
:mod:`.values`  tables and pictures of a pack's values
============== ==========================================

Examples
--------
>>> from trainkit import packs
>>> print(card("turning-direction", "Turning direction", packs.load("dunlin")).rules[0].text)
Say it with every sense. Clockwise from the front is anticlockwise from the flywheel end.
"""

from __future__ import annotations

from trainkit.cards.card import LAST, Rule, SummaryCard, ValueTable
from trainkit.cards.rules import card

__all__ = ["LAST", "Rule", "SummaryCard", "ValueTable", "card"]
