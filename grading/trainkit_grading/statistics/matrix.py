"""Points as a matrix: one row a person, one column an item."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import TYPE_CHECKING, Any

from trainkit_grading.errors import StatisticsError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray


def matrix(scores: ArrayLike) -> NDArray[np.float64]:
    """Return points as an array of people by items; an answer without a mark (None) is not a number there.

    Raises
    ------
    StatisticsError
        If rows differ in length, or something in them is no finite number.

    Examples
    --------
    >>> matrix([[1, 0], [0.5, None]]).shape
    (2, 2)
    """
    found = _numbers(scores)
    if found.ndim != 2:
        raise StatisticsError(
            f"{found.ndim} dimensions", rule="Points come one row a person.", remedy="Give a list of lists."
        )
    return found


def column(scores: ArrayLike) -> NDArray[np.float64]:
    """Return one number a case as an array.

    Raises
    ------
    StatisticsError
        If something in it is no finite number or None, or it is no plain list.

    Examples
    --------
    >>> column([1, 0, 1]).shape
    (3,)
    """
    found = _numbers(scores)
    if found.ndim != 1:
        raise StatisticsError(
            f"{found.ndim} dimensions", rule="There is one number a case.", remedy="Give a list of numbers."
        )
    return found


def _numbers(scores: ArrayLike) -> NDArray[np.float64]:
    import numpy as np

    try:
        found = np.asarray(scores, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise StatisticsError(
            _shown(scores),
            rule="Points are numbers, or None without a mark, and every row has as many.",
            remedy="Take out what is no number; put None for an answer without a mark.",
        ) from error
    if np.isinf(found).any():
        raise StatisticsError("inf", rule="Points are finite.", remedy="Look for a division by zero before this.")
    return found


def _shown(scores: Any) -> str:
    return repr(scores)[:100]


def most_of(most: ArrayLike, items: int) -> NDArray[np.float64]:
    """Return the most points of each item.

    Raises
    ------
    StatisticsError
        If there are not as many as items, or one is not above zero.

    Examples
    --------
    >>> most_of(2, 3).tolist()
    [2.0, 2.0, 2.0]
    """
    import numpy as np

    found = _numbers(most)
    if found.ndim > 1 or (found.ndim == 1 and len(found) != items) or not (found > 0).all():
        raise StatisticsError(
            _shown(most), rule=f"Each of {items} items has its most points, above zero.", remedy="Give one for each."
        )
    return np.broadcast_to(found, (items,))


def names_of(names: Sequence[str] | None, items: int) -> tuple[str, ...]:
    """Return the names of items, their numbers where none are given.

    Raises
    ------
    StatisticsError
        If there are not as many as items.

    Examples
    --------
    >>> names_of(None, 2), names_of(["A1"], 1)
    (('item 1', 'item 2'), ('A1',))
    """
    if names is None:
        return tuple(f"item {number}" for number in range(1, items + 1))
    if len(names) != items:
        raise StatisticsError(
            len(names), rule=f"There are {items} items, each with its name.", remedy="Give one name for each column."
        )
    return tuple(names)


def same_form(forms: Sequence[Hashable] | None, people: int) -> int:
    """Return how many different forms people sat; 1 where nothing is said.

    Raises
    ------
    StatisticsError
        If there are not as many as people.

    Examples
    --------
    >>> same_form(["a", "b", "a"], 3), same_form(None, 3)
    (2, 1)
    """
    if forms is None:
        return 1
    if len(forms) != people:
        raise StatisticsError(
            len(forms), rule=f"There are {people} people, each with a form.", remedy="Give one form for each row."
        )
    return len(set(forms))
