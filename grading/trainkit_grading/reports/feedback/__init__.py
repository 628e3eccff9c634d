"""Feedback: one page for each apprentice and module, which says what an answer shows and what to do next.

:mod:`.page` puts a marked submission together and renders it, :mod:`.words` says points, rules and what may be told,
:mod:`.practice` says what to practise next, :mod:`.delivery` writes the pages to where nbgrader releases them from.
What a page tells of a wrong answer hangs on ``reveal`` of the course or the module: the method alone, or the right
answers too, once no further attempt is open (:func:`.words.reveals_answers`).
"""

from __future__ import annotations

from trainkit_grading.reports.feedback.delivery import feedback
from trainkit_grading.reports.feedback.page import Pages

__all__ = ["Pages", "feedback"]
