"""A sheet as it is typed: what is asked, by which rule each answer is read, and what two passes agree on."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from trainkit.items.kinds import ObservedItem, TextItem
from trainkit_grading.errors import PaperError
from trainkit_grading.forms import generation
from trainkit_grading.paper import codes, notation
from trainkit_grading.paper.sheets import SITTING, FormOnPaper, given_out
from trainkit_grading.support.outcome import Finding
from trainkit_grading.support.plaintext import one_line

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Response
    from trainkit_grading.course.folder import Course
    from trainkit_grading.paper.passes import Typing


TIMES = ("date", "began", "ended")
_LONGEST = timedelta(hours=12)
# The clock of the office may be a little behind that of the room.
_CLOCK = timedelta(minutes=10)


def find_sheet(course: Course, typed: str, clock: Callable[[], datetime]) -> AnswerSheet:
    """Return the sheet with the code that somebody typed.

    Raises
    ------
    PaperError
        If the check sign does not belong to it, no form of the course has it, it is one of an earlier attempt, or it
        was not given out.
    """
    code = codes.read_code(typed)
    roster = course.roster()
    for entry in course.modules:
        for attempt in range(entry.attempt, 0, -1):
            keys = generation.open_keys(course.key_file(entry.name, attempt))
            name = keys.head.people.get(code) if keys is not None else None
            if name is None:
                continue
            if attempt != entry.attempt:
                raise PaperError(
                    codes.on_paper(code),
                    rule=f"This form is of attempt {attempt} of {entry.name}; the current one is {entry.attempt}.",
                    remedy="Sheets of an earlier attempt are not taken any more; keep the paper.",
                )
            person = roster.find(name)
            if person is None:
                raise PaperError(
                    name, rule="Whose form this is, is not on the roster any more.", remedy="Check roster.csv."
                )
            found = next(iter(given_out(course, entry, [person])))
            if isinstance(found, Finding):
                raise PaperError(codes.on_paper(code), rule="This form cannot be taken.", remedy=found.text)
            return AnswerSheet(found, clock)
    raise PaperError(
        codes.on_paper(code),
        rule="No form of this course has this code.",
        remedy="See whether the sheet is of this course: its name stands at the head of each page.",
    )


@dataclass(frozen=True, slots=True)
class AnswerSheet:
    """The sheet of one form, as it is typed."""

    given: FormOnPaper
    clock: Callable[[], datetime]

    @property
    def code(self) -> str:
        """Code of the form."""
        return self.given.form.code

    @property
    def items(self) -> Mapping[str, Item]:
        """What can be answered on it, in its order; practical work has its checklist."""
        return {of.id: of.item for of in self.given.form.items if not isinstance(of.item, ObservedItem)}

    @property
    def asked(self) -> tuple[str, ...]:
        """Names of everything that is typed, in its order."""
        return (*TIMES, *self.items)

    def hint(self, what: str) -> str:
        """Return in a few words how something is typed."""
        return notation.hint(self.items[what]) if what in self.items else SITTING[what]

    def read(self, what: str, text: str, before: Mapping[str, str]) -> object:
        """Return what a typed text means, for comparing; ``before`` has what this pass said of the rest.

        Raises
        ------
        PaperError
            If no such thing can stand on the sheet.
        """
        if what in self.items:
            return self.response(what, text)
        value = _day(text) if what == "date" else _time(text)
        if what == "ended" and {"date", "began"} <= set(before):
            self.sitting({**before, "ended": text})
        return value

    def response(self, what: str, text: str) -> Response | None:
        """Return the answer that a text stands for, or None where none was given."""
        return notation.read(self.items[what], text)

    def is_text(self, what: str) -> bool:
        """Tell whether something is an answer in words of the apprentice's own."""
        return isinstance(self.items.get(what), TextItem)

    def sitting(self, texts: Mapping[str, str]) -> tuple[datetime, datetime]:
        """Return when the sheet was begun and ended, by the clock of the room.

        Raises
        ------
        PaperError
            If that cannot be.
        """
        day = _day(texts["date"])
        begin, end = (datetime.fromisoformat(f"{day}T{_time(texts[what])}").astimezone() for what in ("began", "ended"))
        if not begin < end or end - begin > _LONGEST:
            raise PaperError(
                f"{texts['began']} to {texts['ended']}",
                rule="A sheet is ended after it was begun, within 12 hours.",
                remedy="Look at the head of the sheet again.",
            )
        if end > self.clock() + _CLOCK:
            raise PaperError(
                f"{day} {texts['ended']}",
                rule="A sheet that lies here was ended before now.",
                remedy="Look at date and times at the head of the sheet again.",
            )
        return begin, end

    def same(self, what: str, one: str, other: str) -> bool:
        """Tell whether two readings say the same."""
        try:
            return self.read(what, one, {}) == self.read(what, other, {})
        except PaperError:
            return False

    def agreed(self, typing: Typing) -> dict[str, str]:
        """Return what two readings agree on, by name: the first two passes, else one of them with a third reading."""
        found: dict[str, str] = {}
        for what in self.asked:
            readings = [
                *(of.texts[what] for number in (1, 2) if what in (of := typing.passes[number]).texts),
                *typing.passes[3].every.get(what, ()),
            ]
            for place, one in enumerate(readings):
                match = next((other for other in readings[:place] if self.same(what, one, other)), None)
                if match is not None:
                    found[what] = match
                    break
        return found

    def differing(self, typing: Typing) -> tuple[str, ...]:
        """Return the names of what the passes differ in and nobody has settled yet."""
        agreed = self.agreed(typing)
        return tuple(what for what in self.asked if what not in agreed)


def _day(text: str) -> str:
    said = text.strip()
    try:
        found = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", said)
        if found is None:
            raise ValueError(said)
        year, month, day = map(int, found.groups())
        return date(year, month, day).isoformat()
    except (ValueError, OverflowError):
        raise PaperError(
            one_line(said)[:40], rule="A day is year, month and day, like 2027-04-01.", remedy="Type it so."
        ) from None


def _time(text: str) -> str:
    said = text.strip()
    found = re.fullmatch(r"(\d{1,2})[:.h ]?(\d{2})", said)
    if found is None or int(found[1]) > 23 or int(found[2]) > 59:
        raise PaperError(
            one_line(said)[:40], rule="A time of day is hours and minutes, like 09:05 or 14:30.", remedy="Type it so."
        )
    return f"{int(found[1]):02d}:{found[2]}"
