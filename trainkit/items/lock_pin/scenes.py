"""Scenes at the lock pin out of which something is to be done next, and which plans are offered in them.

The questions of an engine are dealt out together, like cards: each offers one plan that is right there, others that
end badly, and an unsafe one wherever the scene has one. Over all of them each plan is right in the same part of those
that offer it, and so is the longest, the second longest and so on: the wording alone earns no more than guessing.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

from trainkit.errors import LockPinError
from trainkit.items.kinds import Given
from trainkit.items.lock_pin.bench import Bench, action_text
from trainkit.items.lock_pin.plans import BACK_IN, ON_IN, PLANS, A, Do, Plan, Said, Worth, carried_out, told, worth
from trainkit.items.lock_pin_scenario import PinPlay
from trainkit.items.template import Redraw, redraw_if
from trainkit.lockpin import Setup, State

OPTIONS = 4
_MOST_REPEATS = 30
# So many questions are dealt out for an engine, each the best of so many tries.
_DEALT, _TRIES = 240, 80
_FEWEST_CODES = 2
# Places where the mark stands when the record begins: crank degrees before the back-off mark.
_FAR = range(5, 70, 5)


@dataclass(frozen=True, slots=True)
class Scene:
    """A passing of the hole, how the engine came there, and what was done then.

    Parameters
    ----------
    passing : int
        Which passing of the hole, counted forward from a right one.
    comes : str
        ``"forward"`` from behind the press mark, ``"back"`` from just past the hole, or ``"false"`` to a false hole.
    record : tuple of Do
        What was done.
    """

    passing: int
    comes: str
    record: Plan


@dataclass(frozen=True, slots=True)
class Dealt:
    """A question: its scene, the plan that is right, those that are wrong, and what they show."""

    scene: Scene
    right: Said
    wrong: tuple[Said, ...]
    shows: frozenset[str]


def scenes(setup: Setup) -> Iterator[Scene]:
    """Yield the scenes of an engine."""
    past = math.ceil((setup.press_from + setup.give_up) / setup.little) + 1
    pressed = (Do(A.PRESS), ON_IN)
    for passing in range(setup.passings):
        # At a wrong passing of the hole the mark may show nothing to come forward to.
        there = (Do(A.ON_TO_PRESS),) if _marked(setup, passing) else ()
        missed = (*there, *[Do(A.ON)] * past)
        for look in ((), (Do(A.CHECK),)):
            for off in ((), (Do(A.BAR_OFF),)):
                yield Scene(passing, "forward", (*there, *pressed, *look, *off))
                yield Scene(passing, "back", (Do(A.PRESS), BACK_IN, *look, *off))
                if setup.false_holes:
                    yield Scene(passing, "false", (*pressed, *look, *off))
        if there:
            yield Scene(passing, "forward", there)
        yield from (Scene(passing, "forward", record) for record in ((*there, Do(A.PRESS)), missed))
        yield Scene(passing, "forward", (*missed, Do(A.PRESS)))
        if setup.right(passing):
            pinned = (*there, *pressed, Do(A.CHECK))
            declared = (*pinned, Do(A.BAR_OFF), Do(A.DECLARE))
            yield Scene(passing, "forward", (*pinned, Do(A.DECLARE)))
            yield Scene(passing, "forward", declared)
            yield Scene(passing, "forward", (*declared, Do(A.PIN_OUT)))
            yield Scene(passing, "forward", (*declared, Do(A.PIN_OUT), Do(A.FIT_BAR)))


def _marked(setup: Setup, passing: int) -> bool:
    return setup.right(passing) or setup.tells != "witness"


def start(scene: Scene, setup: Setup, rng: random.Random) -> State:
    """Draw where the engine stands when the record of a scene begins.

    Raises
    ------
    Redraw
        If it cannot stand so.
    """
    half = setup.period / 2
    if scene.comes == "back":
        before = -setup.little * rng.randint(1, 2)
    elif scene.comes == "false":
        before = setup.little - rng.choice(setup.false_holes)
    elif _marked(setup, scene.passing):
        before = setup.back_off + rng.choice([place for place in _FAR if setup.back_off + place < half] or [0])
    else:
        before = setup.press_from
    redraw_if(abs(before) >= half)
    try:
        return State.start(setup, before, passing=scene.passing)
    except LockPinError:
        raise Redraw from None


def played(scene: Scene, begun: State, bench: Bench) -> tuple[PinPlay, list[Given]]:
    """Return the play after the record of a scene, and the lines of the record.

    Raises
    ------
    Redraw
        If a part of it cannot be done.
    """
    play = PinPlay(begun, watched=bench.watched, dial=bench.dial)
    log: list[Given] = []
    for part in scene.record:
        for _ in range(_MOST_REPEATS):
            redraw_if(part.action.value not in play.actions)
            play, seen = play.act(part.action.value)
            log.append(Given(label=f"{len(log) + 1}. {action_text(part.action, bench)}", value=seen))
            if part.done(play.state) or play.finished:
                break
        redraw_if(play.finished or not part.done(play.state))
    return play, log


@dataclass(frozen=True, eq=False)
class _Open:
    """A scene with the plans that may be offered in it: what each is worth, and what the wrong ones show."""

    scene: Scene
    right: tuple[Said, ...]
    bad: Mapping[Said, str]
    unsafe: frozenset[Said]

    def menus(self, wanted: frozenset[str]) -> list[tuple[Said, ...]]:
        """Return the sets of wrong plans that may be offered together and show what is wanted."""
        found = []
        for wrong in combinations(self.bad, OPTIONS - 1):
            shows = {self.bad[said] for said in wrong}
            safe = self.unsafe.isdisjoint(wrong)
            if wanted <= shows and len(shows) >= _FEWEST_CODES and not (safe and self.unsafe):
                found.append(wrong)
        return found


def _opened(bench: Bench) -> Iterator[_Open]:
    rng = random.Random(0)  # noqa: S311 - where the engine stands before the record is no matter here
    for scene in scenes(bench.states):
        try:
            play, _ = played(scene, start(scene, bench.states, rng), bench)
        except Redraw:
            continue
        ends = {said: carried_out(play, said) for said in PLANS}
        judged: dict[Said, Worth | None] = {said: worth(play, end) for said, end in ends.items()}
        bad = {said: end.shows or "" for said, end in ends.items() if end and judged[said] in ("wrong", "unsafe")}
        right = tuple(said for said in PLANS if judged[said] == "right")
        unsafe = frozenset(said for said in PLANS if judged[said] == "unsafe")
        if right and len(bad) >= OPTIONS - 1:
            yield _Open(scene, right, bad, unsafe)


@lru_cache(maxsize=64)
def dealt(bench: Bench, wanted: frozenset[str] = frozenset()) -> tuple[Dealt, ...]:
    """Deal out the questions of an engine, so that the wording of a plan tells nothing; always the same ones.

    Parameters
    ----------
    bench : Bench
        Its lock pin.
    wanted : frozenset of str, optional
        Codes that the wrong plans of each question show; without effect where no question can.
    """
    known = list(_opened(bench))
    menus = {each: each.menus(wanted) for each in known}
    if not any(menus.values()):
        menus = {each: each.menus(frozenset()) for each in known}
    choices = [(each, right) for each in known if menus[each] for right in each.right]
    rng = random.Random(0)  # noqa: S311 - guards no secret
    ever = {right for _, right in choices}
    lengths = {said: len(told(said, bench)) for said in PLANS}
    owed, met = Counter[Balanced](), Counter[Said | Scene | str]()

    def tried() -> tuple[float, Dealt, Counter[Balanced]]:
        each, right = rng.choice(choices)
        wrong = rng.choice(menus[each])
        shows = frozenset(each.bad[said] for said in wrong)
        change = _change(right, wrong, lengths)
        price = sum(step * (2 * owed[name] + step) for name, step in change.items())
        price += met[each.scene] + met[right] + min(met[code] for code in shows)
        price += sum(2 * met[said] for said in wrong if said not in ever)
        return price, Dealt(each.scene, right, wrong, shows), change

    found: list[Dealt] = []
    for _ in range(_DEALT if choices else 0):
        _, best, change = min((tried() for _ in range(_TRIES)), key=lambda each: each[0])
        owed.update(change)
        met.update((best.scene, best.right, *best.shows, *(said for said in best.wrong if said not in ever)))
        found.append(best)
    return tuple(found)


Balanced = Said | int | tuple[Said, Said]


def _change(right: Said, wrong: Sequence[Said], lengths: Mapping[Said, int]) -> Counter[Balanced]:
    """Return by how much a question puts plans, ranks of length and pairs of plans out of balance."""
    ranked = sorted((right, *wrong), key=lambda said: lengths[said])
    change = Counter[Balanced]({said: OPTIONS * (said == right) - 1 for said in ranked})
    change.update({rank: OPTIONS * (said == right) - 1 for rank, said in enumerate(ranked)})
    for other in wrong:
        one, two = sorted((right, other), key=PLANS.index)
        change[one, two] += 1 if one == right else -1
    return change
