"""Questions on an example engine, where the work of a pack has too few different ones of a sort to ask."""

from __future__ import annotations

import math
import random
from collections import Counter
from functools import lru_cache
from typing import TYPE_CHECKING

from trainkit.errors import DrawFault, ItemError
from trainkit.items.asking import asked
from trainkit.items.facts import Draw
from trainkit.items.kept import once_a_pack
from trainkit.items.kinds import Given
from trainkit.items.template import Template, find, held_safe

if TYPE_CHECKING:
    from trainkit.packs import Pack


EXAMPLE = "dunlin"
INSTEAD = "an example engine"
# So many draws are tried of a template on a pack. Two equal ones among them come up by chance where there are some
# thousand different ones; more mean that there are few.
_TRIED, _EQUAL = 48, 2


class OnExample(Template):
    """Draws on the example engine where the pack has no such question, or so few that they would be known soon."""

    def draw(self, rng: random.Random, pack: Pack, *, shuffle: random.Random | None = None) -> Draw:
        """Draw one item and its key; see :meth:`trainkit.items.template.Template.draw`.

        Raises
        ------
        ItemError
            If the safety of the pack's steps is not stated: nothing is asked about its work then.
        """
        if pack is example() or _enough(self, pack):
            return super().draw(rng, pack, shuffle=shuffle)
        held_safe(self.name.partition("/")[0], pack)
        drawn = super().draw(rng, example(), shuffle=shuffle)
        engine, *rest = drawn.item.given
        told = Given(label=engine.label, value=f"example for this question only: {engine.value}")
        return Draw(drawn.item.model_copy(update={"given": (told, *rest)}), drawn.key, drawn.features, INSTEAD)


@lru_cache(maxsize=1)
def example() -> Pack:
    """Return the pack of the example engine."""
    from trainkit import packs

    return packs.load(EXAMPLE)


@once_a_pack
def _tried(_: Pack) -> dict[str, bool]:
    """Return what is known of a pack so far; filled as its templates are asked."""
    return {}


def _enough(template: Template, pack: Pack) -> bool:
    """Tell whether a pack has enough different questions of a template."""
    known = _tried(pack)
    if template.name not in known:
        # However it is aimed, it is about the same engine.
        known[template.name] = _differ(find(template.name), pack)
    return known[template.name]


def _differ(template: Template, pack: Pack) -> bool:
    met = Counter[str]()
    for number in range(_TRIED):
        rng = random.Random(f"{template.name} {number}")  # noqa: S311 - counts questions, guards no secret
        try:
            # Past the way that leads here.
            met[asked(Template.draw(template, rng, pack).item)] += 1
        except DrawFault:  # no reason to leave this engine; whoever draws is told of it
            return True
        except ItemError as error:
            if error.place:  # a fault in the pack, to be told
                raise
            return False
    return sum(math.comb(count, 2) for count in met.values()) <= _EQUAL
