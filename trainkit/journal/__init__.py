"""The journal: every acknowledged answer as one line of ``answers.jsonl`` beside the notebook.

The file is the only truth about what was answered. A line is acknowledged only after it was written and forced to
the disk, so whatever the screen called saved survives the end of kernel, browser and server. A line that was torn
by a power cut costs nothing else: the next answer starts on a fresh line, and a reader steps over the torn one.
Each line carries the hash of the line before it, so that lines taken out, put in or changed afterwards show.

Examples
--------
>>> import tempfile
>>> from pathlib import Path
>>> from trainkit.items.kinds import ChoiceResponse
>>> with tempfile.TemporaryDirectory() as folder:
...     path = Path(folder) / "answers.jsonl"
...     journal = Journal(path, course="saltmere", module="lock-pin", form="K7", apprentice="amir")
...     entry = journal.append("A1", ChoiceResponse(option="b"))
...     entry == journal.latest()["A1"] == read(path).entries[0]
True
"""

from __future__ import annotations

from trainkit.journal.appending import Journal, NewerAnswerError, now, sync_folder
from trainkit.journal.drafts import DRAFTS_FILE, Draft, Drafts
from trainkit.journal.lines import (
    FILE_LIMIT,
    JOURNAL_FILE,
    LINE_LIMIT,
    JournalLine,
    Problem,
    Reading,
    content_of,
    read,
)

__all__ = [
    "DRAFTS_FILE",
    "FILE_LIMIT",
    "JOURNAL_FILE",
    "LINE_LIMIT",
    "Draft",
    "Drafts",
    "Journal",
    "JournalLine",
    "NewerAnswerError",
    "Problem",
    "Reading",
    "content_of",
    "now",
    "read",
    "sync_folder",
]
