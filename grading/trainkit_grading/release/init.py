"""Founding a course: its folder with settings, roster, seed and nbgrader's configuration."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from pydantic import ValidationError

from trainkit import modules as shipped
from trainkit_grading.course import roster, seeds
from trainkit_grading.course.access import close
from trainkit_grading.course.folder import Course, folder_findings
from trainkit_grading.course.settings import COURSE_FILE, Attempts, Cohort, CourseModule, Settings, setting_finding
from trainkit_grading.errors import CourseError
from trainkit_grading.nbgrader_bridge.config import config_text
from trainkit_grading.support.files import write_once
from trainkit_grading.support.refusals import refusal


def create(
    folder: Path,
    name: str,
    title: str = "",
    modules: Sequence[CourseModule] = (),
    *,
    cohorts: Sequence[Cohort] = (),
    attempts: Attempts | None = None,
    exchange: str = "",
    database: str = "",
    access: str = "private",
) -> Course:
    """Make a course in ``folder``: its settings, an empty roster, a new secret seed, nbgrader's configuration.

    Files that are there already are kept, ``course.toml`` is written last: cut off anywhere, the same call goes on.

    Parameters
    ----------
    folder : Path
        The folder; it may exist.
    name : str
        Short name of the course.
    title : str, optional
        As people read it.
    modules : sequence of CourseModule, optional
        What it runs; without, all that come with trainkit.
    cohorts : sequence of Cohort, optional
        Who goes through it together.
    attempts : Attempts, optional
        How often a module can be tried.
    exchange : str, optional
        Folder on a disk that apprentices share with the instructor, absolute or relative to the course folder.
    database : str, optional
        Address of a PostgreSQL database for the marks.
    access : str, optional
        Who may open the folder on this computer: ``"private"``, its owner alone, or ``"group"``, instructors who share
        it. Nobody else can, whatever it was before.

    Raises
    ------
    CourseError
        If there is a course already, or the folder or the name cannot be used.
    """
    folder = folder.expanduser().absolute()
    if (folder / COURSE_FILE).exists():
        raise CourseError(
            str(folder), rule="There is a course here already.", remedy="Go on with it, or name another folder."
        )
    entries = tuple(modules) or tuple(CourseModule(name=module) for module in shipped.names())
    # Said in full, so that a later release with another default changes nothing in this course.
    entries = tuple(
        entry if entry.supervised is not None else entry.model_copy(update={"supervised": entry.name in _SUPERVISED})
        for entry in entries
    )
    if not entries:
        raise CourseError(
            str(shipped.folder()),
            rule="A course runs modules, and this installation brings none.",
            remedy="Install trainkit-workbooks again.",
        )
    said = {
        "format": 1,
        "name": name,
        "title": title or name,
        "modules": list(entries),
        "cohorts": list(cohorts),
        "attempts": attempts or Attempts(),
        "exchange": {"root": exchange},
        "database": database,
        "access": access,
    }
    try:
        settings = Settings.model_validate(said)
    except ValidationError as error:
        first = setting_finding(error.errors(include_url=False)[0])
        remedy = "Choose another with --name." if first.place.endswith(" name") else "Then try again."
        raise CourseError(first.place.partition(" ")[2], rule=first.text, remedy=remedy) from None
    for finding in folder_findings(folder):
        raise CourseError(finding.place, rule=finding.text, remedy="Then try again.")
    course = Course(
        folder=folder,
        name=name,
        title=settings.title,
        modules=entries,
        exchange_root=folder / Path(exchange).expanduser() if exchange else None,
        attempts=settings.attempts,
        access=settings.access,
        database=settings.database,
        cohorts=tuple(cohorts),
    )
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        close(folder, access)
        course.inbox.mkdir(exist_ok=True)
        if not course.seed_file.exists():
            seeds.Seed.create(course.seed_file)
        write_once(course.roster_file, roster.EMPTY_ROSTER)
        write_once(folder / ".gitignore", "# Keys and people stay out of version control.\n/keys/\n/.trainkit-*\n")
        write_once(course.nbgrader_config, config_text(course))
        write_once(course.file, settings_text(course, exchange))
    except OSError as error:
        raise refusal(error, folder) from None
    return course


# Modules of which a new course counts a pass as evidence only where somebody watched.
_SUPERVISED = frozenset({"capstone"})


def settings_text(course: Course, exchange: str = "") -> str:
    """Return a commented ``course.toml`` for a new course; ``exchange`` is the shared folder as it is to be written."""
    # What JSON writes between quotation marks, TOML reads.
    quoted = json.dumps(course.title, ensure_ascii=False)
    tables = "\n".join(_table(entry) for entry in course.modules)
    cohorts = "\n".join(_cohort(cohort) for cohort in course.cohorts) or _NO_COHORT
    known = course.database or "postgresql+psycopg://name@host/course"
    database = f"{'' if course.database else '# '}database = {json.dumps(known)}"
    return f"""\
# A course of trainkit. Lines that begin with # are notes, or settings that are not in use.

format = 1

# Short name, part of every form: keep it once a module has been given out.
name = "{course.name}"
# As people read it.
title = {quoted}
# Where marks are kept: in gradebook.db beside this file, or in a PostgreSQL database that several instructors share.
# Its password goes into PostgreSQL's own file ~/.pgpass, never in here.
{database}

# What feedback tells: "method" (what an answer shows and the step that cures it, never the right answer),
# or "answers" (the right answers and their working too, once no further attempt is open).
reveal = "{course.reveal}"

# Who may open this folder on this computer: "private" (its owner alone), or "group" (instructors who share it).
access = "{course.access}"

# One table for each module, in the order of the course.
#   opens    date, time and zone from which it is given out:   opens = 2027-03-18T08:00:00+00:00
#   due      date, time and zone until which it is handed in:  due = 2027-04-01T16:00:00+01:00
#   attempt  raise it by one to give everybody a new form
#   pack     draw the items from another pack:  pack = "packs/our-engine.toml"
#   practise_on  explain and practise another engine:  practise_on = "packs/our-pump.toml"
#   folder   a module of your own:  folder = "modules/our-module"
#   reveal   tell something else about this module:  reveal = "answers"
#   supervised   true: a pass counts as evidence of readiness only if a session record says who watched

{tables}
# One table for each cohort: people who go through the course together, named in the column cohort of roster.csv.
#   modules  those that they take; all of the course, if left out:  modules = ["torque-units"]
#   opens    their own openings and due dates, by module; the module's own, if left out:
#   due      due.torque-units = 2027-04-01T16:00:00+01:00
{cohorts}
[exchange]
# Folder on a disk that the apprentices share with you, where nbgrader hands out and takes in.
# Leave it empty where there is none: each apprentice then gets a zip and hands in a zip.
root = {json.dumps(exchange, ensure_ascii=False)}

[limits]
# What one hand-in may hold at most. An honest one is far below.
hand_in_bytes = {course.limits.hand_in_bytes}
hand_in_files = {course.limits.hand_in_files}

[attempts]
# How often a module can be tried, which attempt counts ("best" or "last"), and the hours between two.
# Each attempt has a form of its own: raise attempt of the module by one, build and assign it.
allowed = {course.attempts.allowed}
counts = "{course.attempts.counts}"
hours_between = {course.attempts.hours_between:g}

[lateness]
# What each day late, once begun, takes off the points earned, and at most.
percent_a_day = {course.lateness.percent_a_day:g}
at_most_percent = {course.lateness.at_most_percent:g}
grace_minutes = {course.lateness.grace_minutes:g}
"""


_NO_COHORT = """\
# [[cohorts]]
# name = "autumn"
# title = "Autumn intake"
"""


def _cohort(cohort: Cohort) -> str:
    lines = ["[[cohorts]]", f'name = "{cohort.name}"']
    lines += [f"title = {json.dumps(cohort.title, ensure_ascii=False)}"] if cohort.title else []
    lines += [f"modules = {json.dumps(cohort.modules)}"] if cohort.modules else []
    lines += [f"opens.{module} = {when.isoformat()}" for module, when in cohort.opens.items()]
    lines += [f"due.{module} = {when.isoformat()}" for module, when in cohort.due.items()]
    return "\n".join(lines) + "\n"


def _table(entry: CourseModule) -> str:
    lines = ["[[modules]]", f'name = "{entry.name}"', f"attempt = {entry.attempt}"]
    lines += [
        f"{key} = {json.dumps(value)}"
        for key in ("folder", "pack", "practise_on", "reveal")
        if (value := getattr(entry, key))
    ]
    lines += [f"supervised = {json.dumps(entry.supervised)}"] if entry.supervised is not None else []
    lines += [f"{key} = {when.isoformat()}" for key in ("opens", "due") if (when := getattr(entry, key)) is not None]
    return "\n".join(lines) + "\n"
