"""Dead centres: which cylinder comes up after so many degrees, and where a key then stands."""

from __future__ import annotations

import random
from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit import gears
from trainkit.cycle import DEAD_CENTRES, FiringOrder
from trainkit.items import example_engines as examples
from trainkit.items import gearwork
from trainkit.items.distinct_answers import choices, settings
from trainkit.items.facts import Draw
from trainkit.items.kinds import Given
from trainkit.items.lash_and_timing.cycle_rules import BARRED_RULES, KEY_RULES, BetweenDeadCentres, Keyed
from trainkit.items.questions import ChoiceQuestion, ChoiceTemplate
from trainkit.items.template import Unshuffled, redraw_if
from trainkit.items.turning_direction.clocks import STEP, TURN, face, five_minutes, hand_set, on_five

if TYPE_CHECKING:
    from trainkit.packs import Pack


MOST = 6
# So far past a dead centre the engine is said to stand, at least and at most by these steps.
PAST_STEP = 5


def _order_row(order: FiringOrder) -> Given:
    return Given(label="Firing order", value=str(order))


class WhichCylinder(ChoiceTemplate):
    """The crank is barred so far from one cylinder's dead centre; the cylinder that is then up is asked.

    Difficulty: the places to count on in the firing order; a crank that is barred back; a dead centre asked
    other than the one told.
    """

    name = "lash-and-timing/which-cylinder"
    skill = "say which cylinder comes to dead centre"
    weights = MappingProxyType({"places": 0.25, "back": 0.5, "other centre": 0.5})

    def ask(self, rng: random.Random, _pack: Pack, /) -> ChoiceQuestion[int]:
        """Draw once."""
        # With three, counting by numbers is the same as counting back.
        order = FiringOrder(examples.firing_order(rng, 4))
        count = len(order)
        on, asked = (rng.choice(DEAD_CENTRES if order.paired else DEAD_CENTRES[:1]) for _ in range(2))
        intervals = rng.choice([k for k in range(1, 2 * count) if k % count]) * rng.choice((1, -1))
        case = BetweenDeadCentres(order, rng.choice(order.cylinders), on, asked, intervals)
        right = case.right
        wrong = {code: rule(case) for code, rule in BARRED_RULES.items()}
        named = choices(right, wrong)
        redraw_if(len(named) < 3)
        rest = [cylinder for cylinder in order.cylinders if cylinder not in named]
        offered = choices(right, wrong, rng.sample(rest, min(len(rest), MOST - len(named))))
        way = "forward" if intervals > 0 else "back"
        degrees = gearwork.degree_text(case.degrees)
        known = order if intervals > 0 else order.reversed()
        listed = "the firing order" if intervals > 0 else "the firing order backwards"
        places = gearwork.counted(abs(intervals), "place")
        half = "" if on == asked else f" On {asked} stands the one that is a crank turn away."
        closing = f"So cylinder {right} stands at top dead centre on {asked}."
        counting = f"Count {listed}, {known}"
        return ChoiceQuestion(
            prompt=f"Cylinder {case.cylinder} stands at top dead centre on {on}. The crank is barred {degrees} {way}. "
            f"Which cylinder then stands at top dead centre on {asked}?",
            given=(examples.engine_row("evenly firing"), _order_row(order)),
            texts={cylinder: f"Cylinder {cylinder}" for cylinder in offered},
            right=right,
            shows=offered,
            reasons={cylinder: closing if cylinder == right else f"{counting}: {places} on." for cylinder in offered},
            working=(
                f"From one firing to the next it is 720° ÷ {count} = {gearwork.degree_text(order.interval)}.",
                f"{degrees} are {abs(intervals)} of these.",
                f"{counting}, from cylinder {case.cylinder}.{half}",
                closing,
            ),
            features={"places": abs(intervals), "back": intervals < 0, "other centre": on != asked},
            instead=examples.INSTEAD,
        )


class KeyAtDeadCentre(Unshuffled):
    """The key of a shaft at half crank speed stands somewhere; where it stands at a dead centre is asked.

    Difficulty: the quarter turns of the crank that are to go; a key that starts between two full hours; an
    exhaust dead centre.
    """

    name = "lash-and-timing/key-at-dead-centre"
    skill = "say where a key stands at dead centre"
    kind = "set"
    weights = MappingProxyType({"quarter turns": 0.25, "between hours": 0.5, "exhaust": 0.5})

    def pose(self, rng: random.Random, _pack: Pack, /) -> Draw:
        """Draw once."""
        order = FiringOrder(examples.firing_order(rng))
        title = rng.choice(("camshaft gear", "fuel pump gear"))
        viewpoint = rng.choice(gears.VIEWPOINTS)
        sense = gears.sense_of(rng.choice((1, -1)))
        past = Fraction(PAST_STEP * rng.randrange(1, int(order.interval // PAST_STEP)))
        # Often the first cylinder is the one to come up, as on the job.
        cylinder = 1 if rng.random() < 0.3 else rng.choice(order.cylinders)
        case = Keyed(
            order, past, rng.choice(order.cylinders), cylinder, rng.choice(DEAD_CENTRES), five_minutes(rng),
            gears.signed(sense),
        )  # fmt: skip
        crank = case.crank()
        redraw_if(not on_five(case.right) or crank < 6 * PAST_STEP)
        setting = settings(KEY_RULES, case, case.right, STEP, TURN)
        start, after = gears.Clock(case.start), gears.Clock(case.right % 12)
        return hand_set(
            self.name,
            setting,
            prompt=f"The crank stands {gearwork.degree_text(past)} past the compression dead centre of cylinder "
            f"{case.after}. The key of the {title} points to {start}. The engine is barred forward to the next "
            f"{case.on} dead centre of cylinder {cylinder}. Where does the key point then? "
            f"All of it is {gearwork.seen_from(viewpoint)}.",
            given=(
                examples.engine_row("evenly firing"),
                _order_row(order),
                Given(label=f"The {title} turns, barred forward", value=f"{sense}, {gearwork.seen_from(viewpoint)}"),
            ),
            figure=face(case.start, viewpoint, title, "key"),
            working=(
                f"From one firing to the next it is {gearwork.degree_text(order.interval)}; the order is {order}.",
                f"To {case.on} dead centre of cylinder {cylinder} the crank has {gearwork.degree_text(crank)} to go.",
                f"The shaft turns at half speed: {gearwork.degree_text(crank / 2)} {sense}.",
                f"30° are one hour: {start} becomes {after}.",
            ),
            shown=f"{after}, {gearwork.seen_from(viewpoint)}",
            features={
                "quarter turns": float(crank) / 90,
                "between hours": case.start % 1 > 0,
                "exhaust": case.on == "exhaust",
            },
            instead=examples.INSTEAD,
        )
