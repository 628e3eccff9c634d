"""Templates with options on a written order: the step that stands wrong, and the one that is missing."""

from __future__ import annotations

import random
from functools import lru_cache
from itertools import permutations
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.difficulty import tens_of_words
from trainkit.items.kept import once_a_pack
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.sequence.cards import (
    Variant,
    numbered,
    quoted,
    sentence,
    variant,
    variants,
    wrong_way_round,
)
from trainkit.items.sequence.example import OnExample
from trainkit.items.sequence.gathering import gather
from trainkit.items.sequence.misconceptions import shifted_by_one
from trainkit.items.template import Redraw, redraw_if

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from trainkit.packs import Pack
    from trainkit.procedures import Edge, Judgement, Procedure


OPTIONS = 4
LINES = 7
_TRIES = 40
# So many right orders are tried with a step put elsewhere; where each of the options may stand among them.
_ORDERS = 3
_PLACES = tuple(permutations(range(OPTIONS)))
# So often one of the steps offered belongs to another configuration than the others.
_FOREIGN, _FOREIGN_AIMED = 0.12, 0.9


class FindFault(OnExample, ChoiceTemplate):
    """One step of a written order stands in the wrong place; it is to be named.

    Difficulty: the lines of the list; the pairs that stand the wrong way round, each of which makes it easier to see;
    the words to read, in tens.
    """

    name = "sequence/find-fault"
    skill = "find the step that stands in the wrong place"
    weights = MappingProxyType({"lines": 0.5, "broken": -0.5, "tens of words": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[str]:
        """Draw once."""
        chosen = variant(rng, pack)
        part = gather(rng, chosen, LINES)
        offered = rng.sample(part.steps, OPTIONS)
        culprit, right, written, verdict = _faulty(rng, part, offered)
        counted = shifted_by_one(right, written)
        others = [step for step in offered if step != culprit]
        broken = [sentence(chosen, edge) for edge in wrong_way_round(part, written)]
        return ChoiceQuestion(
            prompt="A colleague wrote these steps down in this order. One of them stands in the wrong place. "
            "Which one has to move? Other steps of the work lie between them.",
            given=(*chosen.given, *numbered(chosen, written)),
            texts={step: f"{written.index(step) + 1}. {chosen.text(step)}" for step in (culprit, *others)},
            right=culprit,
            shows={counted: "shifted-by-one"} if counted in others else {},
            reasons={
                culprit: " ".join(broken[:2]),
                **{step: _still_broken(chosen, verdict, step) for step in others},
            },
            working=(
                "These pairs stand the wrong way round.",
                *broken,
                f"All of them have a part in {quoted(chosen.text(culprit))}. Nothing else repairs them in one move.",
            ),
            features={
                "lines": len(written),
                "broken": len(broken),
                "tens of words": tens_of_words(chosen.text(step) for step in written),
            },
        )


def _faulty(
    rng: random.Random, part: Procedure, offered: Sequence[str]
) -> tuple[str, tuple[str, ...], tuple[str, ...], Judgement]:
    """Return a step offered, a right order, and one in which that step alone stands wrong.

    Each of them could stand wrong, each in a place of its own among the others; so neither a wording nor a place is
    right more often than another.
    """
    lists = {step: _lists_with(rng, part, step, offered) for step in offered}
    for places in rng.sample(_PLACES, len(_PLACES)):
        if all(place in lists[step] for step, place in zip(offered, places, strict=True)):
            at = rng.randrange(OPTIONS)
            return offered[at], *lists[offered[at]][places[at]]
    raise Redraw


def _lists_with(
    rng: random.Random, part: Procedure, culprit: str, offered: Sequence[str]
) -> dict[int, tuple[tuple[str, ...], tuple[str, ...], Judgement]]:
    """Return orders in which a step alone stands wrong, by how many of the steps offered stand above it.

    Of several such orders that one is taken in which most of the other steps offered invite the blame: to a person
    who counts, and to one who looks at one pair alone.
    """
    found: dict[int, tuple[tuple[str, ...], tuple[str, ...], Judgement]] = {}
    most: dict[int, int] = {}
    for _ in range(_ORDERS):
        right = part.random_valid_order(rng)
        rest = [step for step in right if step != culprit]
        for at in rng.sample(range(LINES), LINES):
            written = (*rest[:at], culprit, *rest[at:])
            verdict = part.judge(written)
            if verdict.culprits != (culprit,):
                continue
            blamed = {shifted_by_one(right, written), *(step for pair in verdict.broken for step in pair)}
            above, inviting = (sum(step in those for step in offered) for those in (rest[:at], blamed))
            if inviting > most.get(above, 0):
                found[above], most[above] = (right, written, verdict), inviting
    return found


def _still_broken(chosen: Variant, verdict: Judgement, step: str) -> str:
    """Say why moving another step does not help."""
    pair = next(pair for pair in verdict.broken if step not in pair)
    return (
        f"Wherever {quoted(chosen.text(step))} goes, {quoted(chosen.text(pair.after))} "
        f"still stands before {quoted(chosen.text(pair.before))}."
    )


class WhichMissing(OnExample, ChoiceTemplate):
    """The step is to be named that belongs between two others.

    Difficulty: the steps offered that belong one place off or to another variant; the words to read, in tens.
    """

    name = "sequence/which-missing"
    skill = "find the step that a list lacks"
    weights = MappingProxyType({"near misses": 1.0, "tens of words": 0.25})

    def __init__(self, wanted: Iterable[str] = ()) -> None:
        self._foreign = _FOREIGN_AIMED if "other-configuration" in wanted else _FOREIGN

    def aimed(self, shows: Iterable[str], /) -> WhichMissing:
        """Return a template that oftener offers a step of another configuration, where that is wished for."""
        return WhichMissing(shows)

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[str]:
        """Draw once."""
        for _ in range(_TRIES):
            offered, there, elsewhere = _offered(rng, pack, self._foreign)
            gaps = {
                step: _gaps(there if elsewhere is None or step == offered[0] else elsewhere, step, offered)
                for step in offered
            }
            # Each of them is as often the missing one, in a list that lacks it; so none is known by its wording.
            if offered and all(gaps.values()):
                break
        else:
            raise Redraw
        missing = rng.choice(offered)
        chosen = there if elsewhere is None or missing == offered[0] else elsewhere
        wrong = [step for step in offered if step != missing]
        into, out, order = _list_without(rng, chosen, gaps[missing], wrong)
        at = order.index(missing)
        written = [step for step in order if step != missing]
        shows = _near_misses(chosen, wrong, into, out)
        given = (*chosen.given, *numbered(chosen, written))
        texts = {step: chosen.text(step) for step in offered}
        redraw_if(len(set(texts.values())) < len(texts))
        return ChoiceQuestion(
            prompt=f"These steps are taken from a work sheet. Between the steps {at} and {at + 1} a step is missing. "
            "Which of these belongs there?",
            given=given,
            texts=texts,
            right=missing,
            shows=shows,
            reasons={
                missing: f"{sentence(chosen, into)} {sentence(chosen, out)}",
                **{step: _elsewhere(chosen, step, into.before, out.after) for step in wrong},
            },
            working=(sentence(chosen, into), sentence(chosen, out)),
            features={
                "near misses": sum(map(bool, shows.values())),
                "tens of words": tens_of_words([*(line.value for line in given), *texts.values()]),
            },
        )


@lru_cache(maxsize=64)
def _tied(chosen: Variant) -> Mapping[str, tuple[tuple[Edge, ...], tuple[Edge, ...]]]:
    """Return the steps that wait for another and that another waits for, with the pairs that say so."""
    coming: dict[str, list[Edge]] = {}
    going: dict[str, list[Edge]] = {}
    for edge in chosen.written:
        coming.setdefault(edge.after, []).append(edge)
        going.setdefault(edge.before, []).append(edge)
    both = [step for step in chosen.procedure.steps if step in coming and step in going]
    return MappingProxyType({step: (tuple(coming[step]), tuple(going[step])) for step in both})


def _offered(rng: random.Random, pack: Pack, how_often: float) -> tuple[list[str], Variant, Variant | None]:
    """Draw steps that lie near each other, each of which a list could lack, and the configuration that they belong to.

    There are none where too few lie near.
    At times the first of them belongs to some configurations only; then another one comes with it, without that step.
    """
    there, elsewhere = variant(rng, pack), None
    firsts = list(_tied(there))
    if rng.random() < how_often and (foreign := _foreign(pack)):
        there, first, others = rng.choice(foreign)
        firsts, elsewhere = [first], rng.choice(others)
    if not firsts:
        return [], there, elsewhere
    first = rng.choice(firsts)
    near = [step for step in there.around[first] if step in _tied(there) and step in there.kin[first]]
    if elsewhere is not None:
        near = [step for step in near if step in elsewhere.procedure]
    if len(near) < OPTIONS - 1:
        return [], there, elsewhere
    return [first, *rng.sample(near, OPTIONS - 1)], there, elsewhere


@once_a_pack
def _foreign(pack: Pack) -> tuple[tuple[Variant, str, tuple[Variant, ...]], ...]:
    """Return each configuration with each of its own steps and the configurations that lack it."""
    known = variants(pack).values()
    return tuple(
        (each, step, others)
        for each in known
        for step in each.own
        if step in _tied(each) and (others := tuple(other for other in known if step not in other.procedure))
    )


def _gaps(chosen: Variant, missing: str, offered: Sequence[str]) -> list[tuple[Edge, Edge]]:
    """Return the pairs that tie a step to two others between which none of the rest could stand, but may seem to."""
    whole = chosen.procedure
    coming, going = _tied(chosen).get(missing, ((), ()))
    wrong = [step for step in offered if step != missing]
    here = [step for step in wrong if step in whole]
    return [
        (into, out)
        for into in coming
        for out in going
        if into.before not in wrong and out.after not in wrong
        if all(whole.comes_before(step, into.before) or whole.comes_before(out.after, step) for step in here)
        if any(_near_misses(chosen, wrong, into, out).values())
    ]


def _near_misses(chosen: Variant, wrong: Sequence[str], into: Edge, out: Edge) -> dict[str, str]:
    """Return what each of the wrong steps shows: it belongs to another variant, one place off, or nowhere near."""
    beside = {edge.before for edge in chosen.written if edge.after == into.before}
    beside |= {edge.after for edge in chosen.written if edge.before == out.after}
    return {
        step: "other-configuration" if step not in chosen.procedure else "shifted-by-one" if step in beside else ""
        for step in wrong
    }


def _list_without(
    rng: random.Random, chosen: Variant, gaps: Sequence[tuple[Edge, Edge]], wrong: Sequence[str]
) -> tuple[Edge, Edge, tuple[str, ...]]:
    """Draw a list in which a step stands between two that it is tied to, without the wrong ones."""
    for _ in range(_TRIES):
        into, out = rng.choice(gaps)
        between = (into.before, into.after, out.after)
        # Only the gap is marked, so that the other lines may lie further off than cards that are put in order.
        near = dict.fromkeys(step for one in between for other in chosen.around[one] for step in chosen.around[other])
        others = [step for step in near if step not in between and step not in wrong]
        redraw_if(len(others) < LINES - 1 - len(between))
        part = chosen.procedure.among([*between, *rng.sample(others, LINES - 1 - len(between))])
        for _ in range(4):
            order = part.random_valid_order(rng)
            at = order.index(into.after)
            if at and order[at - 1 : at + 2] == between:
                return into, out, order
    raise Redraw


def _elsewhere(chosen: Variant, step: str, first: str, second: str) -> str:
    """Say where a step belongs that does not belong between two others."""
    whole = chosen.procedure
    if step not in whole:
        own = [each.name for each in chosen.pack.configurations if step in each.own]
        where = f"only on a set {' or '.join(own)}" if own else "on other sets, not on this one"
        return f"{quoted(chosen.text(step))} is done {where}."
    pair = (step, first) if whole.comes_before(step, first) else (second, step)
    edges = whole.why(*pair)
    closing = "It is done by then." if pair[0] == step else "It comes later."
    return f"{' '.join(sentence(chosen, edge) for edge in edges[:2])} {closing}"
