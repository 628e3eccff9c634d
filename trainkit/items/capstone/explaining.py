"""A why of the job, explained in the apprentice's own words and marked by a person."""

from __future__ import annotations

import random
from collections.abc import Callable
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.errors import ItemError
from trainkit.items.capstone.flanks import lash_first
from trainkit.items.capstone.levers import lever_with_adapter
from trainkit.items.capstone.missed import missed_hole
from trainkit.items.capstone.questions import CRITERIA, Question
from trainkit.items.capstone.waiting import before_the_step
from trainkit.items.difficulty import digits, tens_of_words
from trainkit.items.facts import Draw
from trainkit.items.kinds import RubricLine, TextItem, TextKey
from trainkit.items.template import Redraw, Unshuffled

if TYPE_CHECKING:
    from trainkit.packs import Pack


# Characters: twelve sentences or so, and no essay.
LIMIT = 1200

# Of more different questions more are asked: a missed hole has some twenty places, all else has hundreds.
_FAMILIES: dict[Callable[[random.Random, Pack], Question], int] = {
    missed_hole: 1,
    lash_first: 4,
    lever_with_adapter: 5,
    before_the_step: 10,
}


class ExplainWhy(Unshuffled):
    """A why of the job is explained in the apprentice's own words; a person marks it by a rubric.

    Asked is one of four things: what is done after the hole was missed, and why; which way lash is taken up before a
    reading, and why; what is set on a wrench with an adapter, and why not the printed value; what may wait until
    after a step, and what harm follows where something may not. Each has as many criteria, each worth as much.

    Difficulty: the facts that a full answer names, two at most for a criterion, since more are there to choose from;
    the criteria without a figure, which no line of the data leads to; the digits of the data, in tens; the words to
    read, in tens.
    """

    name = "capstone/explain-why"
    skill = "explain a why of the job in your own words"
    kind = "text"
    weights = MappingProxyType({"facts": 0.25, "from memory": 0.25, "tens of digits": 0.1, "tens of words": 0.05})

    def pose(self, rng: random.Random, pack: Pack) -> Draw:
        """Draw once."""
        try:
            (family,) = rng.choices([*_FAMILIES], [*_FAMILIES.values()])
            question = family(rng, pack)
        except ItemError as error:
            # This engine lacks what the family asks about; another family may do.
            raise Redraw from error
        rubric = tuple(RubricLine(looks_for=each.looks_for, points=1, names=each.names) for each in question.looked)
        item = TextItem(
            prompt=question.prompt,
            given=question.given,
            figure=question.figure,
            points=CRITERIA,
            limit=LIMIT,
        )
        key = TextKey(template=self.name, working=question.working, rubric=rubric, dangerous=question.dangerous)
        data = [line.value for line in question.given]
        named = [line.names for line in rubric]
        features = {
            "facts": sum(min(2, len(names)) for names in named),
            "from memory": sum(not digits(*names) for names in named),
            "tens of digits": digits(*data) / 10,
            "tens of words": tens_of_words([question.prompt, *data]),
        }
        return Draw(item, key, features)
