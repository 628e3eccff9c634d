"""Whether one journal continues another: a journal only grows, so the later one begins with all of the earlier one."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from trainkit import journal
from trainkit.errors import JournalError
from trainkit_grading.intake import receipts, submissions

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


def continues(course: Course, module: str, apprentice: str, earlier: str, later: str) -> bool:
    """Tell whether a journal of an apprentice's begins with all lines of another; both are named by their digests.

    Raises
    ------
    CourseError
        If the record of a hand-in cannot be read.
    """
    if not earlier:  # of the earlier one nothing could be read
        return True
    content = _content(course, module, apprentice, later) if later else None
    return content is not None and grown_from(content, earlier)


def grown_from(content: bytes, earlier: str) -> bool:
    r"""Tell whether a journal begins with all lines of the one that has this digest.

    Where the last line of the earlier one was torn, the next answer stands on a line of its own behind it.

    Examples
    --------
    >>> torn = hashlib.sha256(b"one\ntw").hexdigest()
    >>> grown_from(b"one\ntw\ntwo\n", torn), grown_from(b"one\ntwo\n", torn)
    (True, False)
    """
    seen = hashlib.sha256()
    first, *others = content.split(b"\n")
    for part in (b"", first, *(part for line in others for part in (b"\n", line))):
        seen.update(part)
        if seen.hexdigest() == earlier:
            return True
    return False


def _content(course: Course, module: str, apprentice: str, digest: str) -> bytes | None:
    """Return a journal by its digest: from the folder of the submission, else as it was collected."""
    try:
        content = journal.content_of(submissions.folder(course, module, apprentice) / journal.JOURNAL_FILE)
        if hashlib.sha256(content).hexdigest() == digest:
            return content
    except JournalError:
        pass
    kept = next((of for of in receipts.kept(course, apprentice, module) if of.digest == digest), None)
    return receipts.journal_of(course, kept) if kept is not None else None
