"""What state a joint is in after its history, and whether that is final."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import accumulate
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items.difficulty import tens_of_words
from trainkit.items.distinct_answers import choices
from trainkit.items.kinds import Given
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.template import redraw_if
from trainkit.items.tightening.histories import Bolted, Event, Move, events_of, history
from trainkit.items.tightening.joints import BY_HAND, Bolts, at_stage, choose, joint_of, used_once
from trainkit.tightening import JointState, Loosen, Tighten, step

if TYPE_CHECKING:
    from trainkit.packs import Fastener, Pack


OPTIONS = 4
LEAST = 3
# Most faults of a history follow from one another; the one that comes first here is named.
_FLAWS = ("reused", "skipped", "ahead", "disturbed")


@dataclass(frozen=True, slots=True)
class Reading:
    """How somebody sees a joint.

    Parameters
    ----------
    low, high : str
        The stages of the least and of the most tight bolt, or ``"loose"``.
    flaw : str
        What keeps the joint from being sound: ``reused``, ``skipped``, ``ahead``, ``disturbed``, nothing; or
        ``more`` for the belief that it wants a little more.
    """

    low: str
    high: str
    flaw: str = ""

    @property
    def final(self) -> bool:
        """Whether it is seen as finished and sound."""
        return self.low == self.high == "final" and not self.flaw


@dataclass(frozen=True, slots=True)
class History:
    """What an apprentice is told, and the state that the mechanics find."""

    events: tuple[Event, ...]
    state: JointState

    @property
    def reading(self) -> Reading:
        """How it is to be read."""
        return reading(self.state)


def reading(state: JointState) -> Reading:
    """Return how a state is to be read."""
    found = {fault.code for fault in state.faults}
    return Reading(state.reached_by_all, state.holds, next((flaw for flaw in _FLAWS if flaw in found), ""))


def _first_for_final(case: History) -> Reading | None:
    """Take the first stage for the final one, where nothing was said of a final one."""
    seen = case.reading
    if "first" not in (seen.low, seen.high) or any(
        isinstance(event, Tighten) and event.stage == "final" for event in case.events
    ):
        return None
    low, high = ("final" if stage == "first" else stage for stage in (seen.low, seen.high))
    return replace(seen, low=low, high=high)


def _tightest_for_all(case: History) -> Reading | None:
    seen = case.reading
    return None if seen.flaw or seen.low == seen.high else replace(seen, low=seen.high)


def _forgiving(*codes: str) -> Callable[[History], Reading | None]:
    """Make the rule that sees nothing amiss in one sort of fault, nor in those that come of it."""

    def rule(case: History) -> Reading | None:
        if case.reading.flaw != codes[0]:
            return None
        return reading(replace(case.state, faults=tuple(f for f in case.state.faults if f.code not in codes)))

    return rule


def _loosening_overlooked(case: History) -> Reading | None:
    """Leave out that one bolt was loosened; nobody overlooks it where all of them were."""
    kept = tuple(event for event in case.events if not isinstance(event, Loosen))
    joint = case.state.joint
    if len(joint.bolts) == 1 or len(kept) != len(case.events) - 1:
        return None
    return reading(joint.after(kept))


STATE_RULES: Mapping[str, Callable[[History], Reading | None]] = MappingProxyType(
    {
        "first-for-final": _first_for_final,
        "tightest-for-all": _tightest_for_all,
        "stage-skipped": _forgiving("skipped", "ahead"),
        "one-to-final-first": _forgiving("ahead"),
        "single-use-reused": _forgiving("reused"),
        "loosening-overlooked": _loosening_overlooked,
        "a-little-more": lambda case: replace(case.reading, flaw="more") if case.reading.final else None,
    }
)


class AfterHistory(ChoiceTemplate):
    """The state of a joint after a written history is to be named, and whether it is final.

    Difficulty: the lines of the history; the states offered; the words to read, in tens.
    """

    name = "tightening/after-history"
    skill = "tell what state a joint is in, and whether it is final"
    weights = MappingProxyType({"lines": 0.5, "offered": 0.25, "tens of words": 0.1})

    def ask(self, rng: random.Random, pack: Pack) -> ChoiceQuestion[Reading]:
        """Draw once."""
        fastener = choose(rng, pack, lambda each: _asks(pack, each), NEEDS)
        on = Bolted(Bolts(fastener), joint_of(pack, fastener))
        moves = history(rng, on)
        states = list(accumulate(moves, _played, initial=on.joint.start()))
        case = History(events_of(moves), states[-1])
        right = case.reading
        offered = choices(right, {code: rule(case) for code, rule in STATE_RULES.items()})
        redraw_if(not any(offered.values()))  # nothing could be shown but a guess
        # Two things at once would have to stand in one option.
        redraw_if(right.low != right.high and right.flaw not in ("", "disturbed"))
        fillers = [filler for filler in _fillers(on) if filler not in offered]
        offered |= dict.fromkeys(rng.sample(fillers, min(len(fillers), max(0, OPTIONS - len(offered)))), "")
        if len(offered) < LEAST:
            offered[Reading("loose", "loose")] = ""
        texts = {each: reading_text(on, each) for each in offered}
        faults = [fault for fault in case.state.faults if fault.code == right.flaw]
        return ChoiceQuestion(
            prompt="This was done to a joint, in this order. What state is it in now?",
            given=(*described(on), *(Given(label=str(line), value=move.said) for line, move in enumerate(moves, 1))),
            texts=texts,
            right=right,
            shows=offered,
            # Who takes an unfinished joint for final hands it over as it is.
            critical=[each for each in offered if each.final and each != right],
            reasons={
                right: faults[0].text if faults else "That is what the lines add up to.",
                **{each: f"The lines add up to this: {texts[right]}" for each in offered if each != right},
            },
            working=(
                *(f"After line {line}: {_stands(on, state)}." for line, state in enumerate(states[1:], 1)),
                *(fault.text for fault in faults[:1]),
                f"So: {texts[right]}",
            ),
            features={
                "lines": len(moves),
                "offered": len(offered),
                "tens of words": tens_of_words([*(move.said for move in moves), *texts.values()]),
            },
        )


NEEDS = "a fastener of more than one, with more than one stage, or used once only"


def _asks(pack: Pack, fastener: Fastener) -> bool:
    return fastener.count > 1 or len(fastener.stages) > 1 or used_once(pack, fastener)


def described(on: Bolted) -> tuple[Given, ...]:
    """Return name and stages of the joint, and whether its bolts are used once only."""
    once = (Given(label="To be used", value="once only"),) if on.joint.single_use else ()
    return (on.words.title, on.words.stages, *once)


def _fillers(on: Bolted) -> list[Reading]:
    """Return further wrong readings that fit the joint; none of them calls it final."""
    stages = [stage.name for stage in on.joint.schedule.stages]
    found = [Reading(stage, stage) for stage in stages[:-1]]
    flaws = {"skipped": len(stages) > 1, "ahead": on.words.count > 1 and len(stages) > 1, "reused": on.joint.single_use}
    return [*found, *(Reading("final", "final", flaw) for flaw, possible in flaws.items() if possible)]


def _where(on: Bolted, stage: str) -> str:
    return stage if stage == "loose" or stage in BY_HAND else f"at {on.words.stage_name(stage)}"


def reading_text(on: Bolted, seen: Reading) -> str:
    """Return a reading as an option says it."""
    low, high = _where(on, seen.low), _where(on, seen.high)
    if seen.low == seen.high:
        head = f"{on.words.every} is {low}."
    else:
        head = f"Some {on.words.nouns} are {high}, others are only {low}."
    return f"{head} {_verdict(on, seen)}"


def _verdict(on: Bolted, seen: Reading) -> str:
    was, them = ("it was", "it") if on.words.count == 1 else ("they were", "them")
    # Bolts that are used once have had their one use when they reached the final stage.
    anew = f", renew {them}" if on.joint.single_use and seen.high == "final" else ""
    loosen = f"loosen {on.words.all}{anew} and begin again"
    flaws = {
        "reused": f"Not sound, because {was} used before: loosen {on.words.all} and renew {them}.",
        "skipped": f"Not sound, because a stage was left out: {loosen}.",
        "ahead": f"Not sound, because single {on.words.nouns} went ahead of the others: {loosen}.",
        "disturbed": f"Not final, because the clamp is lost: {loosen}.",
        "more": f"Pull {on.words.all} a little further, to be safe.",
    }
    if seen.flaw:
        return flaws[seen.flaw]
    if seen.final:
        return "The joint is final, and nothing may move any more."
    if seen.low != seen.high:
        return "Not final: bring all of them to one stage."
    place = 0 if seen.low == "loose" else on.joint.schedule.place(seen.low)
    works = at_stage(on.joint, place).works()
    if "move" not in works:
        return (
            "Not final: the parts are held, yet can still be set."
            if "set" in works
            else "Not final: nothing may move any more, yet the joint does not hold yet."
        )
    return "Not final: the parts can still be moved by hand."


def _played(state: JointState, move: Move) -> JointState:
    for event in move.events:
        state = step(state, event)[0]
    return state


def _stands(on: Bolted, state: JointState) -> str:
    """Say where the least and the most tight bolt stand."""
    low, high = (_where(on, stage) for stage in (state.reached_by_all, state.holds))
    if low != high:
        return f"the least tight is {low}, the tightest {high}"
    return f"{'all are' if on.words.count > 1 else 'it is'} {low}"
