"""A half-worked example: its working is begun, the apprentice does the rest, and nothing is recorded."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from typing import TYPE_CHECKING, Any

from trainkit.errors import ResponseError
from trainkit.items import marking
from trainkit.items.halfworked import half_worked
from trainkit.sentences import counted
from trainkit.widgets import paper
from trainkit.widgets.hearing import Message, Reply
from trainkit.widgets.practised import explanation
from trainkit.widgets.state import QuestionState

if TYPE_CHECKING:
    from trainkit.items.marking import Mark
    from trainkit.items.template import Template
    from trainkit.packs import Pack


_SAME = "This one is the same for everybody. Work it out, then check."
_YOURS = "The next line is yours: it says the answer."


class Completed(QuestionState):
    """A half-worked example to complete.

    Parameters
    ----------
    name, skill : str
        Identifier of the skill, and the skill in words.
    templates : sequence of Template
        What practises it.
    pack : Pack
        The engine.
    avoid : collection of str
        What stands for the questions of the person's own assessment.

    Raises
    ------
    ItemError
        If no template of the skill has a working that can be begun without stating the answer.

    Notes
    -----
    Besides the messages of every question it understands ``hint``: show the next line of the working, if that does
    not state the answer.

    Examples
    --------
    >>> from trainkit import packs
    >>> from trainkit.items.template import find
    >>> begun = Completed("tool", "Turn it", [find("turning-direction/tool-sense")], packs.load("dunlin"))
    >>> before = len(begun.uncovered)
    >>> len(begun.hear({"type": "hint", "ticket": 1})["begun"]["lines"]) - before
    1
    """

    mode = "complete"
    buttons = ("Check answer", "")
    failed = "This example failed. Go on with the next part."

    def __init__(
        self, name: str, skill: str, templates: Sequence[Template], pack: Pack, avoid: Collection[str] = ()
    ) -> None:
        self.skill = skill
        self._found = half_worked(name, templates, pack, avoid)
        self.key = self._found.key
        self._uncovered = self._found.begun
        self._hinted = False
        self._mark: Mark | None = None
        super().__init__(self._found.item)

    @property
    def heading(self) -> str:
        """What stands above it."""
        return f"Half-worked example: {self.skill}"

    @property
    def uncovered(self) -> tuple[str, ...]:
        """The lines of the working that can be seen before the answer is checked."""
        return self.key.working[: self._uncovered]

    def _more(self) -> dict[str, Any]:
        return {
            "name": "not recorded",
            "saved": None,
            "draft": "",
            "tally": "",
            "begun": self._begun(),
            "explained": self._explained(),
        }

    def _begun(self) -> dict[str, Any]:
        left = len(self.key.working) - self._uncovered
        more = self._uncovered < self._found.quiet
        return {
            "title": "Begun for you:",
            "lines": list(self.uncovered),
            "rest": f"{counted(left, 'line is', 'lines are')} left for you. {_SAME}",
            "hint": "Show the next line" if self._found.quiet > self._found.begun else "",
            "more": more,
            # Once the answer has been checked, all lines are told below.
            "note": "" if more or self._mark is not None or not self._hinted else _YOURS,
        }

    def _ways(self) -> dict[object, Callable[[Message], Reply]]:
        return {"hint": lambda _: self._hint()}

    def _hint(self) -> Reply:
        self._hinted = True
        self._uncovered = min(self._uncovered + 1, self._found.quiet)
        return {"type": "hint", "begun": self._begun()}

    def _settle(self, response: object) -> Reply:
        self._mark = marking.mark(self.item, self.key, self._fitting(response))
        return {"type": "explained", "explained": self._explained(), "begun": self._begun(), "tally": ""}

    def _explained(self) -> dict[str, Any] | None:
        return None if self._mark is None else explanation(self._mark, self.key.working, begun=self._uncovered)

    def _bench_moved(self, move: Callable[[], None]) -> Reply:  # noqa: ARG002 - there is no bench to move
        raise ResponseError(self.item.kind, rule="A half-worked example is no scenario.", remedy="Answer it.")

    def text(self) -> str:
        """Return the example as plain text, as far as it is begun."""
        begun = self._begun()
        lines = "\n".join(f"{place}. {line}" for place, line in enumerate(self.uncovered, start=1))
        return f"{super().text()}\n\n{begun['title']}\n{lines}\n{begun['rest']}"

    def html(self) -> str:
        """Return the example as static HTML, as far as it is begun, with room to write the rest by hand."""
        return super().html().removesuffix("</section>") + paper.begun_html(self._begun()) + "</section>"
