"""Questions as state: what is shown, and what each message from the screen leads to. No Jupyter here.

A control is a thin skin over one of these. The screen sends plain messages, each with a ticket of its own; the
answer to a message carries its ticket, and an answer that says *saved* is only made after the journal has returned.

=========  ======================================================================================
message    what it asks for
=========  ======================================================================================
``read``   say how this number is understood; nothing is recorded
``save``   record this answer (assessment), or explain it (practice); ``base`` is the number of the recorded
           answer that the person has seen, 0 for none
``draft``  keep this answer, or with none drop it, without recording it (assessment); ``base`` as above
``act``    do one action of the scenario; ``so_far`` says how many the screen has seen
``stop``   leave the scenario as it stands
``again``  start the scenario again
``ahead``  say what each action that can be done now would lead to; nothing is done (never in an assessment)
``next``   put the next question (practice, warm-up)
``show``   show the answer and the whole working (practice)
``hint``   show the next line of the working (half-worked example)
=========  ======================================================================================
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from trainkit.errors import FormError, ResponseError
from trainkit.items.kinds import ActionsItem, NumberItem
from trainkit.sentences import counted
from trainkit.widgets import paper
from trainkit.widgets.benchplay import BenchPlay
from trainkit.widgets.hearing import Listener, Message, Reply, unknown
from trainkit.widgets.kinds import LOOKS, look_of
from trainkit.widgets.kinds.look import drawn
from trainkit.widgets.understanding import fit, understood

if TYPE_CHECKING:
    from trainkit.items.kinds import Item


KINDS = tuple(name for name, look in LOOKS.items() if look.exercise is not None)
"""Kinds of items that have a control."""


class QuestionState(Listener):
    """A question on the screen, whatever becomes of its answer.

    Parameters
    ----------
    item : Item
        What is asked.
    """

    mode = ""
    buttons = ("Save answer", "")  # what settles an answer, and what leads on where something comes next

    def __init__(self, item: Item) -> None:
        super().__init__()
        self._put(item)

    def _put(self, item: Item) -> None:
        if item.kind not in KINDS:
            raise FormError(
                item.kind,
                rule=f"The questions that can be shown are of the kinds {', '.join(KINDS)}.",
                remedy="Install the release of trainkit that this module was made with.",
            )
        self.item = item
        self.bench = BenchPlay(item, explaining=self.mode == "practise") if isinstance(item, ActionsItem) else None

    @property
    @abstractmethod
    def heading(self) -> str:
        """What stands above the question."""

    def shown(self) -> dict[str, Any]:
        """Return everything that the screen shows, as plain JSON data."""
        with self._lock:
            look = look_of(self.item.kind)
            return {
                "format": 1,
                "mode": self.mode,
                "buttons": list(self.buttons),
                "kind": self.item.kind,
                "heading": self.heading,
                "points": counted(self.item.points, "point"),
                "prompt": paper.paragraphs(self.item.prompt),
                "given": [{"label": given.label, "value": given.value} for given in self.item.given],
                "figure": "" if look.draws else drawn(self.item),
                "control": look.control(self.item),
                "play": self.bench.shown() if self.bench else None,
                **self._more(),
            }

    @abstractmethod
    def _more(self) -> dict[str, Any]:
        """Return what this mode shows besides."""

    def _answer(self, message: Message) -> Reply:
        ways: dict[object, Callable[[Message], Reply]] = {
            "read": self._read,
            "save": lambda said: self._settle(said.get("response")),
            "act": self._act,
            "stop": lambda _: self._bench_moved(self._bench.stop),
            "again": lambda _: self._again(),
            "ahead": lambda _: self._ahead(),
        } | self._ways()
        kind = message.get("type")
        way = ways.get(kind) if isinstance(kind, str) else None
        if way is None:
            raise unknown(kind)
        return way(message)

    def _ways(self) -> dict[object, Callable[[Message], Reply]]:
        """Return further messages that this mode understands."""
        return {}

    @abstractmethod
    def _settle(self, response: object) -> Reply:
        """Record or explain an answer."""

    @property
    def _bench(self) -> BenchPlay:
        if self.bench is None:
            raise ResponseError(
                self.item.kind, rule="This question is no scenario.", remedy="Answer it with its own control."
            )
        return self.bench

    def _read(self, message: Message) -> Reply:
        text, unit = message.get("text"), message.get("unit")
        if not isinstance(self.item, NumberItem) or not isinstance(text, str) or not isinstance(unit, str):
            raise ResponseError(text, rule="Only a number can be read back.", remedy="Answer it with its own control.")
        found = understood(self.item, text, unit)
        return {"type": "read", "text": found.words} | ({"clash": found.clash} if found.clash else {})

    def _act(self, message: Message) -> Reply:
        action, so_far = message.get("action"), message.get("so_far")
        # The screen may repeat a press whose answer was lost: it must not count twice.
        if so_far != len(self._bench.actions):
            return {"type": "played", "play": self._bench.shown(), **self._played()}
        return self._bench_moved(lambda: self._bench.act(str(action)))

    @abstractmethod
    def _bench_moved(self, move: Callable[[], None]) -> Reply:
        """Move the bench and settle what came of it."""

    def _again(self) -> Reply:
        self._bench.restart()
        return {"type": "played", "play": self._bench.shown(), **self._played()}

    def _ahead(self) -> Reply:
        if self.mode == "assess":
            # Whoever saw what an action does before it is recorded could take it back by pulling the plug.
            raise ResponseError(
                self.mode, rule="An assessment shows an action once it is recorded.", remedy="Do one of the actions."
            )
        return {"type": "ahead", "so_far": len(self._bench.actions), "plays": self._bench.ahead()}

    def _played(self) -> Reply:
        """Return what this mode says with the bench as it stands."""
        return {}

    def _fitting(self, response: object) -> Any:
        if isinstance(self.item, ActionsItem):
            raise ResponseError(response, rule="A scenario is played, not typed.", remedy="Use its buttons.")
        return fit(self.item, response)

    def text(self) -> str:
        """Return the question as plain text."""
        return paper.item_text(self.heading, self.item, self._answer_line())

    def html(self) -> str:
        """Return the question as static HTML."""
        return paper.item_html(self.heading, self.item, self._answer_line())

    def _answer_line(self) -> str:
        return ""
