"""Practice: questions without end, drawn on the spot, each explained at once; nothing is recorded."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from trainkit.errors import ItemError
from trainkit.items import marking
from trainkit.widgets.state import Message, Reply, State

if TYPE_CHECKING:
    from trainkit.items.item import Item
    from trainkit.items.key import Key
    from trainkit.items.marking import Mark
    from trainkit.items.template import Template
    from trainkit.packs import Pack

__all__ = ["Practised", "explanation"]

_WORDS = {"right": "Right", "in part": "Right in part", "not yet": "Not yet", "waiting": "For a person to mark"}


class Practised(State):
    """Practice of one skill.

    Parameters
    ----------
    skill : str
        The skill in words.
    templates : sequence of Template
        Where questions come from. One whose question was not answered rightly comes again soon.
    pack : Pack
        The engine that the questions are about.
    rng : random.Random
        Chooses the questions.

    Raises
    ------
    ItemError
        If no template can draw from the pack, or a person would have to judge the answers.
    """

    mode = "practise"
    buttons = ("Check answer", "Next question")
    key: Key
    _mark: Mark | None = None

    def __init__(self, skill: str, templates: Sequence[Template], pack: Pack, rng: random.Random) -> None:
        judged = [template.name for template in templates if template.kind in ("text", "observed")]
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
        self._counted = False
        self.asked = 0
        self.right = 0
        item = self._draw()
        super().__init__(item)

    def _draw(self) -> Item:
        fault = ItemError(
            self.skill, rule="A skill is practised with at least one template.", remedy="Name one in module.toml."
        )
        if not self._templates:
            raise fault
        for _ in range(len(self._templates) + 1):
            if not self._queue:
                self._queue = self._rng.sample(self._templates, len(self._templates))
            self._template = self._queue.pop(0)
            try:
                drawn = self._template.draw(self._rng, self._pack)
            except ItemError as error:
                fault = error
                continue
            item, self.key = drawn
            self._mark = None
            self._counted = False
            return item
        raise fault

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
            "explained": self._explained(),
        }

    def _ways(self) -> dict[object, Callable[[Message], Reply]]:
        return {"next": lambda _: self._next()}

    def _next(self) -> Reply:
        self._put(self._draw())
        return {"type": "next", "shown": self.shown()}

    def _settle(self, response: object) -> Reply:
        given = self._fitting(response)
        self._count(marking.mark(self.item, self.key, given))
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
        if mark.verdict == "right":
            self.right += 1
        else:
            # Not at once: one other question lies between, if the skill has another.
            self._queue.insert(min(1, len(self._queue)), self._template)

    def _explained(self) -> dict[str, Any] | None:
        return None if self._mark is None else explanation(self._mark, self.key.working)

    def _answer_line(self) -> str:
        return "Practise on the screen: each answer is explained at once, and nothing is recorded."


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
    return {
        "verdict": mark.verdict,
        "word": _WORDS.get(mark.verdict, mark.verdict),
        "reason": mark.reason,
        "critical": mark.critical,
        "title": "The rest of the working" if begun else "The working",
        "from": begun + 1,
        "working": list(working[begun:]),
    }
