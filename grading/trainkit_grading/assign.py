"""Giving a module out: nbgrader's release folder, the shared disk, and a zip for each apprentice without one.

A zip holds the notebook, ``forms.json`` with its apprentice's form only, and ``identity.json`` with a personal code.
What is given out is recorded before it leaves, so that no later build changes it without a word.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainkit import journal
from trainkit.errors import TrainkitError
from trainkit.forms import FORMS_FILE, IDENTITY_FILE, Forms, Identity
from trainkit_grading import drawing, leaks, nbgrader_steps
from trainkit_grading.errors import ReleaseError
from trainkit_grading.files import held, same_tree, scratch, swap_in, write_atomically
from trainkit_grading.outcome import Finding, Outcome, Progress, quiet, refused
from trainkit_grading.zipping import zip_of

if TYPE_CHECKING:
    from trainkit_grading.course import Course, CourseModule
    from trainkit_grading.roster import Apprentice, Roster
    from trainkit_grading.seeds import Seed

__all__ = ["assign", "identity", "workbook_zip"]


def assign(
    course: Course,
    names: Iterable[str] = (),
    progress: Progress = quiet,
    clock: Callable[[], datetime] = journal.now,
) -> Outcome:
    """Give modules out: release folder, shared disk where the course has one, and zips.

    Parameters
    ----------
    course : Course
        The course; its modules are built.
    names : iterable of str, optional
        The modules; all of the course without.
    progress : callable, optional
        Told about each zip.
    clock : callable, optional
        Returns the time with its time zone; it is recorded since when each form is out.

    Returns
    -------
    Outcome
        What was refused costs only its own module.

    Raises
    ------
    CourseError
        If the roster or the seed cannot be used at all, or a module is not of this course.
    """
    entries = [course.module(name) for name in names] or list(course.modules)
    done: list[str] = []
    findings: list[Finding] = []
    given: dict[str, Any] = {}
    with held(course.folder):
        seed = course.seed()
        roster = course.roster()
        findings += roster.findings
        for entry in entries:
            strayed = [
                finding
                for folder in (course.source / entry.name, course.release / entry.name)
                for finding in leaks.found_in(folder, seed, course.folder)
            ]
            if strayed:
                findings += strayed
                continue
            try:
                told, on_disk, zips = _assign_one(course, entry, roster, seed, progress, clock().astimezone(UTC))
            except TrainkitError as error:
                findings.append(refused(error, error.place or entry.name))
                continue
            except OSError as error:
                place = str(error.filename or entry.name)
                findings.append(Finding("refused", place, f"{error.strerror}. Allow writing in the course folder."))
                continue
            findings += told
            shared = " On the shared disk, too." if on_disk else ""
            done.append(f"{entry.name}: release/{entry.name} and {zips} zips in zips/{entry.name}.{shared}")
            given[entry.name] = {"attempt": entry.attempt, "zips": zips, "shared_disk": on_disk}
    next_step = "Give each apprentice their own zip. Later, take the answers in: trainkit-course collect"
    return Outcome("assign", tuple(done), tuple(findings), next_step if given else "", {"modules": given})


def _assign_one(
    course: Course, entry: CourseModule, roster: Roster, seed: Seed, progress: Progress, now: datetime
) -> tuple[list[Finding], bool, int]:
    forms = _built_forms(course, entry)
    findings = []
    people = []
    for person in roster:
        try:
            people.append((person, drawing.only(forms, person.id)))
        except TrainkitError:
            text = "This apprentice has no form yet. Build the module again, then assign it."
            findings.append(Finding("refused", f"{entry.name} {person.id}", text))
    release = course.release / entry.name
    with scratch(course.folder) as work:
        made = nbgrader_steps.generate_release(course, entry, work)
        leaked = leaks.found_in(made, seed, work)
        if leaked:
            raise ReleaseError(
                entry.name, rule=" ".join(f"{f.place}: {f.text}" for f in leaked), remedy="Nothing was given out."
            )
        # From here on forms leave the course: first the record, then the files.
        drawing.record_release(course, entry.name, entry.attempt, forms.forms, now)
        if not same_tree(made, release):
            swap_in(course.folder, made, release)
    zips = course.zips / entry.name
    zips.mkdir(parents=True, exist_ok=True)
    for number, (person, own) in enumerate(people, start=1):
        write_atomically(zips / f"{person.id}.zip", workbook_zip(release, own, identity(course, person, seed)))
        progress(number, len(people), person.name)
    on_disk = course.exchange_root is not None
    if course.exchange_root is not None:
        out = course.exchange_root / course.name / "outbound" / entry.name
        if not same_tree(release, out):
            nbgrader_steps.hand_out(course, entry)
    return findings, on_disk, len(people)


def _built_forms(course: Course, entry: CourseModule) -> Forms:
    """Return the forms of the current attempt, as they were built into the source folder."""
    forms = drawing.read_forms(course.forms_file(entry.name, entry.attempt))
    keys = drawing.open_keys(course.key_file(entry.name, entry.attempt))
    source = course.source / entry.name
    built = Forms.read(source)
    if forms is None or keys is None or built is None or not (source / f"{entry.name}.ipynb").is_file():
        raise ReleaseError(
            entry.name,
            rule=f"A module is built before it is given out; attempt {entry.attempt} of this one is not.",
            remedy=f"Give the command: trainkit-course build {entry.name}",
        )
    if built != forms or {form.code for form in forms.forms} != set(keys.codes):
        raise ReleaseError(
            entry.name,
            rule="The forms in source/, forms/ and keys/ belong together; these do not.",
            remedy=f"Give the command: trainkit-course build {entry.name}",
        )
    return forms


def identity(course: Course, person: Apprentice, seed: Seed) -> Identity:
    """Return what says whose folder a zip makes: it carries a code that only the course can give."""
    return Identity(
        course=course.name,
        apprentice=person.id,
        name=person.name,
        code=seed.code("person", course.name, person.id, length=16),
    )


def workbook_zip(release: Path, own: Forms, who: Identity) -> bytes:
    """Return a zip with everything of a release, but with this apprentice's form only and their identity.

    The same content gives the same bytes.
    """
    members = {
        path.relative_to(release).as_posix(): path.read_bytes()
        for path in release.rglob("*")
        if path.is_file() and not path.is_symlink()
    }
    members[FORMS_FILE] = (own.model_dump_json(indent=1) + "\n").encode()
    members[IDENTITY_FILE] = (who.model_dump_json(indent=1) + "\n").encode()
    return zip_of(release.name, members)
