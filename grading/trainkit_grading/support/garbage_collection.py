"""Pause garbage collection while building many values."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def paused_garbage_collection() -> Iterator[None]:
    """Pause the search for values that hold on to each other, which takes half the time of a report on thousands.

    Values that nobody holds go as always. Where the search was off before, it stays off.

    Examples
    --------
    >>> with paused_garbage_collection():
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
