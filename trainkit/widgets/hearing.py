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
    return ResponseError(kind, rule="The screen sent something unknown.", remedy="Press “Start again” at the top.")


class Listener(ABC):
    """State that answers messages of the screen, one at a time."""

    # What somebody reads whose message met an unexpected error.
    failed = "This could not be done here. Go on with the next part."

    def __init__(self) -> None:
        # Messages may come in another thread, while a cell runs.
        self._lock = threading.RLock()

    def hear(self, message: object) -> Reply:
        """Answer one message of the screen; one that cannot be answered is refused with what to do.

        An error that nobody expected is refused too, with what to tell the instructor: it costs this message, not the
        notebook, whose control would wait for an answer for ever.

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
            except Exception as error:  # noqa: BLE001 - whatever it is, the rest of the notebook goes on
                told = f"{type(error).__name__}: {error}"
                reply = {"type": "refused", "text": f"{self.failed} Tell your instructor: {told}"}
        return {**reply, "ticket": known.get("ticket")}

    @abstractmethod
    def _answer(self, message: Message) -> Reply:
        """Do what a message asks for."""
