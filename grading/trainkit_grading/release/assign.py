"""Giving a module out: nbgrader's release folder, the shared disk, and a zip for each apprentice without one.

A zip holds the notebook, ``forms.json`` with its apprentice's form only, and ``identity.json`` with a personal code.
What is given out is recorded before it leaves, so that no later build changes it without a word.

Whoever has left, whose cohort does not take the module, or for whom it has not opened yet, gets nothing new. Whoever
came later gets a form of their own; everybody else's stays as it is. Everybody's zip says their own dates. The shared
disk says those of the cohorts, but never who has extra time, since anybody may read it there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainkit import journal
from trainkit.errors import TrainkitError
from trainkit.forms import FORMS_FILE, IDENTITY_FILE, NO_DUE, FormDates, Forms, Identity, person_digest
from trainkit_grading.course import cohorts
from trainkit_grading.errors import ReleaseError
from trainkit_grading.forms import generation, leaks
from trainkit_grading.nbgrader_bridge import steps
from trainkit_grading.record import moves
from trainkit_grading.release.build import build_one
from trainkit_grading.release.origin import failed
from trainkit_grading.support.files import held, same_tree, scratch, swap_in, write_atomically
from trainkit_grading.support.outcome import Finding, Outcome, Progress, quiet
from trainkit_grading.support.refusals import stops_all
from trainkit_grading.support.zipping import zip_of

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course, CourseModule
    from trainkit_grading.course.roster import Apprentice, Roster
    from trainkit_grading.course.seeds import Seed


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
    named = {course.module(name).name for name in names}
    entries = [entry for entry in course.modules if not named or entry.name in named]
    done: list[str] = []
    findings: list[Finding] = []
    given: dict[str, Any] = {}
    with held(course.folder):
        seed = course.seed()
        roster = course.roster()
        findings += roster.findings
        own = leaks.own_packs(course)
        for entry in entries:
            strayed = [
                finding
                for folder in (course.source / entry.name, course.release / entry.name)
                for finding in leaks.found_in(folder, seed, course.folder, own)
            ]
            if strayed:
                findings += strayed
                continue
            moment = clock().astimezone(UTC)
            able = [person for person in roster if cohorts.expected(course, entry, person, moment)]
            if not able:
                findings.append(_not_yet(course, entry, roster, moment, named=entry.name in named))
                continue
            try:
                told, on_disk = _assign_one(course, entry, roster, able, seed, progress, moment)
            except (OSError, TrainkitError) as error:
                findings += failed(error, entry.name)
                if stops_all(error):
                    break
                continue
            findings += told
            shared = " On the shared disk, too." if on_disk else ""
            zips = len(able) - len([f for f in told if f.severity == "refused"])
            done.append(f"{entry.name}: release/{entry.name} and {zips} zips in zips/{entry.name}.{shared}")
            given[entry.name] = {"attempt": entry.attempt, "zips": zips, "shared_disk": on_disk}
        if given:
            findings += moves.record(course, roster, seed)
    next_step = (
        "Give each apprentice their own zip. See what is open: trainkit-course status. "
        "Later, take the answers in: trainkit-course collect"
    )
    return Outcome("assign", tuple(done), tuple(findings), next_step if given else "", {"modules": given})


def _not_yet(course: Course, entry: CourseModule, roster: Roster, now: datetime, *, named: bool) -> Finding:
    """Say why nobody gets a module now: an error only for whoever asked for this one."""
    theirs = [p for p in roster if cohorts.takes(course, entry, p) and not p.gone(now.date())]
    openings = [opens for p in theirs if (opens := cohorts.dates(course, entry, p).opens) is not None]
    if not openings:
        text = "Nobody on the roster takes this module. Look at cohorts in course.toml and roster.csv."
    else:
        text = f"It opens {cohorts.when(min(openings))}. Give the command then, or change opens in course.toml."
    return Finding("refused" if named else "note", entry.name, text)


def _assign_one(
    course: Course,
    entry: CourseModule,
    roster: Roster,
    able: Sequence[Apprentice],
    seed: Seed,
    progress: Progress,
    now: datetime,
) -> tuple[list[Finding], bool]:
    findings: list[Finding] = []
    forms = _built_forms(course, entry)
    given_out = generation.read_released(course.released_file(entry.name, entry.attempt))
    late = [person for person in able if person_digest(course.name, person.id) not in forms.people]
    if late and given_out:
        # They came after it was given out: forms that are out stay as they are, and theirs are added.
        findings += build_one(course, entry, roster, seed, now=now).findings
        forms = _built_forms(course, entry)
        findings.append(Finding("note", entry.name, f"Forms added for {', '.join(p.name for p in late)}."))
    people = []
    for person in able:
        try:
            people.append((person, generation.only(forms, person.id)))
        except TrainkitError:
            text = "This apprentice has no form yet. Build the module again, then assign it."
            findings.append(Finding("refused", f"{entry.name} {person.id}", text))
    waiting = [
        (person, cohorts.dates(course, entry, person).opens)
        for person in roster
        if person not in able and not person.gone(now.date()) and cohorts.takes(course, entry, person)
    ]
    if waiting:
        first = min(opens for _, opens in waiting if opens is not None)
        text = f"Not given to {len(waiting)} yet, it opens for them {cohorts.when(first)}. Assign it again then."
        findings.append(Finding("note", entry.name, text))
    out = {own.forms[0].code for _, own in people} | given_out.keys()
    release = course.release / entry.name
    with scratch(course.folder) as work:
        made = steps.generate_release(course, entry, work)
        leaked = leaks.found_in(made, seed, work, leaks.own_packs(course))
        if leaked:
            raise ReleaseError(
                entry.name, rule=" ".join(f"{f.place}: {f.text}" for f in leaked), remedy="Nothing was given out."
            )
        shown = _for_everybody(course, entry, forms, roster, out)
        (made / FORMS_FILE).write_text(shown.model_dump_json(indent=1) + "\n", "utf-8")
        # From here on forms leave the course: first the record, then the files.
        generation.record_release(course, entry.name, entry.attempt, shown.forms, now)
        if not same_tree(made, release):
            swap_in(course.folder, made, release)
    zips = course.zips / entry.name
    zips.mkdir(parents=True, exist_ok=True)
    for number, (person, own) in enumerate(people, start=1):
        dated = _with_dates(course, entry, own, person)
        packed = workbook_zip(release, dated, identity(course, person, seed))
        # Whoever reads the code in it could hand in under their name.
        write_atomically(zips / f"{person.id}.zip", packed, mode=0o600)
        progress(number, len(people), person.name)
    on_disk = course.exchange_root is not None
    if course.exchange_root is not None:
        out_there = course.exchange_root / course.name / "outbound" / entry.name
        if not same_tree(release, out_there):
            steps.hand_out(course, entry)
    return findings, on_disk


def _for_everybody(course: Course, entry: CourseModule, forms: Forms, roster: Roster, out: Iterable[str]) -> Forms:
    """Return what a release holds: the forms that are out, with the dates of cohorts, and nothing of extra time."""
    codes = set(out)
    common = cohorts.common_due(course, entry)
    found: dict[str, FormDates] = {}
    # On a shared server a workbook knows whose it is by the account.
    logins = {
        person_digest(course.name, person.account): code
        for person in roster
        if person.account and (code := forms.people.get(person_digest(course.name, person.id))) in codes
    }
    for person in roster:
        code = forms.people.get(person_digest(course.name, person.id))
        due = cohorts.dates(course, entry, replace(person, extra_percent=0.0)).due
        if code in codes and due != common:
            found[str(code)] = FormDates(due=due.isoformat() if due is not None else NO_DUE)
    return forms.model_copy(
        update={
            "due": common.isoformat() if common is not None else "",
            "forms": tuple(form for form in forms.forms if form.code in codes),
            "people": {digest: code for digest, code in (forms.people | logins).items() if code in codes},
            "dates": dict(sorted(found.items())),
        }
    )


def _with_dates(course: Course, entry: CourseModule, own: Forms, person: Apprentice) -> Forms:
    """Return somebody's own form with their own dates."""
    due = cohorts.dates(course, entry, person).due
    extra = {own.forms[0].code: FormDates(extra_percent=person.extra_percent)} if person.extra_percent else {}
    return own.model_copy(update={"due": due.isoformat() if due is not None else "", "dates": extra})


def _built_forms(course: Course, entry: CourseModule) -> Forms:
    """Return the forms of the current attempt, as they were built into the source folder."""
    forms = generation.read_forms(course.forms_file(entry.name, entry.attempt))
    keys = generation.open_keys(course.key_file(entry.name, entry.attempt))
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
