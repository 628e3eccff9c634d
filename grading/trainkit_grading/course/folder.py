"""A course: a folder of the instructor's choosing, described by its ``course.toml``.

Everything of a course lives in that folder; :class:`Course` is a read-only value that knows every path in it. Paths
are relative to the folder, so a course can be moved, and opened from anywhere.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path

from pydantic import ValidationError

from trainkit import modules as shipped
from trainkit import packs as engines
from trainkit_grading.course import packs, roster, seeds
from trainkit_grading.course.settings import (
    COURSE_FILE,
    Attempts,
    Cohort,
    CourseModule,
    Criterion,
    Lateness,
    Limits,
    Settings,
    setting_finding,
)
from trainkit_grading.errors import CourseError
from trainkit_grading.support.outcome import Finding, refused

__all__ = [
    "COURSE_FILE",
    "WITHOUT_SEED",
    "Cohort",
    "Course",
    "CourseModule",
    "Limits",
    "Settings",
    "folder_findings",
    "read_course",
]

# Lies beside the stand-in of a seed that was not packed into an archive.
WITHOUT_SEED = "without-seed"

MODULE_COPY = "module.toml"
"""Name of the blueprint among the copies that a course keeps for an attempt."""
PACK_COPY = "pack.toml"
"""Name of the pack there."""

# nbgrader finds its folders by patterns and its gradebook by an address: these signs mean something else there.
_UNUSABLE_IN_PATHS = "[]*?{}%#"


class _Within:
    """A path in the folder of a course."""

    def __init__(self, path: str) -> None:
        self._path = path

    def __get__(self, course: Course, _: object) -> Path:
        return course.folder / self._path


@dataclass(frozen=True, slots=True)
class Course:
    """A course folder.

    Parameters
    ----------
    folder : Path
        Absolute path of the course folder.
    name : str
        Short name; part of every form, so it stays as it is once a module is out.
    title : str
        As people read it.
    modules : tuple of CourseModule
        The modules it runs, in order.
    exchange_root : Path or None
        Folder of the shared disk through which nbgrader hands out and takes in, if there is one.
    limits : Limits
        What one hand-in may hold at most.
    attempts : Attempts
        How often a module can be tried, and which attempt counts.
    lateness : Lateness
        What arriving late costs.
    reveal : str
        What feedback tells: ``"method"``, or ``"answers"`` once no further attempt is open.
    access : str
        Who may open the folder on this computer: ``"private"``, its owner alone, or ``"group"``, instructors who share
        it (:mod:`.access`).
    database : str
        Address of a PostgreSQL database for the marks; empty for a file in the course folder.
    cohorts : tuple of Cohort
        Who goes through the course together, and when.
    qualification : str
        What the course leads to, as people call it; empty where it is not said.
    criteria : tuple of Criterion
        Its numbered criteria; without any, each module is one, and practical work another
        (:func:`~trainkit_grading.results.readiness.criteria_of`).
    """

    folder: Path
    name: str
    title: str
    modules: tuple[CourseModule, ...]
    exchange_root: Path | None = None
    limits: Limits = field(default_factory=Limits)
    attempts: Attempts = field(default_factory=Attempts)
    lateness: Lateness = field(default_factory=Lateness)
    reveal: str = "method"
    access: str = "private"
    database: str = ""
    cohorts: tuple[Cohort, ...] = ()
    qualification: str = ""
    criteria: tuple[Criterion, ...] = ()

    @classmethod
    def load(cls, folder: Path | str = ".") -> Course:
        """Load the course in ``folder``.

        Raises
        ------
        CourseError
            If there is none, or its ``course.toml`` cannot be used: all that is wrong with it at once.
        """
        course, findings = read_course(Path(folder))
        if course is None or findings:
            wrong = " ".join(f"{finding.place}: {finding.text}" for finding in findings)
            raise CourseError(str(folder), rule=f"This course cannot be used. {wrong}", remedy="Then try again.")
        return course

    def module(self, name: str) -> CourseModule:
        """Return the module of this name.

        Raises
        ------
        CourseError
            If the course does not run it.
        """
        for entry in self.modules:
            if entry.name == name:
                return entry
        raise CourseError(
            name,
            rule=f"This course runs {', '.join(entry.name for entry in self.modules)}.",
            remedy="Name one of these, or add the module to course.toml.",
        )

    def workbook(self, entry: CourseModule, attempt: int = 0) -> shipped.Module:
        """Load the blueprint that holds for an attempt at a module, and find its notebook.

        Once forms of the attempt are drawn that is the course's own copy, so that neither an upgrade nor an edit
        changes what was given out; before, it is the module as it is now.

        Parameters
        ----------
        entry : CourseModule
            The module.
        attempt : int
            Which attempt; the current one without.

        Raises
        ------
        ModuleError
            If there is none, or its blueprint cannot be used.
        """
        copy = self.given_folder(entry.name, attempt or entry.attempt) / MODULE_COPY
        if not copy.is_file():
            return self.present_workbook(entry)
        return self.planned_workbook(entry, shipped.load_accepted(copy))

    def planned_workbook(self, entry: CourseModule, blueprint: shipped.Blueprint) -> shipped.Module:
        """Return a module with its notebook as it is now and the blueprint that its forms are drawn from."""
        home = self.folder / entry.folder if entry.folder else shipped.folder() / entry.name
        return shipped.Module(folder=home, blueprint=blueprint)

    def pack(self, entry: CourseModule, attempt: int = 0) -> engines.Pack:
        """Load the pack that the items of an attempt at a module are drawn from: the course's copy, if there is one.

        Raises
        ------
        ModuleError, PackError
            If there is none, or it cannot be used.
        """
        copy = self.given_folder(entry.name, attempt or entry.attempt) / PACK_COPY
        if copy.is_file():
            return engines.load_accepted(copy)
        return engines.load(self.pack_of(entry, self.present_workbook(entry).blueprint))

    def present_workbook(self, entry: CourseModule) -> shipped.Module:
        """Load a module as it is now, whatever was given out; errors as for :meth:`workbook`."""
        return shipped.load(self.folder / entry.folder if entry.folder else entry.name)

    def pack_of(self, entry: CourseModule, blueprint: shipped.Blueprint) -> str | Path:
        """Return the name or the file of the pack that the next forms of a module are drawn from.

        That is the one that the course names for the module, else the one that the blueprint keeps for the assessment
        (``assessed_on``), else the one that it practises on (``pack``).
        """
        if entry.pack.endswith(".toml"):
            return self.folder / entry.pack
        return packs.find_pack(entry.pack or blueprint.assessed_on or blueprint.pack)

    def roster(self) -> roster.Roster:
        """Read the roster; somebody in a cohort that the course does not have is a finding.

        Raises
        ------
        RosterError
            If it cannot be read at all.
        """
        return roster.in_cohorts(roster.read_roster(self.roster_file), [cohort.name for cohort in self.cohorts])

    def seed(self) -> seeds.Seed:
        """Read the secret seed.

        Raises
        ------
        SeedError
            If it is missing, damaged or open to others.
        """
        return seeds.Seed.read(self.seed_file)

    file = _Within(COURSE_FILE)  # the ``course.toml``
    roster_file = _Within("roster.csv")  # the roster, edited by people
    nbgrader_config = _Within("nbgrader_config.py")  # the configuration that nbgrader reads in this folder
    gradebook = _Within("gradebook.db")  # the database of marks, nbgrader's tables and ours, where it is a file
    keys = _Within("keys")  # folder of the seed and the keys; its owner's alone
    seed_file = _Within("keys/seed")  # the secret seed
    without_seed = _Within(f"keys/{WITHOUT_SEED}")  # is there where an archive was packed without its seed
    proven_file = _Within("keys/proven.json")  # how far the course has been proven
    source = _Within("source")  # what nbgrader makes assignments from
    release = _Within("release")  # what is given out through the shared disk
    zips = _Within("zips")  # a folder a module, with a zip an apprentice
    inbox = _Within("inbox")  # where zips that were handed in are dropped
    arrivals = _Within("arrivals")  # every journal that was ever handed in, with the moment it arrived
    arrivals_log = _Within("arrivals.jsonl")  # one line for each hand-in taken or refused
    arrivals_chain = _Within("arrivals-chain.json")  # where the chain of these begins and ends, and who left it
    submitted = _Within("submitted")  # the latest hand-in of each apprentice and module, as nbgrader reads it
    autograded = _Within("autograded")  # where nbgrader keeps marked notebooks
    feedback = _Within("feedback")  # where nbgrader keeps feedback pages
    report = _Within("report")  # where reports are written

    @property
    def gradebook_url(self) -> str:
        """Address of the database of marks."""
        return self.database or f"sqlite:///{self.gradebook.as_posix()}"

    def key_file(self, module: str, attempt: int) -> Path:
        """Return the file with the keys of all forms of an attempt."""
        return self.keys / module / f"attempt-{attempt}.jsonl"

    def forms_file(self, module: str, attempt: int) -> Path:
        """Return the course side's copy of all forms of an attempt."""
        return self.folder / "forms" / module / f"attempt-{attempt}.jsonl"

    def given_folder(self, module: str, attempt: int) -> Path:
        """Return the folder with the copies of pack and blueprint that forms of an attempt were drawn from."""
        return self.folder / "forms" / module / f"attempt-{attempt}"

    def released_file(self, module: str, attempt: int) -> Path:
        """Return the record of the forms of an attempt that have been given out."""
        return self.folder / "forms" / module / f"attempt-{attempt}-released.json"


def read_course(folder: Path) -> tuple[Course | None, tuple[Finding, ...]]:
    """Read ``course.toml`` and return the course, if it can be used, with everything that is wrong."""
    folder = folder.expanduser().absolute()
    path = folder / COURSE_FILE
    try:
        data = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except (FileNotFoundError, NotADirectoryError):
        return None, (
            Finding(
                "refused",
                str(folder),
                "There is no course.toml here. Go into a course folder, name it with --course, "
                "or make one: trainkit-course new FOLDER",
            ),
        )
    except OSError as error:
        return None, (refused(error, COURSE_FILE),)
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        text = "The settings are text in UTF-8, and this line is not. Save the file again as UTF-8."
        return None, (Finding("refused", f"{COURSE_FILE} line {line}", text),)
    except tomllib.TOMLDecodeError as error:
        return None, (Finding("refused", COURSE_FILE, f"The file is no TOML: {error}. Mend that place."),)
    findings = list(folder_findings(folder))
    try:
        settings = Settings.model_validate(data)
    except ValidationError as error:
        findings.extend(setting_finding(entry) for entry in error.errors(include_url=False))
        return None, tuple(findings)
    root = Path(settings.exchange.root).expanduser() if settings.exchange.root else None
    course = Course(
        folder=folder,
        name=settings.name,
        title=settings.title,
        modules=tuple(settings.modules),
        exchange_root=folder / root if root else None,
        limits=settings.limits,
        attempts=settings.attempts,
        lateness=settings.lateness,
        reveal=settings.reveal,
        access=settings.access,
        database=settings.database,
        cohorts=tuple(settings.cohorts),
        qualification=settings.qualification,
        criteria=tuple(settings.criteria),
    )
    return course, tuple(findings)


def folder_findings(folder: Path) -> list[Finding]:
    """Refuse a folder in which nbgrader would find nothing."""
    bad = sorted({sign for sign in str(folder) if sign in _UNUSABLE_IN_PATHS})
    if not bad:
        return []
    return [
        Finding(
            "refused",
            str(folder),
            f"nbgrader finds no files in a folder with {' '.join(bad)} in its path. Move or rename the folder.",
        )
    ]
