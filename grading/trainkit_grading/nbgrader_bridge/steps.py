"""nbgrader's own steps, taken in a course folder from Python: generating a release, handing it out.

nbgrader takes two seconds to load, so nothing here is loaded before it is needed.
"""

from __future__ import annotations

import contextlib
import logging
import os
import sys
import sysconfig
import warnings
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainkit.errors import TrainkitError
from trainkit_grading.course import cohorts
from trainkit_grading.errors import CourseError, ReleaseError
from trainkit_grading.support import lazy_imports
from trainkit_grading.support.files import scratch
from trainkit_grading.support.refusals import refusal

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from trainkit_grading.course.folder import Course, CourseModule

LateRule = Callable[[str, float, float], float | None]


@contextlib.contextmanager
def prepared() -> Iterator[None]:
    """Let nbgrader find the programs of this environment, and keep back the warnings of its own database code.

    A new gradebook is made by the program ``alembic``, which nbgrader looks for on the search path only.
    """
    programs = sysconfig.get_path("scripts")
    before = os.environ.get("PATH", "")
    with warnings.catch_warnings():
        # nbgrader's own code and what it loads; nothing of ours is called in between.
        warnings.simplefilter("ignore")
        lazy_imports.nbformat()
        if programs not in before.split(os.pathsep):
            os.environ["PATH"] = os.pathsep.join(part for part in (programs, before) if part)
        try:
            yield
        finally:
            os.environ["PATH"] = before


def configuration(course: Course) -> Any:
    """Return what the course's ``nbgrader_config.py`` sets.

    The file is the instructor's own and is run. Settings of the user's account play no part.

    Raises
    ------
    ReleaseError
        If it is missing or fails.
    """
    from traitlets.config.loader import ConfigFileNotFound, PyFileConfigLoader

    loader = PyFileConfigLoader(course.nbgrader_config.name, path=str(course.folder))
    try:
        return loader.load_config()
    except ConfigFileNotFound:
        raise ReleaseError(
            str(course.nbgrader_config),
            rule="nbgrader reads its settings from this file.",
            remedy="Fetch it from your backup, or copy it from a new course.",
        ) from None
    except Exception as error:  # noqa: BLE001 - the file is a program of the instructor's and may fail in any way
        raise ReleaseError(
            str(course.nbgrader_config),
            rule=f"The settings of nbgrader cannot be read ({type(error).__name__}: {error}).",
            remedy="Mend the file.",
        ) from None


def address(course: Course) -> str:
    """Return the address of the gradebook: nbgrader's, so that an instructor who sets another one there is followed.

    Raises
    ------
    ReleaseError
        If nbgrader's settings cannot be read.
    """
    return str(configuration(course).CourseDirectory.get("db_url", course.gradebook_url))


def late_rule(course: Course) -> LateRule:
    """Return the rule for late submissions: from apprentice, score and seconds to what is taken off, at most all.

    Raises
    ------
    ReleaseError
        If nbgrader's settings cannot be read.
    """
    settings = configuration(course)
    chosen = str(settings.AssignLatePenalties.get("plugin_class", ""))
    if chosen.startswith("trainkit_grading."):
        return lambda _, score, seconds: course.lateness.penalty(score, seconds)
    if not chosen and "LateSubmissionPlugin" not in settings:
        # nbgrader's own rule, left as it is, takes nothing off; it need not be loaded to know that.
        return lambda *_: None
    with prepared():
        from nbgrader.preprocessors import AssignLatePenalties

        keeper = AssignLatePenalties(config=settings)
        keeper.init_plugin()

    def rule(apprentice: str, score: float, seconds: float) -> float | None:
        penalty = keeper.plugin_inst.late_submission_penalty(apprentice, score, seconds)
        return None if penalty is None else min(max(0.0, float(penalty)), score)

    return rule


def found_gradebook(course: Course) -> None:
    """Make nbgrader's gradebook in one step, if there is none yet.

    nbgrader makes it, too, but starts a program for it, which takes seconds, and cut off in between leaves a
    gradebook that does not know its own version.

    Raises
    ------
    CourseError
        If the database cannot be used, cannot hold everybody's name, or holds the marks of another course.
    """
    from sqlalchemy import create_engine, inspect

    from trainkit_grading.support import database

    where = address(course)
    if not where.startswith("sqlite"):
        with database.opened(where, "BEGIN IMMEDIATE") as engine, engine.begin() as connection:
            # What PostgreSQL makes of tables is part of the transaction, and whoever else begins waits here.
            database.alone(connection)
            database.require_utf8(connection)
            if inspect(connection).has_table("alembic_version"):
                _own(connection, course, database.shown(engine.url))
            else:
                make_tables(connection)
    elif where == course.gradebook_url and not (course.gradebook.exists() and course.gradebook.stat().st_size):
        with scratch(course.folder) as work:
            # SQLite itself would make a file that a group can only read.
            (work / "gradebook.db").touch()
            engine = create_engine(f"sqlite:///{(work / 'gradebook.db').as_posix()}")
            with engine.begin() as connection:
                make_tables(connection)
            engine.dispose()
            (work / "gradebook.db").replace(course.gradebook)


def make_tables(connection: Connection) -> None:
    """Make nbgrader's tables in an empty database, in the caller's transaction."""
    from alembic.script import ScriptDirectory
    from nbgrader import api
    from sqlalchemy import text

    head = ScriptDirectory(str(Path(api.__file__).parent / "alembic")).get_current_head()
    api.Base.metadata.create_all(bind=connection)
    connection.execute(text("CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL)"))
    connection.execute(text("INSERT INTO alembic_version (version_num) VALUES (:head)"), {"head": head})


def _own(connection: Connection, course: Course, shown: str) -> None:
    """Refuse a database in which another course keeps its marks: modules have the same names in both."""
    from sqlalchemy import text

    # nbgrader adds a row of that other name by itself.
    others = sorted(set(connection.execute(text("SELECT id FROM course")).scalars()) - {course.name, "default_course"})
    if others:
        raise CourseError(
            shown,
            rule=f"This database holds the marks of another course, {', '.join(map(str, others[:3]))}.",
            remedy="Make a database for each course, and name it in course.toml.",
        )


def generate_release(course: Course, entry: CourseModule, into: Path) -> Path:
    """Let nbgrader make the release of a module under ``into``, a folder inside the course, and return its folder.

    The gradebook learns the items, their points and the due date on the way.

    Raises
    ------
    ReleaseError
        If nbgrader refuses; the end of what it said is in the rule.
    """
    with prepared():
        from nbgrader.api import Gradebook
        from nbgrader.converters import GenerateAssignment
        from nbgrader.coursedir import CourseDirectory

        config = configuration(course)
        with _listening(course, entry.name) as log:
            found_gradebook(course)
            coursedir = CourseDirectory(config=config, log=log)
            coursedir.root = str(course.folder)
            coursedir.assignment_id = entry.name
            coursedir.release_directory = into.relative_to(course.folder).as_posix()
            converter = GenerateAssignment(coursedir=coursedir, config=config, log=log)
            converter.force = True
            converter.start()
            common = cohorts.common_due(course, entry)
            due = common.astimezone(UTC).replace(tzinfo=None) if common is not None else None
            with Gradebook(coursedir.db_url, course.name) as gradebook:
                gradebook.update_or_create_assignment(entry.name, duedate=due)
    return into / entry.name


def hand_out(course: Course, entry: CourseModule) -> None:
    """Let nbgrader copy the release of a module to the shared disk.

    Raises
    ------
    ReleaseError
        If it cannot.
    """
    with prepared():
        from nbgrader.auth import Authenticator
        from nbgrader.coursedir import CourseDirectory
        from nbgrader.exchange import ExchangeFactory

        config = configuration(course)
        with _listening(course, entry.name) as log:
            coursedir = CourseDirectory(config=config, log=log)
            coursedir.root = str(course.folder)
            coursedir.assignment_id = entry.name
            step = ExchangeFactory(config=config).ReleaseAssignment(
                coursedir=coursedir, authenticator=Authenticator(config=config), config=config, log=log
            )
            step.force = True
            step.start()


def _tell_of_the_system(course: Course, name: str, met: Iterable[BaseException | None]) -> None:
    """Raise what the system or the database has refused to nbgrader, if that was it, in words of our own."""
    from sqlalchemy.exc import DBAPIError

    from trainkit_grading.support import database

    for error in met:
        if isinstance(error, OSError):
            raise refusal(error, name) from None
        if isinstance(error, DBAPIError):
            raise database.refusal(address(course), error) from None


@contextlib.contextmanager
def _listening(course: Course, name: str) -> Iterator[logging.Logger]:
    """Give a log that keeps what nbgrader says, and turn its failures into an error that tells the end of it."""
    said: list[str] = []
    met: list[BaseException | None] = []

    class _Keeper(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            if record.levelno >= logging.ERROR:
                said.append(record.getMessage().strip().splitlines()[-1])
                # Of what it caught itself nbgrader tells in its log alone.
                met.append(sys.exc_info()[1])

    log = logging.Logger(f"trainkit.nbgrader.{name}", level=logging.INFO)
    log.addHandler(_Keeper())
    try:
        yield log
    except (KeyboardInterrupt, TrainkitError):
        raise
    except (Exception, SystemExit) as error:  # noqa: BLE001 - nbgrader fails with whatever its parts raise
        _tell_of_the_system(course, name, (error, *met))
        told = list(dict.fromkeys([*said, f"{type(error).__name__}: {error}".strip()]))
        raise ReleaseError(
            name, rule=f"nbgrader refuses this module: {' | '.join(told[:4])}.", remedy="Mend that and try again."
        ) from None
