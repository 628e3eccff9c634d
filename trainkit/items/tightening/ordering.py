"""The stages of a joint and the work between them, to be put in order."""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items import examples
from trainkit.items.distinct_answers import lettered
from trainkit.items.facts import Draw
from trainkit.items.hurrying import hurried
from trainkit.items.kinds import Bond, Card, OrderItem, OrderKey
from trainkit.items.template import Redraw, Template
from trainkit.items.tightening.joints import Bolts, Stages, at_stage, example_title, schedule, stages_of
from trainkit.procedures import Edge, Procedure
from trainkit.tightening import Joint, StageName, WorkName

if TYPE_CHECKING:
    from trainkit.packs import Pack


# What a card may say of each sort of work and of each stage, such as any joint may need. Each is said at length and in
# short, so that the length of a card tells nothing.
_SAYS: dict[WorkName | StageName, tuple[str, ...]] = {
    "fit": (
        "Fit the part beside it",
        "Fit the part that meets it",
        "Fit the part beside it, while both can still give way",
        "Fit the part that meets it, while neither of them is held",
    ),
    "move": (
        "Shift the part until it lies flat",
        "Shift the part until it seats",
        "Shift the part by hand until it lies flat all over",
        "Shift the part by hand until it seats all round",
    ),
    "set": (
        "Line the part up as wanted",
        "Line the part up on purpose",
        "Line the part up, exactly as the job sheet wants it",
        "Line the part up where it has to stand in the end",
    ),
    "check": (
        "Check the position",
        "Check where the part stands",
        "Check that the part stands where it should stand",
        "Check with the gauge where the part stands now",
    ),
    "mark": (
        "Put the witness mark on",
        "Draw the witness mark",
        "Put the witness mark across part and {nouns}",
        "Draw the witness mark from the part across the {nouns}",
    ),
    "finger-tight": (
        "Turn {all} in finger-tight",
        "Bring {all} finger-tight",
        "Turn {all} in by hand until they are finger-tight",
        "Start {all} by hand and bring them finger-tight",
    ),
    "snug": (
        "Bring {all} snug",
        "Turn {all} until snug",
        "Bring {all} snug with a short spanner, one by one",
        "Turn {all} with a spanner until they are snug",
    ),
    "first": (
        "Tighten {all} to the first stage",
        "Bring {all} to the first stage",
        "Tighten {all} to the first stage, each in its turn",
        "Bring {all} to the first stage, in the order of the pattern",
    ),
    "final": (
        "Tighten {all} to the final stage",
        "Bring {all} to the final stage",
        "Tighten {all} to the final stage, each in its turn",
        "Bring {all} to the final stage, in the order of the pattern",
    ),
}
_BY_ANGLE = ("Turn {all} on to the {stage} stage, by an angle",)
# So often a question takes the stages of a joint of the pack; the others are about an example.
_OWN = 0.1
_STAGES: tuple[tuple[StageName, ...], ...] = (
    *(("finger-tight", "first", "final"), ("snug", "first", "final"), ("first", "final")),
    *(("finger-tight", "final"), ("snug", "final")),
)
_COUNTS = (2, 3, 4, 5, 6, 8)
# Why a sort of work waits for a stage, and what the wrong order shows.
_AFTER: dict[WorkName, tuple[str, str]] = {
    "set": ("A part that nothing holds does not stay where it is put.", "sets-loose-parts"),
    "check": ("What is checked before it is held may move afterwards.", "checks-before-held"),
    "mark": ("The mark is true only when the position is final.", "first-for-final"),
}
# Why a stage waits for a sort of work, and what the wrong order shows.
_BEFORE: dict[WorkName, tuple[str, str]] = {
    "fit": ("From this stage on the parts are held and give way no more.", "moves-at-first"),
    "move": ("From this stage on the parts are held and cannot be shifted by hand.", "moves-at-first"),
    "set": ("At the final stage nothing may move any more.", "final-still-moves"),
}
_BETWEEN_STAGES = "Each stage leaves a joint that the next one needs."
_NOTHING_TO_CHECK = "Before it is lined up there is nothing to check."
_MARK_KEEPS = "The mark keeps what it sees: it is true only when the position has been checked."
# Which sorts of work go together on the cards of one item: after lining up nothing is shifted by hand.
_TOGETHER: tuple[tuple[WorkName, ...], ...] = (
    ("fit", "set", "check", "mark"),
    ("set", "check", "mark"),
    ("fit", "set", "check"),
    ("fit", "set", "mark"),
    ("fit", "check", "mark"),
    ("move", "check", "mark"),
    ("fit", "move", "check"),
    ("fit", "move", "check", "mark"),
)
# Lining up a finished joint, or marking one that is neither final nor checked: dangerous by common practice, no source.
_DANGEROUS = {("set", "final"), ("check", "mark"), ("final", "mark")}
# An arrangement by chance needs at least so many moves, or a lucky one would earn too much.
LEAST_MOVES_BY_CHANCE = 2.0


class StagesInOrder(Template):
    """The stages of a joint and the work that is done between them are to be put in order.

    Difficulty: the cards, and the reasons that tie them to each other.
    """

    name = "tightening/stages-in-order"
    skill = "put stages and the work between them in order"
    kind = "order"
    weights = MappingProxyType({"cards": 1.0, "ties": -0.25})

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> Draw:
        """Draw once."""
        own = [each for each in pack.fasteners if len(each.stages) > 1 and each.count > 1]
        taken = not own or rng.random() >= _OWN
        if taken:
            fastener = examples.joint(rng, examples.systems(pack), rng.choice(_STAGES), counts=_COUNTS)
        else:
            fastener = rng.choice(own)
        words = Bolts(fastener)
        planned = _planned(stages_of(fastener), rng.choice(_TOGETHER))
        if planned is None:
            raise Redraw
        procedure = planned.procedure
        texts = {card: _text(words, card, rng) for card in procedure.steps}
        options, letters = lettered(texts, shuffle)
        item = OrderItem(
            prompt="Put the stages of this joint, and the work that is done in between, in order.",
            given=(example_title(words) if taken else words.title,),
            cards=tuple(Card(id=option.id, text=option.text) for option in options),
        )
        key = OrderKey(
            template=self.name,
            working=(
                *(f"“{texts[e.before]}” comes before “{texts[e.after]}”: {e.reason}" for e in procedure.before),
                f"{'The only' if planned.count == 1 else f'One of {planned.count}'} right "
                f"order{'' if planned.count == 1 else 's'}: {'; '.join(texts[card] for card in planned.order)}.",
            ),
            cards={letters[card]: texts[card] for card in texts},
            bonds=tuple(
                Bond(
                    before=letters[edge.before],
                    after=letters[edge.after],
                    reason=edge.reason,
                    dangerous=edge.dangerous,
                    misconception=planned.shown_by[edge.before, edge.after],
                )
                for edge in procedure.before
            ),
        )
        features = {"cards": len(texts), "ties": len(procedure.before)}
        return Draw(item, key, features, examples.JOINT if taken else "")


def windows(joint: Joint, work: WorkName) -> tuple[int, int]:
    """Return from which stage to which a sort of work may be done, 0 while all is loose.

    Found by asking the joint, with all of its bolts at each stage in turn.

    Examples
    --------
    >>> from trainkit.tightening import Stage
    >>> joint = Joint(["1", "2"], [Stage("snug"), Stage("first", "9 N·m"), Stage("final", "24 N·m")])
    >>> windows(joint, "move"), windows(joint, "set"), windows(joint, "check"), windows(joint, "mark")
    ((0, 1), (1, 2), (2, 3), (3, 3))
    """
    allowed = [place for place in range(len(joint.schedule) + 1) if work in at_stage(joint, place).works()]
    return min(allowed), max(allowed)


@dataclass(frozen=True, slots=True)
class _Plan:
    """The cards of one item by their names, what comes before what, and what each pair shows when it is broken."""

    procedure: Procedure[str]
    shown_by: dict[tuple[str, str], str]
    order: tuple[str, ...]
    count: int


@lru_cache(maxsize=512)
def _planned(order: Stages, works: tuple[WorkName, ...]) -> _Plan | None:
    """Return the plan of stages and works, or None if it makes no question."""
    joint = Joint(("1", "2"), schedule(order))
    stages = [name for name, *_ in order]
    found = dict.fromkeys(pairwise(stages), (_BETWEEN_STAGES, "stage-out-of-order"))
    early: list[list[str]] = [[] for _ in range(len(stages) + 1)]
    for work in works:
        first, last = windows(joint, work)
        early[first].append(work)
        if first > 0:
            found[stages[first - 1], work] = _AFTER[work]
        if last < len(stages):
            found[work, stages[last]] = _BEFORE[work]
    if {"set", "check"} <= set(works):
        found["set", "check"] = _NOTHING_TO_CHECK, ""
    if {"check", "mark"} <= set(works):
        found["check", "mark"] = _MARK_KEEPS, "mark-before-fixing"
    # Each sort of work as early as it may be.
    cards = [*early[0], *(card for stage, then in zip(stages, early[1:], strict=True) for card in (stage, *then))]
    procedure = Procedure(cards, [Edge(*pair, reason, pair in _DANGEROUS) for pair, (reason, _) in found.items()])
    shown_by = {pair: code for pair, (_, code) in found.items()}
    if procedure.expected_moves() < LEAST_MOVES_BY_CHANCE or _hidden(procedure, shown_by):
        return None
    return _Plan(procedure, shown_by, procedure.repair(procedure.steps).order, procedure.count_orders())


def _hidden(procedure: Procedure[str], shown_by: dict[tuple[str, str], str]) -> bool:
    """Tell whether somebody who does not wait at one pair would be taken for somebody else."""
    for edge in procedure.before:
        place = {card: at for at, card in enumerate(hurried(procedure, edge))}
        broken = [each for each in procedure.before if place[each.before] > place[each.after]]
        # In this order marking looks at them: what is dangerous goes first.
        codes = [shown_by[each.before, each.after] for each in sorted(broken, key=lambda one: not one.dangerous)]
        code = shown_by[edge.before, edge.after]
        if code and next(filter(None, codes)) != code:
            return True
    return False


def _text(words: Bolts, card: str, rng: random.Random) -> str:
    """Return what stands on a card."""
    stage = words.fastener.stage(card)
    says = _BY_ANGLE if stage is not None and stage.angle is not None else _SAYS[card]
    return rng.choice(says).format(nouns=words.nouns, all=words.all, stage=card)
