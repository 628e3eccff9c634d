"""The one door of a notebook: what is opened, practised, asked and handed in.

An authored notebook begins with ``book = workbook.open("<module>")`` and goes on with ``book.cautions()``,
``book.practice("<skill>")``, ``book.ask("A1")`` and ``book.finish()``; nobody who learns from it needs any Python.

Who someone is comes from ``identity.json`` beside the notebook, else from the hub, else from the name under which
they are logged in on this computer, if the course knows that name. It is never typed.
"""

from __future__ import annotations

import getpass
import math
import os
import random
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainkit import glossary, modules, packs
from trainkit.errors import FormError, TrainkitError
from trainkit.forms import Form, Forms, Identity, person_digest
from trainkit.items.template import find
from trainkit.journal import JOURNAL_FILE, Journal
from trainkit.notes import Note, Words
from trainkit.widgets.finishing import Progress, progress
from trainkit.widgets.telling import authored, channel

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

    from trainkit.modules import Module
    from trainkit.packs import Pack
    from trainkit.widgets.control import Control
    from trainkit.widgets.watched import Watched

__all__ = ["Book", "Note", "Person", "open", "person"]


@dataclass(frozen=True, slots=True)
class Person:
    """Who works on a workbook: the name the course knows them by, and the name they are called."""

    apprentice: str
    name: str


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
    _show(book.summary())
    words = [{"term": each.term, "forms": list(each.forms), "text": each.text} for each in glossary.TERMS]
    channel.follow(book.shown, {**authored(book.module.notebook), "words": words})
    channel.offer()
    return book


def _show(note: Note) -> None:
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
        self.pack: Pack = packs.load(module.blueprint.pack)
        self.forms: Forms | None = None
        self.person: Person | None = None
        self.form: Form | None = None
        self._closed = _PRACTICE_ONLY
        try:
            self._admit()
        except TrainkitError as error:
            # The explanation and the practice work all the same; only the assessment says what is the matter.
            self.form = None
            self._closed = Note("The assessment is closed for now", (error.rule, error.remedy))

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

    @property
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

    def summary(self) -> Note:
        """Return who works on it, on which form, what is due and what is already answered."""
        title = self.module.blueprint.title
        found = self.progress
        if self.forms is None or self.person is None or self.form is None or found is None:
            return Note(title, (_PRACTICE_COPY,) if self._closed is _PRACTICE_ONLY else self._closed.lines)
        lines = [
            f"You are {self.person.name}.",
            f"Course {self.forms.course}, form {self.form.code}, attempt {self.forms.attempt}.",
        ]
        due, extra = self.forms.due_of(self.form.code), self.forms.extra_of(self.form.code)
        if due:
            lines.append(f"Due: {due_words(due)}.")
        if extra:
            within = " The due time has it in it." if due else ""
            lines.append(f"You have extra time: {extra:g}\u2009%, {self._minutes} minutes in all.{within}")
        return Note(title, (*lines, *found.lines))

    @property
    def _minutes(self) -> int:
        """The working time, with extra time where this copy says that somebody has it."""
        extra = self.forms.extra_of(self.form.code) if self.forms is not None and self.form is not None else 0.0
        return math.ceil(self.module.blueprint.minutes * (100 + extra) / 100)

    def shown(self) -> dict[str, Any]:
        """Return what a page shows above the workbook, as plain JSON data.

        ``answered`` and ``open`` are names of questions in the order of the form; ``closed`` says in words why an
        assessment that came with this copy cannot be asked.
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
        }

    def cautions(self) -> Note:
        """Return the usual cautions of the engine, and who decides in real work."""
        return Note(
            "Before any work",
            (self.pack.notice,),
            tuple((hazard.title.rstrip("."), hazard.text) for hazard in self.pack.cautions),
            warning=True,
        )

    def objectives(self) -> Note:
        """Return what the module is for, and how long it is meant to take."""
        return Note(
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

    def practice(self, skill: str) -> Control:
        """Return practice of one skill: questions without end, explained at once, nothing recorded.

        Raises
        ------
        ModuleError
            If the module has no such skill.
        ItemError
            If the pack has nothing to ask about.
        """
        from trainkit.widgets.control import Control, on_paper
        from trainkit.widgets.practised import Practised

        chosen = self.module.blueprint.skill(skill)
        # Practice counts for nothing, so nobody gains by guessing it. On paper it is the same every time.
        rng = random.Random(skill if on_paper() else None)  # noqa: S311 - see above
        return Control(Practised(chosen.name, [find(name) for name in chosen.templates], self.pack, rng))

    def complete(self, skill: str) -> Control:
        """Return the half-worked example of one skill: its working is begun, and the same for everybody.

        Raises
        ------
        ModuleError
            If the module has no such skill.
        ItemError
            If no working of the skill can be begun without stating the answer.
        """
        from trainkit.widgets.completed import Completed
        from trainkit.widgets.control import Control

        chosen = self.module.blueprint.skill(skill)
        return Control(Completed(chosen.id, chosen.name, [find(name) for name in chosen.templates], self.pack))

    def warm_up(self) -> Control:
        """Return the controls of this module's assessment, one after another, to be tried out; nothing is recorded."""
        from trainkit.widgets.control import Control
        from trainkit.widgets.warming import WarmUp

        return Control(WarmUp((find(item.template).kind for item in self.module.blueprint.items), self.pack))

    def instrument(self, name: str, **which: str) -> Control | Note:
        """Return something to move freely: ``gears``, ``clock``, ``wrench``, ``bolts``; or what the pack lacks for it.

        Nothing is asked or recorded. For ``which`` see :mod:`trainkit.widgets.instruments`.
        """
        from trainkit.widgets.movable import movable

        return movable(name, self.pack, which)

    def card(self) -> Control:
        """Return the summary card of the module, with the values of this engine, and a button that prints it."""
        from trainkit import cards
        from trainkit.widgets.control import Control
        from trainkit.widgets.printed import Printed

        blueprint = self.module.blueprint
        return Control(Printed(cards.card(blueprint.module, blueprint.title, self.pack)))

    def ask(self, item: str) -> Control | Note | Watched:
        """Return one question of the assessment, with what was already answered; or why it cannot be asked.

        Practical work is shown as it will be watched: nobody answers it here.
        """
        from trainkit.items.item import ObservedItem
        from trainkit.widgets.assessed import Assessed
        from trainkit.widgets.control import Control
        from trainkit.widgets.watched import Watched

        journal = self.journal
        if self.form is None or journal is None:
            return Note(f"Question {item}", self._closed.lines)
        try:
            asked = self.form.item(item)
            if isinstance(asked, ObservedItem):
                return Watched(item, asked)
            return Control(Assessed(item, asked, journal), channel.tell)
        except TrainkitError as error:
            return Note(f"Question {item}", (error.rule, error.remedy))

    def finish(self) -> Control | Note:
        """Return the hand-in: what is not answered yet, and the button that makes the hand-in file."""
        from trainkit.widgets.control import Control
        from trainkit.widgets.finishing import Finishing

        journal = self.journal
        if self.form is None or journal is None:
            return Note("Hand in", self._closed.lines)
        try:
            return Control(Finishing(self.form, journal, self.folder))
        except TrainkitError as error:
            return Note("Hand in", (error.rule, error.remedy))


_PRACTICE_COPY = "This copy is for practice; nothing in it is assessed."
_PRACTICE_ONLY = Note(
    "Assessment",
    (
        "The assessment comes from your instructor, in a copy of this workbook made for you.",
        "In this copy everything else works: read, try the examples, and practise as long as you like.",
    ),
)


def person(folder: Path, forms: Forms, environment: Mapping[str, str] | None = None) -> Person:
    """Return who works in a folder.

    Parameters
    ----------
    folder : Path
        The folder of the notebook.
    forms : Forms
        What was released there.
    environment : mapping, optional
        Instead of that of the process.

    Raises
    ------
    FormError
        If it is not known, or the identity belongs to another course.
    """
    environment = os.environ if environment is None else environment
    identity = Identity.read(folder)
    if identity is not None:
        if identity.course != forms.course:
            raise FormError(
                identity.course,
                rule=f"The identity in this folder belongs to the course {identity.course}, not {forms.course}.",
                remedy="Fetch the module again, or ask your instructor for your own copy.",
            )
        return Person(identity.apprentice, identity.name)
    # On a hub the login is the identity; a name that the course does not know is refused later, not passed over.
    user = environment.get("JUPYTERHUB_USER", "")
    if user:
        return Person(user, user)
    try:
        user = getpass.getuser()
    except (OSError, KeyError, ImportError):  # a computer that does not tell, in the ways of different systems
        user = ""
    if user and person_digest(forms.course, user) in forms.people:
        return Person(user, user)
    raise FormError(
        user,
        rule="This copy does not say whose it is, and the course does not know your login name.",
        remedy="Ask your instructor for your own copy; practice works meanwhile.",
    )


def due_words(due: str) -> str:
    """Return a due time for people; a text that is no ISO date stays as it is.

    Examples
    --------
    >>> due_words("2027-03-01T17:00:00+00:00")
    'Monday 1 March 2027, 17:00 UTC'
    >>> due_words("end of term")
    'end of term'
    """
    try:
        when = datetime.fromisoformat(due)
    except ValueError:
        return due
    day = f"{_DAYS[when.weekday()]} {when.day} {_MONTHS[when.month - 1]} {when.year}"
    zone = f" {when.tzname()}" if when.tzinfo else ""
    return f"{day}, {when:%H:%M}{zone}"


# Not from the system's language: the workbooks are in English whatever the laptop speaks.
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
