"""The paper edition: workbook and answer sheets to print, and what was written on them typed in twice.

A sheet shows what the released form shows, never more. What comes back from paper becomes a journal, as a workbook
writes it, and goes the way of every other hand-in; the record says that it came on paper, and who typed it.
"""

from __future__ import annotations

__all__: list[str] = []
