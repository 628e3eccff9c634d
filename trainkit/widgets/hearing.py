"""What all controls have in common: they answer messages of the screen, and refuse those that they cannot answer."""

from __future__ import annotations

import threading
from abc import ABC, abstractmethod
from collections.abc import Mapping
from typing import Any

from trainkit.errors import ResponseError, TrainkitError

Message = Mapping[str, Any]
Reply = dict[str, Any]


def unknown(kind: object) -> ResponseError:
    """Return the refusal of a message that nobody knows."""
    return ResponseError(kind, rule="The screen sent something unknown.", remedy="Run this cell again.")


class Listener(ABC):
    """State that answers messages of the screen, one at a time."""

    def __init__(self) -> None:
        # Messages may come in another thread, while a cell runs.
        self._lock = threading.RLock()

    def hear(self, message: object) -> Reply:
        """Answer one message of the screen; one that cannot be answered is refused with what to do.

        Examples
        --------
        See :class:`~trainkit.widgets.Assessed` and :class:`~trainkit.widgets.Practised`.
        """
        known: Message = message if isinstance(message, Mapping) else {}
        with self._lock:
            try:
                reply = self._answer(known)
            except TrainkitError as error:
                reply = {"type": "refused", "text": f"{error.rule} {error.remedy}"}
        return {**reply, "ticket": known.get("ticket")}

    @abstractmethod
    def _answer(self, message: Message) -> Reply:
        """Do what a message asks for."""
