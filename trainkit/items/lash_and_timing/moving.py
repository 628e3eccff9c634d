"""What a movement does: which is harmless, and whether it makes the event early or late."""

from __future__ import annotations

import random
from functools import lru_cache
from itertools import product
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit import gears
from trainkit.items import example_engines as examples
from trainkit.items import gearwork
from trainkit.items.difficulty import digits, tens_of_words
from trainkit.items.distinct_answers import choices
from trainkit.items.kinds import Given
from trainkit.items.lash_and_timing.mounting import SUBJECTS, Build, Movement
from trainkit.items.lash_and_timing.rules import AT_CRANK, AT_SHAFT, SHIFT_RULES, Shift, Shifted
from trainkit.items.lash_and_timing.taking_up import SMALLEST
from trainkit.items.lash_and_timing.timed import RADIAN, build_row, circle_radius, millimetres, shift_text, timed
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate, SeveralQuestion, SeveralTemplate
from trainkit.items.template import redraw_if

if TYPE_CHECKING:
    from trainkit.packs import Pack


OPTIONS = 5
_FURTHEST = 12  # hundredths of a millimetre; lash leaves no more


class HarmlessMovement(SeveralTemplate):
    """Of several movements during the work all are to be taken that leave the timing as it was set.

    What is harmless hangs on how gear, shaft and housing hold together, on whether the lash was taken up again, and on
    how far each went: no movement is harmless by its words.

    Difficulty: the words to read, in tens; the movements that come in two parts, one of which undoes the other
    or seems to.
    """

    name = "lash-and-timing/harmless-movement"
    skill = "tell harmless movements from harmful ones"
    weights = MappingProxyType({"tens of words": 0.5, "in two parts": 0.25})

    def ask(self, rng: random.Random, _pack: Pack, /) -> SeveralQuestion[Movement]:
        """Draw once."""
        of = timed(rng)
        build: Build = rng.choice(of.builds)
        again = rng.random() < 0.5
        said = {movement: _said(movement, again) for movement in _some(rng, build, again)}
        some = [movement for movement in said if movement.left(again=again) == 0]
        redraw_if(len(some) >= OPTIONS - 1)
        return SeveralQuestion(
            prompt=f"Each of these movements happened by itself, on the {of.title} or what it belongs to, with the "
            "joint loose. Which of them leave the timing as it was set? There may be more than one.",
            given=(examples.engine_row(), build_row(build), Given(label="After each movement", value=_AFTER[again])),
            texts={movement: movement.text for movement in said},
            right=some,
            shows={each: "any-movement-ruins" if each in some else "no-movement-matters" for each in said},
            reasons=said,
            working=tuple(f"{movement.text}: {text[0].lower()}{text[1:]}" for movement, text in said.items()),
            features={
                "tens of words": tens_of_words(movement.text for movement in said),
                "in two parts": sum(len(movement.parts) > 1 for movement in said),
            },
            instead=examples.INSTEAD,
        )


_AFTER = {
    True: "the lash was taken up again, then the joint was tightened",
    False: "the joint was tightened as everything stood",
}


_SIZES = range(2, _FURTHEST + 1)


@lru_cache(maxsize=256)
def _outcomes(build: Build, again: bool, subjects: tuple[str, ...], signs: tuple[int, ...]) -> frozenset[bool]:
    """Return whether a movement in these words can be harmless, and whether it can be harmful, whatever its sizes."""
    movements = (
        Movement(
            build, tuple((subject, sign * size) for subject, sign, size in zip(subjects, signs, sizes, strict=True))
        )
        for sizes in product(_SIZES, repeat=len(signs))
    )
    return frozenset(movement.left(again=again) == 0 for movement in movements if movement.possible)


Words = tuple[tuple[str, ...], tuple[int, ...]]


@lru_cache(maxsize=2)
def _words(build: Build) -> tuple[Words, ...]:
    """Return what can be said to have moved, and which way, that is harmless in one draw and harmful in another."""
    subjects = tuple(SUBJECTS[build])
    sayings = (
        words for count in (1, 2) for words in product(product(subjects, repeat=count), product((1, -1), repeat=count))
    )
    return tuple(
        words for words in sayings if len(_outcomes(build, True, *words) | _outcomes(build, False, *words)) > 1
    )


def _some(rng: random.Random, build: Build, again: bool) -> list[Movement]:
    """Draw movements in different words.

    Two of them are settled by whether the lash was taken up again, one each way; of the others the sizes decide. So
    what is learnt of the words says nothing, neither of one movement nor of two together.
    """
    known = {words: (_outcomes(build, again, *words), _outcomes(build, not again, *words)) for words in _words(build)}
    found = []
    for harmless in (True, False):
        settled = [
            words for words, outcomes in known.items() if outcomes == (frozenset({harmless}), frozenset({not harmless}))
        ]
        found.append(_sized(rng, build, again, rng.choice(settled), harmless))
    open_ones = [words for words, (here, _) in known.items() if len(here) > 1]
    rest = rng.sample(open_ones, OPTIONS - len(found))
    return [*found, *(_sized(rng, build, again, words, rng.random() < 0.5) for words in rest)]


def _sized(rng: random.Random, build: Build, again: bool, words: Words, harmless: bool) -> Movement:
    """Draw the sizes of a movement, so that it leaves nothing behind or something."""
    subjects, signs = words
    while True:
        ways = [sign * rng.choice(_SIZES) for sign in signs]
        if len(ways) > 1 and rng.random() < 0.5:  # what undoes the other, or seems to
            ways[1] = signs[1] * abs(ways[0])
        movement = Movement(build, tuple(zip(subjects, ways, strict=True)))
        if movement.possible and (movement.left(again=again) == 0) == harmless:
            return movement


def _said(movement: Movement, again: bool) -> str:
    """Say what a movement leaves behind, and why."""
    left = movement.left(again=again)
    taken = "Taking up the lash again puts the gear back on its flank. " if again else ""
    if not left:
        return f"{taken}Nothing is left of it: shaft and housing stand to the gear as they were set."
    effect = "early" if left > 0 else "late"
    waits = "" if again else "In service the gear goes back to its flank and takes its shaft along. "
    return (
        f"{taken}{waits}What is left between shaft and housing is {millimetres(abs(left) / 100)} at the pitch circle; "
        f"the event comes {effect}."
    )


class EarlyOrLate(ChoiceTemplate):
    """Gear, shaft or housing moved while the joint was loose; how much earlier or later the event comes is asked.

    Difficulty: a housing that was moved, where everything is the other way round; a move against the drive; the
    digits of move and radius.
    """

    name = "lash-and-timing/early-or-late"
    skill = "say whether a movement makes the event early or late"
    weights = MappingProxyType({"housing": 0.5, "against": 0.25, "digits": 0.25})

    def ask(self, rng: random.Random, _pack: Pack, /) -> ChoiceQuestion[Shifted]:
        """Draw once."""
        of = timed(rng)
        build: Build = rng.choice(of.builds)
        viewpoint = rng.choice(gears.VIEWPOINTS)
        turned: gears.Sense = rng.choice(("clockwise", "anticlockwise"))
        moved = rng.choices(tuple(_MOVED[build]), (4, 1))[0]
        case = Shift(
            build,
            _MOVED[build][moved],
            rng.randint(4, 25) / 10,
            circle_radius(rng, of.radius),
            turned,
            of.engine.running(of.name, viewpoint),
            rng.choice((AT_CRANK, AT_SHAFT)),
        )
        way, radius = millimetres(case.moved_mm), millimetres(case.radius_mm)
        right = case.right
        redraw_if(case.crank_degrees < 2 * SMALLEST)
        offered = choices(right, {code: rule(case) for code, rule in SHIFT_RULES.items()}, case.all)
        reason = case.shift.reason if case.stays else _UNDONE
        at_shaft, at_crank = (gearwork.degree_text(round(case.crank_degrees / by, 3)) for by in (2, 1))
        return ChoiceQuestion(
            prompt=f"In service the shaft of the {of.title} turns {case.drive}. With the joint loose, {moved} was "
            f"moved {way} {turned}. Both are {gearwork.seen_from(viewpoint)}. Then the lash was taken up again and the "
            f"joint tightened. What does the timing do, in degrees of the {case.asked}?",
            given=(
                examples.engine_row(),
                build_row(build),
                Given(label="Measured along a circle of radius", value=radius),
                *of.rows,
                RADIAN,
            ),
            texts={shifted: shift_text(shifted) for shifted in offered},
            right=right,
            shows=offered,
            reasons={shifted: f"{shift_text(right)}. {reason}" if shifted == right else reason for shifted in offered},
            working=(
                f"At the shaft: {way} ÷ {radius} × 57.3° = {at_shaft}.",
                f"At half crank speed the crank turns twice as far: {at_crank}.",
                reason,
            ),
            features={
                "housing": "housing" in case.parts,
                "against": turned != case.drive,
                "digits": digits(of.title, way, radius),
            },
            instead=examples.INSTEAD,
        )


# What was moved: first what stays when the lash is taken up again, then what is put back.
_MOVED = MappingProxyType(
    {
        "clamped": MappingProxyType({"the shaft in its gear": ("shaft",), "the gear on its shaft": ("gear",)}),
        "slotted": MappingProxyType(
            {
                "the housing about its shaft": ("housing",),
                "the housing with shaft and gear": ("gear", "shaft", "housing"),
            }
        ),
    }
)
_UNDONE = "Taking up the lash again puts it back: shaft and housing stand as they were set, and nothing changes."
