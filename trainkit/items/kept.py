"""What is worked out once for each pack and kept: drawing many forms asks the same pack the same things."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from trainkit.packs import Pack


R = TypeVar("R")
_PACKS = 16  # so many packs are remembered by each function


class _Same:
    """A pack as the very object that it is: quick to compare, and a changed copy is another pack."""

    __slots__ = ("pack",)

    def __init__(self, pack: Pack) -> None:
        self.pack = pack

    def __hash__(self) -> int:
        return id(self.pack)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.pack is self.pack


def once_a_pack(function: Callable[[Pack], R]) -> Callable[[Pack], R]:
    """Let a function of a pack be worked out once for each pack and kept.

    Parameters
    ----------
    function : callable
        Takes a pack; what it returns is shared and must be read-only. An error is not kept.

    Examples
    --------
    >>> from trainkit import packs
    >>> @once_a_pack
    ... def steps(pack):
    ...     print("counted")
    ...     return len(pack.steps)
    >>> steps(packs.load("dunlin")) == steps(packs.load("dunlin"))
    counted
    True
    """
    kept = lru_cache(maxsize=_PACKS)(lambda same: function(same.pack))

    @wraps(function)
    def kept_or_new(pack: Pack) -> R:
        return kept(_Same(pack))

    return kept_or_new
