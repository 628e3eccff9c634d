"""How hard the next question of practice is: harder after right answers, easier after others.

Hard is meant among the questions of one template (:mod:`.difficulty`), from 0, its easiest, to 1, its hardest: across
templates steps of thought compare only roughly.
"""

from __future__ import annotations

import bisect
import random
from collections.abc import Collection
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from trainkit.errors import DrawFault, ItemError
from trainkit.items.asking import asked

if TYPE_CHECKING:
    from trainkit.items.facts import Draw
    from trainkit.items.template import Template
    from trainkit.packs import Pack


# A first question that most people get right; then two right answers make up for one that was not. Judgement.
_START = 0.25
_UP, _DOWN = 0.15, 0.3
# Fresh candidates for each question; fewer for the first of a template, for which somebody waits as a workbook opens.
# And how many are drawn at most for one that has to show something.
_FRESH, _FIRST = 5, 3
_AIMED_TRIES = 24
# Draws in place of one that the assessment asks.
_OTHER_TRIES = 40
# What was drawn and not asked stays as a candidate, so many of them; what was drawn longest ago goes.
_MOST = 24


@dataclass(frozen=True, slots=True)
class Pace:
    """How hard the next question is to be.

    Parameters
    ----------
    level : float
        From 0, the easiest of their kind, to 1, the hardest.

    Examples
    --------
    >>> begun = Pace()
    >>> begun.after("right").level > begun.level > begun.after("not yet").level
    True
    >>> begun.after("in part") == begun
    True
    """

    level: float = _START

    def after(self, verdict: str) -> Pace:
        """Return the pace after an answer: up when it is right, down when it is not, as it was when right in part."""
        if verdict == "in part":
            return self
        return Pace(min(1.0, self.level + _UP) if verdict == "right" else max(0.0, self.level - _DOWN))


@dataclass(frozen=True, slots=True)
class Paced:
    """A question that can be asked, and how hard it is among its like, from 0 to 1."""

    draw: Draw
    level: float


@dataclass(slots=True)
class Stock:
    """Questions of one template that lie ready, and how hard all those were that were ever drawn.

    Parameters
    ----------
    template : Template
        What draws them.
    avoid : collection of str
        What stands for questions that are not to be among them (:func:`~trainkit.items.asking.asked`).

    Examples
    --------
    >>> from trainkit import packs
    >>> from trainkit.items.template import find
    >>> stock, pack = Stock(find("torque-units/convert")), packs.load("dunlin")
    >>> easy = stock.take(random.Random(1), pack, Pace(0.0))
    >>> hard = stock.take(random.Random(1), pack, Pace(1.0))
    >>> easy.level < hard.level
    True
    """

    template: Template
    avoid: Collection[str] = ()
    _ready: list[tuple[float, Draw]] = field(default_factory=list)
    _known: list[float] = field(default_factory=list)

    def take(self, rng: random.Random, pack: Pack, pace: Pace, shows: Collection[str] = ()) -> Paced:
        """Return a question as hard as the pace says, as nearly as there is one, and take it out of the stock.

        Parameters
        ----------
        rng : random.Random
            Draws the questions.
        pack : Pack
            The engine.
        pace : Pace
            How hard it is to be.
        shows : collection of str
            Codes of misconceptions that an answer should be able to show; where no draw can, any question will do.

        Raises
        ------
        ItemError
            If the pack has nothing to ask about.
        DrawFault
            If the template fails by a fault of its own, and no other question lies ready. One that succeeds now and
            then only costs the draws that fail.
        """
        fault: DrawFault | None = None
        for _ in range(_FRESH if self._known else _FIRST):
            fault = self._lay_in(self.template, rng, pack) or fault
        if not self._ready:
            for _ in range(_AIMED_TRIES):
                fault = self._lay_in(self.template, rng, pack) or fault
                if self._ready:
                    break
        if not self._ready and fault is not None:
            raise fault
        fit = self._able(shows)
        for _ in range(_AIMED_TRIES):
            if fit:
                break
            self._lay_in(self.template.aimed(shows), rng, pack)
            fit = self._able(shows)
        chosen = min(fit or self._ready, key=lambda each: abs(self._level(each[0]) - pace.level))
        self._ready = [each for each in self._ready if each[1].item != chosen[1].item]
        del self._ready[:-_MOST]
        return Paced(chosen[1], self._level(chosen[0]))

    def _able(self, shows: Collection[str]) -> list[tuple[float, Draw]]:
        if not shows:
            return self._ready
        return [each for each in self._ready if set(shows) <= each[1].could_show.keys()]

    def _lay_in(self, template: Template, rng: random.Random, pack: Pack) -> DrawFault | None:
        """Lay one more question in; return what went wrong where the draw failed by a fault of the template."""
        try:
            drawn = self._other(template, rng, pack)
        except DrawFault as fault:
            return fault
        difficulty = self.template.difficulty(drawn.features)
        bisect.insort(self._known, difficulty)
        self._ready.append((difficulty, drawn))
        return None

    def _other(self, template: Template, rng: random.Random, pack: Pack) -> Draw:
        """Draw a question that is not to be avoided."""
        for _ in range(_OTHER_TRIES):
            drawn = template.draw(rng, pack)
            if not self.avoid or asked(drawn.item) not in self.avoid:
                return drawn
        raise ItemError(
            template.name,
            rule="Every question that was drawn here stands in the assessment.",
            remedy="Practise another skill, or give the pack more values of this sort.",
        )

    def _level(self, difficulty: float) -> float:
        """Return the share of all draws known that are easier; of those as hard, half."""
        below = bisect.bisect_left(self._known, difficulty)
        return (below + bisect.bisect_right(self._known, difficulty)) / 2 / len(self._known)
