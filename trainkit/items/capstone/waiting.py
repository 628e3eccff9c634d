"""What has to be done before a step, and what harm it keeps off: told in one's own words."""

from __future__ import annotations

import random
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.capstone.questions import Looked, Question, against_cautions
from trainkit.items.kept import once_a_pack
from trainkit.items.sequence.cards import Variant, quoted, sentence, variant, variants
from trainkit.items.template import redraw_if

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trainkit.packs import Pack
    from trainkit.procedures import Edge


# Two are asked for; where many would do, it would be an easy question.
FEWEST, MOST = 2, 4


def before_the_step(rng: random.Random, pack: Pack) -> Question:
    """Draw a variant and a step that a few others must come before, lest somebody or something is hurt.

    Raises
    ------
    Redraw
        If the variant drawn has no such step.
    """
    chosen = variant(rng, pack)
    steps = _waiting(pack)[chosen.configuration]
    redraw_if(not steps)
    step = rng.choice(tuple(steps))
    edges = steps[step]
    after = quoted(chosen.text(step))
    firsts = [quoted(chosen.text(edge.before)) for edge in edges]
    further = [
        other
        for other in chosen.procedure.steps
        if chosen.procedure.is_dangerous(other, step) and other not in {edge.before for edge in edges}
    ]
    looked = (
        Looked("One thing that has to be done before.", tuple(f"{first}." for first in firsts)),
        Looked(
            "What harm it keeps off.",
            tuple(f"{first}: {edge.reason}" for first, edge in zip(firsts, edges, strict=True)),
        ),
        Looked(
            "A second thing that has to be done before.",
            (
                "Another of the same list.",
                *(("Or a step further back, from which harm follows too; they stand below.",) if further else ()),
            ),
        ),
        Looked(
            "What harm the second keeps off.",
            (
                "The reason of that one, as above.",
                "Said as what happens to the engine or to a person; “it is the rule” earns nothing.",
            ),
        ),
    )
    return Question(
        prompt=f"You are about to do this: {after}.\n\n"
        "Explain to a new apprentice, in your own words. Which two things have to be done before it, whatever else? "
        "What could happen to the engine or to a person without the first? And without the second?",
        given=chosen.given,
        looked=looked,
        dangerous=(
            *(
                f"Says that {after} may be done before {first}. {e.reason}"
                for first, e in zip(firsts, edges, strict=True)
            ),
            against_cautions(pack),
        ),
        working=(
            *(sentence(chosen, edge) for edge in edges),
            *(
                f"Further back: {' '.join(sentence(chosen, each) for each in chosen.procedure.why(other, step))}"
                for other in further
            ),
        ),
    )


@once_a_pack
def _waiting(pack: Pack) -> Mapping[str, Mapping[str, tuple[Edge[str], ...]]]:
    """Return for each variant the steps that can be asked about, with the dangerous edges that lead to them."""
    return MappingProxyType({name: MappingProxyType(_of(chosen)) for name, chosen in variants(pack).items()})


def _of(chosen: Variant) -> dict[str, tuple[Edge[str], ...]]:
    edges: dict[str, list[Edge[str]]] = {}
    for edge in chosen.dangerous:
        if not edge.via:
            edges.setdefault(edge.after, []).append(edge)
    return {
        step: tuple(found)
        for step, found in edges.items()
        # The same reason twice would be one thing to say, not two.
        if FEWEST <= len(found) <= MOST and len({edge.reason for edge in found}) == len(found)
    }
