"""Text for pages: everything that anybody wrote becomes plain text in HTML, and marks become words and shapes.

Pages show what apprentices typed, names from a roster and words from a pack. All of it goes through :func:`text`,
so that none of it can become markup, a script, or mathematics that a viewer would set.
"""

from __future__ import annotations

import html
from collections.abc import Iterable
from functools import lru_cache

from trainkit.items.marking import Mark
from trainkit.widgets.paper import said
from trainkit_grading.support.plaintext import plain

__all__ = ["SHAPES", "attribute", "lines", "paragraphs", "plain", "said", "text", "verdict"]

# A shape beside the word, for those who see no colour and for print in black.
SHAPES = {"right": "●", "in part": "◐", "not yet": "○", "no answer": "–", "waiting": "…"}

# Viewers of notebooks look for mathematics between these and would set it, links included. Each stands in an
# element of its own, so that no pair of them is ever found in one run of text.
_BREAKERS = {"$": "<span>$</span>", "\\": "<span>\\</span>"}


def text(value: object) -> str:
    """Return ``value`` as HTML that shows exactly its characters.

    Examples
    --------
    >>> text("<b>31 & $x$</b>")
    '&lt;b&gt;31 &amp; <span>$</span>x<span>$</span>&lt;/b&gt;'
    """
    return _escaped(str(value))


@lru_cache(maxsize=8192)  # the same labels and units stand beside item after item
def _escaped(value: str) -> str:
    escaped = html.escape(plain(value), quote=True)
    for character, instead in _BREAKERS.items():
        escaped = escaped.replace(character, instead)
    return escaped


def attribute(value: object) -> str:
    """Return ``value`` for use between the double quotes of an attribute."""
    return html.escape(plain(value), quote=True)


def paragraphs(value: str) -> str:
    r"""Return the paragraphs of a plain text, which are separated by an empty line, as HTML.

    Examples
    --------
    >>> paragraphs("One.\n\nTwo.")
    '<p>One.</p><p>Two.</p>'
    """
    return "".join(f"<p>{text(part.strip())}</p>" for part in value.split("\n\n") if part.strip())


def verdict(mark: Mark) -> str:
    """Return the verdict as a shape and a word."""
    shape = SHAPES.get(mark.verdict, "○")
    unsafe = " ▲ unsafe answer" if mark.critical else ""
    return f"{shape} {mark.verdict}{unsafe}"


def lines(parts: Iterable[str]) -> str:
    """Return plain lines as HTML, one below the other."""
    return "<br>".join(text(part) for part in parts)
