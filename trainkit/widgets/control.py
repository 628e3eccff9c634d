"""The control on the screen: a thin skin over a question's state.

The browser part is written in ``browser/``: a module for each kind of question and one for the hand-in, a folder for
each instrument that draws itself, and in ``kit/`` what their drawings share. A control is sent to the browser as one
text and may fetch nothing, so these modules are built into one, ``static/question.js``. Instruments have a text of
their own (:mod:`.movable`), so that no question carries them along.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import anywidget
import traitlets

from trainkit.figures.style import themed
from trainkit.notes import on_paper

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainkit.widgets.finishing import Finishing
    from trainkit.widgets.instruments import Instrument
    from trainkit.widgets.printed import Printed
    from trainkit.widgets.state import QuestionState


_STATIC = Path(__file__).parent / "static"


def browser_part(name: str) -> str:
    """Return a file of ``static/``: one ES module."""
    return (_STATIC / name).read_text("utf-8")


@cache
def style_sheet(*names: str) -> str:
    """Return files of ``static/`` as one style sheet."""
    return "".join((themed(".tk-question"), *((_STATIC / name).read_text("utf-8") for name in names)))


class Control(anywidget.AnyWidget):
    """A question, the hand-in or a summary card, on the screen.

    Parameters
    ----------
    state : State, Finishing, Instrument or Printed
        What is asked, and what becomes of the answer.
    heard : callable, optional
        Called after every message that may have changed what is on the disk.

    Notes
    -----
    As an output it also has a static form, which is readable where no kernel is: in an export, on paper, in the
    course's copy.
    """

    _esm = browser_part("question.js")
    _css = style_sheet("question.css")
    shown = traitlets.Dict().tag(sync=True)

    def __init__(
        self, state: QuestionState | Finishing | Instrument | Printed, heard: Callable[[], None] | None = None
    ) -> None:
        self.state = state
        self._after = heard
        super().__init__(shown=state.shown())
        self.on_msg(self._heard)

    def _heard(self, _: object, message: object, __: object) -> None:
        """Answer a message of the browser; this may run in another thread, while a cell runs."""
        reply = self.state.hear(message)
        self.send(reply)
        if reply["type"] not in ("read", "ahead"):
            self.shown = self.state.shown()  # for a browser that is opened again on the running kernel
            if self._after is not None and reply["type"] != "kept":
                self._after()

    def refresh(self) -> None:
        """Show what was recorded in another window since, if anything was."""
        from trainkit.widgets.assessed import Assessed

        if isinstance(self.state, Assessed) and self.state.look():
            self.shown = self.state.shown()
            self.send(self.state.elsewhere())

    def _repr_mimebundle_(self, **kwargs: Any) -> tuple[dict[str, Any], dict[str, Any]] | None:
        bundle = super()._repr_mimebundle_(**kwargs)
        if bundle is None:
            return None
        data, metadata = bundle
        if on_paper():
            data = {}
        return {**data, "text/html": self.state.html(), "text/plain": self.state.text()}, metadata
