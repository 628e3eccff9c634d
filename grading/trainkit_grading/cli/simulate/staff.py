"""Simulated staff: who watches a sitting, who reads texts, who watches practical work. All of them are invented.

What they say goes through the same functions as what real people say. What is on record already stays.
"""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from trainkit.sentences import counted
from trainkit_grading.support.outcome import Outcome

if TYPE_CHECKING:
    import random
    from collections.abc import Collection, Mapping
    from datetime import datetime

    from trainkit_grading.course.folder import Course

_INVIGILATOR, _ASSESSOR = "P. Tidewell", "M. Orrin"


def watch_sittings(course: Course, sittings: Mapping[str, datetime], people: int) -> Outcome:
    """Record who watched some modules.

    Parameters
    ----------
    course : Course
        The course folder.
    sittings : mapping of str to datetime
        When each of these modules was begun, with its time zone.
    people : int
        How many sat it; they begin a minute apart.
    """
    from trainkit_grading.ledger.book import Ledger
    from trainkit_grading.nbgrader_bridge import gradebook
    from trainkit_grading.record.sessions import Session, recorded, watch

    with gradebook.opened(course) as engine, engine.begin() as connection:
        ledger = Ledger(connection, course.seed())
        known = {name for name in sittings if recorded(ledger, name)}
    for name, begin in sittings.items():
        if name not in known:
            end = begin + timedelta(hours=2, minutes=min(people, 240))
            outcome = watch(course, Session(name, _INVIGILATOR, "Bay 2", begin, end, "calculator"))
            if not outcome.ok:
                return outcome
    return Outcome("session", (f"{_INVIGILATOR} has watched {len(sittings)} of {len(course.modules)} sittings.",))


def read_texts(course: Course, people: Collection[str]) -> Outcome:
    """Give the texts of some people all their points, in nbgrader's gradebook; all other texts wait."""
    from trainkit.items.template import find
    from trainkit_grading.nbgrader_bridge import gradebook, steps

    steps.configuration(course)
    with steps.prepared():
        from nbgrader.api import Gradebook

        with Gradebook(course.gradebook_url, course.name) as book:
            for entry in course.modules:
                items = course.workbook(entry).blueprint.items
                read = {item.id for item in items if find(item.template).kind == "text"}
                for person in sorted(gradebook.read(course, entry.name).keys() & set(people)):
                    for item in read:
                        grade = book.find_grade(item, entry.name, entry.name, person)
                        if grade.needs_manual_grade:
                            grade.manual_score, grade.needs_manual_grade = grade.max_score, False
            book.db.commit()
    return Outcome("read", (f"The texts of {counted(len(people), 'apprentice')} are read; the others wait.",))


def observe_work(course: Course, fluent: Collection[str], noon: datetime, rng: random.Random) -> Outcome:
    """Watch the whole job with three in four: most need no help, some a prompt, one is stopped for safety.

    Of the ``fluent`` the observed question of the assessment is watched too.
    """
    from trainkit import packs
    from trainkit.items.template import find
    from trainkit_grading.ledger.book import Ledger
    from trainkit_grading.nbgrader_bridge import gradebook
    from trainkit_grading.signoff.checklists import of_item, of_pack
    from trainkit_grading.signoff.observations import Observation, sign_offs
    from trainkit_grading.signoff.observing import observe

    with gradebook.opened(course) as engine, engine.begin() as connection:
        seen = {who for who, _ in sign_offs(Ledger(connection, course.seed()))}
    seed, pack = course.seed(), packs.load(course.workbook(course.modules[0]).blueprint.pack)
    asking = [
        entry
        for entry in course.modules
        if any(find(item.template).kind == "observed" for item in course.workbook(entry).blueprint.items)
    ]
    roster = course.roster().apprentices
    watched = [place for place in range(len(roster)) if place % 4 != 3]
    for place in watched:
        person = roster[place]
        prompted, moment = rng.random(), noon + timedelta(minutes=10 * place % 240)
        if person.id in seen:  # in an earlier release's demo too: its engine may have had other steps
            continue
        sheets = [of_pack(pack, seed, course.name, person=person)]
        if person.id in fluent:
            sheets += [of_item(course, entry, person, seed) for entry in asking]
        for sheet in sheets:
            outcomes = dict.fromkeys(range(1, len(sheet.steps) + 1), "unprompted")
            if place % 4 == 2 and person.id not in fluent:
                outcomes[1 + int(prompted * len(sheet.steps))] = "prompted"
            if place == 1:
                outcomes[next(n for n, step in enumerate(sheet.steps, start=1) if step.critical)] = "stopped for safety"
            seen_at = Observation(person.id, sheet, outcomes, _ASSESSOR, _INVIGILATOR, "Training engine 2", moment)
            outcome = observe(course, seen_at)
            if not outcome.ok:
                return outcome
    return Outcome("observe", (f"{len(watched)} have shown the whole job at the engine.",))
