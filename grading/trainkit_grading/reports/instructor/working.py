"""How templates work: how hard they are, whether those who do well elsewhere do well in them, options nobody takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trainkit.items.kinds import KINDS
from trainkit.sentences import noun
from trainkit_grading.statistics import Figure, OptionChosen, Taken, options, pooled_point_biserials, share

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from trainkit_grading.results.marksheet import Marksheet


_HARD, _EASY = 0.25, 0.95
_FLAT = 0.1  # a correlation whose whole interval lies below this says that the template tells nobody apart


@dataclass(frozen=True, slots=True)
class Working:
    """How one template works, over all its draws.

    Parameters
    ----------
    template, kind : str
        Its name, and the kind of its answers.
    asked : tuple of str
        Where it is asked, ``"lock-pin A3"``.
    difficulty : Figure
        The part of its points that was earned: 0 nobody anything, 1 everybody everything.
    point_biserial : Figure
        Corrected and pooled over draws: whether those who do well in the rest do well in it.
    idle : tuple of Option
        Wrong options that nobody takes though enough could have.
    worries : tuple of str
        What is wrong with it, in words; empty for one that works.
    """

    template: str
    kind: str
    asked: tuple[str, ...]
    difficulty: Figure
    point_biserial: Figure
    idle: tuple[OptionChosen, ...]
    worries: tuple[str, ...]


def working(sheets: Sequence[Marksheet]) -> tuple[Working, ...]:
    """Return how each template works, those with worries first, the hardest first among them.

    Parameters
    ----------
    sheets : sequence of Marksheet
        The marks of the modules.
    """
    import numpy as np

    names: dict[str, int] = {}
    kinds: dict[str, str] = {}
    asked: dict[str, list[str]] = {}
    parts: list[dict[str, NDArray[Any]]] = []
    people: dict[str, int] = {}
    taken: dict[Taken, int] = {}
    for number, sheet in enumerate(sheets):
        for column in sheet.columns:
            names.setdefault(column.template, len(names))
            kinds.setdefault(column.template, column.kind)
            asked.setdefault(column.template, []).append(f"{sheet.module} {column.item}")
        if sheet.columns and sheet.people:
            parts.append(_flat(sheet, number, names, people))
            _count(sheet, taken)
    if not parts:
        return ()
    joined: dict[str, Any] = {key: np.concatenate([part[key] for part in parts]) for key in parts[0]}
    correlated = pooled_point_biserials(
        joined["template"], joined["share"], joined["rest"], joined["total"], people=joined["person"]
    )
    idle: dict[str, list[OptionChosen]] = {}
    for option in options(taken):
        if option.nobody and KINDS[kinds[option.template]].offers:
            idle.setdefault(option.template, []).append(option)
    found = []
    for name, code in names.items():
        mine = joined["share"][joined["template"] == code]
        mine = mine[~np.isnan(mine)]
        hard = share(
            float(min(mine.sum(), len(mine))),
            len(mine),
            name="difficulty",
            what="The part of its points that was earned.",
            of="answers",
        )
        if code not in correlated:
            continue
        with_rest = correlated[code]
        options_of = tuple(idle.get(name, ()))
        worries = _worries(hard, with_rest, options_of)
        found.append(Working(name, kinds[name], tuple(asked[name]), hard, with_rest, options_of, worries))
    return tuple(
        sorted(found, key=lambda each: (not each.worries, each.difficulty.value if each.difficulty.shown else 1))
    )


def _flat(sheet: Marksheet, number: int, names: dict[str, int], people: dict[str, int]) -> dict[str, NDArray[Any]]:
    """Return all marks of a module one after another, each with its template, its rest and its person."""
    import numpy as np

    n, k = sheet.points.shape
    most = np.array([column.out_of for column in sheet.columns])
    there = ~np.isnan(sheet.points)
    earned = np.where(there, sheet.points, 0.0)
    possible = np.where(there, most, 0.0)
    rest_most = possible.sum(axis=1, keepdims=True) - possible
    with np.errstate(divide="ignore", invalid="ignore"):
        rest = (earned.sum(axis=1, keepdims=True) - earned) / rest_most
    rest[rest_most <= 0] = np.nan
    # Somebody who was forgotten is a person of their own in each module: nobody can say which rows belong together.
    person = [
        people.setdefault(name or f"\0{sheet.module} {row}", len(people)) for row, name in enumerate(sheet.people)
    ]
    template = np.array([names[column.template] for column in sheet.columns])
    return {
        "template": np.tile(template, n),
        "share": np.clip(sheet.share, 0.0, 1.0).ravel(),
        "rest": rest.ravel(),
        "total": np.full(n * k, number),
        "person": np.repeat(np.array(person), k),
    }


def _count(sheet: Marksheet, taken: dict[Taken, int]) -> None:
    """Count how often each wrong option stood there, and how often it was taken."""
    for code in sheet.possible:
        could, met = sheet.could_show(code), sheet.showed(code)
        for place, column in enumerate(sheet.columns):
            offered = int(could[:, place].sum())
            if offered:
                did = int(met[:, place].sum())
                for of, count in (
                    (Taken(column.template, (code,), (code,)), did),
                    (Taken(column.template, (code,), ()), offered - did),
                ):
                    taken[of] = taken.get(of, 0) + count


def _worries(hard: Figure, with_rest: Figure, idle: Sequence[OptionChosen]) -> tuple[str, ...]:
    found = []
    if hard.shown and hard.interval.high < 0.5 and hard.value < _HARD:
        found.append("Very hard: look whether the question says what is meant, and whether it was taught.")
    if hard.shown and hard.interval.low > 0.85 and hard.value > _EASY:
        found.append("Nearly everybody earns all points: it tells nobody apart.")
    if with_rest.shown and with_rest.interval.high < _FLAT:
        found.append("Those who do well elsewhere do no better in it: look at its key first, then at its wording.")
    if idle:
        some = noun(len(idle), "option")
        found.append(f"Nobody takes {len(idle)} wrong {some}: {', '.join(option.label for option in idle)}.")
    return tuple(found)
