"""Whether the answers of a form came on paper, and who typed them, by the course's own record.

A hand-in has no say in it.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, ValidationError

from trainkit.sentences import NEWER, newer_format
from trainkit_grading.errors import PaperError
from trainkit_grading.ledger.kinds import OnPaper

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


class Paper(BaseModel):
    """A sheet that was typed in twice and agreed.

    Parameters
    ----------
    form, module, apprentice : str
        Whose sheet.
    attempt : int
        Which attempt.
    begin, end : datetime
        As they stand on the sheet.
    typed : tuple of str
        Who typed the first and the second pass.
    passes : tuple of str
        SHA-256 of each pass.
    settled : tuple of str
        What the passes differed in, until it was typed a third time.
    journal : str
        SHA-256 of the journal that was made.
    why : str
        Why the sheet was typed again, where it was.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal[1] = 1
    form: str
    module: str
    apprentice: str
    attempt: int
    begin: AwareDatetime
    end: AwareDatetime
    typed: tuple[str, str]
    passes: tuple[str, str]
    settled: tuple[str, ...] = ()
    journal: str
    why: str = ""

    def said(self) -> OnPaper:
        """Return what the ledger says of it."""
        return OnPaper(self.typed, self.passes, self.settled, self.why)


def path_of(course: Course, form: str) -> Path:
    """Return where the record of a form's sheet lies."""
    return course.folder / "entered" / f"{form}.json"


def paper_of(course: Course, form: str) -> Paper | None:
    """Return the record of a form's sheet, or None where none was typed in.

    Raises
    ------
    PaperError
        If it is there but cannot be used.
    """
    path = path_of(course, form)
    try:
        return Paper.model_validate_json(path.read_bytes(), strict=False)
    except FileNotFoundError:
        return None
    except (OSError, ValidationError) as error:
        newer = newer_format(error.errors(include_url=False)) if isinstance(error, ValidationError) else ""
        if newer:
            raise PaperError(str(path), rule=newer, remedy=NEWER) from None
        raise PaperError(
            str(path),
            rule="The course keeps a record of each sheet that was typed in, and this one cannot be read.",
            remedy="Fetch it from your backup.",
        ) from None
