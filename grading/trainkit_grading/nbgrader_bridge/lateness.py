"""The course's rule for late submissions, where nbgrader asks for it."""

from __future__ import annotations

from nbgrader.plugins import LateSubmissionPlugin

from trainkit_grading.course.folder import Course


class CourseLateness(LateSubmissionPlugin):  # type: ignore[misc]  # nbgrader publishes no types
    """Takes off what ``[lateness]`` in ``course.toml`` says."""

    def late_submission_penalty(
        self,
        student_id: str,  # noqa: ARG002 - nbgrader tells it, and the rule is the same for everybody
        score: float,
        total_seconds_late: float,
    ) -> float:
        """Return the points that arriving so late costs."""
        # The plugin's parent is the preprocessor, then come exporter and converter, which knows the course folder.
        course = Course.load(self.parent.parent.parent.coursedir.root)
        return course.lateness.penalty(score, total_seconds_late)
