"""A joint of several bolts: its state after any history, and what goes wrong on the way.

A history is a row of events. :func:`step` takes a state and an event and returns the next state and the outcome;
:meth:`Joint.after` plays a whole history. An event that should not happen still happens: the outcome carries the
fault, and the state keeps it until it is put right. Loosening every bolt puts all of it right, except that a spent
bolt stays spent until it is renewed; work done too early is put right by doing it again at the right moment.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from trainkit.errors import TighteningError
from trainkit.tightening.stages import WORKS, Schedule, Stage, StageName, WorkName

FaultCode = Literal["skipped", "ahead", "angle-again", "reused", "too-tight", "too-loose", "disturbed"]
# Name of a stage, or "loose".
Hold = str


@dataclass(frozen=True, slots=True)
class Tighten:
    """Tighten one bolt to a stage."""

    bolt: str
    stage: StageName


@dataclass(frozen=True, slots=True)
class Loosen:
    """Loosen one bolt."""

    bolt: str


@dataclass(frozen=True, slots=True)
class Renew:
    """Put a new bolt in the place of an old one, which must be loose."""

    bolt: str


@dataclass(frozen=True, slots=True)
class Work:
    """Do one of :data:`~trainkit.tightening.WORKS` to the parts."""

    name: WorkName


Event = Tighten | Loosen | Renew | Work


@dataclass(frozen=True, slots=True)
class Fault:
    """Something in a history that a good mechanic would not do.

    Parameters
    ----------
    code : str
        ``skipped`` (a stage left out), ``ahead`` (a bolt a stage further than the others allow), ``angle-again``
        (an angle turned twice), ``reused`` (a single-use bolt tightened again), ``too-tight`` and ``too-loose``
        (work on the parts at the wrong moment), ``disturbed`` (a bolt of a finished joint loosened).
    about : str
        The bolt or the work that it concerns.
    text : str
        What follows from it and what to do next.
    """

    code: FaultCode
    about: str
    text: str


@dataclass(frozen=True, slots=True)
class EventOutcome:
    """What an event did.

    Parameters
    ----------
    text : str
        What happened, in words.
    fault : Fault or None
        What is wrong with it, if anything.
    """

    text: str
    fault: Fault | None = None


@dataclass(frozen=True, slots=True)
class Joint:
    """Bolts that are tightened together, in the same stages.

    Parameters
    ----------
    bolts : iterable of str
        Their names, each once.
    schedule : Schedule or iterable of Stage
        Their stages.
    single_use : bool, optional
        Whether a bolt that has been to its final stage must be renewed once it is loosened. Bolts whose final stage
        is an angle are stretched and always count so.

    Raises
    ------
    TighteningError
        For no bolts, or a name that is missing or stands twice.

    Examples
    --------
    >>> joint = Joint(["1", "2"], [Stage("first", "10 N·m"), Stage("final", "24.5 N·m")])
    >>> state = joint.after([Tighten("1", "first"), Tighten("1", "final")])
    >>> state.reached_by_all, state.holds, [fault.code for fault in state.faults]
    ('loose', 'final', ['ahead'])
    """

    bolts: tuple[str, ...]
    schedule: Schedule
    single_use: bool = False

    def __init__(self, bolts: Iterable[str], schedule: Schedule | Iterable[Stage], *, single_use: bool = False) -> None:
        named = tuple(bolts)
        if not named or not all(_is_name(bolt) for bolt in named) or len(set(named)) != len(named):
            raise TighteningError(
                named, rule="A joint has bolts, each with a name of its own.", remedy='Name them "1", "2", "3".'
            )
        object.__setattr__(self, "bolts", named)
        object.__setattr__(self, "schedule", schedule if isinstance(schedule, Schedule) else Schedule(schedule))
        object.__setattr__(self, "single_use", single_use or self.schedule.final.by == "angle")

    def start(self) -> JointState:
        """Return the joint with every bolt new and loose."""
        return JointState(self, (0,) * len(self.bolts), (False,) * len(self.bolts))

    def after(self, history: Iterable[Event]) -> JointState:
        """Return the state after a history.

        Raises
        ------
        TighteningError
            For an event that names a bolt, stage or work that is not there.
        """
        return self.play(history)[0]

    def play(self, history: Iterable[Event]) -> tuple[JointState, tuple[EventOutcome, ...]]:
        """Return the state after a history, and the outcome of each event."""
        state, outcomes = self.start(), []
        for event in history:
            state, outcome = step(state, event)
            outcomes.append(outcome)
        return state, tuple(outcomes)

    def index(self, bolt: str) -> int:
        """Return the place of a bolt; TighteningError if the joint has none of that name."""
        if bolt not in self.bolts:
            raise TighteningError(
                bolt, rule=f"The bolts of this joint are {', '.join(self.bolts)}.", remedy="Name one of them."
            )
        return self.bolts.index(bolt)


@dataclass(frozen=True, slots=True)
class JointState:
    """A joint at one moment.

    Parameters
    ----------
    joint : Joint
        The joint.
    reached : tuple of int
        For each bolt the place of the stage it has reached in the schedule, 0 while it is loose.
    spent : tuple of bool
        For each bolt whether it is single-use, has been to its final stage and was loosened.
    faults : tuple of Fault
        The faults of the history that have not been put right.
    """

    joint: Joint
    reached: tuple[int, ...]
    spent: tuple[bool, ...]
    faults: tuple[Fault, ...] = ()

    @property
    def reached_by_all(self) -> Hold:
        """The stage that every bolt has reached, or ``"loose"``."""
        return self._name(min(self.reached))

    @property
    def holds(self) -> Hold:
        """The stage of the tightest bolt, which is what holds the parts; ``"loose"`` while there is none."""
        return self._name(max(self.reached))

    @property
    def finished(self) -> bool:
        """Whether every bolt is at its final stage; a fault on the way may still call for starting again."""
        return min(self.reached) == len(self.joint.schedule)

    @property
    def sound(self) -> bool:
        """Whether the joint is finished and no fault is left."""
        return self.finished and not self.faults

    def _name(self, place: int) -> Hold:
        return self.joint.schedule.stages[place - 1].name if place else "loose"

    def works(self) -> tuple[WorkName, ...]:
        """Return what may be done to the parts now, of :data:`~trainkit.tightening.WORKS`."""
        return tuple(name for name in WORKS if _why_not(self, name) is None)

    def next_tightenings(self) -> tuple[Tighten, ...]:
        """Return the tightenings that may come next without a fault: the least tight bolts, one stage on."""
        place = min(self.reached)
        if place == len(self.joint.schedule):
            return ()
        stage = self.joint.schedule.stages[place].name
        return tuple(
            Tighten(bolt, stage)
            for bolt, reached, spent in zip(self.joint.bolts, self.reached, self.spent, strict=True)
            if reached == place and not spent
        )


def step(state: JointState, event: Event) -> tuple[JointState, EventOutcome]:
    """Let one event happen.

    Parameters
    ----------
    state : JointState
        Before it.
    event : Tighten, Loosen, Renew or Work
        What is done.

    Returns
    -------
    tuple of JointState and Outcome
        The state after it, and what happened.

    Raises
    ------
    TighteningError
        For an event that names what the joint does not have, or renews a bolt that is still tight.

    Examples
    --------
    >>> joint = Joint(["1", "2", "3"], [Stage("snug"), Stage("final", "24.5 N·m")])
    >>> state, outcome = step(joint.start(), Tighten("1", "final"))
    >>> outcome.fault.code
    'skipped'
    """
    if isinstance(event, Tighten):
        return _tighten(state, event)
    if isinstance(event, Loosen):
        return _loosen(state, event)
    if isinstance(event, Renew):
        return _renew(state, event)
    if isinstance(event, Work):
        return _work(state, event)
    raise TighteningError(
        event, rule="A history holds Tighten, Loosen, Renew and Work.", remedy="Make it of these events."
    )


def _with(state: JointState, place: int, reached: int, spent: bool) -> JointState:
    return replace(
        state,
        reached=(*state.reached[:place], reached, *state.reached[place + 1 :]),
        spent=(*state.spent[:place], spent, *state.spent[place + 1 :]),
    )


def _told(state: JointState, text: str, fault: Fault | None) -> tuple[JointState, EventOutcome]:
    after = state if fault is None else replace(state, faults=(*state.faults, fault))
    return after, EventOutcome(text, fault)


def _tighten(state: JointState, event: Tighten) -> tuple[JointState, EventOutcome]:
    bolt = event.bolt
    place, wanted = state.joint.index(bolt), state.joint.schedule.place(event.stage)
    stage, reached, spent = state.joint.schedule.stages[wanted - 1], state.reached[place], state.spent[place]
    if wanted < reached or (wanted == reached and stage.by != "angle"):
        return state, EventOutcome(f"Bolt {bolt} does not turn: it stands at {stage.name} or beyond already.")
    again = wanted == reached
    fault = None
    if spent:
        fault = Fault("reused", bolt, f"Bolt {bolt} has been stretched once. Loosen the joint and renew it.")
    elif again:
        fault = Fault("angle-again", bolt, f"Bolt {bolt} is turned too far now. Loosen the joint and renew it.")
    elif wanted > reached + 1:
        left = state.joint.schedule.stages[reached].name
        fault = Fault(
            "skipped", bolt, f"Bolt {bolt} left out the stage “{left}”. Loosen the joint and take the stages in turn."
        )
    elif min(state.reached) < wanted - 1:
        behind = state.joint.bolts[state.reached.index(min(state.reached))]
        fault = Fault(
            "ahead", bolt, f"Bolt {bolt} goes on while bolt {behind} is behind. Bring all to one stage first."
        )
    return _told(_with(state, place, wanted, spent or again), f"Bolt {bolt} is at {stage}.", fault)


def _loosen(state: JointState, event: Loosen) -> tuple[JointState, EventOutcome]:
    bolt = event.bolt
    place = state.joint.index(bolt)
    was = state.reached[place]
    if was == 0:
        return state, EventOutcome(f"Bolt {bolt} is loose already.")
    spent = state.spent[place] or (state.joint.single_use and was == len(state.joint.schedule))
    after = _with(state, place, 0, spent)
    if max(after.reached) == 0:
        return replace(after, faults=()), EventOutcome(f"Bolt {bolt} is loose, and with it the whole joint.")
    fault = None
    if state.finished:
        fault = Fault("disturbed", bolt, "The finished joint has lost its clamp. Loosen all bolts and start again.")
    return _told(after, f"Bolt {bolt} is loose.", fault)


def _renew(state: JointState, event: Renew) -> tuple[JointState, EventOutcome]:
    place = state.joint.index(event.bolt)
    if state.reached[place]:
        raise TighteningError(
            event.bolt, rule="Only a loose bolt can be renewed.", remedy="Loosen it first.", place="renew"
        )
    return _with(state, place, 0, False), EventOutcome(f"Bolt {event.bolt} is new.")


def _work(state: JointState, event: Work) -> tuple[JointState, EventOutcome]:
    if event.name not in WORKS:
        raise TighteningError(
            event.name, rule=f"What is done to the parts is one of {', '.join(WORKS)}.", remedy="Name one of them."
        )
    fault = _why_not(state, event.name)
    if fault is None:
        early = [each for each in state.faults if each.code == "too-loose" and each.about == event.name]
        state = replace(state, faults=tuple(each for each in state.faults if each not in early))
    return _told(state, f"Done: {WORKS[event.name]}.", fault)


def _why_not(state: JointState, work: WorkName) -> Fault | None:
    stages = state.joint.schedule.stages
    low, high = min(state.reached), max(state.reached)
    tightest = stages[high - 1] if high else None
    before_final = len(stages) - 1
    if work in ("fit", "move") and any(stage.holds for stage in stages[:high]):
        return Fault("too-tight", work, f"At {stages[high - 1].name} the parts are held. Loosen the bolts before this.")
    if work == "set" and tightest is not None and tightest.meaning != "may-move":
        return Fault(
            "too-tight", work, f"At {tightest.name} nothing may move. Loosen the bolts and take the stages again."
        )
    if work == "set" and low < min(1, before_final):
        return Fault("too-loose", work, f"Loose parts keep no setting. Bring every bolt to {stages[0].name} first.")
    if work == "check" and low < before_final:
        held = stages[before_final - 1].name
        return Fault("too-loose", work, f"The position is not held yet. Bring every bolt to {held} first.")
    if work == "mark" and low <= before_final:
        return Fault("too-loose", work, "A mark before final marks a place that may change. Finish every bolt first.")
    return None


def _is_name(value: object) -> bool:
    return isinstance(value, str) and bool(value.strip())
