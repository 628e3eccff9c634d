"""What a workbook says in an output of its own: a few lines, or a list of words, without any control."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from html import escape
from typing import TYPE_CHECKING

from trainkit import figures
from trainkit.figures.style import themed
from trainkit.sentences import counted

if TYPE_CHECKING:
    from pathlib import Path

    from trainkit.glossary import Term
    from trainkit.packs import Pack

__all__ = [
    "CAUTIONS_SEEN_FILE",
    "NotebookNote",
    "Unsaid",
    "Words",
    "cautions",
    "cautions_seen",
    "due_line",
    "due_soon",
    "due_words",
    "on_paper",
]

CAUTIONS_SEEN_FILE = "cautions-seen.json"
# What is read of that file: it holds a few short texts.
_SEEN_LIMIT = 4096


@dataclass(frozen=True, slots=True)
class NotebookNote:
    """A few lines for the reader, as an output of a notebook.

    Parameters
    ----------
    title : str
        A few words.
    lines : tuple of str
        Sentences, each in a line of its own.
    points : tuple of (str, str)
        A list: a few words and a text each; the text may be empty.
    warning : bool
        Whether the general warning sign stands beside the title.
    brief : bool
        Whether a page shows the sentences alone, one after the other, without the title that stands above them anyway.
    folded : str
        The one line under which the rest is folded until somebody opens it; nothing is folded where it is empty. As
        text the note says everything.
    """

    title: str
    lines: tuple[str, ...] = ()
    points: tuple[tuple[str, str], ...] = ()
    warning: bool = False
    brief: bool = False
    folded: str = ""

    def _repr_mimebundle_(self, **_: object) -> dict[str, str]:
        sign = figures.warning_sign(34) if self.warning else ""
        points = "".join(f"<li><strong>{escape(head)}.</strong> {escape(text)}</li>" for head, text in self.points)
        listed = f"<ul>{points}</ul>" if points else ""
        rest = "".join((listed, *(f"<p>{escape(line)}</p>" for line in self.lines)))
        if self.folded:
            head = f"{sign}<span><strong>{escape(self.title)}.</strong> {escape(self.folded)}</span>"
            body = f"<details><summary>{head}</summary>{rest}</details>"
        elif self.brief:
            body = f"<p>{escape(' '.join(self.lines))}</p>"
        else:
            body = f'<p class="tk-note-title">{sign}<strong>{escape(self.title)}</strong></p>{rest}'
        kind = "tk-note tk-note-warning" if self.warning else "tk-note tk-note-brief" if self.brief else "tk-note"
        return {"text/html": f'<div class="{kind}"><style>{_STYLE}</style>{body}</div>', "text/plain": str(self)}

    def __str__(self) -> str:
        points = (f"- {head}. {text}" if text else f"- {head}" for head, text in self.points)
        return "\n".join((self.title, *points, *self.lines))


@dataclass(frozen=True, slots=True)
class Unsaid:
    """An output that leaves the page empty, where another one says it for all; read as text it says what it is.

    Parameters
    ----------
    text : str
        What it says where outputs are read as text.
    """

    text: str

    def _repr_mimebundle_(self, **_: object) -> dict[str, str]:
        return {"text/html": "", "text/plain": self.text}

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True)
class Words:
    """Words of the trade and what they mean, folded away until somebody opens the list.

    Parameters
    ----------
    title : str
        A few words.
    terms : tuple of Term
        The words, in the order in which they are shown.
    """

    title: str
    terms: tuple[Term, ...]

    def _repr_mimebundle_(self, **_: object) -> dict[str, str]:
        listed = "".join(f"<dt>{escape(each.term)}</dt><dd>{escape(each.text)}</dd>" for each in self.terms)
        return {
            "text/html": f'<div class="tk-note"><style>{_STYLE}</style>'
            f"<details><summary>{escape(self.title)} ({len(self.terms)})</summary><dl>{listed}</dl></details></div>",
            "text/plain": str(self),
        }

    def __str__(self) -> str:
        return "\n".join((self.title, *(f"- {each.term}: {each.text}" for each in self.terms)))


def cautions(pack: Pack, *, seen: bool = False) -> NotebookNote:
    """Return the usual cautions of an engine, and who decides in real work; in one line for those who have seen them.

    Examples
    --------
    >>> from trainkit import packs
    >>> cautions(packs.load("dunlin"), seen=True).folded
    '18 cautions. Open to read them again.'
    """
    return NotebookNote(
        "Before any work",
        (pack.notice,),
        tuple((hazard.title.rstrip("."), hazard.text) for hazard in pack.cautions),
        warning=True,
        folded=f"{counted(len(pack.cautions), 'caution')}. Open to read them again." if seen else "",
    )


def cautions_seen(pack: Pack, folder: Path) -> bool:
    """Tell whether these very cautions were shown in a folder before, and note there that they are now.

    The note is a file of its own beside the notebook. It is no answer and is never handed in. Where it cannot be
    written or read, the cautions count as not seen.
    """
    said = json.dumps([pack.notice, *((hazard.title, hazard.text) for hazard in pack.cautions)])
    these = hashlib.sha256(said.encode()).hexdigest()[:20]
    path = folder / CAUTIONS_SEEN_FILE
    try:
        with path.open("rb") as stream:
            noted = json.loads(stream.read(_SEEN_LIMIT))["seen"]
        before = [each for each in noted if isinstance(each, str)]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        before = []
    if these in before:
        return True
    # In a folder that cannot be written to they are shown in full each time.
    with contextlib.suppress(OSError):
        # The last few engines are enough, and keep the file small.
        path.write_text(json.dumps({"format": 1, "seen": [*before[-7:], these]}) + "\n", "utf-8")
    return False


def on_paper() -> bool:
    """Tell whether outputs are for paper: their static form only, as the environment's TRAINKIT_PAPER=1 asks.

    A kept output that names a control which no longer lives shows an error in place of the static form.
    """
    return os.environ.get("TRAINKIT_PAPER") == "1"


def due_line(due: str, now: datetime | None = None) -> str:
    """Return until when something is due and how long that is, in a sentence.

    Parameters
    ----------
    due : str
        ISO date and time, as a copy says it; another text stays as it is.
    now : datetime, optional
        The time to count from, with its zone; the present time by default.

    Examples
    --------
    >>> due_line("2026-12-04T18:00:00+00:00", datetime.fromisoformat("2026-12-02T09:30:00+00:00"))
    'Due in 2 days (Friday 4 December 2026, 18:00 UTC).'
    >>> due_line("2026-12-04T18:00:00+00:00", datetime.fromisoformat("2026-12-04T19:00:00+00:00"))
    'Overdue since Friday 4 December 2026, 18:00 UTC. Hand in all the same: your instructor decides.'
    >>> due_line("end of term", datetime.fromisoformat("2026-12-02T09:30:00+00:00"))
    'Due: end of term.'
    """
    left = _left(due, now)
    if left is None:
        return f"Due: {due}."
    if left < timedelta():
        return f"Overdue since {due_words(due)}. {_LATE}"
    return f"Due in {_span(left)} ({due_words(due)})."


def due_soon(due: str, now: datetime | None = None) -> str:
    """Return the same in a few words where it is overdue or less than a day away, else nothing; parameters as above.

    Examples
    --------
    >>> due_soon("2026-12-04T18:00:00+00:00", datetime.fromisoformat("2026-12-04T15:20:00+00:00"))
    'Due in 2 hours.'
    """
    left = _left(due, now)
    if left is None or left >= timedelta(days=1):
        return ""
    return f"Overdue. {_LATE}" if left < timedelta() else f"Due in {_span(left)}."


def _left(due: str, now: datetime | None) -> timedelta | None:
    now = now or datetime.now(UTC).astimezone()
    try:
        when = datetime.fromisoformat(due)
    except ValueError:
        return None
    # Without a zone it is meant by the clock on the wall.
    return when - (now if when.tzinfo else now.replace(tzinfo=None))


def _span(left: timedelta) -> str:
    """Return how long that is, rounded down: nobody is told of more time than there is."""
    minutes = left // timedelta(minutes=1)
    if minutes >= 48 * 60:
        return counted(left.days, "day")
    return counted(minutes // 60, "hour") if minutes >= 120 else counted(minutes, "minute")


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


_LATE = "Hand in all the same: your instructor decides."

# Not from the system's language: the workbooks are in English whatever the laptop speaks.
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


_STYLE = (
    themed(".tk-note")
    + """
.tk-note { box-sizing: border-box; max-width: 64rem; margin: 2px; padding: 12px 18px; background: var(--tk-paper);
  color: var(--tk-ink); border: 1px solid var(--tk-quiet); font: 17px/1.5 system-ui, sans-serif }
.tk-note-brief { padding: 0 4px; border: 0; background: none }
.tk-note-warning { border: 3px solid var(--tk-caution) }
.tk-note p { margin: 0 0 .4em; max-width: 46em }
.tk-note .tk-note-title { display: flex; gap: 12px; align-items: center; font-size: 1.1em }
.tk-note ul { margin: 0 0 .6em; padding-left: 1.4em; max-width: 46em }
.tk-note li { margin-bottom: .25em }
.tk-note summary { min-height: 44px; align-content: center; cursor: pointer; font-weight: 700 }
.tk-note-warning summary { font-weight: 400; display: flex; gap: 10px; align-items: center; list-style: none }
.tk-note-warning summary::-webkit-details-marker { display: none }
.tk-note-warning summary::before { content: "\\25b8"; flex: none }
.tk-note-warning details[open] > summary::before { content: "\\25be" }
.tk-note-warning summary .tk-sign { flex: none }
/* Many cautions side by side where there is room: the first picture comes into sight. */
@media (min-width: 1000px) { .tk-note-warning ul { columns: 2; column-gap: 36px; max-width: none }
  .tk-note-warning li { break-inside: avoid } }
.tk-note summary:focus-visible { outline: 3px solid currentColor; outline-offset: 2px }
.tk-note.tk-note dt { font-weight: 700; float: none; width: auto; max-width: none }
.tk-note.tk-note dd { margin: 0 0 .6em 1.4em; float: none; width: auto; max-width: 44em }
"""
)
