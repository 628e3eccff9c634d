"""The notebook of a checklist, for a tablet: what is shown, and what each touch leads to.

The notebook begins with ``sheet = signoff.open("dunlin-amir")`` and goes on with ``sheet.cautions()`` and
``sheet.steps()``. It asks nothing of any network, and needs no seed: the folder ``checklists`` may be copied to
another computer for the day, and the files it writes copied back.

========  ======================================================================================
message   what it asks for
========  ======================================================================================
``note``  record ``value`` of ``what``: a step (``"s3"``) or one of the fields
``sign``  record that this is what was seen
``begin``  begin another observation in the same file; with ``again`` of single steps only
========  ======================================================================================
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from datetime import datetime
from functools import cache
from html import escape
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from trainkit import journal
from trainkit.errors import TrainkitError
from trainkit.figures.style import themed
from trainkit.items.kinds import ChoiceResponse, Response, TextResponse
from trainkit.journal import Journal, now
from trainkit.workbook import NotebookNote
from trainkit_grading.errors import SignOffError
from trainkit_grading.signoff.checklists import OUTCOMES, Checklist, read_checklist
from trainkit_grading.signoff.sittings import ENDING, FIELDS, Sitting, missing, sittings

_LIMIT = {"remark": 2000}


class Watching:
    """A checklist on the screen, and what was ticked on it.

    Parameters
    ----------
    sheet : Checklist
        What is observed.
    folder : Path
        Where the file of lines stands.
    clock : callable, optional
        Returns the time with its time zone.
    """

    def __init__(self, sheet: Checklist, folder: Path, clock: Callable[[], datetime] = now) -> None:
        self.sheet = sheet
        self.path = folder / f"{sheet.stem}{ENDING}"
        self._journal = Journal(
            self.path,
            course=sheet.course,
            module=sheet.scope[:80],
            form=sheet.code,
            apprentice=sheet.apprentice,
            clock=clock,
        )
        # Messages may come in another thread, while a cell runs.
        self._lock = threading.RLock()

    @property
    def sitting(self) -> Sitting:
        """The observation that is being made, as it stands on the disk."""
        return sittings(journal.read(self.path).entries, self.sheet.code)[-1]

    def shown(self) -> dict[str, Any]:
        """Return everything that the screen shows, as plain JSON data."""
        with self._lock:
            sitting = self.sitting
            return {
                "format": 1,
                "name": self.sheet.stem,
                "heading": f"{self.sheet.title}: {self.sheet.person}",
                "code": self.sheet.code,
                "draft": f"sheet-{self.sheet.course}-{self.sheet.code}",
                "outcomes": list(OUTCOMES),
                "fields": [
                    {"what": name, "label": label, "needed": needed, "limit": _LIMIT.get(name, 80)}
                    for name, (label, needed) in FIELDS.items()
                ],
                "steps": [
                    {"what": f"s{number}", "number": number, "text": step.text, "critical": step.critical}
                    for number, step in enumerate(self.sheet.steps, start=1)
                ],
                "values": dict(sitting.values),
                "again": sitting.again,
                "signed": sitting.signed,
                "file": self.path.name,
            }

    def hear(self, message: object) -> dict[str, Any]:
        """Answer one message of the screen; *saved* is only said once the line is on the disk."""
        known: Mapping[str, Any] = message if isinstance(message, Mapping) else {}
        with self._lock:
            try:
                reply = self._answer(known)
            except TrainkitError as error:
                reply = {"type": "refused", "text": f"{error.rule} {error.remedy}"}
        return {**reply, "ticket": known.get("ticket")}

    def _answer(self, message: Mapping[str, Any]) -> dict[str, Any]:
        kind = message.get("type")
        if kind == "note":
            what, value = message.get("what"), message.get("value")
            entry = self._journal.append(str(what), self._response(what, value))
            return {"type": "saved", "what": what, "value": value, "at": entry.at}
        if kind == "sign":
            lacking = missing(self.sheet, self.sitting)
            if lacking:
                raise SignOffError(self.path.name, rule="It is not complete yet.", remedy=lacking)
            entry = self._journal.append("sign", TextResponse(text=self.sitting.values["observer"]))
            return {"type": "signed", "at": entry.at}
        if kind == "begin":
            if not self.sitting.signed:
                raise SignOffError(
                    self.path.name, rule="This observation is not signed.", remedy="Complete and sign it first."
                )
            self._journal.append("begin", TextResponse(text="again" if message.get("again") is True else "whole"))
            return {"type": "begun", "shown": self.shown()}
        raise SignOffError(str(kind), rule="The screen sent something unknown.", remedy="Run this cell again.")

    def _response(self, what: object, value: object) -> Response:
        steps = {f"s{number}" for number in range(1, len(self.sheet.steps) + 1)}
        if what in steps and value in OUTCOMES:
            return ChoiceResponse(option=str(value))
        if isinstance(what, str) and what in FIELDS and isinstance(value, str) and len(value) <= _LIMIT.get(what, 80):
            return TextResponse(text=value if value.strip() else " ")
        raise SignOffError(
            f"{what}: {value}",
            rule="That does not stand on this sheet.",
            remedy="Run this cell again, and choose again.",
        )

    def text(self) -> str:
        """Return the sheet as plain text, with what was ticked."""
        sitting = self.sitting
        lines = [f"{self.sheet.title}: {self.sheet.person} ({self.sheet.code})"]
        for number, step in enumerate(self.sheet.steps, start=1):
            mark = " (critical)" if step.critical else ""
            lines.append(f"{number}. {step.text}{mark}: {sitting.values.get(f's{number}', 'no choice yet')}")
        return "\n".join(lines)

    def html(self) -> str:
        """Return the same as static HTML."""
        first, *lines = self.text().splitlines()
        items = "".join(f"<p>{escape(line)}</p>" for line in lines)
        return f"<section><p><strong>{escape(first)}</strong></p>{items}</section>"


@cache
def _script() -> str:
    return (Path(__file__).parent / "static" / "sheet.js").read_text("utf-8")


@cache
def _style() -> str:
    return themed(".tk-sheet") + (Path(__file__).parent / "static" / "sheet.css").read_text("utf-8")


class SheetControl(anywidget.AnyWidget):
    """A checklist on the screen: choices as wide as a finger, each on the disk before it is called saved.

    Parameters
    ----------
    watching : Watching
        What is shown, and what becomes of a touch.
    """

    _esm = _script()
    _css = _style()
    shown = traitlets.Dict().tag(sync=True)

    def __init__(self, watching: Watching) -> None:
        self.watching = watching
        super().__init__(shown=watching.shown())
        self.on_msg(self._heard)

    def _heard(self, _: object, message: object, __: object) -> None:
        self.send(self.watching.hear(message))
        self.shown = self.watching.shown()  # for a browser that is opened again on the running kernel

    def _repr_mimebundle_(self, **kwargs: Any) -> tuple[dict[str, Any], dict[str, Any]] | None:
        bundle = super()._repr_mimebundle_(**kwargs)
        if bundle is None:
            return None
        data, metadata = bundle
        return {**data, "text/html": self.watching.html(), "text/plain": self.watching.text()}, metadata


class Sheet:
    """An open checklist.

    Parameters
    ----------
    sheet : Checklist
        What is observed.
    folder : Path
        The folder of the notebook.
    """

    def __init__(self, sheet: Checklist, folder: Path) -> None:
        self.sheet = sheet
        self.folder = folder

    def cautions(self) -> NotebookNote:
        """Return the cautions of the engine, and who decides in real work."""
        return NotebookNote("Before any work", (self.sheet.notice,), self.sheet.cautions, warning=True)

    def steps(self) -> SheetControl:
        """Return the steps to be ticked, with what was ticked before."""
        return SheetControl(Watching(self.sheet, self.folder))


def open(name: str, folder: Path | None = None) -> Sheet:  # noqa: A001 - the word for what one does with a sheet
    """Open the checklist of this name, which lies beside the notebook.

    Raises
    ------
    SignOffError
        If there is none, or it cannot be read.
    """
    home = Path() if folder is None else folder
    return Sheet(read_checklist(home / f"{name}.json"), home)
