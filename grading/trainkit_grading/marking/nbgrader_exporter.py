"""In the place of nbconvert's notebook exporter while ``nbgrader autograde`` runs.

nbgrader opens the notebook that was handed in, and copies every file beside it, links followed, before the first
preprocessor runs. A notebook that is no notebook, a link to a file of the instructor's, a damaged time stamp: each
would stop its submission or carry off a file. This exporter is made before any of that happens. It never opens what
was handed in as a notebook, and takes every submission that nbgrader could trip over out of nbgrader's hands: those
are marked by trainkit's own code, into the same gradebook, with the same marks.
"""

from __future__ import annotations

import fnmatch
import os
from collections.abc import Container
from pathlib import Path
from typing import Any

import nbformat
from nbconvert.exporters import NotebookExporter

from trainkit_grading.course.folder import Course
from trainkit_grading.intake import submissions
from trainkit_grading.marking import mark


class JournalExporter(NotebookExporter):
    """Gives nbgrader an empty notebook for each submission; the preprocessors make the rest of it."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)  # type: ignore[no-untyped-call]  # nbconvert's are untyped
        converter = self.parent
        if converter is not None and hasattr(converter, "assignments"):
            converter.assignments = self._sound(converter)

    def from_filename(self, filename: str, resources: dict[str, Any] | None = None, **kwargs: Any) -> Any:
        """Convert a notebook: nbgrader's own marked copy as it is, a submission without opening it."""
        resources = {} if resources is None else resources
        path = Path(filename)
        resources["metadata"] = {"name": path.stem, "path": str(path.parent)}
        converter: Any = self.parent
        submitted = Path(converter.coursedir.root, converter.coursedir.submitted_directory)
        if path.is_relative_to(submitted):
            notebook = nbformat.v4.new_notebook()
        else:
            notebook = nbformat.read(filename, as_version=4)
        return self.from_notebook_node(  # type: ignore[no-untyped-call]  # nbconvert's are untyped
            notebook, resources=resources, **kwargs
        )

    def _sound(self, converter: Any) -> dict[str, list[str]]:
        """Return the submissions that nbgrader may go on with, and mark the others."""
        course = Course.load(converter.coursedir.root)
        excluded = set(converter.coursedir.student_id_exclude.split(","))
        roster = course.roster()
        sound: dict[str, list[str]] = {}
        for folder, notebooks in sorted(converter.assignments.items()):
            path = Path(os.path.normpath(folder))
            module, apprentice = path.name, path.parent.name
            if apprentice in excluded:
                continue
            if apprentice not in roster:
                self.log.error("Not marked: %s is not on the roster.", apprentice)
            elif oddities := submissions.oddities(course, module, apprentice):
                self.log.warning("Marked without copying anything, %s: %s", path, " ".join(oddities))
                self._mark(course, module, apprentice)
            else:
                sound[folder] = notebooks
        self._mark_without_notebook(converter, course, excluded)
        return sound

    def _mark_without_notebook(self, converter: Any, course: Course, excluded: Container[str]) -> None:
        """Mark what nbgrader does not find: it looks for notebooks, and a journal needs none."""
        module, wanted = converter.coursedir.assignment_id, converter.coursedir.student_id
        if module not in {entry.name for entry in course.modules}:
            return
        found = {Path(os.path.normpath(folder)).parent.name for folder in converter.assignments}
        roster = course.roster()
        for apprentice in submissions.names(course, module):
            there = apprentice in roster and apprentice not in excluded and apprentice not in found
            if there and fnmatch.fnmatchcase(apprentice, wanted):
                self.log.warning("Marked without its notebook, which is missing: %s, %s", apprentice, module)
                self._mark(course, module, apprentice)

    def _mark(self, course: Course, module: str, apprentice: str) -> None:
        for finding in mark.mark(course, [module], apprentices=[apprentice]).findings:
            say = self.log.error if finding.severity == "refused" else self.log.warning
            say("%s: %s", finding.place, finding.text)
