"""What nbgrader does to a submission here: the notebook is the course's own, the marks come from the journal.

One transformation a class, in the order of :mod:`trainkit_grading.nbgrader_bridge.config`.
"""

from __future__ import annotations

import json
from typing import Any

import nbformat
from nbgrader.preprocessors import NbGraderPreprocessor

from trainkit_grading.course.folder import Course
from trainkit_grading.marking import mark, notebooks


class RebuildPristine(NbGraderPreprocessor):  # type: ignore[misc]  # nbgrader publishes no types
    """Puts the course's own notebook, without outputs, in the place of whatever was handed in."""

    def preprocess(self, nb: Any, resources: Any) -> tuple[Any, Any]:  # noqa: ARG002 - what was handed in is not used
        """Return the notebook as it was released."""
        released = json.dumps(notebooks.pristine(_course(self), resources["nbgrader"]["assignment"]))
        return nbformat.reads(released, as_version=4), resources


class ScoreJournal(NbGraderPreprocessor):  # type: ignore[misc]  # nbgrader publishes no types
    """Marks the journal of the submission and shows answer, verdict, reason and points as each item's output."""

    def preprocess(self, nb: Any, resources: Any) -> tuple[Any, Any]:
        """Return the notebook with the marks in it, where the next preprocessor reads them."""
        of = resources["nbgrader"]
        course = _course(self)
        scored, findings = mark.record(course, of["assignment"], of["student"])
        for text in (*(flag.text for flag in scored.flags), *(finding.text for finding in findings)):
            self.log.warning("%s, %s: %s", of["student"], of["assignment"], text)
        return nbformat.from_dict(notebooks.fill(nb, course, scored)), resources


class RecordMarks(NbGraderPreprocessor):  # type: ignore[misc]  # nbgrader publishes no types
    """Lets the gradebook show what the ledger says, after nbgrader has written what it read from the notebook.

    nbgrader queues every item that a person has given points for once more; here only those whose answer changed are.
    """

    def preprocess(self, nb: Any, resources: Any) -> tuple[Any, Any]:
        """Return the notebook as it is."""
        of = resources["nbgrader"]
        mark.record(_course(self), of["assignment"], of["student"])
        return nb, resources


def _course(preprocessor: Any) -> Course:
    # The preprocessor's parent is the exporter, and the exporter's the converter, which knows the course folder.
    return Course.load(preprocessor.parent.parent.coursedir.root)
