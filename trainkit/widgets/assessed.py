"""A question of the assessment: it records and tells no verdict; it can be changed until the hand-in."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import cached_property
from typing import TYPE_CHECKING, Any

from trainkit.errors import ResponseError, TrainkitError
from trainkit.items.kinds import ActionsResponse
from trainkit.items.reading import read_response
from trainkit.journal import Draft, Drafts, NewerAnswerError
from trainkit.widgets import paper
from trainkit.widgets.hearing import Message, Reply
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

    Notes
    -----
    The same question may be open in another window, of this kernel or of another one. So ``save`` carries ``base``,
    the number of the answer that the person has seen. Where the journal holds another one, nothing is recorded, and
    the reply is of the type ``elsewhere`` with what is recorded; at the bench what is recorded is taken over and shown.

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
        self._drafts = Drafts(journal.path.parent)
        super().__init__(item)
        self._seen = 0  # the number of the answer that was taken over last, whether it can be shown or not
        self.entry: JournalLine | None = self._restored()

    def _restored(self) -> JournalLine | None:
        entry = self.journal.latest().get(self.name)
        if entry is None:
            return None
        self._seen = entry.n
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

    def look(self) -> bool:
        """Take over what was recorded elsewhere since; tell whether there was anything."""
        with self._lock:
            found = self.journal.latest().get(self.name)
            if found is None or found.n == self._seen:
                return False
            self.entry = self._restored()
            return True

    def elsewhere(self) -> Reply:
        """Return what a screen is told whose question was answered in another window."""
        play = {"play": self.bench.shown()} if self.bench is not None else {}
        return {"type": "elsewhere", "saved": self._saved(), **play}

    @cached_property
    def _draft_name(self) -> str:
        journal = self.journal
        # With what is asked: a draft is none of another question that comes to stand under the same name.
        asked = self.item.model_dump_json()
        whose = "\n".join((journal.course, journal.module, journal.form, journal.apprentice, self.name, asked))
        return hashlib.sha256(whose.encode()).hexdigest()[:24]

    def _more(self) -> dict[str, Any]:
        return {
            "name": self.name,
            "saved": self._saved(),
            # An answer that is not saved yet is kept under this name, which tells nothing.
            "draft": self._draft_name,
            "kept": self._kept(),
        }

    def _kept(self) -> dict[str, Any] | None:
        """Return the draft that lies in the folder, where it can be one of an answer to this question."""
        found = None if self.bench is not None else self._drafts.of(self._draft_name)
        return found.model_dump(mode="json") if found is not None and found.response.kind == self.item.kind else None

    def _saved(self) -> dict[str, Any] | None:
        if self.entry is None:
            return None
        return {"response": self.entry.response.model_dump(mode="json"), "at": self.entry.at, "n": self.entry.n}

    def _ways(self) -> dict[object, Callable[[Message], Reply]]:
        return {"save": self._save, "draft": self._keep}

    def _save(self, message: Message) -> Reply:
        base = message.get("base")
        response = self._fitting(message.get("response"))
        try:
            self.entry = self.journal.append(self.name, response, seen=base if isinstance(base, int) else None)
        except NewerAnswerError:
            self.look()
            # A letter that was sent twice, as its answer was lost, has been recorded.
            if self.entry is None or self.entry.response != response:
                return self.elsewhere()
        self._seen = self.entry.n
        self._drafts.keep(self._draft_name, None)
        return {"type": "saved", "saved": self._saved()}

    def _settle(self, response: object) -> Reply:
        return self._save({"response": response})

    def _keep(self, message: Message) -> Reply:
        """Keep what is not saved yet, for the next time that this folder is opened."""
        response, base = message.get("response"), message.get("base")
        draft = None
        if response is not None:
            # What is typed so far need not be an answer yet, such as a number with a letter too many.
            typed = read_response(response)
            if typed.kind != self.item.kind or not isinstance(base, int):
                raise ResponseError(
                    typed.kind, rule="A draft is one of this very question.", remedy="Answer it with its own control."
                )
            draft = Draft(response=typed, base=max(0, base))
        return {"type": "kept", "kept": self._drafts.keep(self._draft_name, draft)}

    def _act(self, message: Message) -> Reply:
        return self._taken_over() or super()._act(message)

    def _taken_over(self) -> Reply | None:
        """Return what to show where this scenario went on in another window; None where it did not."""
        if not self.look():
            return None
        return {"type": "played", "play": self._bench.shown(), "elsewhere": True, **self._played()}

    def _bench_moved(self, move: Callable[[], None]) -> Reply:
        before = self._bench.response
        move()
        try:
            self.entry = self.journal.append(self.name, self._bench.response, seen=self._seen)
        except TrainkitError as error:
            # The screen must never show more than the disk holds.
            self._bench.resume(before)
            if isinstance(error, NewerAnswerError) and (newer := self._taken_over()) is not None:
                return newer
            raise
        self._seen = self.entry.n
        return {"type": "played", "play": self._bench.shown(), **self._played()}

    def _played(self) -> Reply:
        return {"saved": self._saved()}

    def _answer_line(self) -> str:
        if self.entry is None:
            return "Not answered."
        when = self.entry.at.replace("T", " ")[:16]
        return f"Answer, saved {when} UTC: {paper.answer_words(self.item, self.entry.response)}"
