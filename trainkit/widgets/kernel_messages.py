"""What a workbook tells the page round it: whose it is, how far it is, and which cells are its own.

The page may have a part that gets a workbook ready and shows a strip above it (``trainkit/labextension/``). It speaks
to the kernel over a Jupyter comm of the target :data:`TARGET`. A workbook works the same where nobody listens.

=========== =====================================================================================
message     what it says
=========== =====================================================================================
``look``    page to kernel: say how it is, and show what was recorded elsewhere since
``opened``  kernel to page, once it has connected and whenever a workbook is opened: ``code`` and
            ``text``, the cells of the module's own notebook; only that code may run by itself;
            ``words``, a list of ``{term, forms, text}``, the words of the trade for tapping on
``state``   kernel to page, after that, after ``look``, and after every message to a question that
            may have changed the disk: what :meth:`trainkit.workbook.Book.shown` returns
=========== =====================================================================================

Nothing that the page sends is kept or carried out.
"""

from __future__ import annotations

import json
import threading
from collections import deque
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

if TYPE_CHECKING:
    from pathlib import Path


class Refreshed(Protocol):
    """What shows something that may be recorded in another window, too."""

    def refresh(self) -> None:
        """Show what was recorded since."""


Q = TypeVar("Q", bound=Refreshed)

TARGET = "trainkit.workbook"
# Pages that were closed without a word are not known; the oldest go, with the questions that they showed.
_PAGES = 8
_QUESTIONS = 20 * _PAGES


class Channel:
    """The way from the kernel's workbook to the pages that show it.

    Examples
    --------
    >>> class Page:
    ...     def send(self, data): print(data)
    ...     def on_msg(self, hear): self.hear = hear
    ...     def on_close(self, closed): pass
    >>> ours, page = Channel(), Page()
    >>> ours.follow(lambda: {"answered": []}, {"code": ["book.finish()"], "text": []})
    >>> ours.connect(page, {})
    {'type': 'opened', 'code': ['book.finish()'], 'text': []}
    {'type': 'state', 'answered': []}
    >>> page.hear({"content": {"data": {"type": "look"}}})
    {'type': 'state', 'answered': []}
    """

    def __init__(self) -> None:
        self._pages: deque[Any] = deque(maxlen=_PAGES)
        self._questions: deque[Refreshed] = deque(maxlen=_QUESTIONS)
        self._shown: Callable[[], Mapping[str, Any]] | None = None
        self._own: Mapping[str, Any] = {}
        # Messages to controls may be heard in another thread, while a cell runs.
        self._lock = threading.RLock()

    def follow(self, shown: Callable[[], Mapping[str, Any]], own: Mapping[str, Any]) -> None:
        """Speak of another workbook from now on, and say so: ``own`` is what ``opened`` says of it."""
        self._shown, self._own = shown, own
        for page in self._connected():
            self._introduce(page)

    def offer(self) -> None:
        """Let pages connect, where code runs in a Jupyter kernel."""
        from IPython import get_ipython

        comms = getattr(getattr(get_ipython(), "kernel", None), "comm_manager", None)
        if comms is not None:
            comms.register_target(TARGET, self.connect)

    def connect(self, page: Any, _: object) -> None:
        """Take a page that has connected, a comm, and tell it how the workbook is."""
        with self._lock:
            self._pages.append(page)
        page.on_msg(lambda message: self._heard(page, message))
        page.on_close(lambda _: self._forget(page))
        self._introduce(page)

    def watch(self, control: Q) -> Q:
        """Refresh a control whenever something may have been recorded: the same question may be open twice."""
        with self._lock:
            self._questions.append(control)
        return control

    def tell(self) -> None:
        """Let every question show what was recorded, and tell every page how the workbook is."""
        self._refresh()
        for page in self._connected():
            self._tell(page)

    def _refresh(self) -> None:
        with self._lock:
            questions = tuple(self._questions)
        for question in questions:
            question.refresh()

    def _connected(self) -> tuple[Any, ...]:
        with self._lock:
            return tuple(self._pages)

    def _introduce(self, page: Any) -> None:
        if self._shown is not None:
            page.send({"type": "opened", **self._own})
            self._tell(page)

    def _tell(self, page: Any) -> None:
        if self._shown is not None:
            page.send({"type": "state", **self._shown()})

    def _heard(self, page: Any, message: Mapping[str, Any]) -> None:
        data = message.get("content", {}).get("data")
        if isinstance(data, Mapping) and data.get("type") == "look":
            self._refresh()
            self._tell(page)

    def _forget(self, page: Any) -> None:
        with self._lock:
            if page in self._pages:
                self._pages.remove(page)


channel = Channel()
"""The one of this process: a kernel has one workbook."""


def authored(notebook: Path) -> dict[str, list[str]]:
    """Return ``code`` and ``text`` of a module's own notebook, cell by cell; empty if there is none that can be read.

    A page runs by itself only what stands here word for word, so nothing that somebody else wrote into a copy.
    """
    found: dict[str, list[str]] = {"code": [], "text": []}
    try:
        for cell in json.loads(notebook.read_text("utf-8"))["cells"]:
            found["code" if cell["cell_type"] == "code" else "text"].append("".join(cell["source"]))
    except (OSError, ValueError, KeyError, TypeError):
        return {"code": [], "text": []}
    return found
