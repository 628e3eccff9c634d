"""nbgrader's settings in a course folder.

The file in the course folder is short and the instructor's own: it calls :func:`configure`, so that a newer trainkit
brings newer settings, and leaves room for settings below.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainkit.errors import TrainkitError

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


# Each step has its reason; the order matters.
SANITIZE = (
    # What was handed in as a notebook is never opened: the course's own takes its place.
    "trainkit_grading.marking.nbgrader_autograde.RebuildPristine",
    # Points, checksums and the like as the gradebook has them, should a file have been edited since.
    "nbgrader.preprocessors.OverwriteCells",
    "nbgrader.preprocessors.CheckCellMetadata",
)
AUTOGRADE = (
    # In the place of Execute: no kernel is started.
    "trainkit_grading.marking.nbgrader_autograde.ScoreJournal",
    "nbgrader.preprocessors.SaveAutoGrades",
    "nbgrader.preprocessors.AssignLatePenalties",
    "nbgrader.preprocessors.CheckCellMetadata",
    # The gradebook then shows what the ledger says: points that a person gave for this answer stand and need no look.
    "trainkit_grading.marking.nbgrader_autograde.RecordMarks",
)
GENERATE = (
    # nbgrader's own, in its order, without ClearOutput: cautions and worked examples can be read before anything
    # is run. Building has taken every other output out, and there are no tests that a kernel would have to fill in.
    # Without ClearSolutions, too: no cell holds a solution, and it would empty the cells of written answers.
    "nbgrader.preprocessors.IncludeHeaderFooter",
    "nbgrader.preprocessors.LockCells",
    "nbgrader.preprocessors.CheckCellMetadata",
    "nbgrader.preprocessors.ComputeChecksums",
    "nbgrader.preprocessors.SaveCells",
    "nbgrader.preprocessors.ClearHiddenTests",
    "nbgrader.preprocessors.ClearMarkScheme",
    "nbgrader.preprocessors.ComputeChecksums",
    "nbgrader.preprocessors.CheckCellMetadata",
)
EXPORTER = "trainkit_grading.marking.nbgrader_exporter.JournalExporter"
# In the place of a picture of the marked notebook, which holds the right answers: the page that an apprentice may see.
FEEDBACK_EXPORTER = "trainkit_grading.reports.nbgrader_feedback.FeedbackExporter"
LATENESS = "trainkit_grading.nbgrader_bridge.lateness.CourseLateness"


def config_text(course: Course) -> str:
    """Return the text of a course's ``nbgrader_config.py``.

    Examples
    --------
    >>> from trainkit_grading.course.folder import Course
    >>> course = Course(folder=Path("/srv/course"), name="saltmere", title="Saltmere", modules=())
    >>> "configure(c, __file__)" in config_text(course)
    True
    """
    title = " ".join(course.title.split())
    return f"""\
# Settings of nbgrader for the course “{title}”.
# They let nbgrader mark the journals of this folder as data: no kernel is started, nothing handed in is run.

from trainkit_grading.nbgrader_bridge.config import configure

c = get_config()  # noqa: F821 - nbgrader provides it
configure(c, __file__)

# Settings of your own go below this line.
"""


def configure(c: Any, file: str) -> None:
    """Apply the settings that a course folder needs.

    Where the course cannot be used, that is said and nothing is raised: nbgrader would drop every setting and go on
    with its own, run what was handed in and give full reasons away. As it is, its commands end at the course too.

    Parameters
    ----------
    c : traitlets.config.Config
        What ``get_config()`` returned.
    file : str
        Path of the ``nbgrader_config.py``; its folder is the course folder.

    Examples
    --------
    >>> from traitlets.config import Config
    >>> c = Config()
    >>> configure(c, "/nowhere/nbgrader_config.py")
    >>> c.Autograde.exporter_class == EXPORTER
    True
    """
    folder = Path(file).absolute().parent
    c.CourseDirectory.root = str(folder)
    c.GenerateAssignment.preprocessors = list(GENERATE)
    c.Autograde.exporter_class = EXPORTER
    c.Autograde.sanitize_preprocessors = list(SANITIZE)
    c.Autograde.autograde_preprocessors = list(AUTOGRADE)
    c.GenerateFeedback.exporter_class = FEEDBACK_EXPORTER
    c.GenerateFeedback.preprocessors = []
    try:
        _configure(c, folder)
    except TrainkitError as error:
        sys.stderr.write(f"{error}\n")


def _configure(c: Any, folder: Path) -> None:
    """Apply what the course itself says."""
    from trainkit.forms import FORMS_FILE
    from trainkit_grading.course.access import SHARED, follow
    from trainkit_grading.course.folder import Course
    from trainkit_grading.nbgrader_bridge.listening import listen

    course = Course.load(folder)
    c.CourseDirectory.course_id = course.name
    c.CourseDirectory.db_url = course.gradebook_url
    listen(lambda: str(c.CourseDirectory.db_url), course.seed_file)
    # nbgrader's settings open the folder of a module to the group, not the folder of a person around it, nor what
    # `nbgrader export` writes: a colleague could not mark or export again.
    follow(course.access)
    if course.access == SHARED:
        # What nbgrader writes is the group's, and the group may collect from the shared disk.
        c.CourseDirectory.groupshared = True
    if course.exchange_root is not None:
        c.Exchange.root = str(course.exchange_root)
    # Everybody's forms would be copied into each marked folder; the one form that was handed in stays there.
    c.Autograde.exclude_overwriting = {entry.name: [FORMS_FILE] for entry in course.modules}
    if course.lateness.percent_a_day > 0:
        c.AssignLatePenalties.plugin_class = LATENESS
