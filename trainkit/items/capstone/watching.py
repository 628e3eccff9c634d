"""A piece of the work, done at the engine while a person who may sign for it watches each step."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.difficulty import tens_of_words
from trainkit.items.facts import Draw
from trainkit.items.kept import once_a_pack
from trainkit.items.kinds import Given, ObservedItem, ObservedKey, Option
from trainkit.items.sequence.cards import Variant, quoted, sentence, variant, variants
from trainkit.items.template import Unshuffled, redraw_if

if TYPE_CHECKING:
    from trainkit.packs import Pack


# Steps of the pack in one piece of work; with the cautions before them they fill a page.
FEWEST, STEPS = 6, 8
# So many of them are critical, at the least.
CRITICAL = 2
POINTS = 6
LETTERS = "abcdefghijkl"

# What the line of a caution begins with.
CAUTION = "Caution: "
# What opens every piece of work that is watched; on a checklist each caution has a tick of its own in its place.
CAUTIONS_STEP = "Go through the cautions of this sheet one by one, and see to each, before you touch the engine"


class ObservedWork(Unshuffled):
    """A piece of the work is done at the engine, step by step, and signed for by the person who watches it.

    The piece is the last steps before some step, that one included: whatever has to come between two of them is there
    too. The cautions stand first, critical steps are marked, torques are written out. Every line is a step of the work,
    so that the sheet of the whole job serves this item too.

    Difficulty: the critical steps; the steps with a torque; the words to read, in tens.
    """

    name = "capstone/observed-work"
    skill = "do a piece of the work while somebody watches"
    kind = "observed"
    weights = MappingProxyType({"critical": 0.5, "torques": 0.5, "tens of words": 0.1})

    def pose(self, rng: random.Random, pack: Pack) -> Draw:
        """Draw once."""
        chosen = variant(rng, pack)
        ends = _ends(pack)[chosen.configuration]
        redraw_if(not ends)
        piece = _piece(rng, chosen, rng.choice(ends), rng.randint(FEWEST, STEPS))
        redraw_if(sum(pack.step(step).critical for step in piece) < CRITICAL)
        here = set(piece)
        bound = [edge for edge in chosen.written if {edge.before, edge.after} <= here]
        bound += [edge for edge in chosen.dangerous if {edge.before, edge.after} <= here and edge not in bound]
        texts = [CAUTIONS_STEP, *(step_text(chosen, step) for step in piece)]
        critical = (LETTERS[0], *(LETTERS[at] for at, step in enumerate(piece, 1) if pack.step(step).critical))
        item = ObservedItem(
            prompt="Do this piece of the work at the engine. A person who may sign for it watches each step. "
            "It is not answered on the screen.\n\n"
            "A step that you do without a prompt counts in full, after a prompt half. "
            "A critical step left out, or a stop for safety, means not yet.",
            given=(
                *chosen.given,
                *(Given(label=f"{CAUTION}{hazard.title.rstrip('.')}", value=hazard.text) for hazard in pack.cautions),
                Given(label="Done before you begin", value="; ".join(map(quoted, _done(chosen, piece))) or "nothing"),
            ),
            points=POINTS,
            steps=tuple(Option(id=letter, text=text) for letter, text in zip(LETTERS, texts, strict=False)),
            critical=critical,
        )
        key = ObservedKey(
            template=self.name,
            working=(
                "Any order is right in which each step waits for those that it needs.",
                *(sentence(chosen, edge) for edge in bound),
            ),
            critical=critical,
        )
        features = {
            "critical": len(critical),
            "torques": sum(bool(_torque(chosen, step)) for step in piece),
            "tens of words": tens_of_words(texts),
        }
        return Draw(item, key, features)


@once_a_pack
def _ends(pack: Pack) -> Mapping[str, tuple[str, ...]]:
    """Return for each variant the steps with enough before them."""
    return MappingProxyType(
        {
            name: tuple(step for step in chosen.procedure.steps if len(_before(chosen, step)) >= STEPS - 1)
            for name, chosen in variants(pack).items()
        }
    )


def _before(chosen: Variant, step: str) -> list[str]:
    return [other for other in chosen.kin[step] if chosen.procedure.comes_before(other, step)]


def _piece(rng: random.Random, chosen: Variant, end: str, count: int) -> list[str]:
    """Gather the steps that lead up to one, from it backwards, and put them in an order in which they can be done.

    A step is taken in only when all that comes between it and the end is there already, so nothing is left out.
    """
    before = set(_before(chosen, end))
    taken = {end}
    while len(taken) < count:
        # In the order of the pack, so that the same stream gives the same piece.
        near = [
            step
            for step in chosen.procedure.steps
            if step in before - taken
            and not any(
                other in before - taken and chosen.procedure.comes_before(step, other) for other in chosen.kin[step]
            )
        ]
        taken.add(rng.choice(near))
    order: list[str] = []
    while len(order) < count:
        left = [step for step in chosen.procedure.steps if step in taken and step not in order]
        order.append(next(step for step in left if not any(chosen.procedure.comes_before(o, step) for o in left)))
    return order


def _done(chosen: Variant, piece: list[str]) -> Iterator[str]:
    """Say what is done already: the steps right before those of the piece."""
    firsts = {edge.before for edge in chosen.written if edge.after in piece}
    yield from (chosen.text(step) for step in chosen.procedure.steps if step in firsts and step not in piece)


def step_text(chosen: Variant, name: str) -> str:
    """Return what is done in a step, with the torque that the sheet states for it."""
    torque = _torque(chosen, name)
    return f"{chosen.text(name)} ({', '.join(torque)})" if torque else chosen.text(name)


def _torque(chosen: Variant, name: str) -> tuple[str, ...]:
    """Return the torque that the sheet states for a step, as it is printed; nothing where it states none."""
    step = chosen.pack.step(name)
    if not step.fastener:
        return ()
    stage = next(stage for stage in chosen.pack.fastener(step.fastener).stages if stage.name == step.stage)
    return tuple(stage.torque or ())
