"""What all instruments have in common."""

from __future__ import annotations

from abc import abstractmethod
from html import escape
from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit.widgets.hearing import Listener, Message, Reply, unknown

if TYPE_CHECKING:
    from collections.abc import Sequence


_UNSCORED = "For trying out: nothing here is asked, and nothing is recorded."


class Instrument(Listener):
    """Something to move and look at, as state; the browser draws it, and this says what is true.

    Attributes
    ----------
    kind : str
        Its name in a workbook.
    heading : str
        What stands above it: what one does with it.
    """

    kind = ""
    heading: str

    @property
    @abstractmethod
    def lead(self) -> tuple[str, ...]:
        """Sentences below the heading."""

    @abstractmethod
    def _more(self) -> dict[str, Any]:
        """Return what is shown besides, as plain JSON data."""

    @abstractmethod
    def _figure(self) -> figures.Picture:
        """Return the picture as it stands."""

    @abstractmethod
    def _facts(self) -> Sequence[tuple[str, str]]:
        """Return what the static form says below the picture: a few words and a text each."""

    def shown(self) -> dict[str, Any]:
        """Return everything that the screen shows, as plain JSON data."""
        with self._lock:
            return {
                "format": 1,
                "mode": "try",
                "kind": self.kind,
                "name": self.kind,
                "heading": self.heading,
                "lead": list(self.lead),
                "unscored": _UNSCORED,
                **self._more(),
            }

    def _answer(self, message: Message) -> Reply:
        raise unknown(message.get("type"))

    def text(self) -> str:
        """Return it as plain text."""
        facts = (f"- {head}: {words}" for head, words in self._facts())
        return "\n\n".join((self.heading, "\n".join(self.lead), self._figure().text, "\n".join(facts)))

    def html(self) -> str:
        """Return it as static HTML: the picture as it stands, and the facts."""
        lead = "".join(f"<p>{escape(line)}</p>" for line in self.lead)
        rows = "".join(
            f'<tr><th scope="row">{escape(head)}</th><td>{escape(words)}</td></tr>' for head, words in self._facts()
        )
        table = f"<table><tbody>{rows}</tbody></table>" if rows else ""
        return f"<section><h4>{escape(self.heading)}</h4>{lead}{self._figure().svg}{table}</section>"
