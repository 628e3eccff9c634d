"""Choices, several options, places on a picture and grids."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from trainkit.items.marking.marks import UNRECOGNISED, Mark, not_yet, share_of, unusable
from trainkit.items.misconceptions import misconception

if TYPE_CHECKING:
    from trainkit.items.item import ChoiceItem, GridItem, PointItem, SeveralItem
    from trainkit.items.key import ChoiceKey, GridKey, PointKey, SeveralKey
    from trainkit.items.responses import ChoiceResponse, GridResponse, PointResponse, SeveralResponse

__all__ = ["mark_choice", "mark_grid", "mark_point", "mark_several"]

WORKING = "Go through the working step by step."


def mark_choice(item: ChoiceItem, key: ChoiceKey, given: ChoiceResponse) -> Mark:
    """Mark one option out of several."""
    if given.option not in {option.id for option in item.options}:
        return unusable(item, "This option was not offered. Choose one of those shown.")
    return _one(item, key, given.option, given.option == key.right)


def mark_point(item: PointItem, key: PointKey, given: PointResponse) -> Mark:
    """Mark a place on a picture; every right place is as good as another."""
    if given.target not in {target.id for target in item.targets}:
        return unusable(item, "This place is not on the picture. Choose one of those marked.")
    return _one(item, key, given.target, given.target in key.right)


def _one(item: ChoiceItem | PointItem, key: ChoiceKey | PointKey, given: str, right: bool) -> Mark:
    reason = key.reasons.get(given, "")
    if right:
        return share_of(item, 1.0, reason or "That is right.")
    shown = key.shows.get(given) or None
    advice = misconception(shown).advice() if shown else WORKING
    method = misconception(shown).method(single=True) if shown else UNRECOGNISED
    return not_yet(item, f"{reason} {advice}".strip(), shown, given in key.critical, method)


def mark_several(item: SeveralItem, key: SeveralKey, given: SeveralResponse) -> Mark:
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
    method = _method(
        _taken(bool(wrongly_taken), bool(left_out)), [key.shows.get(option, "") for option in (*harmful, *wrong)]
    )
    return share_of(item, share, " ".join(sentences), shown, bool(harmful), method)


def _taken(wrongly: bool, left_out: bool) -> str:
    """Say what is the matter with what was taken, without a number that would tell how many belong."""
    if wrongly and left_out:
        return "Something that was taken does not belong, and something that belongs was left out."
    return "Something that was taken does not belong." if wrongly else "Something that belongs was left out."


def _method(opening: str, codes: Iterable[str]) -> str:
    """Return an opening and what the first recognised misconception shows."""
    shown = next((code for code in codes if code), "")
    return f"{opening} {misconception(shown).method() if shown else UNRECOGNISED}"


def mark_grid(item: GridItem, key: GridKey, given: GridResponse) -> Mark:
    """Mark a grid by its rows, rescaled so that a blind guess earns nothing on average."""
    columns = {column.id for column in item.columns}
    rows = [row.id for row in item.rows]
    if not set(given.rows) <= set(rows) or not columns.issuperset(given.rows.values()):
        return unusable(item, "Each row goes into one of the columns shown. Fill in the grid again.")
    wrong = [row for row in rows if given.rows.get(row) != key.right[row]]
    if not wrong:
        return share_of(item, 1.0, "Every row is where it belongs.")
    guessed = 1.0 / len(columns)
    share = ((len(rows) - len(wrong)) / len(rows) - guessed) / (1.0 - guessed)
    pairs = [f"{row} {given.rows[row]}" for row in wrong if row in given.rows]
    shown = next((key.shows[pair] for pair in pairs if pair in key.shows), None)
    sentences = [f"{len(rows) - len(wrong)} of {len(rows)} rows are where they belong."]
    sentences += [key.reasons[row] for row in wrong if row in key.reasons][:2]
    if shown:
        sentences.append(misconception(shown).advice())
    harmful = [pair for pair in pairs if pair in key.critical]
    method = _method(sentences[0], [key.shows.get(pair, "") for pair in (*harmful, *pairs)])
    return share_of(item, share, " ".join(sentences), shown, bool(harmful), method)
