"""The warm-up: one control after another is tried out before it counts. No knowledge is asked, nothing recorded."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from html import escape
from typing import TYPE_CHECKING, Any

from trainkit.errors import DrawFault, ItemError
from trainkit.items.asking import asked
from trainkit.sentences import opening
from trainkit.widgets import paper
from trainkit.widgets.hearing import Message, Reply
from trainkit.widgets.kinds import LOOKS
from trainkit.widgets.state import KINDS, QuestionState

if TYPE_CHECKING:
    from trainkit.items.kinds import Response
    from trainkit.packs import Pack
    from trainkit.widgets.kinds.look import Exercise


_UNSCORED = "Nothing here is recorded, and nobody sees it. It only shows how the controls work."


class WarmUp(QuestionState):
    """The controls of a module, each with an exercise about the control itself.

    Parameters
    ----------
    kinds : iterable of str
        Kinds of questions in the assessment; those that nobody answers on the screen are passed over.
    pack : Pack
        The engine at the bench.
    avoid : collection of str
        What stands for the questions of the person's own assessment.

    Raises
    ------
    ItemError
        If nothing is answered on the screen.

    Examples
    --------
    >>> from trainkit import packs
    >>> warm = WarmUp(("number", "choice", "number"), packs.load("dunlin"))
    >>> warm.heading
    'Warm-up 1 of 2: a number with its unit'
    >>> typed = {"kind": "number", "text": "12,5", "unit": "N·m"}
    >>> warm.hear({"type": "save", "response": typed, "ticket": 1})["explained"]["word"]
    'That works.'
    """

    mode = "warm"

    def __init__(self, kinds: Iterable[str], pack: Pack, avoid: Collection[str] = ()) -> None:
        wanted = set(kinds)
        made = _exercises([kind for kind in KINDS if kind in wanted], pack)
        self.exercises = tuple(each for each in made if not avoid or asked(each.item) not in avoid)
        if not self.exercises:
            raise ItemError(
                ", ".join(sorted(wanted)),
                rule="A warm-up shows the controls of the assessment, and this one has none on the screen.",
                remedy="Leave the warm-up out of this workbook.",
            )
        self._place = 0
        self._worked: set[int] = set()
        self._told: dict[str, Any] | None = None
        super().__init__(self._now.item)
        self._label()

    @property
    def _now(self) -> Exercise:
        return self.exercises[self._place]

    def _label(self) -> None:
        last = self._place == len(self.exercises) - 1
        self.buttons = ("Try it", "Begin again" if last else "Next control")

    @property
    def heading(self) -> str:
        """What stands above it."""
        return f"Warm-up {self._place + 1} of {len(self.exercises)}: {self._now.title}"

    def _more(self) -> dict[str, Any]:
        now = self._now
        return {
            "name": "not scored",
            "saved": None,
            "draft": "",
            "tally": self._tally(),
            "prompt": [*([] if self._place else [_UNSCORED]), *paper.paragraphs(now.item.prompt)],
            "how": [
                {"by": "Mouse", "do": now.mouse},
                {"by": "Finger", "do": now.finger},
                {"by": "Keyboard", "do": now.keys},
            ],
            "explained": self._told,
        }

    def _tally(self) -> str:
        return f"{len(self._worked)} of {len(self.exercises)} tried out" if self._worked else ""

    def _ways(self) -> dict[object, Callable[[Message], Reply]]:
        return {"next": lambda _: self._next()}

    def _next(self) -> Reply:
        self._place = (self._place + 1) % len(self.exercises)
        self._told = None
        self._put(self._now.item)
        self._label()
        return {"type": "next", "shown": self.shown()}

    def _settle(self, response: object) -> Reply:
        self._try(self._fitting(response))
        return {"type": "explained", "explained": self._told, "tally": self._tally()}

    def _bench_moved(self, move: Callable[[], None]) -> Reply:
        move()
        if self._bench.over:
            self._try(self._bench.response)
        return {"type": "played", "play": self._bench.shown(), **self._played()}

    def _again(self) -> Reply:
        self._told = None
        return super()._again()

    def _played(self) -> Reply:
        return {"explained": self._told, "tally": self._tally()}

    def _try(self, response: Response) -> None:
        works = self._now.done(response)
        if works:
            self._worked.add(self._place)
        last = self._place == len(self.exercises) - 1
        after = "You have seen every control." if last else "Go on with “Next control”."
        again = "Press “Go back to the start” first. " if self.bench is not None else ""
        self._told = {
            "verdict": "right" if works else "not yet",
            "word": "That works." if works else "Almost.",
            "reason": after if works else f"{again}{self._now.item.prompt}",
            "critical": False,
            "note": "",
            "title": "",
            "from": 1,
            "working": [],
        }

    def text(self) -> str:
        """Return all exercises as plain text."""
        each = (f"{opening(now.title)}: {now.item.prompt}\n{_ways(now)}" for now in self.exercises)
        return "\n\n".join(("Warm-up", _UNSCORED, *each))

    def html(self) -> str:
        """Return all exercises as static HTML."""
        each = "".join(
            f"<li><strong>{escape(opening(now.title))}.</strong> {escape(now.item.prompt)}<br>{escape(_ways(now))}</li>"
            for now in self.exercises
        )
        return f"<section><p><strong>Warm-up</strong></p><p>{_UNSCORED}</p><ul>{each}</ul></section>"


def _exercises(kinds: Iterable[str], pack: Pack) -> Iterator[Exercise]:
    for kind in kinds:
        try:
            if (make := LOOKS[kind].exercise) is not None:
                yield make(pack)
        except (ItemError, DrawFault):
            continue  # an engine that cannot be put on the bench; the other controls are tried out all the same


def _ways(now: Exercise) -> str:
    return f"Mouse: {now.mouse} Finger: {now.finger} Keyboard: {now.keys}"
