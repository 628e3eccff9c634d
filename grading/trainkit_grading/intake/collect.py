"""Taking in what was handed in: from the shared disk, a folder of zips or one zip.

Only the journal is taken. Who it is from is decided by the personal code in ``identity.json``, by the name of the
folder on the shared disk, or by the instructor, never by a file name or by what the journal says. The pristine
released notebook is laid beside it, the moment of arrival is stamped here, every earlier hand-in is kept. The same
hand-in taken twice changes nothing. Where it is in doubt who handed something in, it is kept and waits for a person.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import ValidationError

from trainkit import journal
from trainkit.errors import FormError
from trainkit.forms import FORMS_FILE, Identity
from trainkit.sentences import counted
from trainkit_grading.course import cohorts
from trainkit_grading.errors import CourseError, HandInError
from trainkit_grading.forms import generation
from trainkit_grading.intake import readers, receipts
from trainkit_grading.intake.identify import Registrar, vouch_for
from trainkit_grading.intake.readers import HandIn
from trainkit_grading.intake.receipts import Receipt
from trainkit_grading.intake.submissions import SECRET_FILE, TIME_FILE
from trainkit_grading.support.files import held, scratch, swap_in
from trainkit_grading.support.outcome import Finding, Outcome, Progress, quiet, refused

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.roster import Roster
    from trainkit_grading.course.seeds import Seed


# nbgrader's way of writing a time.
_TIME_FORMAT = "%Y-%m-%d %H:%M:%S.%f UTC"


def collect(
    course: Course,
    source: Path | None = None,
    apprentice: str | None = None,
    progress: Progress = quiet,
    clock: Callable[[], datetime] = journal.now,
) -> Outcome:
    """Take in what was handed in.

    Parameters
    ----------
    course : Course
        The course.
    source : Path, optional
        A zip or a folder of zips; without it the course's inbox and, where it has one, the shared disk.
    apprentice : str, optional
        Who handed in what ``source`` holds: the instructor's word, for a hand-in without a personal code.
    progress : callable, optional
        Told about each hand-in.
    clock : callable, optional
        Returns the time with its time zone.

    Returns
    -------
    Outcome
        What was refused costs only itself.

    Raises
    ------
    CourseError
        If the roster, the seed or a record of an earlier hand-in cannot be used at all.
    """
    return _taken_in(course, lambda: _found(course, source), source, apprentice, progress, clock)


def take(given: Iterable[HandIn], course: Course, clock: Callable[[], datetime] = journal.now) -> Outcome:
    """Take in hand-ins that the course side made itself, out of sheets of paper; everything else is as it was.

    Raises
    ------
    CourseError
        See :func:`collect`.
    """
    return _taken_in(course, lambda: iter(given), None, None, quiet, clock)


def _taken_in(
    course: Course,
    looked_for: Callable[[], Iterator[HandIn | Finding]],
    source: Path | None,
    apprentice: str | None,
    progress: Progress,
    clock: Callable[[], datetime],
) -> Outcome:
    now = clock().astimezone(UTC)
    if apprentice is not None:
        vouch_for(course.roster(), apprentice, source)
    # Reading takes as long as a slow disk or somebody's zip wants it to; nobody else waits for that.
    found = list(looked_for())
    with held(course.folder):
        seed = course.seed()
        registrar = Registrar(course, course.roster(), seed, now)
        findings = [*registrar.roster.findings, *(entry for entry in found if isinstance(entry, Finding))]
        came = sorted(
            (entry for entry in found if isinstance(entry, HandIn)), key=lambda entry: (entry.when, entry.place)
        )
        taken: list[Receipt] = []
        unchanged = 0
        for number, hand_in in enumerate(came, start=1):
            try:
                receipt = registrar.take(hand_in, apprentice)
            except HandInError as error:
                findings.append(refused(error, f"{hand_in.place}{_by_its_word(hand_in)}"))
            else:
                taken += [receipt] if receipt is not None else []
                unchanged += receipt is None
            progress(number, len(came), hand_in.place)
        findings += registrar.findings
        pairs = [(person.id, entry.name) for person in registrar.roster for entry in course.modules]
        for apprentice_id, module in pairs:
            registrar.kept(apprentice_id, module)
        taken += registrar.let_count()
        everything = tuple(receipt for pair in pairs for receipt in registrar.kept(*pair))
        registrar.chain.note(everything)
        findings += _lay(course, seed, everything)
        receipts.log(course, everything, (f for f in findings if f.severity == "refused"), now)
        findings += _strangers(course, registrar.roster)
    return _outcome(course, registrar.roster, everything, taken, unchanged, findings, now)


def _found(course: Course, source: Path | None) -> Iterator[HandIn | Finding]:
    if source is not None:
        yield from readers.from_path(source, course.limits)
        return
    if course.inbox.is_dir():
        yield from readers.from_path(course.inbox, course.limits)
    if course.exchange_root is not None:
        yield from readers.from_exchange(course.exchange_root / course.name / "inbound", course.limits)


def _by_its_word(hand_in: HandIn) -> str:
    """Return whose a refused hand-in says it is, for whoever has to ask; nothing where it does not say."""
    try:
        said = Identity.model_validate_json(hand_in.identity or b"", strict=False)
    except ValidationError:
        return ""
    return f", by its word from {said.apprentice}"


def _lay(course: Course, seed: Seed, everything: tuple[Receipt, ...]) -> Iterator[Finding]:
    """Lay the latest hand-in of each apprentice and module under ``submitted/``, unless it lies there."""
    groups: dict[tuple[str, str], list[Receipt]] = {}
    for receipt in everything:
        groups.setdefault((receipt.apprentice, receipt.module), []).append(receipt)
    for (apprentice, module), group in groups.items():
        newest = receipts.latest(group)
        target = course.submitted / apprentice / module
        if newest is None or _laid(target) == (newest.digest, _stamp(newest)):
            continue
        try:
            with scratch(course.folder) as work:
                swap_in(course.folder, _submission(course, seed, newest, work / "submission"), target)
        except (CourseError, FormError) as error:
            yield refused(error, f"{apprentice} {module}")


def _submission(course: Course, seed: Seed, receipt: Receipt, folder: Path) -> Path:
    name = f"{receipt.module}.ipynb"
    forms = generation.open_forms(course.forms_file(receipt.module, receipt.attempt))
    if forms is None:
        raise CourseError(
            receipt.module,
            rule=f"The forms of attempt {receipt.attempt} are missing.",
            remedy="Fetch the folder forms/ from your backup.",
        )
    folder.mkdir()
    (folder / name).write_bytes((course.release / receipt.module / name).read_bytes())
    own = forms.only(receipt.apprentice)
    (folder / FORMS_FILE).write_text(own.model_dump_json(indent=1) + "\n", "utf-8")
    (folder / journal.JOURNAL_FILE).write_bytes(receipts.journal_of(course, receipt))
    (folder / TIME_FILE).write_text(_stamp(receipt), "utf-8")
    # Feedback on the shared disk is named after it; where there is none, one that nobody can guess.
    secret = receipt.secret or seed.digest("feedback", receipt.apprentice, receipt.module, receipt.digest).hex()
    (folder / SECRET_FILE).write_text(secret, "utf-8")
    return folder


def _laid(folder: Path) -> tuple[str, str] | None:
    """Return what lies in a submission: the digest of its journal and its time."""
    try:
        content = (folder / journal.JOURNAL_FILE).read_bytes()
        return receipts.content_digest(content), (folder / TIME_FILE).read_text("utf-8")
    except (OSError, UnicodeDecodeError):
        return None


def _stamp(receipt: Receipt) -> str:
    return receipt.arrived.astimezone(UTC).strftime(_TIME_FORMAT)


def _strangers(course: Course, roster: Roster) -> Iterator[Finding]:
    if not course.submitted.is_dir():
        return
    for path in sorted(course.submitted.iterdir()):
        if not path.name.startswith(".") and roster.find(path.name) is None:
            text = "Nobody on the roster has this identifier; the folder is not marked. Check roster.csv."
            yield Finding("warning", f"submitted/{path.name}", text)


def _outcome(
    course: Course,
    roster: Roster,
    everything: tuple[Receipt, ...],
    taken: list[Receipt],
    unchanged: int,
    findings: list[Finding],
    now: datetime,
) -> Outcome:
    names = {person.id: person.name for person in roster}
    waiting = [receipt for receipt in taken if receipt.waits]
    taken = [receipt for receipt in taken if not receipt.waits]
    done = [
        f"{names[receipt.apprentice]}, {receipt.module}: {counted(receipt.answers, 'answer')} taken."
        for receipt in taken
    ]
    if waiting:
        done.append(f"{counted(len(waiting), 'hand-in waits', 'hand-ins wait')} for your decision.")
    if unchanged:
        done.append(f"{unchanged} hand-ins had been taken before.")
    missing = {}
    for entry in course.modules:
        have = {receipt.apprentice for receipt in everything if receipt.module == entry.name and not receipt.waits}
        asked = {person.id for person in roster if cohorts.expected(course, entry, person, now)} | have
        missing[entry.name] = [person.id for person in roster if person.id in asked - have]
        done.append(f"{entry.name}: {len(have)} of {len(asked)} have handed in.")
    return Outcome(
        "collect",
        tuple(done),
        tuple(findings),
        _next(everything),
        {
            "taken": [receipt.model_dump(mode="json", exclude={"secret", "link"}) for receipt in taken],
            "waiting": [receipt.model_dump(mode="json", exclude={"secret", "link"}) for receipt in waiting],
            "unchanged": unchanged,
            "missing": missing,
        },
    )


def _next(everything: tuple[Receipt, ...]) -> str:
    if any(not receipt.waits for receipt in everything):
        return "Mark what was handed in: trainkit-course mark"
    if everything:
        return "See what waits for your decision: trainkit-course ledger --open"
    return "Drop zips into inbox/, then collect again."
