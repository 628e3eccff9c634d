"""Which of several joints are finished, each told by what was done to it."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.items import examples
from trainkit.items.difficulty import tens_of_words
from trainkit.items.questions import SeveralQuestion, SeveralTemplate
from trainkit.items.template import Redraw, redraw_if
from trainkit.items.tightening.histories import Bolted, HistoryLine, events_of, history
from trainkit.items.tightening.states import STATE_RULES, History, action, action_text, described, example
from trainkit.sentences import opening
from trainkit.tightening import Tighten

if TYPE_CHECKING:
    from trainkit.packs import Pack


# Joints on either side: so many that are finished, and so many that are not.
_FINISHED, _UNFINISHED = (2, 3), 3
# So many histories are drawn to find a finished joint, and unfinished ones that are told apart by what they show.
_HISTORIES = 60
_DONE = "On which engines is the joint finished, with nothing more to do?"
_TO_DO = "On which engines is there still something to do?"


@dataclass(frozen=True, slots=True)
class _Told:
    """One joint: what was done to it in short, how it is to be read, and what misjudging it shows."""

    said: str
    case: History
    shows: str


class WhichAreFinished(SeveralTemplate):
    """Of several joints, each with its history, those are to be taken that are finished, or those that are not.

    Difficulty: the joints told; the words to read, in tens.
    """

    name = "tightening/which-are-finished"
    skill = "say which joints are finished"
    weights = MappingProxyType({"offered": 0.5, "tens of words": 0.1})

    def __init__(self, wanted: Iterable[str] = ()) -> None:
        self._wanted = frozenset(wanted)

    def aimed(self, shows: Iterable[str], /) -> WhichAreFinished:
        """Return a template that keeps room among the unfinished joints for those that show these."""
        return WhichAreFinished(shows)

    def ask(self, rng: random.Random, pack: Pack) -> SeveralQuestion[_Told]:
        """Draw once."""
        on = example(rng, pack, single_use=rng.random() < 0.5)
        done = rng.random() < 0.5
        finished, wrong = _gather(rng, on, self._wanted)
        redraw_if(len(finished) < _FINISHED[0] or len(wrong) < _UNFINISHED)
        joints = [*finished, *wrong]
        return SeveralQuestion(
            prompt="Such a joint was tightened on several engines, as told below. "
            f"There may be more than one answer. {_DONE if done else _TO_DO}",
            given=described(on),
            texts={joint: joint.said for joint in joints},
            right=finished if done else wrong,
            shows={joint: joint.shows for joint in joints},
            # Who takes an unfinished joint for final hands it over as it is.
            critical=wrong,
            reasons={joint: _reason(on, joint) for joint in joints},
            working=tuple(f"{joint.said} {_reason(on, joint)}" for joint in joints),
            features={"offered": len(joints), "tens of words": tens_of_words(joint.said for joint in joints)},
            instead=examples.JOINT,
        )


def _gather(rng: random.Random, on: Bolted, wanted: frozenset[str]) -> tuple[list[_Told], list[_Told]]:
    """Return some finished joints, and unfinished ones, each of which another rule of thought takes for finished.

    Those that show what is wanted find room, as far as any of the histories drawn shows it.
    """
    finished: dict[str, _Told] = {}
    wrong: dict[str, _Told] = {}
    for _ in range(_HISTORIES):
        try:
            moves = history(rng, on)
        except Redraw:
            continue
        case = History(events_of(moves), on.joint.after(events_of(moves)))
        readings = {code: rule(case) for code, rule in STATE_RULES.items()}
        misjudging = [code for code, seen in readings.items() if seen is not None and seen.final != case.reading.final]
        said = _brief(on, moves)
        if case.reading.final:
            finished.setdefault(said, _Told(said, case, misjudging[0] if len(misjudging) == 1 else ""))
        elif len(misjudging) == 1:
            (code,) = misjudging
            if code in wanted or len(wrong) + len(wanted - wrong.keys()) < _UNFINISHED:
                wrong.setdefault(code, _Told(said, case, code))
        if len(finished) >= _FINISHED[1] and len(wrong) >= _UNFINISHED and wanted <= wrong.keys():
            break
    return list(finished.values())[: rng.randint(*_FINISHED)], list(wrong.values())


def _brief(on: Bolted, moves: Sequence[HistoryLine]) -> str:
    """Tell a history in short: the stages that the same bolts went through stand in one sentence."""
    told: list[str] = []
    before: tuple[str, ...] = ()
    for move in moves:
        tightened = [event for event in move.events if isinstance(event, Tighten)]
        bolts = tuple(event.bolt for event in tightened)
        if len(tightened) < len(move.events) or len(set(bolts)) < len(bolts):
            told.append(move.said)
            before = ()
        elif bolts == before:
            told[-1] = f"{told[-1].removesuffix('.')}, then {tightened[0].stage}."
        else:
            told.append(f"{_who(on, bolts)}: {tightened[0].stage}.")
            before = bolts
    return " ".join(told)


def _who(on: Bolted, bolts: tuple[str, ...]) -> str:
    every = opening(on.words.all)
    return every if bolts == on.joint.bolts else on.words.some(bolts)


def _reason(on: Bolted, joint: _Told) -> str:
    flaw = joint.case.reading.flaw
    faults = [fault.text for fault in joint.case.state.faults if fault.code == flaw]
    return faults[0] if faults else action_text(on.words, action(joint.case.reading, on.joint.single_use))
