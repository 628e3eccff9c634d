"""Practice: questions without end, drawn on the spot, with a hint and a second try; nothing is recorded."""

from __future__ import annotations

import random
from collections.abc import Callable, Collection, Sequence
from typing import TYPE_CHECKING, Any

from trainkit.errors import DrawFault, ItemError, ResponseError
from trainkit.items import marking
from trainkit.items.hints import discussed, hint
from trainkit.items.kinds import KINDS
from trainkit.items.marks import no_answer
from trainkit.items.misconceptions import misconception
from trainkit.items.pacing import Pace, Stock
from trainkit.widgets.compared import compared
from trainkit.widgets.hearing import Message, Reply
from trainkit.widgets.kinds import look_of
from trainkit.widgets.state import QuestionState

if TYPE_CHECKING:
    from trainkit.items.facts import Draw
    from trainkit.items.kinds import Item, Key, Response
    from trainkit.items.marking import Mark
    from trainkit.items.pacing import Paced
    from trainkit.items.template import Template
    from trainkit.packs import Pack


NOT_AVAILABLE = "This kind of question is not available for this engine."
GO_ON = "Go on with the next part."
# What is said of a question's difficulty, where the one before lets it be said.
_HARDER = "A little harder now."
_EASIER = "One step back, to make sure of it."
_AGAIN = "The same point once more. Use what you have just read."
_CURED = "Before, this point went wrong. Now it is right."
_TRY_AGAIN = "Try again. After the second try you see the answer and the whole working."
_SHOW = "Show the answer"
# So many tries before the answer is shown.
_TRIES = 2
# Two questions that lie nearer together than this are as good as equally hard.
_EVEN = 0.05

_WORDS = {"right": "Right", "in part": "Right in part", "not yet": "Not yet", "waiting": "For a person to mark"} | {
    "no answer": "The answer"
}


class Practised(QuestionState):
    """Practice of one skill.

    Parameters
    ----------
    skill : str
        The skill in words.
    templates : sequence of Template
        Where questions come from. One whose question was not answered rightly comes again soon; if the answer showed
        a misconception, with a question that can show it again, so that the cure is tried out.
    pack : Pack
        The engine that the questions are about.
    rng : random.Random
        Chooses the questions.
    avoid : collection of str
        What stands for the questions of the person's own assessment; practice never asks them.

    Raises
    ------
    ItemError
        If no template can draw from the pack, or a person would have to judge the answers.
    DrawFault
        If no template draws anything, and one of them fails by a fault of its own.

    Notes
    -----
    After a first try that is not right there is one hint (:mod:`trainkit.items.hints`) and a second try; after that,
    and when the answer is asked for, everything is explained. A scenario explains each action, and is begun again
    instead.

    How hard a question is follows the apprentice (:mod:`trainkit.items.pacing`), and the screen says so in words.
    """

    mode = "practise"
    buttons = ("Check answer", "Next question")
    failed = "This question failed and does not count. Go on with the next question."
    key: Key
    drawn: Draw
    _mark: Mark | None = None
    _given: Response | None = None
    _tries = 0

    def __init__(
        self,
        skill: str,
        templates: Sequence[Template],
        pack: Pack,
        rng: random.Random,
        avoid: Collection[str] = (),
    ) -> None:
        judged = [template.name for template in templates if KINDS[template.kind].by_person]
        if judged:
            raise ItemError(
                judged[0],
                rule="Practice explains each answer at once; answers to this template wait for a person.",
                remedy="Leave it out of the skill in module.toml, and ask it in the assessment.",
            )
        self.skill = skill
        self._templates = tuple(templates)
        self._pack = pack
        self._rng = rng
        self._queue: list[Template] = []
        self._stocks = {template.name: Stock(template, avoid) for template in templates}
        self._pace = self._pace_before = Pace()
        self._level = 0.0
        self._aims: dict[str, str] = {}  # by template, the misconception that its next question is to show
        self._aimed = ""  # the one that the present question can show again
        self.words = ""
        self._counted = False
        self.asked = 0
        self.right = 0
        self._begun = False
        item = self._draw()
        self._begun = True
        super().__init__(item)

    def _draw(self) -> Item:
        fault: ItemError | DrawFault = ItemError(
            self.skill, rule="A skill is practised with at least one template.", remedy="Name one in module.toml."
        )
        if not self._templates:
            raise fault
        for _ in range(len(self._templates) + 1):
            if not self._queue:
                self._queue = self._rng.sample(self._templates, len(self._templates))
            self._template = self._queue.pop(0)
            aim = self._aims.pop(self._template.name, "")
            try:
                paced = self._stocks[self._template.name].take(self._rng, self._pack, self._pace, (aim,) if aim else ())
            except (ItemError, DrawFault) as error:
                fault = error
                continue
            self.drawn = drawn = paced.draw
            self._aimed = aim if aim and aim in drawn.could_show else ""
            self.words = self._told(paced)
            self._level, self._pace_before = paced.level, self._pace
            self.key = drawn.key
            self._mark = self._given = None
            self._tries = 0
            self._counted = False
            return drawn.item
        if isinstance(fault, DrawFault) and self._begun:
            raise ItemError(self.skill, rule=NOT_AVAILABLE, remedy=GO_ON) from fault
        raise fault

    def _told(self, paced: Paced) -> str:
        """Return how a question compares with the one before, in words; nothing where there is nothing to say."""
        if self._aimed:
            return _AGAIN
        if self._pace.level > self._pace_before.level and paced.level > self._level + _EVEN:
            return _HARDER
        if self._pace.level < self._pace_before.level and paced.level < self._level - _EVEN:
            return _EASIER
        return ""

    @property
    def heading(self) -> str:
        """What stands above the question."""
        return f"Practice: {self.skill}"

    @property
    def tally(self) -> str:
        """How it went so far, in words."""
        return "" if not self.asked else f"{self.right} of {self.asked} right at the first try"

    def _more(self) -> dict[str, Any]:
        return {
            "name": self._template.skill,
            "saved": None,
            "draft": "",
            "tally": self.tally,
            "pace": self.words,
            "show": "" if self.bench else _SHOW,
            "explained": self._explained(),
        }

    def _ways(self) -> dict[object, Callable[[Message], Reply]]:
        return {"next": lambda _: self._next(), "show": lambda _: self._show()}

    def _next(self) -> Reply:
        self._put(self._draw())
        return {"type": "next", "shown": self.shown()}

    def _settle(self, response: object) -> Reply:
        self._given = self._fitting(response)
        self._tries += 1
        self._count(marking.mark(self.item, self.key, self._given, self.drawn.facts))
        return self._told_now()

    def _show(self) -> Reply:
        if self.bench:
            raise ResponseError(self.item.kind, rule="A scenario explains each action.", remedy="Do one of them.")
        # What was given before stays beside the answer, to be compared with it.
        self._tries = _TRIES
        self._count(self._mark or no_answer(self.item))
        return self._told_now()

    def _told_now(self) -> Reply:
        return {"type": "explained", "explained": self._explained(), "tally": self.tally}

    def _bench_moved(self, move: Callable[[], None]) -> Reply:
        move()
        if self._bench.over:
            self._count(marking.mark(self.item, self.key, self._bench.response))
        return {"type": "played", "play": self._bench.shown(), **self._played()}

    def _again(self) -> Reply:
        self._mark = None
        return super()._again()

    def _played(self) -> Reply:
        return {"explained": self._explained(), "tally": self.tally}

    def _count(self, mark: Mark) -> None:
        self._mark = mark
        if self._counted:
            return
        self._counted = True
        self.asked += 1
        self._pace = self._pace.after(mark.verdict)
        if mark.verdict == "right":
            self.right += 1
            return
        # Not at once: one other question lies between, if the skill has another.
        self._queue.insert(min(1, len(self._queue)), self._template)
        if mark.misconception:
            self._aims[self._template.name] = mark.misconception

    def _explained(self) -> dict[str, Any] | None:
        if self._mark is None:
            return None
        if self._mark.verdict not in ("right", "no answer") and self._tries < _TRIES and not self.bench:
            return self._hinted(self._mark)
        told = explanation(self._mark, discussed(self.item, self.key)) | self._compared(self._mark)
        if self._aimed and self._mark.verdict == "right":
            told["note"] = _CURED
        return told

    def _hinted(self, mark: Mark) -> dict[str, Any]:
        """Return what is said between the first try and the second."""
        return explanation(mark, ()) | {"reason": hint(self.item, self.key, mark), "note": _TRY_AGAIN}

    def _compared(self, mark: Mark) -> dict[str, Any]:
        """Return the answer that was given and the right one, in words and, where there is one, in the picture."""
        if mark.verdict == "right" or self.bench:
            return {}
        look = look_of(self.item.kind)
        return {
            "yours": "" if self._given is None else look.words(self.item, self._given),
            "right": list((look.worked or look.right)(self.item, self.key)),
            "figure": compared(self.item, self.key, self._given),
        }

    def _answer_line(self) -> str:
        return "Practise on the screen: a hint after the first try, then the working. Nothing is recorded."


def explanation(mark: Mark, working: Sequence[str], *, begun: int = 0) -> dict[str, Any]:
    """Return what the screen says of a mark, and the working.

    Parameters
    ----------
    mark : Mark
        What the answer earned and why.
    working : sequence of str
        All lines of the working.
    begun : int
        How many of them stand above already; the others are told.
    """
    found = misconception(mark.misconception) if mark.misconception else None
    return {
        "verdict": mark.verdict,
        "word": _WORDS.get(mark.verdict, mark.verdict),
        "reason": mark.reason,
        "critical": mark.critical,
        # Most reasons hold the cure already; at the bench the reason says what happened there.
        "note": "" if found is None or found.cure in mark.reason else found.advice(),
        "title": "The rest of the working" if begun else "The working",
        "from": begun + 1,
        "working": list(working[begun:]),
    }
