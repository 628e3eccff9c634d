"""Forgetting somebody, from the database to the last file; given again after it was cut off, it goes on.

First the database, in one transaction: from then on no marking takes the person up again. Then the files, those that
tell whose a form was after those that hang on it, and the roster last, as it says the name that is looked for.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from trainkit.sentences import counted
from trainkit_grading.errors import CourseError
from trainkit_grading.keeping.forget import places, strike
from trainkit_grading.keeping.forget.lines import roster_without
from trainkit_grading.keeping.forget.places import Mention
from trainkit_grading.keeping.forget.strike import Rows
from trainkit_grading.keeping.forget.traces import Traces, same
from trainkit_grading.support.files import held, pages_held, write_atomically
from trainkit_grading.support.outcome import Finding, Outcome, Progress, quiet
from trainkit_grading.support.refusals import refusal

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


_LONGEST = 500
_TOLD = 20  # so many places that a person has to look at are named
_OUTSIDE = (
    "Outside this folder nothing was changed: backups, archives, printed pages and what was sent to other systems. "
    "Have them forgotten there, too."
)


def survey(course: Course, apprentice: str, why: str, name: str = "") -> Outcome:
    """Tell every place that names somebody, and what would become of it; nothing is changed.

    Parameters
    ----------
    course : Course
        The course folder.
    apprentice : str
        Whom.
    why : str
        Why; it stands in the ledger, so it names nobody.
    name : str, optional
        Their name, where the roster does not have them any more.

    Raises
    ------
    CourseError
        If nothing in this course names them, or the reason cannot be taken.
    """
    with held(course.folder), pages_held(course.folder):
        traces = _traces(course, apprentice, name)
        _reason(why, traces)
        rows = strike.look(course, traces)
        found = list(places.find_mentions(course, traces))
        listed = roster_without(course, traces) is not None
    _there(apprentice, rows, found, listed=listed)
    words = [*_database(rows), *(f"{place.shown}: {place.what}" for place in found)]
    words += ["roster.csv: written anew"] if listed else []
    return Outcome(
        "forget",
        findings=(Finding("note", "", _OUTSIDE),),
        next_step="Nothing was changed yet. Given without --dry-run, the command asks once more.",
        data={"places": [{"place": place.shown, "what": place.what} for place in found], "database": _plain(rows)},
        words=tuple(words),
    )


def forget(course: Course, apprentice: str, why: str, name: str = "", progress: Progress = quiet) -> Outcome:
    """Take somebody out of a course: their row, their free text, their name in the gradebook, their folders and files.

    What their answers earned stays in the ledger as nobody's and counts in statistics. Cut off at any moment and
    given again it comes to the same; of somebody who was forgotten nothing is left to do.

    Parameters
    ----------
    course, apprentice, why, name
        See :func:`survey`.
    progress : callable, optional
        Told of each place.

    Returns
    -------
    Outcome
        What could not be removed is a finding and costs only itself.

    Raises
    ------
    CourseError
        If nothing in this course names them, the reason cannot be taken, or the database cannot be used.
    """
    findings: list[Finding] = []
    counts: Counter[str] = Counter()
    again: dict[str, None] = {}
    with held(course.folder), pages_held(course.folder):
        traces = _traces(course, apprentice, name)
        _reason(why, traces)
        before = strike.look(course, traces)
        listed = roster_without(course, traces)
        # Keys alone tell whose a form was: they come after everything that is found by its form.
        found = sorted(places.find_mentions(course, traces), key=lambda place: places.is_key(course, place.path))
        _there(apprentice, before, found, listed=listed is not None)
        rows, number = strike.strike(course, traces, why.strip())
        findings += strike.compact(course)
        for count, place in enumerate(found, start=1):
            progress(count, len(found), place.shown)
            try:
                if place.do is not None:
                    place.do()
                    counts[place.what] += 1
                    again |= {place.again: None} if place.again else {}
            except (OSError, CourseError) as error:
                told = refusal(error) if isinstance(error, OSError) else error
                text = f"It still names them. {told.rule} {told.remedy}"
                findings.append(Finding("refused", place.shown, text))
        if listed is not None and not any(finding.severity == "refused" for finding in findings):
            write_atomically(course.roster_file, listed, course.roster_file.stat().st_mode & 0o777)
        findings += strike.remains(course, traces)
        findings += _looked_at(list(places.find_mentions(course, traces)), findings)
    findings.append(Finding("note", "", _OUTSIDE))
    made = f"Make again what was removed: {'; '.join(again)}" if again else ""
    return Outcome(
        "forget",
        tuple(_done(rows, number, counts)),
        tuple(findings),
        f"{made}. Then: trainkit-course verify" if made else "Prove the rest: trainkit-course verify",
        {"entry": number, "removed": counts["removed"], "rewritten": counts["written anew"]},
    )


def _traces(course: Course, apprentice: str, name: str) -> Traces:
    roster = course.roster()
    person = roster.find(apprentice)
    others = tuple(
        word for other in roster if other != person for word in (other.id, other.name, other.account) if word
    )
    said = name or (person.name if person is not None else "")
    # A name that two people have tells nobody whose file it is; the identifier does.
    shared = any(same(said, other) for other in others)
    account = person.account if person is not None else ""
    return Traces(person.id if person is not None else apprentice, "" if shared else said, others, account)


def _reason(why: str, traces: Traces) -> None:
    words = why.strip()
    if not words or len(words) > _LONGEST or not words.isprintable():
        raise CourseError(
            words[:80], rule=f"A reason is a text of 1 to {_LONGEST} characters.", remedy='Say it: --why "…"'
        )
    if traces.named_in(words):
        raise CourseError(words, rule="The reason stays in the ledger, so it names nobody.", remedy="Word it anew.")


def _there(apprentice: str, rows: Rows, found: Sequence[Mention], *, listed: bool) -> None:
    if not (rows.any or rows.forgotten or listed or any(place.named for place in found)):
        raise CourseError(
            apprentice,
            rule="Nothing in this course names anybody with this identifier.",
            remedy="See who is on it: trainkit-course status --module MODULE",
        )


def _database(rows: Rows) -> list[str]:
    found = []
    if rows.person:
        found.append(f"ledger: the name goes; {counted(rows.entries, 'entry stays', 'entries stay')} as nobody's")
        found.append(f"ledger: emptied are {rows.texts} texts and {rows.notes} notes")
    if rows.elsewhere:
        numbers = ", ".join(dict.fromkeys(str(entry) for entry, _ in rows.elsewhere))
        found.append(f"ledger: emptied are notes about others that name them, entries {numbers}")
    if rows.comments:
        found.append(f"gradebook: {len(rows.comments)} comments that name them are emptied")
    if rows.student:
        found.append(f"gradebook: student and {rows.submissions} submissions go, with grades and comments")
    return found


def _plain(rows: Rows) -> dict[str, object]:
    return {
        "entries": rows.entries,
        "texts": rows.texts,
        "notes": rows.notes,
        "elsewhere": [entry for entry, _ in rows.elsewhere],
        "submissions": rows.submissions,
        "forgotten": rows.forgotten,
    }


def _done(rows: Rows, number: int, counts: Counter[str]) -> list[str]:
    done = []
    if number:
        done.append(f"Their name and their words are out of the ledger; entry {number} says so and names nobody.")
        done.append(f"What {counted(rows.entries, 'entry says', 'entries say')} was earned stays, as nobody's.")
    elif rows.forgotten:
        done.append("The ledger had forgotten them before.")
    if rows.student:
        done.append(f"nbgrader's gradebook has nothing of them; {rows.submissions} submissions are gone.")
    done.append(f"{counts['removed']} files and folders removed, {counts['written anew']} written anew without them.")
    return done


def _looked_at(left: Sequence[Mention], findings: Sequence[Finding]) -> list[Finding]:
    """Tell what still names them, but for what was said already."""
    said = {finding.place for finding in findings}
    still = [place for place in left if place.shown not in said]
    found = [
        Finding("warning", place.shown, "It still names them, and was left for you to look at.")
        for place in still[:_TOLD]
    ]
    if len(still) > _TOLD:
        found.append(Finding("warning", "", f"{len(still) - _TOLD} more places are like this."))
    return found
