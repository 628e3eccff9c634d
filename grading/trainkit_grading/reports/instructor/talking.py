"""Who needs a talk, and why: unsafe answers, misconceptions that are held, work that is missing, several failures."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.errors import TrainkitError
from trainkit.items.misconceptions import misconception
from trainkit.items.reading import read_response
from trainkit_grading.diagnosis import Answer, diagnose
from trainkit_grading.forms.store import open_forms, open_keys
from trainkit_grading.ledger.kinds import Marked

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.roster import Apprentice
    from trainkit_grading.forms.store import KeptForms, KeptKeys
    from trainkit_grading.ledger.book import Ledger
    from trainkit_grading.reports.instructor.mistakes import Mistake
    from trainkit_grading.results.results import Result


_MISSING, _FAILED = 2, 3


@dataclass(frozen=True, slots=True)
class Talk:
    """One person, and what to talk about, the most urgent first."""

    person: Apprentice
    about: tuple[str, ...]
    urgent: bool


def talks(
    people: Sequence[Apprentice],
    results: Mapping[str, Mapping[str, Result]],
    titles: Mapping[str, str],
    labels: Mapping[str, Sequence[str]],
) -> tuple[Talk, ...]:
    """Return who needs a talk, the urgent first.

    Parameters
    ----------
    people : sequence of Apprentice
        Those who are still there.
    results : mapping
        Results by apprentice and module.
    titles : mapping of str to str
        Titles of the modules.
    labels : mapping of str to sequence of str
        Codes of misconceptions that somebody holds, or has shown again and again, by apprentice.
    """
    found = []
    for person in people:
        own = results.get(person.id, {})
        unsafe = [_unsafe(titles[name], of) for name, of in own.items() if of.unsafe]
        about = [f"Unsafe answers: {'; '.join(unsafe)}."] if unsafe else []
        about += [f"Same mistake more than once: {_shows(code)}" for code in labels.get(person.id, ())]
        missing = [titles[name] for name, of in own.items() if of.expected and of.state == "missing"]
        if len(missing) >= _MISSING:
            about.append(f"Nothing handed in: {', '.join(missing)}.")
        failed = [titles[name] for name, of in own.items() if of.attempt and of.verdict == "not yet"]
        if len(failed) >= _FAILED:
            about.append(f"Not yet passed: {', '.join(failed)}.")
        again = [titles[name] for name, of in own.items() if of.attempts > 1 and of.verdict == "not yet"]
        if again:
            about.append(f"Tried more than once without passing: {', '.join(again)}.")
        if about:
            found.append(Talk(person, tuple(about), bool(unsafe)))
    return tuple(sorted(found, key=lambda talk: (not talk.urgent, -len(talk.about))))


def _unsafe(title: str, of: Result) -> str:
    """Return which answers are unsafe, and what follows for the result."""
    if of.spoken == "waiting":
        follows = " (a spoken check waits)"
    elif of.spoken:
        follows = f" (spoken check: {of.spoken})"
    else:
        follows = f" (critical: {', '.join(of.critical)})" if of.critical else ""
    return f"{title} {', '.join(of.unsafe)}{follows}"


def _shows(code: str) -> str:
    try:
        return misconception(code).shows
    except TrainkitError:
        return code


def often(found: Sequence[Mistake]) -> dict[str, list[str]]:
    """Return who has shown a misconception more than once, where there are too many people to weigh every answer."""
    labels: dict[str, list[str]] = {}
    for each in found:
        for name in each.again:
            labels.setdefault(name, []).append(each.code)
    return labels


def held(course: Course, ledger: Ledger, entries: Mapping[str, Sequence[int]]) -> dict[str, list[str]]:
    """Return the misconceptions that people hold, from all their answers weighed together (:mod:`..diagnosis`).

    Parameters
    ----------
    course : Course
        The course folder; what was asked and what is right are read from it.
    ledger : Ledger
        Its ledger.
    entries : mapping of str to sequence of int
        Numbers of the entries that count, by apprentice.
    """
    files: dict[tuple[str, int], tuple[KeptForms | None, KeptKeys | None]] = {}
    found: dict[str, list[str]] = {}
    for name, numbers in entries.items():
        answers = []
        for entry in ledger.read(Marked, numbers).values():
            where = (entry.module, entry.attempt)
            if where not in files:
                files[where] = (open_forms(course.forms_file(*where)), open_keys(course.key_file(*where)))
            forms, keys = files[where]
            if forms is None or keys is None or entry.form not in forms.codes or entry.form not in keys.codes:
                continue
            form, own = forms.read(entry.form), keys.read(entry.form)
            for row in entry.marks:
                if row.response is not None and row.item in own.keys:
                    item, given = form.item(row.item), read_response(json.loads(row.response))
                    facts = own.facts_of(row.item, item)
                    answers.append(Answer(f"{entry.module} {row.item}", item, own.keys[row.item], given, facts))
        codes = [finding.misconception for finding in diagnose(answers) if finding.held]
        if codes:
            found[name] = codes
    return found
