"""What choices, several options, places and grids have in common: each option shows something, and can harm."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol

from trainkit.items.kinds.letters import named
from trainkit.items.marks import UNRECOGNISED, Mark, not_yet, share_of
from trainkit.items.misconceptions import misconception

if TYPE_CHECKING:
    from collections.abc import Collection

    from trainkit.items.kinds.values import Option, Shown


_WORKING = "Go through the working step by step."


class Judged(Protocol):
    """What the keys of all of them hold: what an option shows, which would harm, and for an option why it is so."""

    @property
    def shows(self) -> dict[str, str]: ...  # noqa: D102 - described above

    @property
    def critical(self) -> tuple[str, ...]: ...  # noqa: D102 - described above

    @property
    def reasons(self) -> dict[str, str]: ...  # noqa: D102 - described above


def mark_one(item: Shown, key: Judged, given: str, right: bool) -> Mark:
    """Mark one option or place out of several."""
    reason = key.reasons.get(given, "")
    if right:
        return share_of(item, 1.0, reason or "That is right.")
    shown = key.shows.get(given) or None
    advice = misconception(shown).advice() if shown else _WORKING
    told = misconception(shown).method(single=True) if shown else UNRECOGNISED
    return not_yet(item, f"{reason} {advice}".strip(), shown, given in key.critical, told)


def method(opening: str, codes: Iterable[str]) -> str:
    """Return an opening and what the first recognised misconception shows."""
    shown = next((code for code in codes if code), "")
    return f"{opening} {misconception(shown).method() if shown else UNRECOGNISED}"


def met_by_chance(options: Sequence[Option], right: Collection[str], key: Judged) -> dict[str, float]:
    """Return what part of the wrong options shows each misconception."""
    wrong = [option.id for option in options if option.id not in right]
    met = Counter(key.shows[option] for option in wrong if key.shows.get(option))
    return {code: count / len(wrong) for code, count in met.items()}


def judged_anew(key: Judged, to: Mapping[str, str]) -> dict[str, Any]:
    """Return what a key says of its options under their new letters."""
    return {
        "shows": named(key.shows, to),
        "critical": tuple(sorted(to[one] for one in key.critical)),
        "reasons": named(key.reasons, to),
    }
