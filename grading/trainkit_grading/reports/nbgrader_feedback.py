"""In the place of nbconvert's HTML exporter while ``nbgrader generate_feedback`` runs.

What nbgrader would make is a picture of the marked notebook, which says why each answer got its points, the right
answer included: it is for the instructor, in formgrader. An apprentice gets the page of
:mod:`.feedback` instead, which tells no more than ``reveal`` allows. Here it is made under nbgrader's
name, so that its commands and buttons that release and fetch feedback deliver it.
"""

from __future__ import annotations

from typing import Any

from nbconvert.exporters import Exporter

from trainkit_grading.course.folder import Course
from trainkit_grading.reports.feedback.page import Pages, html_text
from trainkit_grading.reports.feedback.telling import tell


class FeedbackExporter(Exporter):
    """Gives nbgrader the page of feedback of each submission; the marked notebook is not opened."""

    file_extension = ".html"
    output_mimetype = "text/html"

    _pages: Pages | None = None

    def from_filename(self, filename: str, resources: dict[str, Any] | None = None, **kwargs: Any) -> Any:  # noqa: ARG002 - nbconvert's way to call it
        """Return the page of the submission that nbgrader is at."""
        resources = {} if resources is None else resources
        of = resources["nbgrader"]
        if self._pages is None:
            # The exporter's parent is the converter, which knows the course folder.
            converter: Any = self.parent
            self._pages = Pages(Course.load(converter.coursedir.root))
        resources["metadata"] = {"name": of["notebook"]}
        resources["output_extension"] = self.file_extension
        sheet = self._pages.sheet(of["assignment"], of["student"])
        tell(self._pages.course, [sheet], self._pages.now)
        return html_text(sheet), resources
