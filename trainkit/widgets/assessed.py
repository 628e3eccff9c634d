"""A question of the assessment: it records and tells no verdict; it can be changed until the hand-in."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from trainkit.errors import TrainkitError
from trainkit.items.kinds import ActionsResponse
from trainkit.widgets import paper
from trainkit.widgets.hearing import Reply
from trainkit.widgets.state import QuestionState
from trainkit.widgets.understanding import fit

if TYPE_CHECKING:
    from trainkit.items.kinds import Item
    from trainkit.journal import Journal, JournalLine


class Assessed(QuestionState):
    """A question of the assessment.

    Parameters
    ----------
    name : str
        Identifier of the item, ``"A1"``.
    item : Item
        What is asked.
    journal : Journal
        Where answers go; what it already holds is shown again.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> from trainkit.journal import Journal
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     journal = Journal(Path(folder) / "answers.jsonl", course="c", module="m", form="f", apprentice="amir")
    ...     question = Assessed("A1", item, journal)
    ...     reply = question.hear({"type": "save", "ticket": 1, "response": {"kind": "choice", "option": "b"}})
    ...     (reply["type"], journal.latest()["A1"].response == Assessed("A1", item, journal).entry.response)
    ('saved', True)
    """

    mode = "assess"
    failed = "This failed. Press “Start again” at the top: it shows what is saved."

    def __init__(self, name: str, item: Item, journal: Journal) -> None:
        self.name = name
        self.journal = journal
        super().__init__(item)
        self.entry: JournalLine | None = self._restored()

    def _restored(self) -> JournalLine | None:
        entry = self.journal.latest().get(self.name)
        if entry is None:
            return None
        try:
            if self.bench is None:
                fit(self.item, entry.response.model_dump(mode="json"))
            elif isinstance(entry.response, ActionsResponse):
                self.bench.resume(entry.response)
        except TrainkitError:
            # An answer that cannot be one to this question is not shown as one; the journal keeps it.
            if self.bench is not None:
                self.bench.restart()
            return None
        return entry

    @property
    def heading(self) -> str:
        """What stands above the question."""
        return f"Question {self.name}"

    @property
    def begun_only(self) -> bool:
        """Whether a recorded scenario was left before it was decided or stopped."""
        return self.entry is not None and self.bench is not None and not self.bench.over

    def _more(self) -> dict[str, Any]:
        journal = self.journal
        # With what is asked: a draft is none of another question that comes to stand under the same name.
        asked = self.item.model_dump_json()
        whose = "\n".join((journal.course, journal.module, journal.form, journal.apprentice, self.name, asked))
        return {
            "name": self.name,
            "saved": self._saved(),
            # An answer that could not be saved is kept by the browser under this name, which tells it nothing.
            "draft": hashlib.sha256(whose.encode()).hexdigest()[:24],
        }

    def _saved(self) -> dict[str, Any] | None:
        if self.entry is None:
            return None
        return {"response": self.entry.response.model_dump(mode="json"), "at": self.entry.at, "n": self.entry.n}

    def _settle(self, response: object) -> Reply:
        self.entry = self.journal.append(self.name, self._fitting(response))
        return {"type": "saved", "saved": self._saved()}

    def _bench_moved(self, move: Callable[[], None]) -> Reply:
        before = self._bench.response
        move()
        try:
            self.entry = self.journal.append(self.name, self._bench.response)
        except TrainkitError:
            # The screen must never show more than the disk holds.
            self._bench.resume(before)
            raise
        return {"type": "played", "play": self._bench.shown(), **self._played()}

    def _played(self) -> Reply:
        return {"saved": self._saved()}

    def _answer_line(self) -> str:
        if self.entry is None:
            return "Not answered."
        when = self.entry.at.replace("T", " ")[:16]
        return f"Answer, saved {when} UTC: {paper.answer_words(self.item, self.entry.response)}"
