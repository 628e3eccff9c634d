"""Making very many values that all stay: Python then need not look again and again whether any of them can go."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["unswept"]


@contextmanager
def unswept() -> Iterator[None]:
    """Leave out the search for values that hold on to each other, which takes half the time of a report on thousands.

    Values that nobody holds go as always. Where the search was off before, it stays off.

    Examples
    --------
    >>> with unswept():
    ...     gc.isenabled()
    False
    >>> gc.isenabled()
    True
    """
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()
