"""Packs by spreadsheet: a pack goes out to a workbook with a sheet for each of its tables, and comes back.

What the sheets and columns are follows from the classes of :mod:`trainkit.packs`, so nothing that a pack can hold is
forgotten. What comes back is text and numbers from anybody's machine: it is looked at as hostile before anything
reads it (:mod:`.container`), nothing in it is ever worked out, and every finding names its sheet and cell.
"""

from __future__ import annotations

from trainkit_grading.pack_xlsx.back import take_in
from trainkit_grading.pack_xlsx.out import send_out

__all__ = ["send_out", "take_in"]
