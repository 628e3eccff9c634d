"""The name that somebody may have meant, and never the one that means the opposite."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable

# Words of identifiers of which the one undoes the other. Names that look alike often differ in just these.
OPPOSITES: tuple[tuple[str, str], ...] = (
    ("in", "out"),
    ("on", "off"),
    ("open", "close"),
    ("open", "shut"),
    ("open", "closed"),
    ("fit", "remove"),
    ("fits", "takes"),
    ("mount", "dismount"),
    ("refit", "remove"),
    ("install", "remove"),
    ("isolate", "restore"),
    ("isolate", "release"),
    ("lock", "unlock"),
    ("lock", "release"),
    ("loosen", "tighten"),
    ("plug", "unplug"),
    ("connect", "disconnect"),
    ("engage", "disengage"),
    ("cap", "uncap"),
    ("cover", "uncover"),
    ("screw", "unscrew"),
    ("load", "unload"),
    ("start", "stop"),
    ("fill", "drain"),
    ("raise", "lower"),
    ("lift", "lower"),
    ("up", "down"),
    ("push", "pull"),
    ("insert", "withdraw"),
    ("attach", "detach"),
    ("forward", "back"),
    ("before", "after"),
    ("left", "right"),
    ("old", "new"),
    ("first", "final"),
    ("first", "last"),
    ("front", "rear"),
    ("front", "flywheel"),
    ("upper", "lower"),
    ("top", "bottom"),
    ("inlet", "outlet"),
    ("inlet", "exhaust"),
    ("compression", "exhaust"),
    ("high", "low"),
    ("clockwise", "anticlockwise"),
    ("safe", "unsafe"),
    ("present", "none"),
    ("make", "break"),
    ("add", "drop"),
    ("adds", "drops"),
)
_CLASH = frozenset(pair for one, other in OPPOSITES for pair in ((one, other), (other, one)))
# Prefixes that turn a word into its opposite, whatever the word is.
_TURNS = ("un", "dis", "de")


def meant(name: str, known: Iterable[str], cutoff: float = 0.6) -> str:
    """Return the name that is most like another and does not mean the opposite; empty where none is.

    Examples
    --------
    >>> meant("pin-inn", ["pin-out", "pin-in"]), meant("pin-in", ["pin-out", "bar-on"])
    ('pin-in', '')
    """
    near = difflib.get_close_matches(name, list(known), n=5, cutoff=cutoff)
    return next((each for each in near if not opposite(name, each)), "")


def opposite(one: str, other: str) -> bool:
    """Tell whether two names part in words of which the one undoes the other.

    Examples
    --------
    >>> opposite("isolate-start", "restore-start"), opposite("plug-out", "plugs-out")
    (True, False)
    >>> opposite("bar_on", "bar_off"), opposite("lock", "unlock"), opposite("takes_of", "fits")
    (True, True, True)
    """
    first, second = _words(one), _words(other)
    mine, theirs = [w for w in first if w not in second], [w for w in second if w not in first]
    apart = any(word in _TURNS for word in (*mine, *theirs))  # written as a word of its own, as in "de-energise"
    return apart or any(_clash(a, b) for a in mine for b in theirs)


def _clash(one: str, other: str) -> bool:
    # A word that is itself misspelt counts as the known word it is most like.
    pairs = {(a, b) for a in (one, _known(one)) for b in (other, _known(other))}
    return bool(pairs & _CLASH) or any(
        longer == turn + shorter for turn in _TURNS for longer, shorter in ((one, other), (other, one)) if shorter
    )


_VOCABULARY = sorted({word for pair in OPPOSITES for word in pair})


def _known(word: str) -> str:
    return next(iter(difflib.get_close_matches(word, _VOCABULARY, n=1, cutoff=0.8)), word)


def _words(name: str) -> list[str]:
    return [word for word in re.split(r"[^a-z0-9]+", name.casefold()) if word]
