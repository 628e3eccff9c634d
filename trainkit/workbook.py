"""The one door of a notebook: what is opened, practised, asked and handed in.

An authored notebook begins with ``book = workbook.open("<module>")`` and goes on with ``book.cautions()``,
``book.practice("<skill>")``, ``book.ask("A1")`` and ``book.finish()``; nobody who learns from it needs any Python.

Explanation and practice are about the engine of ``pack.toml`` beside the notebook, where there is one, else about the
module's own. The assessment is what was released with the copy, whatever that file says.
"""

from __future__ import annotations

import dataclasses
import math
import random
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from trainkit import glossary, modules, packs
from trainkit.errors import FormError, ItemError, PackError, TrainkitError
from trainkit.forms import Form, Forms
from trainkit.items.template import find
from trainkit.journal import JOURNAL_FILE, Journal
from trainkit.notes import NotebookNote, Unsaid, Words, cautions, cautions_seen, due_line, due_soon, on_paper
from trainkit.persons import Person, person
from trainkit.widgets.finishing import Progress, progress
from trainkit.widgets.kernel_messages import authored, channel

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

    from trainkit.modules import Module
    from trainkit.packs import Pack
    from trainkit.plots import Plot
    from trainkit.widgets.control import Control
    from trainkit.widgets.watched import Watched

__all__ = ["Book", "Note", "NotebookNote", "open"]

T = TypeVar("T")

# What cells of workbooks call it, also those of courses that have begun.
Note = NotebookNote


def open(name: str, folder: Path | None = None) -> Book:  # noqa: A001 - the word for what one does with a book
    """Open the workbook of a module and say who works on it, on which form, and how far they are.

    Parameters
    ----------
    name : str
        The module.
    folder : Path, optional
        The folder of the notebook; the working folder by default, which is that of the notebook.

    Raises
    ------
    ModuleError
        If there is no such module.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as empty:
    ...     book = open("lock-pin", Path(empty))
    Lock pin
    This copy is for practice; nothing in it is assessed.
    """
    book = Book(modules.load(name), Path() if folder is None else folder)
    _show(book.greeting())
    words = [{"term": each.term, "forms": list(each.forms), "text": each.text} for each in glossary.TERMS]
    channel.follow(book.shown, {**authored(book.module.notebook), "words": words})
    channel.offer()
    return book


def _show(note: NotebookNote) -> None:
    from IPython import get_ipython
    from IPython.display import display

    if get_ipython() is None:
        print(note)  # noqa: T201 - outside a notebook, as in a test or a script, words are all there is
    else:
        display(note)  # type: ignore[no-untyped-call] # IPython does not state its types


class Book:
    """An open workbook.

    Parameters
    ----------
    module : Module
        The module.
    folder : Path
        The folder of the notebook.

    Attributes
    ----------
    module : Module
        The module.
    pack : Pack
        The engine that explanation and practice are about.
    forms : Forms or None
        What was released with this copy.
    person : Person or None
        Who works on it, as far as is known.
    form : Form or None
        Their form, where there is one.
    """

    def __init__(self, module: Module, folder: Path) -> None:
        self.module = module
        self.folder = folder
        own = packs.load(module.blueprint.pack)
        self._about: tuple[str, ...] = ()
        try:
            self.pack: Pack = packs.beside(folder) or own
            if self.pack is not own:
                self._about = (f"Explanation and practice are about {self.pack.title}.",)
        except PackError as error:
            # Nothing of the assessment hangs on this file.
            self.pack = own
            self._about = (
                f"The file {packs.PACK_FILE} beside this workbook cannot be used. Tell your instructor.",
                f"What is wrong: {error.place or packs.PACK_FILE}: {error.rule}",
                f"Explanation and practice are about {own.title} instead.",
            )
        self._own = self.pack is own
        self._seen: bool | None = None  # whether the cautions were shown in this folder before it was opened
        self.forms: Forms | None = None
        self.person: Person | None = None
        self.form: Form | None = None
        self._closed = _PRACTICE_ONLY
        try:
            self._admit()
        except TrainkitError as error:
            # The explanation and the practice work all the same; only the assessment says what is the matter.
            self.form = None
            self._closed = NotebookNote("The assessment is closed for now", (error.rule, error.remedy))

    def _admit(self) -> None:
        forms = Forms.read(self.folder)
        if forms is None:
            return
        if forms.module != self.module.blueprint.module:
            raise FormError(
                forms.module,
                rule=f"The forms in this folder belong to the module {forms.module}.",
                remedy="Fetch this module again.",
            )
        self.forms = forms
        self.person = person(self.folder, forms)
        self.form = forms.of(self.person.apprentice)

    @cached_property
    def journal(self) -> Journal | None:
        """Where answers go; None where nothing is assessed."""
        if self.forms is None or self.person is None or self.form is None:
            return None
        return Journal(
            self.folder / JOURNAL_FILE,
            course=self.forms.course,
            module=self.forms.module,
            form=self.form.code,
            apprentice=self.person.apprentice,
        )

    @property
    def progress(self) -> Progress | None:
        """How far the form is answered; None where nothing is assessed."""
        journal = self.journal
        return None if self.form is None or journal is None else progress(self.form, journal)

    def summary(self) -> NotebookNote:
        """Return who works on it, on which form, what is due and what is already answered."""
        return self._said_of(lambda found: found.lines)

    def greeting(self) -> NotebookNote:
        """Return the same for a page that stays as it is while questions are answered: it lists none of them."""
        return dataclasses.replace(self._said_of(lambda found: found.opening_lines), brief=True)

    def _said_of(self, how_far: Callable[[Progress], tuple[str, ...]]) -> NotebookNote:
        title = self.module.blueprint.title
        found = self.progress
        if self.forms is None or self.person is None or self.form is None or found is None:
            lines = (_PRACTICE_COPY,) if self._closed is _PRACTICE_ONLY else self._closed.lines
            return NotebookNote(title, (*lines, *self._about))
        told = [
            f"You are {self.person.name}.",
            f"Course {self.forms.course}, form {self.form.code}, attempt {self.forms.attempt}.",
        ]
        due, extra = self._due, self.forms.extra_of(self.form.code)
        if due:
            told.append(due_line(due))
        if extra:
            within = " The due time has it in it." if due else ""
            told.append(f"You have extra time: {extra:g}\u2009%, {self._minutes} minutes in all.{within}")
        return NotebookNote(title, (*told, *how_far(found), *self._about))

    @property
    def _minutes(self) -> int:
        """The working time, with extra time where this copy says that somebody has it."""
        extra = self.forms.extra_of(self.form.code) if self.forms is not None and self.form is not None else 0.0
        return math.ceil(self.module.blueprint.minutes * (100 + extra) / 100)

    def shown(self) -> dict[str, Any]:
        """Return what a page shows above the workbook, as plain JSON data.

        ``answered`` and ``open`` are names of questions in the order of the form; ``closed`` says in words why an
        assessment that came with this copy cannot be asked, ``due`` that it is due within a day or overdue.
        """
        try:
            found = self.progress
            closed = "" if found or self._closed is _PRACTICE_ONLY else " ".join(self._closed.lines)
        except TrainkitError as error:
            found, closed = None, f"{error.rule} {error.remedy}"
        still = {*found.missing, *found.begun} if found else set()
        return {
            "format": 1,
            "module": self.module.blueprint.module,
            "title": self.module.blueprint.title,
            "person": self.person.name if self.person else None,
            "form": self.form.code if self.form else None,
            "answered": list(found.answered) if found else [],
            "open": [entry.id for entry in self.form.items if entry.id in still] if self.form else [],
            "closed": closed,
            "due": due_soon(self._due),
        }

    @property
    def _due(self) -> str:
        return "" if self.forms is None or self.form is None else self.forms.due_of(self.form.code)

    def cautions(self) -> NotebookNote:
        """Return the usual cautions of the engine, and who decides in real work.

        They are in full the first time that they are shown in a folder, and on paper; after that one line opens them.
        """
        if self._seen is None:
            # The module's own folder is read by everybody: nothing about one reader is kept there.
            kept = not on_paper() and self.folder.resolve() != self.module.notebook.parent.resolve()
            self._seen = kept and cautions_seen(self.pack, self.folder)
        return cautions(self.pack, seen=self._seen)

    def objectives(self) -> NotebookNote:
        """Return what the module is for, and how long it is meant to take."""
        return NotebookNote(
            "After this module you can",
            (f"It is meant to take about {self._minutes} minutes.",),
            tuple((objective.rstrip("."), "") for objective in self.module.blueprint.objectives),
        )

    def words(self) -> Words:
        """Return the words of the trade that this workbook uses, with what they mean."""
        blueprint = self.module.blueprint
        text = "\n".join(
            (*authored(self.module.notebook)["text"], *blueprint.objectives, *(s.name for s in blueprint.skills))
        )
        return Words("Words of this workbook", glossary.find(text))

    def practice(self, skill: str) -> Control | NotebookNote:
        """Return practice of one skill: questions without end, explained at once, nothing recorded.

        Where the engine of ``pack.toml`` has nothing to ask about, that is said instead.

        Raises
        ------
        ModuleError
            If the module has no such skill.
        ItemError
            If the module's own pack has nothing to ask about.
        """
        from trainkit.widgets.control import Control
        from trainkit.widgets.practised import Practised

        chosen = self.module.blueprint.skill(skill)
        # Practice counts for nothing, so nobody gains by guessing it. On paper it is the same every time.
        rng = random.Random(skill if on_paper() else None)  # noqa: S311 - see above
        templates = [find(name) for name in chosen.templates]
        return self._drawn(
            f"Practice: {chosen.name}",
            lambda: Control(Practised(chosen.name, templates, self.pack, rng, self._assessed)),
        )

    def complete(self, skill: str) -> Control | NotebookNote:
        """Return the half-worked example of one skill: its working is begun, and the same for everybody.

        Where the engine of ``pack.toml`` has none, that is said instead.

        Raises
        ------
        ModuleError
            If the module has no such skill.
        ItemError
            If the module's own pack has no working of the skill that can be begun without stating the answer.
        """
        from trainkit.widgets.completed import Completed
        from trainkit.widgets.control import Control

        chosen = self.module.blueprint.skill(skill)
        templates = [find(name) for name in chosen.templates]
        return self._drawn(
            f"Half-worked example: {chosen.name}",
            lambda: Control(Completed(chosen.id, chosen.name, templates, self.pack, self._assessed)),
        )

    def _drawn(self, title: str, draw: Callable[[], T]) -> T | NotebookNote:
        """Return what is drawn, or why there is nothing: whatever goes wrong, an apprentice reads words."""
        try:
            return draw()
        except ItemError:
            # Whoever writes a module is told at once; with somebody else's engine the rest of the workbook goes on.
            if self._own:
                raise
            return NotebookNote(
                title, (f"{self.pack.engine.name} has nothing to ask here.", "Go on with the next part.")
            )
        except Exception as error:  # noqa: BLE001 - whatever it is, the rest of the workbook goes on
            told = str(error) if isinstance(error, TrainkitError) else f"{type(error).__name__}: {error}"
            return NotebookNote(title, (_NOT_HERE, "Go on with the next part.", f"Tell your instructor: {told}"))

    def warm_up(self) -> Control | NotebookNote:
        """Return the controls of this module's assessment, one after another, to be tried out; nothing is recorded."""
        from trainkit.widgets.control import Control
        from trainkit.widgets.warming import WarmUp

        kinds = [find(item.template).kind for item in self.module.blueprint.items]
        return self._drawn("Warm-up", lambda: Control(WarmUp(kinds, self.pack, self._assessed)))

    @property
    def _assessed(self) -> frozenset[str]:
        """The questions of this person's own form, in short; nothing that is practised is one of them."""
        from trainkit.items.asking import asked

        return frozenset(asked(entry.item) for entry in self.form.items) if self.form is not None else frozenset()

    def instrument(self, name: str, **which: str) -> Control | NotebookNote:
        """Return something to move freely, or what the pack lacks for it.

        The names are ``gears``, ``clock``, ``wrench``, ``bolts``, ``strokes`` and ``pin``. Nothing is asked or recorded.
        For ``which`` see :mod:`trainkit.widgets.instruments`.
        """
        from trainkit.widgets.movable import movable

        return self._drawn("Nothing to move here", lambda: movable(name, self.pack, which))

    def plot(self, name: str) -> Plot | NotebookNote:
        """Return a curve that teaches, for this engine: ``preload``, ``moment`` or ``marks``.

        Raises
        ------
        ItemError
            If there is no such plot.
        """
        from trainkit import plots

        return self._drawn(f"Curve: {name}", lambda: plots.plot(name, self.pack))

    def card(self) -> Control | NotebookNote:
        """Return the summary card of the module, with the values of this engine, and a button that prints it."""
        from trainkit import cards
        from trainkit.widgets.control import Control
        from trainkit.widgets.printed import Printed

        blueprint = self.module.blueprint
        return self._drawn(
            f"{blueprint.title}: card",
            lambda: Control(Printed(cards.card(blueprint.module, blueprint.title, self.pack))),
        )

    def ask(self, item: str) -> Control | NotebookNote | Unsaid | Watched:
        """Return one question of the assessment, with what was already answered; or why it cannot be asked.

        Practical work is shown as it will be watched: nobody answers it here. Why nothing can be asked at all stands
        in the place of the first question, once for all of them.
        """
        from trainkit.items.kinds import ObservedItem
        from trainkit.widgets.assessed import Assessed
        from trainkit.widgets.control import Control
        from trainkit.widgets.watched import Watched

        journal = self.journal
        if self.form is None or journal is None:
            first, last = (self.module.blueprint.items[place].id for place in (0, -1))
            if item != first:
                return Unsaid(f"Question {item}: see question {first}.")
            return NotebookNote(f"Questions {first} to {last}", self._closed.lines)
        try:
            asked = self.form.item(item)
            if isinstance(asked, ObservedItem):
                return Watched(item, asked)
            return channel.watch(Control(Assessed(item, asked, journal), channel.tell))
        except TrainkitError as error:
            return NotebookNote(f"Question {item}", (error.rule, error.remedy))

    def finish(self) -> Control | NotebookNote:
        """Return the hand-in: what is not answered yet, and the button that makes the hand-in file."""
        from trainkit.widgets.control import Control
        from trainkit.widgets.finishing import Finishing

        journal = self.journal
        if self.form is None or journal is None:
            return NotebookNote("Hand in", (_NOTHING,) if self._closed is _PRACTICE_ONLY else self._closed.lines)
        try:
            return Control(Finishing(self.form, journal, self.folder, self._due))
        except TrainkitError as error:
            return NotebookNote("Hand in", (error.rule, error.remedy))


_NOT_HERE = "This part is not available for this engine."
_NOTHING = "From a copy for practice there is nothing to hand in."
_PRACTICE_COPY = "This copy is for practice; nothing in it is assessed."
_PRACTICE_ONLY = NotebookNote(
    "Assessment",
    (
        "The assessment comes from your instructor, in a copy of this workbook made for you.",
        "In this copy everything else works: read, try the examples, and practise as long as you like.",
    ),
)
