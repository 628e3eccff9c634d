"""Any number of several options."""

from __future__ import annotations

import random
from collections import Counter
from typing import Annotated, Literal

from pydantic import Field

from trainkit.items.kinds import options
from trainkit.items.kinds.letters import mixed
from trainkit.items.kinds.lines import option_told
from trainkit.items.kinds.values import Apart, Kind, Known, Met, Option, Shown, Token, Value
from trainkit.items.marks import Mark, share_of, unusable
from trainkit.items.misconceptions import misconception


class SeveralItem(Shown):
    """Any number of several options is asked; the prompt says that there may be more than one."""

    kind: Literal["several"] = "several"
    options: Annotated[tuple[Option, ...], Field(min_length=2, max_length=12)]


class SeveralKey(Known):
    """All right options; for each option what choosing or leaving it wrongly shows, and which would hurt."""

    kind: Literal["several"] = "several"
    right: tuple[str, ...]
    shows: dict[str, str] = Field(default_factory=dict)
    critical: tuple[str, ...] = ()
    reasons: dict[str, str] = Field(default_factory=dict)


class SeveralResponse(Value):
    """Any number of the options offered, by their identifiers; the order says nothing."""

    kind: Literal["several"] = "several"
    options: Annotated[tuple[Token, ...], Field(max_length=12)]


def _mark(item: SeveralItem, key: SeveralKey, given: SeveralResponse) -> Mark:
    """Mark any number of options: the part of the right ones taken less the part of the others taken.

    Taking all of them or none earns nothing, and a blind guess earns nothing on average.
    """
    offered = {option.id for option in item.options}
    taken = set(given.options)
    if not taken <= offered or len(taken) != len(given.options):
        return unusable(item, "Each option can be taken once, and only those shown. Choose again.")
    right = set(key.right)
    others = offered - right
    wrongly_taken = [option.id for option in item.options if option.id in taken - right]
    left_out = [option.id for option in item.options if option.id in right - taken]
    if not wrongly_taken and not left_out:
        return share_of(item, 1.0, "All that belong are taken, and no other.")
    share = (len(taken & right) / len(right) if right else 1.0) - (len(wrongly_taken) / len(others) if others else 0.0)
    wrong = [*wrongly_taken, *left_out]
    shown = next((key.shows[option] for option in wrong if option in key.shows), None)
    sentences = [key.reasons[option] for option in wrong if option in key.reasons][:2]
    sentences.append(
        f"{len(taken & right)} of {len(right)} that belong are taken, and {len(wrongly_taken)} that do not."
    )
    if shown:
        sentences.append(misconception(shown).advice())
    harmful = [option for option in wrong if option in key.critical]
    method = options.method(
        _taken(bool(wrongly_taken), bool(left_out)), [key.shows.get(option, "") for option in (*harmful, *wrong)]
    )
    return share_of(item, share, " ".join(sentences), shown, bool(harmful), method)


def _taken(wrongly: bool, left_out: bool) -> str:
    """Say what is the matter with what was taken, without a number that would tell how many belong."""
    if wrongly and left_out:
        return "Something that was taken does not belong, and something that belongs was left out."
    return "Something that was taken does not belong." if wrongly else "Something that belongs was left out."


def _accidents(item: SeveralItem, key: SeveralKey) -> dict[str, float]:
    # A slip takes one option wrongly or leaves it out.
    met = Counter(key.shows[option.id] for option in item.options if option.id in key.shows)
    return {code: count / len(item.options) for code, count in met.items()}


def _places(item: SeveralItem, key: SeveralKey) -> dict[str, frozenset[str]]:
    found: dict[str, set[str]] = {}
    for option in item.options:
        if option.id in key.shows:
            found.setdefault(key.shows[option.id], set()).add(option.id)
    return {code: frozenset(where) for code, where in found.items()}


def _met(_: str, where: frozenset[str], key: SeveralKey, given: SeveralResponse) -> Met:
    return "right" if where & set(key.right) == where & set(given.options) else "shows"


def _relettered(item: SeveralItem, key: SeveralKey, shuffle: random.Random) -> tuple[SeveralItem, SeveralKey]:
    offered, to = mixed(item.options, shuffle)
    changed = {**options.judged_anew(key, to), "right": tuple(sorted(to[one] for one in key.right))}
    return item.model_copy(update={"options": offered}), key.model_copy(update=changed)


KIND: Kind[SeveralItem, SeveralKey, SeveralResponse] = Kind(
    "several",
    rule="Points for each thing that belongs and was taken, less those for what does not belong.",
    mark=_mark,
    named=lambda item: item.options,
    accidents=_accidents,
    relettered=_relettered,
    tells=lambda item, key, line: option_told(line, item.options, key.right),
    apart=Apart(_places, _met),
    offers=True,
)
