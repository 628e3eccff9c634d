"""What a person should look at about a submission; nothing of it changes a mark."""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from trainkit.items.kinds import ObservedItem
from trainkit_grading.support.plaintext import one_line

if TYPE_CHECKING:
    from trainkit.forms import Form
    from trainkit.journal import JournalLine, Reading
    from trainkit_grading.course.settings import Attempts


# A workshop laptop's clock may be this far out; more is worth a question.
_CLOCK = timedelta(minutes=10)


@dataclass(frozen=True, slots=True)
class Flag:
    """Something about a submission that a person should look at; it changes no mark.

    Parameters
    ----------
    kind : str
        ``"name"``, ``"form"``, ``"module"``, ``"course"``, ``"item"``, ``"times"``, ``"folder"``, ``"attempt"``,
        ``"history"``, ``"paper"``, of a later hand-in that waits ``"closed"``, ``"spent"``, ``"parted"`` or ``"less"``,
        or the kind of a journal's problem (:class:`trainkit.journal.Problem`).
    text : str
        What it is, whole sentences.
    """

    kind: str
    text: str

    def __post_init__(self) -> None:
        # Flags quote what a journal claims, and go to terminals and logs as well as to pages.
        object.__setattr__(self, "text", one_line(self.text))


def problem_flags(reading: Reading) -> Iterable[Flag]:
    """Tell of lines that were changed, taken out or are no answers."""
    # A last line cut off by a power cut is what journals are made for; it is no reason for a talk.
    odd = Counter(problem.kind for problem in reading.problems if problem.kind != "torn")
    for kind, count in odd.items():
        first = next(problem for problem in reading.problems if problem.kind == kind)
        where = f"Line {first.line}: " if first.line else ""
        more = f" {count} lines are like this." if count > 1 else ""
        yield Flag(kind, f"{where}{first.text}{more}")


def claim_flags(
    reading: Reading, apprentice: str, form: str, module: str, course: str, account: str | None = None
) -> Iterable[Flag]:
    """Tell where a journal takes itself for another person's, another form's, module's or course's.

    Their ``account``, where it is another name, is theirs too.
    """
    said = {(entry.apprentice, entry.form, entry.module, entry.course) for entry in reading.entries}
    if said <= {(name, form, module, course) for name in (apprentice, account)}:
        return  # as nearly all do
    ours_of = {"name": apprentice, "form": form, "module": module, "course": course}
    for kind, ours in ours_of.items():
        field = "apprentice" if kind == "name" else kind
        known = {_same(ours), _same(account or ours) if kind == "name" else _same(ours)}
        others = Counter(claimed for entry in reading.entries if _same(claimed := getattr(entry, field)) not in known)
        for claimed, count in others.most_common(3):
            answers = "1 answer claims" if count == 1 else f"{count} answers claim"
            yield Flag(kind, f"{answers} the {kind} “{claimed}”; here it is “{ours}”. It was marked as “{ours}”.")


def item_flags(reading: Reading, form: Form) -> Iterable[Flag]:
    """Tell of answers to items that the form has not, or that are not answered on the screen."""
    answered = {entry.item for entry in reading.entries}
    watched = {shown.id for shown in form.items if isinstance(shown.item, ObservedItem)}
    claimed_work = sorted(answered & watched)
    if claimed_work:
        yield Flag("item", f"The journal answers practical work, {', '.join(claimed_work)}; it was passed over.")
    unknown = sorted(answered - {shown.id for shown in form.items})
    if unknown:
        yield Flag("item", f"The form has no item {', '.join(f'“{name}”' for name in unknown[:5])}.")


def time_flags(
    entries: Sequence[JournalLine], arrived: datetime | None, given_out: datetime | None = None
) -> Iterable[Flag]:
    """Tell of times that cannot be: going back, before the form was given out, or after the hand-in arrived.

    Answering faster than anybody reads is not among them: who knows the answer may be quick.

    Parameters
    ----------
    entries : sequence of JournalLine
        The answers in the order of the journal.
    arrived, given_out : datetime or None
        When the hand-in arrived, and since when the form is out; UTC without a zone. None is not looked at.

    Examples
    --------
    >>> list(time_flags((), None))
    []
    """
    if not entries:
        return
    times = [entry.when.replace(tzinfo=None) for entry in entries]  # a journal writes UTC and nothing else
    # Differences alone: a time near the year 1 or 9999 has none before or after it to reckon with.
    back = next((number for number in range(1, len(times)) if times[number - 1] - times[number] > _CLOCK), None)
    if back is not None:
        yield Flag("times", f"Answer {back + 1} is dated {entries[back].at}, before the answer above it.")
    if given_out is not None and given_out - min(times) > _CLOCK:
        yield Flag("times", f"An answer is dated {_minute(min(times))}, before this form was given out.")
    if arrived is not None and max(times) - arrived > _CLOCK:
        yield Flag("times", f"An answer is dated {_minute(max(times))}, after the hand-in arrived.")


def _minute(when: datetime) -> str:
    return f"{when.isoformat(sep=' ', timespec='minutes')} UTC"


def attempt_flags(policy: Attempts, attempt: int, arrived: datetime | None, earlier: datetime | None) -> Iterable[Flag]:
    """Tell of an attempt that the course's policy does not count.

    Parameters
    ----------
    policy : Attempts
        What the course says.
    attempt : int
        Which one it is, from 1.
    arrived, earlier : datetime or None
        When it arrived, and when the attempt before it did.

    Examples
    --------
    >>> from trainkit_grading.course.settings import Attempts
    >>> [flag.text for flag in attempt_flags(Attempts(allowed=1), 2, None, None)]
    ['This is attempt 2, and the course allows 1. It does not count.']
    """
    if attempt > policy.allowed:
        yield Flag("attempt", f"This is attempt {attempt}, and the course allows {policy.allowed}. It does not count.")
    waited = arrived - earlier if arrived is not None and earlier is not None else None
    if waited is not None and waited < timedelta(hours=policy.hours_between):
        hours = max(waited.total_seconds() / 3600, 0.0)
        yield Flag(
            "attempt",
            f"It arrived {hours:.1f} hours after the attempt before it; the course asks for "
            f"{policy.hours_between:g}. It does not count.",
        )


def _same(name: str) -> str:
    return unicodedata.normalize("NFC", name)
