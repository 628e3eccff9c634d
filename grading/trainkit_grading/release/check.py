"""Checking a course before anything is built: settings, roster, seed, packs, blueprints, notebooks."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from trainkit import packs
from trainkit.errors import PackError, TrainkitError
from trainkit.items.misconceptions import all_misconceptions
from trainkit.pools import readiness, words
from trainkit_grading.course import access, doubts, practice_packs
from trainkit_grading.course import folder as courses
from trainkit_grading.course import packs as assessment
from trainkit_grading.forms import generation, leaks
from trainkit_grading.forms.renamed import renamed
from trainkit_grading.release.build import check_notebook
from trainkit_grading.release.origin import missing, origin_of
from trainkit_grading.support.outcome import Finding, Outcome, Progress, Table, quiet, refused

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainkit.modules import Blueprint
    from trainkit.pools import ModuleReadiness
    from trainkit_grading.course.folder import Course, CourseModule


def check(folder: Path, progress: Progress = quiet) -> Outcome:
    """Look at everything that a course rests on and tell all that is wrong at once; nothing is changed.

    Parameters
    ----------
    folder : Path
        The course folder.
    progress : callable, optional
        Told about each module.
    """
    course, findings = courses.read_course(folder)
    if course is None:
        return Outcome("check", findings=findings)
    other_name = list(renamed(course))
    found = [*findings, *other_name, *_ground(course), *doubts.of_settings(course)]
    people = 0
    try:
        roster = course.roster()
        people = len(roster)
        found += [*roster.findings, *doubts.of_people(roster)]
        if not people and not roster.findings:
            found.append(
                Finding("warning", "roster.csv", "Nobody is on the roster yet. Write a line for each apprentice.")
            )
    except TrainkitError as error:
        found.append(refused(error))
    filled: list[ModuleReadiness] = []
    for number, entry in enumerate(course.modules, start=1):
        looked = list(_module(course, entry))
        found += looked
        if not other_name and not any(finding.severity == "refused" for finding in looked):
            of_module, told = _filled(course, entry)
            filled += of_module
            found += told
        progress(number, len(course.modules), entry.name)
    done = [f"{course.title}: {people} apprentices, {len(course.modules)} modules looked at."]
    ready = not any(finding.severity == "refused" for finding in found) and people
    step = "Draw forms and keys: trainkit-course build" if ready else "Mend what is listed, then check again."
    tables = (Table(words.COLUMNS, tuple(map(words.row, filled)), "Questions drawn on trial"),) if filled else ()
    data = {"apprentices": people, "modules": [each.as_data() for each in filled]}
    return Outcome("check", tuple(done), tuple(found), step, data, tables)


def _filled(course: Course, entry: CourseModule) -> tuple[list[ModuleReadiness], list[Finding]]:
    """Fill the pools of a module, from the course's copies where forms are out, and tell what keeps it from building.

    What a build would refuse is refused here.
    """
    try:
        origin, told = origin_of(course, entry)
    except TrainkitError as error:
        return [], [refused(error, error.place or entry.name)]
    found = readiness(origin.pack, origin.blueprint)
    return [found], [*told, *(missing(each, entry.name) for each in found.missing)]


def _ground(course: Course) -> Iterator[Finding]:
    try:
        course.seed()
    except TrainkitError as error:
        yield refused(error)
    if not course.nbgrader_config.is_file():
        yield Finding("refused", "nbgrader_config.py", "The file is missing. Copy it from a new course.")
    yield from access.findings(course)
    root = course.exchange_root
    if root is not None and not root.is_dir():
        yield Finding("refused", str(root), "The folder of the shared disk is missing. Create it, or mend course.toml.")
    elif root is not None and not os.access(root, os.R_OK | os.W_OK | os.X_OK):
        yield Finding("refused", str(root), "You may not write to the shared disk. Ask whoever looks after it.")


def _module(course: Course, entry: CourseModule) -> Iterator[Finding]:
    for folder in (course.source / entry.name, course.release / entry.name):
        yield from leaks.found_in(folder, shown_from=course.folder, own=leaks.own_packs(course))
    is_out = generation.read_released(course.released_file(entry.name, entry.attempt))
    for finding in _present(course, entry):
        # Forms that are out keep what they were drawn from: what is wrong by now counts from the next attempt.
        yield replace(finding, severity="warning") if is_out and finding.severity == "refused" else finding


def _present(course: Course, entry: CourseModule) -> Iterator[Finding]:
    """Tell what is wrong with notebook, blueprint and packs of a module as they are now."""
    try:
        module = course.present_workbook(entry)
    except TrainkitError as error:
        yield refused(error, error.place or entry.name)
        return
    yield from (Finding(found.severity, f"{entry.name} {found.place}", found.text) for found in check_notebook(module))
    yield from doubts.of_blueprint(module.blueprint)
    yield from _practised(course, entry, module.blueprint)
    named = entry.pack or module.blueprint.assessed_on or module.blueprint.pack
    try:
        examined = packs.examine(course.pack_of(entry, module.blueprint), misconceptions=all_misconceptions())
    except PackError as error:
        yield refused(error, error.place or entry.name)
        return
    for finding in examined.findings:
        yield _told(finding, f"{entry.name} {named}")


def _practised(course: Course, entry: CourseModule, blueprint: Blueprint) -> Iterator[Finding]:
    """Tell what is wrong with the pack that a module is to be practised on, and what it leaves nothing to ask about."""
    if not entry.practise_on:
        return
    place = f"{entry.name} {entry.practise_on}"
    try:
        if entry.practise_on not in assessment.names():
            examined = packs.examine(practice_packs.place_of(course, entry))
            yield from (_told(each, place) for each in examined.findings)
            if examined.pack is None:
                return
        own = practice_packs.practice_pack_of(course, entry)
    except TrainkitError as error:
        yield refused(error, error.place or place)
        return
    silent = practice_packs.without_questions(blueprint, own.pack) if own is not None else ()
    if silent:
        text = f"This engine leaves nothing to practise about: {'; '.join(silent)}. The workbook says so there."
        yield Finding("warning", place, text)


def _told(finding: packs.PackFinding, place: str) -> Finding:
    return Finding(_SEVERITIES[finding.severity], place, str(finding))


_SEVERITIES: dict[str, Literal["refused", "warning", "note"]] = {"refuse": "refused", "warn": "warning", "note": "note"}
