"""Templates with options: the fault of a written order, the reason of a pair, the missing step, the free pair."""

from __future__ import annotations

import random
import re
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.difficulty import tens_of_words
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.sequence.cards import (
    Variant,
    gather,
    numbered,
    quoted,
    sentence,
    variant,
    wrong_way_round,
)
from trainkit.items.sequence.misconceptions import shifted_by_one
from trainkit.items.template import Redraw, redraw_if

if TYPE_CHECKING:
    from trainkit.packs import Edge as PackEdge
    from trainkit.packs import Pack
    from trainkit.procedures import Edge, Judgement


OPTIONS = 4


class FindFault(ChoiceTemplate):
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
        part = gather(rng, chosen, 7)
        right = part.random_valid_order(rng)
        culprit = rng.choice(right)
        rest = [step for step in right if step != culprit]
        at = rng.randrange(len(right))
        written = (*rest[:at], culprit, *rest[at:])
        verdict = part.judge(written)
        redraw_if(verdict.culprits != (culprit,))
        counted = shifted_by_one(right, written)
        others = [step for pair in verdict.broken for step in pair if step != culprit]
        others = list(dict.fromkeys([counted, *rng.sample(others, len(others)), *rng.sample(rest, len(rest))]))
        others = [step for step in others if step != culprit][: OPTIONS - 1]
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


def _long_words(text: str) -> set[str]:
    """Return the words of five letters and more."""
    return set(re.findall(r"[a-z]{5,}", text.lower()))


def _still_broken(chosen: Variant, verdict: Judgement, step: str) -> str:
    """Say why moving another step does not help."""
    pair = next(pair for pair in verdict.broken if step not in pair)
    return (
        f"Wherever {quoted(chosen.text(step))} goes, {quoted(chosen.text(pair.after))} "
        f"still stands before {quoted(chosen.text(pair.before))}."
    )


class WhyBefore(ChoiceTemplate):
    """The reason is to be found why one step comes before another.

    Difficulty: the reasons offered, and the words to read, in tens; a reason that takes up words of the two steps
    gives itself away, which makes it easier.
    """

    name = "sequence/why-before"
    skill = "say why one step comes before another"
    weights = MappingProxyType({"reasons": 0.5, "tens of words": 0.25, "words in common": -0.5})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[str]:
        """Draw once."""
        chosen = variant(rng, pack)
        asked = rng.choice(chosen.written)
        near = {
            *(asked.before, asked.after),
            *chosen.neighbours[asked.before],
            *chosen.neighbours[asked.after],
        }
        touched = _touched(chosen, asked)
        # The reason of a pair near by, or with a tool, part or fastener in common, could pass for the right one; so
        # could the same sentence where it is the reason of a pair far off as well.
        passing = {
            edge.reason
            for edge in pack.precedence
            if not near.isdisjoint((edge.before, edge.after)) or not touched.isdisjoint(_touched(chosen, edge))
        }
        passing |= chosen.reasons[asked.before] | chosen.reasons[asked.after]
        reasons: dict[str, Edge] = {}
        for edge in rng.sample(chosen.written, len(chosen.written)):
            if edge.reason not in passing:
                reasons.setdefault(edge.reason, edge)
                if len(reasons) == OPTIONS - 2:
                    break
        else:
            raise Redraw
        others = list(reasons)
        habit = "It is only the habit of the list. The other way round does as well."
        texts = [asked.reason, *others, habit]
        before, after = quoted(chosen.text(asked.before)), quoted(chosen.text(asked.after))
        prompt = f"Why does {before} come before {after}?"
        return ChoiceQuestion(
            prompt=prompt,
            given=chosen.given,
            texts={text: text for text in texts},
            right=asked.reason,
            shows={habit: "learnt-by-heart"},
            # Who believes that a dangerous pair may be turned round would turn it round.
            critical=[habit] if asked.dangerous else (),
            reasons={
                asked.reason: "That is the reason.",
                habit: f"It is more than habit. {asked.reason}",
                **{
                    text: f"This is the reason why {quoted(chosen.text(reasons[text].before))} "
                    f"comes before {quoted(chosen.text(reasons[text].after))}."
                    for text in others
                },
            },
            working=(
                sentence(chosen, asked),
                "The other sentences are reasons too, but of other pairs.",
                *(sentence(chosen, reasons[text]) for text in others),
            ),
            features={
                "reasons": len(texts),
                "tens of words": tens_of_words([prompt, *texts]),
                "words in common": len(_long_words(prompt) & _long_words(asked.reason)),
            },
        )


def _touched(chosen: Variant, edge: Edge | PackEdge) -> frozenset[tuple[str, str]]:
    """Return what the two steps of an edge have to do with."""
    return chosen.touched[edge.before] | chosen.touched[edge.after]


class WhichMissing(ChoiceTemplate):
    """The step is to be named that belongs between two others.

    Difficulty: the steps offered that belong one place off or to another variant; the words to read, in tens.
    """

    name = "sequence/which-missing"
    skill = "find the step that a list lacks"
    weights = MappingProxyType({"near misses": 1.0, "tens of words": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[str]:
        """Draw once."""
        chosen = variant(rng, pack)
        whole = chosen.procedure
        edges = chosen.written
        missing = rng.choice(whole.steps)
        coming = [edge for edge in edges if edge.after == missing]
        going = [edge for edge in edges if edge.before == missing]
        redraw_if(not coming or not going)
        into, out = rng.choice(coming), rng.choice(going)
        part = gather(rng, chosen, 6, start=(into.before, missing, out.after))
        order = part.random_valid_order(rng)
        at = order.index(missing)
        redraw_if(order[at - 1 : at + 2] != (into.before, missing, out.after))
        written = [step for step in order if step != missing]
        # Steps that are not listed and cannot stand here: done already, still to come, or of another variant.
        unlisted = [step for step in whole.steps if step not in order]
        done = [step for step in unlisted if whole.comes_before(step, into.before)]
        later = [step for step in unlisted if whole.comes_before(out.after, step)]
        beside = {edge.before for edge in edges if edge.after == into.before}
        beside |= {edge.after for edge in edges if edge.before == out.after}
        foreign = [step.id for step in pack.steps if step.id not in whole]
        # For each: the misconception that choosing it shows. One place off, another variant, or nothing.
        kinds = (
            ("shifted-by-one", [step for step in done if step in beside]),
            ("shifted-by-one", [step for step in later if step in beside]),
            ("other-configuration", foreign),
            ("", [step for step in (*done, *later) if step not in beside]),
        )
        wrong: dict[str, str] = {}
        for code, steps in kinds:
            if steps:
                wrong.setdefault(rng.choice(steps), code)
        wrong = dict(list(wrong.items())[: OPTIONS - 1])
        redraw_if(len(wrong) < OPTIONS - 1)
        given = (*chosen.given, *numbered(chosen, written))
        texts = {step: chosen.text(step) for step in (missing, *wrong)}
        return ChoiceQuestion(
            prompt=f"This is a part of a work sheet. Between the steps {at} and {at + 1} a step is missing. "
            "Which of these belongs there?",
            given=given,
            texts=texts,
            right=missing,
            shows=wrong,
            reasons={
                missing: f"{sentence(chosen, into)} {sentence(chosen, out)}",
                **{step: _elsewhere(chosen, step, into.before, out.after) for step in wrong},
            },
            working=(sentence(chosen, into), sentence(chosen, out)),
            features={
                "near misses": sum(map(bool, wrong.values())),
                "tens of words": tens_of_words([*(line.value for line in given), *texts.values()]),
            },
        )


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


class EitherOrder(ChoiceTemplate):
    """Of several pairs of steps the one is to be named that may stand either way.

    Difficulty: the pairs offered; those of them that are dangerous the wrong way round, each of which is easier to
    rule out; the words to read, in tens.
    """

    name = "sequence/either-order"
    skill = "tell what has an order from what is only habit"
    weights = MappingProxyType({"pairs": 0.5, "dangerous": -0.5, "tens of words": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[tuple[str, str]]:
        """Draw once."""
        chosen = variant(rng, pack)
        redraw_if(not chosen.free_pairs)
        free = rng.choice(chosen.free_pairs)
        edges = chosen.written
        # One pair for each misconception that a pair can show, then any others.
        telling = {chosen.shows(edge): edge for edge in rng.sample(edges, len(edges)) if chosen.shows(edge)}
        taken = [*rng.sample(list(telling.values()), min(OPTIONS - 1, len(telling))), *rng.sample(edges, len(edges))]
        bound = {(edge.before, edge.after): edge for edge in list(dict.fromkeys(taken))[: OPTIONS - 1]}
        redraw_if(len(bound) < OPTIONS - 1 or not any(edge.dangerous for edge in bound.values()))
        # The two steps are named in an order by chance, so that the wording gives no pair away.
        texts = {
            pair: " and ".join(quoted(chosen.text(step)) for step in rng.sample(pair, 2)) for pair in (free, *bound)
        }
        dangerous = [pair for pair, edge in bound.items() if edge.dangerous]
        return ChoiceQuestion(
            prompt="Which two of these steps may be done in either order?",
            given=chosen.given,
            texts=texts,
            right=free,
            shows={pair: chosen.shows(edge) for pair, edge in bound.items()},
            critical=dangerous,
            reasons={
                free: "Neither of the two waits for the other.",
                **{pair: sentence(chosen, edge) for pair, edge in bound.items()},
            },
            working=(
                *(sentence(chosen, edge) for edge in bound.values()),
                f"Neither of {quoted(chosen.text(free[0]))} and {quoted(chosen.text(free[1]))} waits for the other.",
            ),
            features={
                "pairs": len(texts),
                "dangerous": len(dangerous),
                "tens of words": tens_of_words(texts.values()),
            },
        )
