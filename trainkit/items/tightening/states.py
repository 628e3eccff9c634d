"""What state a joint is in after its history, whether that is final, and what comes next."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import accumulate
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from trainkit.items import examples
from trainkit.items.difficulty import tens_of_words
from trainkit.items.kinds import Given
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.template import Redraw
from trainkit.items.tightening.histories import Bolted, Event, HistoryLine, events_of, history
from trainkit.items.tightening.joints import BY_HAND, Bolts, example_title, schedule, stages_of
from trainkit.sentences import opening
from trainkit.tightening import Joint, JointState, Loosen, Renew, StageName, Tighten, step

if TYPE_CHECKING:
    from trainkit.packs import Pack


Action = Literal["finished", "on", "rest", "again", "renew"]
ACTIONS: tuple[Action, ...] = ("finished", "on", "rest", "again", "renew")
# Joints that a question takes: how many fasteners, and in what stages. Each has a first stage, which some take for the
# final one.
COUNTS = (2, 3, 4, 5, 6, 8)
STAGES: tuple[tuple[StageName, ...], ...] = (
    ("finger-tight", "first", "final"),
    ("snug", "first", "final"),
    ("first", "final"),
)
# So many histories are drawn until one ends as it shall.
_HISTORIES = 200
# Most faults of a history follow from one another; the one that comes first here is named.
_FLAWS = ("reused", "skipped", "ahead", "disturbed")


@dataclass(frozen=True, slots=True)
class JointView:
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
    def reading(self) -> JointView:
        """How it is to be read."""
        return reading(self.state)


def reading(state: JointState) -> JointView:
    """Return how a state is to be read."""
    found = {fault.code for fault in state.faults}
    return JointView(state.reached_by_all, state.holds, next((flaw for flaw in _FLAWS if flaw in found), ""))


def _first_for_final(case: History) -> JointView | None:
    """Take the first stage for the final one, where nothing was said of a final one."""
    seen = case.reading
    if "first" not in (seen.low, seen.high) or any(
        isinstance(event, Tighten) and event.stage == "final" for event in case.events
    ):
        return None
    low, high = ("final" if stage == "first" else stage for stage in (seen.low, seen.high))
    return replace(seen, low=low, high=high)


def _tightest_for_all(case: History) -> JointView | None:
    seen = case.reading
    return None if seen.flaw or seen.low == seen.high else replace(seen, low=seen.high)


def _forgiving(*codes: str) -> Callable[[History], JointView | None]:
    """Make the rule that sees nothing amiss in one sort of fault, nor in those that come of it."""

    def rule(case: History) -> JointView | None:
        if case.reading.flaw != codes[0]:
            return None
        return reading(replace(case.state, faults=tuple(f for f in case.state.faults if f.code not in codes)))

    return rule


def _loosening_overlooked(case: History) -> JointView | None:
    """Leave out that one bolt was loosened; nobody overlooks it where all of them were."""
    kept = tuple(event for event in case.events if not isinstance(event, Loosen))
    joint = case.state.joint
    renewed = any(isinstance(event, Renew) for event in kept)
    if len(joint.bolts) == 1 or len(kept) != len(case.events) - 1 or renewed:
        return None
    return reading(joint.after(kept))


STATE_RULES: Mapping[str, Callable[[History], JointView | None]] = MappingProxyType(
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


def action(seen: JointView, single_use: bool) -> Action:
    """Return what comes next on a joint that is read so."""
    if seen.flaw == "more":
        return "on"
    if seen.flaw:
        return "renew" if seen.flaw == "reused" or (single_use and seen.high == "final") else "again"
    if seen.low != seen.high:
        return "rest"
    return "finished" if seen.final else "on"


def wrong_actions(case: History) -> dict[Action, str]:
    """Return what somebody does next who reads a history wrongly, and what that shows, where one belief leads there."""
    single_use = case.state.joint.single_use
    right = action(case.reading, single_use)
    found: dict[Action, list[str]] = {}
    for code, rule in STATE_RULES.items():
        seen = rule(case)
        if seen is not None and action(seen, single_use) != right:
            found.setdefault(action(seen, single_use), []).append(code)
    if right == "renew" and case.reading.flaw != "reused":
        found.setdefault("again", []).append("single-use-reused")
    return {each: codes[0] for each, codes in found.items() if len(codes) == 1}


def example(rng: random.Random, pack: Pack, single_use: bool) -> Bolted:
    """Draw a joint that belongs to no engine."""
    fastener = examples.joint(rng, examples.systems(pack), rng.choice(STAGES), counts=COUNTS)
    bolts = [str(number) for number in range(1, fastener.count + 1)]
    return Bolted(Bolts(fastener), Joint(bolts, schedule(stages_of(fastener)), single_use=single_use))


class AfterHistory(ChoiceTemplate):
    """What comes next on a joint after a written history.

    What is right is drawn first, and then a history that ends so: no option is right oftener than another.

    Difficulty: the lines of the history; the words to read, in tens.
    """

    name = "tightening/after-history"
    skill = "say what comes next on a joint"
    weights = MappingProxyType({"lines": 0.5, "tens of words": 0.1})

    def ask(self, rng: random.Random, pack: Pack, /) -> ChoiceQuestion[Action]:
        """Draw once."""
        right = rng.choice(ACTIONS)
        # What is spoilt and used once only has to be renewed as well.
        on = example(rng, pack, single_use=right == "renew" or (right != "again" and rng.random() < 0.5))
        moves, case = _ending(rng, on, right)
        states = list(accumulate(moves, _played, initial=on.joint.start()))
        texts = {each: action_text(on.words, each) for each in ACTIONS}
        faults = [fault for fault in case.state.faults if fault.code == case.reading.flaw]
        stands = f"{_stands(on, states[-1])}."
        why = faults[0].text if faults else opening(stands)
        return ChoiceQuestion(
            prompt="This was done to a joint, in this order. What comes next?",
            given=(*described(on), *(Given(label=str(line), value=move.said) for line, move in enumerate(moves, 1))),
            texts=texts,
            right=right,
            shows={each: code for each, code in wrong_actions(case).items() if each != right},
            # Who takes an unfinished joint for final hands it over as it is.
            critical=[each for each in ACTIONS if each == "finished" and each != right],
            reasons={each: why if each == right else f"{why} So: {texts[right]}" for each in ACTIONS},
            working=(
                *(f"After line {line}: {_stands(on, state)}." for line, state in enumerate(states[1:], 1)),
                *(fault.text for fault in faults[:1]),
                f"So: {texts[right]}",
            ),
            features={
                "lines": len(moves),
                "tens of words": tens_of_words([*(move.said for move in moves), *texts.values()]),
            },
            instead=examples.JOINT,
        )


def _ending(rng: random.Random, on: Bolted, wanted: Action) -> tuple[tuple[HistoryLine, ...], History]:
    """Draw a history after which this comes next, and which somebody could read wrongly.

    Raises
    ------
    Redraw
        If none is found.
    """
    for _ in range(_HISTORIES):
        try:
            moves = history(rng, on)
        except Redraw:
            continue
        case = History(events_of(moves), on.joint.after(events_of(moves)))
        if action(case.reading, on.joint.single_use) != wanted:
            continue
        # Who takes an unfinished joint for finished does harm, and is told by which belief.
        if ("finished" in wrong_actions(case)) is (wanted != "finished") and wrong_actions(case):
            return moves, case
    raise Redraw


def described(on: Bolted) -> tuple[Given, ...]:
    """Return name and stages of the joint, and whether its bolts are used once only."""
    once = (Given(label="To be used", value="once only"),) if on.joint.single_use else ()
    return (example_title(on.words), on.words.stages, *once)


def _where(on: Bolted, stage: str) -> str:
    return stage if stage == "loose" or stage in BY_HAND else f"at {on.words.stage_name(stage)}"


def action_text(words: Bolts, what: Action) -> str:
    """Return what comes next, as an option says it."""
    return {
        "finished": "Nothing more: the joint is finished.",
        "on": f"Tighten {words.all} further, to the next stage.",
        "rest": f"Bring the other {words.nouns} to the same stage.",
        "again": f"Loosen {words.all} and begin again.",
        "renew": f"Loosen {words.all}, renew them and begin again.",
    }[what]


def _played(state: JointState, move: HistoryLine) -> JointState:
    for event in move.events:
        state = step(state, event)[0]
    return state


def _stands(on: Bolted, state: JointState) -> str:
    """Say where the least and the most tight bolt stand."""
    low, high = (_where(on, stage) for stage in (state.reached_by_all, state.holds))
    if low != high:
        return f"the least tight is {low}, the tightest {high}"
    return f"{'all are' if on.words.count > 1 else 'it is'} {low}"
