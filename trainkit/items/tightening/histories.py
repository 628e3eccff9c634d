"""What was done to a joint: short histories, some as they should be and some not, in sentences and as events."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from trainkit.items.template import redraw_if
from trainkit.items.tightening.joints import Bolts
from trainkit.sentences import noun, opening
from trainkit.tightening import Joint, Loosen, Renew, StageName, Tighten, Work

Event = Tighten | Loosen | Renew | Work


@dataclass(frozen=True, slots=True)
class Bolted:
    """A joint with the words for it."""

    words: Bolts
    joint: Joint


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One line of a history.

    Parameters
    ----------
    said : str
        The line as it is read.
    events : tuple
        The same for the mechanics.
    """

    said: str
    events: tuple[Event, ...]


def events_of(moves: Sequence[HistoryLine]) -> tuple[Event, ...]:
    """Return all events of a history in turn."""
    return tuple(event for move in moves for event in move.events)


def history(rng: random.Random, on: Bolted) -> tuple[HistoryLine, ...]:
    """Draw what was done to a joint.

    Raises
    ------
    Redraw
        If the sort of history that was drawn cannot happen to this joint.
    """
    names = tuple(stage.name for stage in on.joint.schedule.stages)
    return tuple(rng.choice(_PLOTS)(rng, on, names))


Plot = Callable[[random.Random, Bolted, tuple[StageName, ...]], list[HistoryLine]]


def _stage(on: Bolted, name: StageName, bolts: Sequence[str] = ()) -> HistoryLine:
    """Bring some bolts, or all of them, to a stage."""
    chosen = tuple(bolts) or on.joint.bolts
    who = on.words.some(chosen) if bolts else opening(on.words.all)
    how = {"finger-tight": "turned in finger-tight", "snug": "brought snug"}.get(
        name, f"tightened to {on.words.stage_words(name)}"
    )
    return HistoryLine(f"{who} {how}.", tuple(Tighten(bolt, name) for bolt in chosen))


def _through(on: Bolted, names: Sequence[StageName]) -> list[HistoryLine]:
    return [_stage(on, name) for name in names]


def _complete(rng: random.Random, on: Bolted, names: tuple[StageName, ...]) -> list[HistoryLine]:
    """All bolts, stage by stage, to one of the stages."""
    return _through(on, names[: rng.randint(1, len(names))])


def _in_part(rng: random.Random, on: Bolted, names: tuple[StageName, ...]) -> list[HistoryLine]:
    """All bolts to one stage, then only some of them to the next."""
    redraw_if(on.words.count < 2)
    reached = rng.randint(0, len(names) - 1)
    return [*_through(on, names[:reached]), _stage(on, names[reached], _some(rng, on))]


def _skipped(rng: random.Random, on: Bolted, names: tuple[StageName, ...]) -> list[HistoryLine]:
    """One stage left out, on all bolts or on some of them; the end is final."""
    redraw_if(len(names) < 2)
    left_out = rng.randrange(len(names) - 1)
    moves = _through(on, names[:left_out])
    if on.words.count > 2 and rng.random() < 0.5:
        moves.append(_stage(on, names[left_out], _some(rng, on)))
    return [*moves, *_through(on, names[left_out + 1 :])]


def _ahead(rng: random.Random, on: Bolted, names: tuple[StageName, ...]) -> list[HistoryLine]:
    """Each bolt taken to final on its own, or one of them far ahead of the others."""
    redraw_if(len(names) < 2 or on.words.count < 2)
    start = rng.randrange(len(names) - 1)
    moves, rest = _through(on, names[:start]), names[start:]
    if rng.random() < 0.5:
        one = rng.choice(on.joint.bolts)
        moves += [_stage(on, name, [one]) for name in rest]
        others = [bolt for bolt in on.joint.bolts if bolt != one]
        return [*moves, *(_stage(on, name, others) for name in rest)]
    stages = ", then to ".join(on.words.stage_words(name) for name in rest)
    return [
        *moves,
        HistoryLine(
            f"One {on.words.noun} after the other brought to {stages}, before the next was touched.",
            tuple(Tighten(bolt, name) for bolt in on.joint.bolts for name in rest),
        ),
    ]


def _one_loosened(rng: random.Random, on: Bolted, names: tuple[StageName, ...]) -> list[HistoryLine]:
    """Finished, and then one bolt loosened."""
    redraw_if(on.words.count < 2)
    one = rng.choice(on.joint.bolts)
    return [*_through(on, names), HistoryLine(f"{on.words.some([one])} loosened again.", (Loosen(one),))]


def _taken_apart(rng: random.Random, on: Bolted, names: tuple[StageName, ...]) -> list[HistoryLine]:
    """Finished, all loosened, and tightened once more; with new bolts or without."""
    redraw_if(not on.joint.single_use)
    new = noun(on.words.count, on.words.noun, on.words.nouns)
    moves = [
        *_through(on, names),
        HistoryLine(f"{opening(on.words.all)} loosened.", tuple(map(Loosen, on.joint.bolts))),
    ]
    if rng.random() < 0.4:
        moves.append(HistoryLine(f"New {new} put in.", tuple(map(Renew, on.joint.bolts))))
    return [*moves, *_through(on, names)]


def _in_turns(rng: random.Random, on: Bolted, names: tuple[StageName, ...]) -> list[HistoryLine]:
    """All bolts to the last stage, at one of the stages some of them first and then the others."""
    redraw_if(on.words.count < 2)
    at, some = rng.randrange(len(names)), _some(rng, on)
    others = [bolt for bolt in on.joint.bolts if bolt not in some]
    parted = [_stage(on, names[at], some), _stage(on, names[at], others)]
    return [*_through(on, names[:at]), *parted, *_through(on, names[at + 1 :])]


def _mended(rng: random.Random, on: Bolted, names: tuple[StageName, ...]) -> list[HistoryLine]:
    """Something left out or loosened, then all loosened and tightened as it should be; spent bolts are renewed."""
    moves = rng.choice((_skipped, _ahead, _one_loosened, _in_part))(rng, on, names)
    state = on.joint.after(events_of(moves))
    tight = [bolt for bolt, reached in zip(on.joint.bolts, state.reached, strict=True) if reached]
    redraw_if(not tight)
    moves.append(HistoryLine(f"{opening(on.words.all)} loosened.", tuple(map(Loosen, tight))))
    if on.joint.single_use:
        moves.append(HistoryLine(f"New {on.words.nouns} put in.", tuple(map(Renew, on.joint.bolts))))
    return [*moves, *_through(on, names)]


def _some(rng: random.Random, on: Bolted) -> list[str]:
    """Return some bolts, at least one and not all, in the order of their numbers."""
    chosen = rng.sample(on.joint.bolts, rng.randint(1, on.words.count - 1))
    return [bolt for bolt in on.joint.bolts if bolt in chosen]


_PLOTS: tuple[Plot, ...] = (_complete, _in_part, _skipped, _ahead, _one_loosened, _taken_apart, _in_turns, _mended)
