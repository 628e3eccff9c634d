"""Reading what was handed in: zips and folders that somebody else made, as bytes and nothing more.

Nothing is unpacked, followed or run. Two small files are read out of each hand-in, ``answers.jsonl`` and
``identity.json``; everything about it that no honest hand-in has (links, devices, paths that leave the folder,
encrypted, repeated, too many or too large members) makes the whole of it refused.
"""

from __future__ import annotations

from trainkit_grading.intake.readers.base import HandIn
from trainkit_grading.intake.readers.folders import from_exchange, from_path

__all__ = ["HandIn", "from_exchange", "from_path"]
