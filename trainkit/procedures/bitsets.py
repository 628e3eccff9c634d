"""Sets of steps as the bits of whole numbers: closure, largest matching, largest antichain.

Bit ``i`` of a mask stands for step ``i``. Python's whole numbers of any length make one operation on a set of
2,000 steps cost less than a microsecond, which is why no graph library is needed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence


def ones(mask: int) -> Iterator[int]:
    """Yield the numbers of the bits that are set, lowest first.

    Examples
    --------
    >>> list(ones(0b10110))
    [1, 2, 4]
    """
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


def closure(followers: Sequence[int]) -> tuple[list[int], list[int]]:
    """Close a relation transitively and reduce it to its covers.

    Parameters
    ----------
    followers : sequence of int
        For step ``i`` the mask of steps that are said to come after it, all of them numbered higher than ``i``.

    Returns
    -------
    after : list of int
        For each step, all that come after it.
    covers : list of int
        For each step, those that come after it with no other in between.

    Examples
    --------
    >>> closure([0b110, 0b100, 0])
    ([6, 4, 0], [2, 4, 0])
    """
    after = [0] * len(followers)
    covers = [0] * len(followers)
    for step in reversed(range(len(followers))):
        left = followers[step]
        reached = direct = 0
        while left:
            # The lowest follower left is reached through no other: whatever is between is numbered lower.
            low = left & -left
            direct |= low
            reached |= low | after[low.bit_length() - 1]
            left &= ~reached
        after[step] = reached
        covers[step] = direct
    return after, covers


def turned(rows: Sequence[int]) -> list[int]:
    """Turn a relation round: bit ``j`` of row ``i`` becomes bit ``i`` of row ``j``.

    Examples
    --------
    >>> turned([0b110, 0b100, 0])
    [0, 1, 3]
    """
    columns = [0] * len(rows)
    for number, row in enumerate(rows):
        bit = 1 << number
        for other in ones(row):
            columns[other] |= bit
    return columns


def matching(rows: Sequence[int]) -> tuple[list[int], list[int]]:
    """Match as many rows as possible, each to a column of its own that is set in it.

    The method is that of Hopcroft and Karp (1973), SIAM J. Comput. 2, 225-231: all shortest augmenting paths at
    once, in at most about the square root of the number of rows rounds.

    Parameters
    ----------
    rows : sequence of int
        For each row the mask of its columns, numbered below ``len(rows)``.

    Returns
    -------
    of_row, of_column : list of int
        The partner of each row and of each column; -1 where there is none.

    Examples
    --------
    >>> matching([0b011, 0b001, 0b000])
    ([1, 0, -1], [1, 0, -1])
    """
    size = len(rows)
    of_row = [-1] * size
    of_column = [-1] * size
    free = (1 << size) - 1
    for row in range(size):
        choice = rows[row] & free
        if choice:
            low = choice & -choice
            free ^= low
            of_row[row] = low.bit_length() - 1
            of_column[of_row[row]] = row
    while True:
        layers = _layers(rows, of_row, of_column, free)
        if not layers:
            return of_row, of_column
        for row in range(size):
            if of_row[row] < 0:
                free ^= _augment(row, rows, layers, of_row, of_column)


def _layers(rows: Sequence[int], of_row: list[int], of_column: list[int], free: int) -> list[int]:
    """Return the columns by distance from the rows without a partner, up to the nearest free ones."""
    unseen = (1 << len(rows)) - 1
    front = [row for row, partner in enumerate(of_row) if partner < 0]
    layers: list[int] = []
    while front:
        layer = 0
        for row in front:
            layer |= rows[row] & unseen
            unseen &= ~layer
        if layer & free:
            return [*layers, layer & free]
        layers.append(layer)
        front = [of_column[column] for column in ones(layer)]
    return []


def _augment(start: int, rows: Sequence[int], layers: list[int], of_row: list[int], of_column: list[int]) -> int:
    """Follow one path from ``start`` down the layers to a free column; return that column's bit, or 0.

    Columns that were tried leave their layer, so all calls together look at each column once.
    """
    path = [start]
    taken: list[int] = []
    while path:
        depth = len(path) - 1
        choice = rows[path[-1]] & layers[depth]
        if not choice:
            path.pop()
            if taken:
                taken.pop()
            continue
        low = choice & -choice
        layers[depth] ^= low
        taken.append(low.bit_length() - 1)
        if depth == len(layers) - 1:
            for row, column in zip(path, taken, strict=True):
                of_row[row] = column
                of_column[column] = row
            return low
        path.append(of_column[taken[-1]])
    return 0


def antichain(after: Sequence[int]) -> int:
    """Find a largest set of steps no two of which are related.

    By Dilworth's theorem its size is the number of steps less that of a largest matching between steps and the
    steps after them; by König's the set itself is what a smallest cover leaves (Fulkerson 1956, Proc. Amer. Math.
    Soc. 7, 701-702).

    Parameters
    ----------
    after : sequence of int
        A transitively closed relation without rings: for each step the mask of those after it.

    Returns
    -------
    int
        The mask of the set.

    Examples
    --------
    >>> bin(antichain([0b110, 0, 0]))
    '0b110'
    """
    size = len(after)
    of_row, of_column = matching(after)
    reached_rows = sum(1 << row for row in range(size) if of_row[row] < 0)
    reached_columns = 0
    front = list(ones(reached_rows))
    while front:
        fresh = after[front.pop()] & ~reached_columns
        reached_columns |= fresh
        for column in ones(fresh):
            row = of_column[column]
            reached_rows |= 1 << row
            front.append(row)
    return reached_rows & ~reached_columns
