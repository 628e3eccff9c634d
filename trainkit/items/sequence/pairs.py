"""Templates on pairs of steps: what explains their order, and which two may stand either way.

Some pairs have an order and some have none; each sort is right in a part of the questions. Options are drawn before it
is decided which of them is asked for, so that no wording is right more often than another.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from itertools import permutations
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.difficulty import tens_of_words
from trainkit.items.kinds import Given
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.sequence.cards import Variant, quoted, sentence, variant
from trainkit.items.sequence.example import OnExample
from trainkit.items.sequence.gathering import AIMED
from trainkit.items.template import redraw_if

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit.procedures import Edge


OPTIONS = 4
_TRIES = 12
HABIT = "Habit alone: either of the two may come first."
_EITHER = "Neither of the two waits for the other."


def _long_words(text: str) -> set[str]:
    """Return the words of five letters and more."""
    return set(re.findall(r"[^\W\d_]{5,}", text.casefold()))


class WhyBefore(OnExample, ChoiceTemplate):
    """Of several reasons the one is to be found that explains none of the pairs shown; one of them is mere habit.

    Difficulty: the reasons offered, and the words to read, in tens; a reason that takes up words of its pair gives
    itself away, which makes it easier.
    """

    name = "sequence/why-before"
    skill = "say why one step comes before another"
    weights = MappingProxyType({"reasons": 0.5, "tens of words": 0.25, "words in common": -0.25})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[str]:
        """Draw once."""
        chosen = variant(rng, pack)
        reasons = _reasons(chosen)
        redraw_if(len(reasons) < OPTIONS - 1 or not chosen.free_pairs)
        edges = [rng.choice(reasons[reason]) for reason in rng.sample(list(reasons), OPTIONS - 1)]
        free = rng.choice(chosen.free_pairs)
        # No reason may pass for that of another pair, whichever of them is left out.
        redraw_if(any(one.reason in _passing(chosen, (two.before, two.after)) for one, two in permutations(edges, 2)))
        redraw_if(any(edge.reason in _passing(chosen, free) for edge in edges))
        explained = {**{edge.reason: (edge.before, edge.after) for edge in edges}, HABIT: tuple(rng.sample(free, 2))}
        # Which of them explains no line comes after all are drawn, each as often.
        right = rng.choice(list(explained))
        lines = {reason: explained[reason] for reason in rng.sample(list(explained), OPTIONS) if reason != right}
        line_of = {reason: number for number, reason in enumerate(lines, 1)}
        written = {reason: _line(chosen, pair) for reason, pair in lines.items()}
        of_others = [edge for edge in edges if edge.reason == right]
        return ChoiceQuestion(
            prompt="In a work sheet the first step of each line comes before the second. "
            "Three of these reasons explain one line each. Which reason explains none?",
            given=(
                *chosen.given,
                *(Given(label=f"Line {number}", value=written[reason]) for reason, number in line_of.items()),
            ),
            texts={text: text for text in explained},
            right=right,
            shows=dict.fromkeys(lines if right == HABIT else [HABIT], "learnt-by-heart"),
            # Who calls one of these lines a habit would turn it round, whichever of them it is.
            critical=[*lines] if right == HABIT and _all_dangerous(chosen, lines.values()) else (),
            reasons={
                **{reason: f"This is the reason of line {number}." for reason, number in line_of.items()},
                right: f"This is the reason of another pair: {_line(chosen, explained[right])}."
                if of_others
                else "Each of the three lines has its reason.",
            },
            working=(
                *(f"Line {number}: {written[reason]}: {reason}" for reason, number in line_of.items()),
                *(sentence(chosen, edge) for edge in of_others),
            ),
            features={
                "reasons": len(explained),
                "tens of words": tens_of_words([*written.values(), *explained]),
                "words in common": sum(len(_long_words(line) & _long_words(text)) for text, line in written.items()),
            },
        )


def _line(chosen: Variant, pair: tuple[str, ...]) -> str:
    return " before ".join(quoted(chosen.text(step)) for step in pair)


def _all_dangerous(chosen: Variant, pairs: Iterable[tuple[str, ...]]) -> bool:
    return all(chosen.procedure.is_dangerous(first, then) for first, then in pairs)


@lru_cache(maxsize=64)
def _reasons(chosen: Variant) -> Mapping[str, tuple[Edge, ...]]:
    """Return every reason with the pairs that have it; many pairs have the one that work waits for a lock."""
    found: dict[str, list[Edge]] = {}
    for edge in dict.fromkeys((*chosen.written, *chosen.dangerous)):
        found.setdefault(edge.reason, []).append(edge)
    return MappingProxyType({reason: tuple(edges) for reason, edges in found.items()})


@lru_cache(maxsize=4096)
def _passing(chosen: Variant, pair: tuple[str, str]) -> frozenset[str]:
    """Return the reasons that could pass for the reason of a pair: its own, and those of pairs that are near to it.

    What follows by itself holds for many steps at once. It has to do with a pair only if one of the two is the step
    that all of them wait for, or that waits for all of them.
    """
    near = {*pair, *(other for step in pair for other in chosen.neighbours[step])}
    touched = chosen.touched[pair[0]] | chosen.touched[pair[1]]
    own = {edge.reason for edge in chosen.pack.precedence}
    passing = {
        edge.reason
        for edge in chosen.pack.precedence
        if not near.isdisjoint((edge.before, edge.after))
        or not touched.isdisjoint(chosen.touched[edge.before] | chosen.touched[edge.after])
    }
    for reason, edges in chosen.by_reason.items():
        firsts, seconds = {edge.before for edge in edges}, {edge.after for edge in edges}
        both = firsts | seconds
        shared = both if reason in own else firsts if len(firsts) <= len(seconds) else seconds
        if not shared.isdisjoint(pair):
            passing.add(reason)
    return frozenset(passing)


class EitherOrder(OnExample, ChoiceTemplate):
    """Of several pairs of steps the one is to be named that may stand either way, or the one that has an order.

    Difficulty: the pairs offered; those of them that are dangerous the wrong way round, each of which is easier to
    tell; the words to read, in tens.
    """

    name = "sequence/either-order"
    skill = "tell what has an order from what is only habit"
    weights = MappingProxyType({"pairs": 0.5, "dangerous": -0.5, "tens of words": 0.25})

    def __init__(self, wanted: Iterable[str] = ()) -> None:
        self._wanted = tuple(sorted(wanted))

    def aimed(self, shows: Iterable[str], /) -> EitherOrder:
        """Return a template that oftener asks for the free pair, beside pairs that show these."""
        return EitherOrder(shows)

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[tuple[str, str]]:
        """Draw once."""
        chosen = variant(rng, pack)
        codes = [code for code in self._wanted if code in chosen.showing] if rng.random() < AIMED else []
        # Whether the free one among bound ones is asked for, or the bound one among free ones.
        asks_free = bool(codes) or rng.random() < 0.5
        # How long the right one is among the others comes first, so that its length tells nothing.
        rank = rng.randrange(OPTIONS)
        for _ in range(_TRIES):
            free, bound = _free_and_bound(rng, chosen, asks_free, codes)
            right = free[0] if asks_free else next(iter(bound))
            if sum(_length(chosen, pair) < _length(chosen, right) for pair in (*free, *bound)) == rank:
                break
        # The two steps are named in an order by chance, so that the wording gives no pair away.
        texts = {
            pair: " and ".join(quoted(chosen.text(step)) for step in rng.sample(pair, 2)) for pair in (*free, *bound)
        }
        # A pair may be dangerous by way of others too.
        dangerous = [pair for pair in bound if chosen.procedure.is_dangerous(*pair)]
        ordered = [sentence(chosen, edge) for edge in bound.values()]
        unordered = [f"{' and '.join(quoted(chosen.text(step)) for step in pair)}: {_EITHER}" for pair in free]
        return ChoiceQuestion(
            prompt="Which two of these steps may be done in either order?"
            if asks_free
            else "For which two of these steps does the order matter?",
            given=chosen.given,
            texts=texts,
            right=right,
            shows={pair: chosen.shows(edge) for pair, edge in bound.items()}
            if asks_free
            else dict.fromkeys(free, "learnt-by-heart"),
            critical=dangerous if asks_free else (),
            reasons={
                **dict.fromkeys(free, _EITHER),
                **{pair: sentence(chosen, edge) for pair, edge in bound.items()},
            },
            working=(*ordered, *unordered) if asks_free else (*unordered, *ordered),
            features={
                "pairs": len(texts),
                "dangerous": len(dangerous),
                "tens of words": tens_of_words(texts.values()),
            },
        )


def _free_and_bound(
    rng: random.Random, chosen: Variant, asks_free: bool, codes: Iterable[str]
) -> tuple[list[tuple[str, str]], dict[tuple[str, str], Edge]]:
    """Draw pairs that may stand either way, and pairs that have an order; one of the sort that is asked for."""
    count = 1 if asks_free else OPTIONS - 1
    redraw_if(len(chosen.free_pairs) < count)
    free = rng.sample(chosen.free_pairs, count)
    bound = {(edge.before, edge.after): edge for edge in _bound(rng, chosen, OPTIONS - count, codes)}
    redraw_if(len(bound) + count < OPTIONS)
    return free, bound


def _length(chosen: Variant, pair: tuple[str, str]) -> int:
    return sum(len(chosen.text(step)) for step in pair)


def _bound(rng: random.Random, chosen: Variant, count: int, codes: Iterable[str]) -> list[Edge]:
    """Draw pairs that have an order: one for each code that is wished for, then half of them such as show something."""
    found = {code: rng.choice(chosen.showing[code]) for code in codes}
    taken = list(found.values())[:count]
    telling = [code for code in chosen.showing if code and code not in found]
    for code in rng.sample(telling, len(telling)):
        if len(taken) < count and rng.random() < 0.5:
            taken.append(rng.choice(chosen.showing[code]))
    others = [edge for edge in chosen.written if edge not in taken]
    redraw_if(len(taken) + len(others) < count)
    return [*taken, *rng.sample(others, count - len(taken))]
