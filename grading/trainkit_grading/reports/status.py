"""How a course stands: what is open, what is out, who has handed in, what is late, and what waits for whom.

Everything is worked out from what the course keeps; nothing is changed. What nobody can know is not guessed: a zip
that was made may lie unopened, and a shared disk does not say who has fetched.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from trainkit import journal
from trainkit.errors import TrainkitError
from trainkit.sentences import counted
from trainkit_grading.course import access, cohorts
from trainkit_grading.decisions import pending
from trainkit_grading.forms import generation
from trainkit_grading.forms.renamed import renamed
from trainkit_grading.paper import codes
from trainkit_grading.paper.entering import unfinished
from trainkit_grading.reports.alike import alike_plays
from trainkit_grading.reports.basis import opened_ledger
from trainkit_grading.results.results import Result, gather
from trainkit_grading.support.outcome import Finding, Outcome, Progress, Table, quiet, refused

if TYPE_CHECKING:
    from pathlib import Path

    from trainkit_grading.course.folder import Course, CourseModule
    from trainkit_grading.course.roster import Apprentice


# What can be the case of one apprentice and module, and what it means.
STATES = {
    "not open": "it opens later",
    "to give out": "open, and no form has been given out yet",
    "out": "given out; nothing has come in yet",
    "late": "given out and past due; nothing has come in yet",
    "to mark": "handed in, and the marks are not there yet",
    "for a person": "marked, but something waits for a person: a text, practical work",
    "marked": "marked, nothing waits",
}


@dataclass(frozen=True, slots=True)
class ModuleStanding:
    """How one apprentice stands in one module.

    Parameters
    ----------
    module, apprentice, name, cohort : str
        Which module, and who.
    state : str
        One of :data:`STATES`.
    attempt : int
        The attempt that is out or comes next.
    opens, due : datetime or None
        Their own dates.
    since : datetime or None
        Since when the form is out.
    arrived : datetime or None
        When the last hand-in of this attempt arrived.
    """

    module: str
    apprentice: str
    name: str
    cohort: str
    state: str
    attempt: int
    opens: datetime | None = None
    due: datetime | None = None
    since: datetime | None = None
    arrived: datetime | None = None

    @property
    def came_late(self) -> bool:
        """Whether the hand-in arrived after it was due."""
        return self.arrived is not None and self.due is not None and self.arrived > self.due

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain JSON data."""
        times = {name: getattr(self, name) for name in ("opens", "due", "since", "arrived")}
        return {
            **{name: getattr(self, name) for name in ("module", "apprentice", "name", "cohort", "state", "attempt")},
            "late": self.state == "late" or self.came_late,
            **{name: when.isoformat() if when is not None else None for name, when in times.items()},
        }


def status(
    course: Course,
    module: str = "",
    cohort: str = "",
    progress: Progress = quiet,
    clock: Callable[[], datetime] = journal.now,
) -> Outcome:
    """Tell how a course stands.

    Parameters
    ----------
    course : Course
        The course folder; no file of it is changed.
    module : str, optional
        Only this module, and then everybody in it by name.
    cohort : str, optional
        Only people of this cohort.
    progress : callable, optional
        Told of each module.
    clock : callable, optional
        Returns the time with its time zone.

    Returns
    -------
    Outcome
        ``data["standing"]`` has one entry for each apprentice and module that is theirs.

    Raises
    ------
    CourseError
        If the module or the cohort is not of this course, or the roster cannot be read.
    """
    now = clock()
    entries = [course.module(module)] if module else list(course.modules)
    if cohort:
        cohorts.named(course, cohort)
    roster = course.roster()
    people = [person for person in roster if not cohort or person.cohort == cohort]
    results = gather(course, progress, clock)
    rows = {(row.apprentice, row.module): row for row in results.rows}
    handed_in, places, collected = _handed_in(course)
    standing: list[ModuleStanding] = []
    findings = [finding for finding in results.findings if finding.severity == "refused"]
    findings += renamed(course)
    findings += access.findings(course)
    built = set()
    for entry in entries:
        try:
            keys = generation.open_keys(course.key_file(entry.name, entry.attempt))
            codes_of = {name: code for code, name in keys.head.people.items()} if keys is not None else {}
            standing += _of_module(course, entry, people, codes_of, rows, handed_in, now)
        except TrainkitError as error:
            findings.append(refused(error, error.place or entry.name))
            continue
        if codes_of:
            built.add(entry.name)
    waiting = _uncollected(course, places, collected)
    if waiting:
        findings.append(
            Finding(
                "note", "inbox", f"{counted(waiting, 'new hand-in has', 'new hand-ins have')} not been collected yet."
            )
        )
    try:
        findings += [
            Finding("note", code, f"This sheet of paper is not typed to its end. See: trainkit-course enter {code}")
            for code in map(codes.to_type, unfinished(course))
        ]
    except TrainkitError as error:
        findings.append(refused(error))
    still = _undecided(course, module, {person.id for person in people}) if results.ledger.entries else ()
    if still:
        findings.append(Finding("note", "ledger", f"{pending.summed(still)}. See: trainkit-course ledger --open"))
    findings += _unsupervised(entries, rows, {person.id for person in people})
    if results.ledger.entries:
        findings += _alike(course, entries, {person.id: person.name for person in people})
    tables = (_table(entries, standing), *((_names(standing),) if module else ()))
    findings += [] if module else [found for entry in entries for found in _attention(entry.name, standing)]
    return Outcome(
        "status",
        (),
        tuple(findings),
        _next(standing, built, waiting, bool(people)),
        {
            "standing": [of.to_dict() for of in standing],
            "uncollected": waiting,
            "matters": [each.to_dict() for each in still],
        },
        tables,
        _NOT_KNOWN if any(of.since is not None for of in standing) else "",
    )


_NOT_KNOWN = (
    "“Out” says that a zip was made, and that the form lies on the shared disk where there is one. "
    "Who has fetched or opened it, nobody can know before the hand-in."
)


def _unsupervised(
    entries: Iterable[CourseModule], rows: Mapping[tuple[str, str], Result], people: set[str]
) -> Iterable[Finding]:
    """Say of how many results no session record says who watched."""
    for entry in entries:
        count = sum(
            row.supervision == "not supervised"
            for (person, module), row in rows.items()
            if module == entry.name and person in people
        )
        if count:
            text = f"{counted(count, 'result is', 'results are')} not supervised: no session record says who watched."
            yield Finding("note", entry.name, text)


def _alike(course: Course, entries: Iterable[CourseModule], names: Mapping[str, str]) -> Iterable[Finding]:
    """Name plays of the bench that share more detours than chance gives."""
    with opened_ledger(course) as (ledger, _):
        for entry in entries:
            for each in alike_plays(course, ledger, entry.name):
                if names.keys() >= set(each.found.people):
                    whose = " and ".join(names[person] for person in each.found.people)
                    yield Finding("note", f"{entry.name} {each.item}", f"{whose}: {each.text}")


def _undecided(course: Course, module: str, people: set[str]) -> tuple[pending.PendingDecision, ...]:
    """Return what waits for a decision; texts and practical work stand in the table already."""
    return tuple(
        each
        for each in pending.of_course(course)
        if each.kind not in ("text", "observation")
        and each.apprentice in people
        and (not module or each.module == module)
    )


def _of_module(
    course: Course,
    entry: CourseModule,
    people: Iterable[Apprentice],
    codes_of: Mapping[str, str],
    rows: Mapping[tuple[str, str], Result],
    handed_in: Mapping[tuple[str, str, int], datetime],
    now: datetime,
) -> Iterable[ModuleStanding]:
    """Yield how each person stands; ``codes_of`` has the codes of what was drawn for the current attempt."""
    file = course.released_file(entry.name, entry.attempt)
    released, given_out = generation.read_released(file), generation.read_given_out(file)
    for person in people:
        row = rows.get((person.id, entry.name))
        arrived = handed_in.get((person.id, entry.name, entry.attempt))
        if arrived is None and row is not None and row.attempt == entry.attempt and row.arrived is not None:
            arrived = row.arrived.replace(tzinfo=UTC)
        code = codes_of.get(person.id, "")
        out = code in released
        came = arrived is not None or (row is not None and row.state == "to mark")
        dates = cohorts.dates(course, entry, person)
        if not came and (person.gone(now.date()) or not cohorts.takes(course, entry, person)):
            continue
        if came:
            marked = row is not None and row.state == "handed in"
            waits = row is not None and (row.verdict == "waiting" or row.open)
            state = "to mark" if not marked else "for a person" if waits else "marked"
        elif out:
            state = "late" if dates.late(now) else "out"
        else:
            state = "to give out" if dates.open(now) else "not open"
        yield ModuleStanding(
            entry.name,
            person.id,
            person.name,
            person.cohort,
            state,
            entry.attempt,
            dates.opens,
            dates.due,
            given_out.get(code) if out else None,
            arrived,
        )


def _handed_in(course: Course) -> tuple[dict[tuple[str, str, int], datetime], set[str], datetime | None]:
    """Return when what arrived, by apprentice, module and attempt; which files were looked at; and when last."""
    found: dict[tuple[str, str, int], datetime] = {}
    places: set[str] = set()
    last: datetime | None = None
    lines = course.arrivals_log.read_bytes().splitlines() if course.arrivals_log.is_file() else []
    for line in lines:
        try:
            said = json.loads(line)
            places.add(str(said.get("refused") or said.get("place")))
            moment = datetime.fromisoformat(str(said.get("at") or said.get("collected")))
            last = moment if last is None else max(last, moment)
            if "arrived" in said and not said.get("waits"):
                key = (str(said["apprentice"]), str(said["module"]), int(said["attempt"]))
                arrived = datetime.fromisoformat(str(said["arrived"]))
                found[key] = max(arrived, found.get(key, arrived))
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
            continue  # a line that was cut off; the next collecting makes it good
    return found, places, last


def _uncollected(course: Course, places: set[str], last: datetime | None) -> int:
    """Return how many files lie where hand-ins are dropped and have come since the last collecting."""
    homes = [course.inbox]
    if course.exchange_root is not None:
        homes.append(course.exchange_root / course.name / "inbound")
    return sum(
        f"{home.name}/{path.name}" not in places and (last is None or _moment(path) > last)
        for home in homes
        if home.is_dir()
        for path in home.iterdir()
        if not path.name.startswith(".")
    )


def _moment(path: Path) -> datetime:
    return datetime.fromtimestamp(path.lstat().st_mtime, UTC)


def _table(entries: Sequence[CourseModule], standing: Sequence[ModuleStanding]) -> Table:
    shown = [state for state in STATES if any(of.state == state for of in standing)]
    rows = []
    for entry in entries:
        of_module = [of for of in standing if of.module == entry.name]
        counts = [str(sum(of.state == state for of in of_module) or "–") for state in shown]
        rows.append((entry.name, str(entry.attempt), _span(of.due for of in of_module), *counts))
    people = len({of.apprentice for of in standing})
    return Table(("module", "attempt", "due", *shown), tuple(rows), counted(people, "person", "people"))


def _span(moments: Iterable[datetime | None]) -> str:
    """Return one date, or the first and the last of several."""
    known = sorted({moment for moment in moments if moment is not None})
    if not known:
        return "–"
    first, last = cohorts.when(known[0]), cohorts.when(known[-1])
    return first if first == last else f"{first}\nto {last}"


def _names(standing: Sequence[ModuleStanding]) -> Table:
    rows = [
        (
            of.name,
            of.apprentice,
            of.cohort or "–",
            of.state + (", came late" if of.came_late else ""),
            cohorts.when(of.since) if of.since is not None else "–",
            cohorts.when(of.arrived) if of.arrived is not None else "–",
            cohorts.when(of.due) if of.due is not None else "–",
        )
        for of in standing
    ]
    return Table(("name", "apprentice", "cohort", "state", "out since", "handed in", "due"), tuple(rows))


def _attention(module: str, standing: Sequence[ModuleStanding]) -> Iterable[Finding]:
    """Say whose matter needs somebody."""
    for state in ("to give out", "late", "to mark", "for a person"):
        names = [of.name for of in standing if of.module == module and of.state == state]
        if names:
            more = f" and {len(names) - 8} more" if len(names) > 8 else ""
            severity: Any = "warning" if state == "late" else "note"
            yield Finding(severity, f"{module}, {state}", f"{', '.join(names[:8])}{more}.")


def _next(standing: Sequence[ModuleStanding], built: set[str], waiting: int, people: bool) -> str:
    if not people:
        return "Write your apprentices into roster.csv, or take a list in: trainkit-course roster import FILE.csv"
    ungiven = [of.module for of in standing if of.state == "to give out"]
    unbuilt = list(dict.fromkeys(module for module in ungiven if module not in built))
    if unbuilt:
        return f"Draw forms and keys: trainkit-course build {' '.join(unbuilt)}"
    if ungiven:
        return f"Give it out: trainkit-course assign {' '.join(dict.fromkeys(ungiven))}"
    if waiting:
        return "Take in what was handed in: trainkit-course collect"
    if any(of.state == "to mark" for of in standing):
        return "Mark what was handed in: trainkit-course mark"
    if any(of.state == "for a person" for of in standing):
        return "Read what waits for a person in formgrader, which opens with: jupyter lab"
    if any(of.state == "late" for of in standing):
        return "Ask those who are late. Then the score sheet: trainkit-course report"
    dues = [of.due for of in standing if of.state == "out" and of.due is not None]
    if dues:
        return f"Nothing waits for you before {cohorts.when(min(dues))}."
    if any(of.state == "out" for of in standing):
        return "Nothing waits for you. Take in what comes: trainkit-course collect"
    openings = [of.opens for of in standing if of.state == "not open" and of.opens is not None]
    if openings:
        return f"Nothing waits for you before {cohorts.when(min(openings))}; then: trainkit-course assign"
    return "Everything is marked. Write feedback and score sheet: trainkit-course feedback, trainkit-course report"
