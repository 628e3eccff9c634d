"""What a workbook says in an output of its own: a few lines, or a list of words, without any control."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from html import escape
from typing import TYPE_CHECKING

from trainkit import figures
from trainkit.figures.style import themed

if TYPE_CHECKING:
    from trainkit.glossary import Term
    from trainkit.packs import Pack

__all__ = ["NotebookNote", "Unsaid", "Words", "cautions", "due_words"]


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
    """

    title: str
    lines: tuple[str, ...] = ()
    points: tuple[tuple[str, str], ...] = ()
    warning: bool = False

    def _repr_mimebundle_(self, **_: object) -> dict[str, str]:
        sign = figures.warning_sign(34) if self.warning else ""
        points = "".join(f"<li><strong>{escape(head)}.</strong> {escape(text)}</li>" for head, text in self.points)
        parts = [
            f"<style>{_STYLE}</style>",
            f'<p class="tk-note-title">{sign}<strong>{escape(self.title)}</strong></p>',
            f"<ul>{points}</ul>" if points else "",
            *(f"<p>{escape(line)}</p>" for line in self.lines),
        ]
        kind = "tk-note tk-note-warning" if self.warning else "tk-note"
        return {"text/html": f'<div class="{kind}">{"".join(parts)}</div>', "text/plain": str(self)}

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


def cautions(pack: Pack) -> NotebookNote:
    """Return the usual cautions of an engine, and who decides in real work."""
    return NotebookNote(
        "Before any work",
        (pack.notice,),
        tuple((hazard.title.rstrip("."), hazard.text) for hazard in pack.cautions),
        warning=True,
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


_STYLE = (
    themed(".tk-note")
    + """
.tk-note { box-sizing: border-box; max-width: 64rem; margin: 2px; padding: 12px 18px; background: var(--tk-paper);
  color: var(--tk-ink); border: 1px solid var(--tk-quiet); font: 17px/1.5 system-ui, sans-serif }
.tk-note-warning { border: 3px solid var(--tk-caution) }
.tk-note p { margin: 0 0 .4em; max-width: 46em }
.tk-note .tk-note-title { display: flex; gap: 12px; align-items: center; font-size: 1.1em }
.tk-note ul { margin: 0 0 .6em; padding-left: 1.4em; max-width: 46em }
.tk-note li { margin-bottom: .25em }
.tk-note summary { min-height: 44px; align-content: center; cursor: pointer; font-weight: 700 }
.tk-note summary:focus-visible { outline: 3px solid currentColor; outline-offset: 2px }
.tk-note.tk-note dt { font-weight: 700; float: none; width: auto; max-width: none }
.tk-note.tk-note dd { margin: 0 0 .6em 1.4em; float: none; width: auto; max-width: 44em }
"""
)
