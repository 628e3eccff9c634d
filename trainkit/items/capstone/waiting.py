"""What may wait and what may not: steps that somebody wants to leave until later, and the harm that follows."""

from __future__ import annotations

import random
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.capstone.questions import Looked, Question, against_cautions
from trainkit.items.kept import once_a_pack
from trainkit.items.kinds import Given
from trainkit.items.sequence.cards import Variant, quoted, variant, variants
from trainkit.items.template import redraw_if

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trainkit.packs import Pack
    from trainkit.procedures import Edge


def before_the_step(rng: random.Random, pack: Pack) -> Question:
    """Draw a step, two that have to come before it lest somebody or something is hurt, and one that may wait.

    Raises
    ------
    Redraw
        If the variant drawn has no such steps.
    """
    chosen = variant(rng, pack)
    steps = _waiting(pack)[chosen.configuration]
    redraw_if(not steps)
    step = rng.choice(tuple(steps))
    edges, free = steps[step]
    two = rng.sample(edges, 2)
    # The same reason twice would be one thing to say, not two.
    redraw_if(two[0].reason == two[1].reason)
    waits = rng.choice(free)
    after, later = quoted(chosen.text(step)), quoted(chosen.text(waits))
    firsts = [quoted(chosen.text(edge.before)) for edge in two]
    left = rng.sample([*(edge.before for edge in two), waits], 3)
    reasons = [f"{first}: {edge.reason}" for first, edge in zip(firsts, two, strict=True)]
    looked = (
        Looked("Which one may wait.", (f"{later}: neither of the two waits for the other.",)),
        Looked("What harm follows without the first of the others.", (reasons[0],)),
        Looked(
            "What harm follows without the second.",
            (reasons[1], "Said as what happens to the engine or to a person; “it is the rule” earns nothing."),
        ),
        Looked(
            "What is done now.",
            (
                f"{after} is not begun.",
                f"First are done {firsts[0]} and {firsts[1]}, and each is seen to be done.",
                "In doubt the person in charge is asked.",
            ),
        ),
    )
    return Question(
        prompt="A colleague is about to do the step below, and wants to leave three others until later. One of the "
        "three may wait.\n\n"
        "Explain to your colleague, in your own words. Which one may wait? What could happen to the engine or to a "
        "person without each of the other two? What do you do now?",
        given=(
            *chosen.given,
            Given(label="About to do", value=chosen.text(step)),
            *(Given(label=f"To be left, {number}", value=chosen.text(each)) for number, each in enumerate(left, 1)),
        ),
        looked=looked,
        dangerous=(
            *(
                f"Says that {after} may be done before {first}. {edge.reason}"
                for first, edge in zip(firsts, two, strict=True)
            ),
            against_cautions(pack),
        ),
        working=(
            *(f"{first} comes before {after}: {edge.reason}" for first, edge in zip(firsts, two, strict=True)),
            f"Between {later} and {after} there is no order.",
        ),
    )


@once_a_pack
def _waiting(pack: Pack) -> Mapping[str, Mapping[str, tuple[tuple[Edge[str], ...], tuple[str, ...]]]]:
    """Return for each variant the steps that can be asked about, with the dangerous edges to them and what may wait."""
    return MappingProxyType({name: MappingProxyType(_of(chosen)) for name, chosen in variants(pack).items()})


def _of(chosen: Variant) -> dict[str, tuple[tuple[Edge[str], ...], tuple[str, ...]]]:
    edges: dict[str, list[Edge[str]]] = {}
    for edge in chosen.dangerous:
        edges.setdefault(edge.after, []).append(edge)
    found = {}
    for step, those in edges.items():
        # What is as good as far off, and has no order with the step, would be no temptation.
        free = tuple(each for each in chosen.around[step] if each not in chosen.kin[step])
        if len({edge.reason for edge in those}) > 1 and free:
            found[step] = (tuple(those), free)
    return found
