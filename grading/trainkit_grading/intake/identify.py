"""Deciding about one hand-in: whose it is, of which module and form, and whether it is new."""

from __future__ import annotations

import contextlib
import hmac
from collections import Counter
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from trainkit import journal
from trainkit.forms import Identity
from trainkit.sentences import span
from trainkit_grading.course import cohorts
from trainkit_grading.errors import CourseError, HandInError
from trainkit_grading.forms.store import KeptKeys, open_keys
from trainkit_grading.intake import doubtful, owners, receipts
from trainkit_grading.intake.chain import Chain
from trainkit_grading.intake.receipts import Receipt
from trainkit_grading.release.assign import identity
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from trainkit.journal import Reading
    from trainkit_grading.course.folder import Course, CourseModule
    from trainkit_grading.course.roster import Apprentice, Roster
    from trainkit_grading.course.seeds import Seed
    from trainkit_grading.intake.readers import HandIn


def vouch_for(roster: Roster, apprentice: str, source: Path | None) -> None:
    """Refuse a word that cannot be given: for nobody on the roster, or for everything in the inbox."""
    if source is None:
        raise HandInError(
            apprentice, rule="One person cannot have handed in everything.", remedy="Name one zip with --from."
        )
    if roster.find(apprentice) is None:
        raise HandInError(apprentice, rule="Nobody on the roster has this identifier.", remedy="Check roster.csv.")


class Registrar:
    """Identify each hand-in and keep it once; what was noticed on the way is in ``findings``."""

    def __init__(self, course: Course, roster: Roster, seed: Seed, now: datetime) -> None:
        self.course = course
        self.roster = roster
        self.findings: list[Finding] = []
        self.chain = Chain(course, seed)
        self._seed = seed
        self._now = now
        self._keys: dict[tuple[str, int], KeptKeys | None] = {}
        self._kept: dict[tuple[str, str], tuple[Receipt, ...]] = {}
        self._instructors = owners.instructors(course.folder, group=course.access == "group")

    def take(self, hand_in: HandIn, apprentice: str | None) -> Receipt | None:
        """Keep a hand-in and return the record of it, or None where it has been kept before.

        Where it is in doubt who handed it in, the record says that it waits.
        """
        person, told_by = self._who(hand_in, apprentice)
        doubt = self._doubt(hand_in, person, told_by)
        reading = journal.read(hand_in.journal)
        if not reading.entries:
            raise HandInError(
                hand_in.place,
                rule="There is no readable answer in this hand-in.",
                remedy=f"Ask {person.name} to hand in again.",
            )
        entry = self._module(hand_in, reading)
        digest = receipts.content_digest(hand_in.journal)
        before = self.kept(person.id, entry.name)
        # What waits keeps nobody from handing in the same: somebody else may have put it there first.
        if any(receipt.digest == digest and (doubt or not receipt.waits) for receipt in before):
            return None
        form, attempt = self._form(entry, person.id, reading)
        # What came over the shared disk has been there since then, a sheet of paper since it was ended; everything
        # else arrives now.
        arrived = min(hand_in.when, self._now) if hand_in.how in ("exchange", "paper") else self._now
        receipt = Receipt(
            number=len(before) + 1,
            apprentice=person.id,
            module=entry.name,
            attempt=attempt,
            form=form,
            arrived=arrived,
            collected=self._now,
            how=hand_in.how,
            told_by=told_by,
            place=hand_in.place,
            digest=digest,
            answers=len(reading.entries),
            older=self._older(before, attempt, arrived, hand_in.journal),
            secret=hand_in.secret,
            waits=doubt.doubt if doubt else "",
        )
        if doubt is not None:
            doubtful.write(self.course, self._seed, receipt, doubt)
            self.findings.append(Finding("warning", hand_in.place, f"{doubt.text} {_KEPT}"))
        receipt = self.chain.linked(receipt)
        receipts.keep(self.course, receipt, hand_in.journal)
        self._kept[person.id, entry.name] = (*before, receipt)
        if doubt is None:
            self._look_at(receipt, reading, entry)
        return receipt

    def let_count(self) -> tuple[Receipt, ...]:
        """Keep again, as what counts, hand-ins that waited and that a person has let count; return their records."""
        every = [receipt for kept in self._kept.values() for receipt in kept]
        taken = {(receipt.apprentice, receipt.module, receipt.digest) for receipt in every if not receipt.waits}
        waiting = [r for r in every if r.waits and (r.apprentice, r.module, r.digest) not in taken]
        found = []
        for receipt in doubtful.let_count(self.course, self._seed, waiting):
            before = self.kept(receipt.apprentice, receipt.module)
            journal = receipts.journal_of(self.course, receipt)
            again = receipt.model_copy(
                update={
                    "link": None,
                    "number": len(before) + 1,
                    "collected": self._now,
                    "told_by": "instructor",
                    "older": self._older(before, receipt.attempt, receipt.arrived, journal),
                    "waits": "",
                }
            )
            counting = self.chain.linked(again)
            receipts.keep(self.course, counting, journal)
            self._kept[receipt.apprentice, receipt.module] = (*before, counting)
            found.append(counting)
        return tuple(found)

    def kept(self, apprentice: str, module: str) -> tuple[Receipt, ...]:
        """Return everything that an apprentice has handed in for a module so far; the folder is read once."""
        if (apprentice, module) not in self._kept:
            self._kept[apprentice, module] = receipts.kept(self.course, apprentice, module, waiting=True)
        return self._kept[apprentice, module]

    def _who(self, hand_in: HandIn, apprentice: str | None) -> tuple[Apprentice, str]:
        """Return who a hand-in is from, and how that is known."""
        if apprentice is not None and (person := self.roster.find(apprentice)) is not None:
            return person, "instructor"
        if hand_in.how == "paper":
            return self._person(hand_in.user), "form code"
        if hand_in.how == "exchange":
            return self._user(hand_in), "folder on the shared disk"
        return self._coded(hand_in), "personal code"

    def _person(self, name: str) -> Apprentice:
        person = self.roster.find(name)
        if person is None:
            raise HandInError(
                name, rule="Nobody on the roster has this identifier; it is not marked.", remedy="Check roster.csv."
            )
        return person

    def _user(self, hand_in: HandIn) -> Apprentice:
        # nbgrader names the folder after the account.
        return self.roster.of_account(hand_in.user) or self._person(hand_in.user)

    def _doubt(self, hand_in: HandIn, person: Apprentice, told_by: str) -> owners.Reason | None:
        """Return why it is in doubt that a hand-in is theirs; never where the course side made it or vouches for it."""
        if told_by in ("instructor", "form code"):
            return None
        named = ""
        if hand_in.how == "exchange" and hand_in.identity is not None:
            # On the shared disk the account says who it is; a file that says nothing is no reason for doubt.
            with contextlib.suppress(ValidationError):
                named = Identity.model_validate_json(hand_in.identity, strict=False).apprentice
        return owners.reason(hand_in, person, self.roster, self._instructors, named)

    def _coded(self, hand_in: HandIn) -> Apprentice:
        if hand_in.identity is None:
            raise HandInError(
                hand_in.place,
                rule="A zip says whose it is by its identity.json; this one has none.",
                remedy="If you know whose it is: trainkit-course collect --from ZIP --apprentice NAME",
            )
        try:
            said = Identity.model_validate_json(hand_in.identity, strict=False)
        except ValidationError:
            raise HandInError(
                hand_in.place,
                rule="Its identity.json is not as it was given out.",
                remedy="Ask for a hand-in from an untouched workbook.",
            ) from None
        if said.course == f"{self.course.name}-preview":
            raise HandInError(
                hand_in.place, rule="This is from a preview, which counts for nothing.", remedy="Take it away."
            )
        if said.course != self.course.name:
            raise HandInError(
                said.course, rule=f"This is the course {self.course.name}.", remedy="Collect it in its own course."
            )
        person = self._person(said.apprentice)
        code = identity(self.course, person, self._seed).code
        if not hmac.compare_digest(code.encode(), said.code.encode("utf-8", "replace")):
            raise HandInError(
                hand_in.place,
                rule=f"Its personal code is not the one that {person.name} was given.",
                remedy="Ask whose it is; each apprentice hands in from their own zip.",
            )
        return person

    def _module(self, hand_in: HandIn, reading: Reading) -> CourseModule:
        ours = [entry for entry in reading.entries if entry.course == self.course.name]
        if not ours:
            raise HandInError(
                reading.entries[-1].course,
                rule=f"This is the course {self.course.name}; no answer in this journal is of it.",
                remedy="Collect it in its own course.",
            )
        name = hand_in.module or Counter(entry.module for entry in ours).most_common(1)[0][0]
        try:
            entry = self.course.module(name)
        except CourseError as error:
            raise HandInError(name, rule=error.rule, remedy="Collect it in its own course.") from None
        if not (self.course.release / entry.name / f"{entry.name}.ipynb").is_file():
            raise HandInError(
                name,
                rule="This module has not been given out, so nobody can have answered it.",
                remedy=f"Give the command: trainkit-course assign {name}",
            )
        return entry

    def _form(self, entry: CourseModule, apprentice: str, reading: Reading) -> tuple[str, int]:
        """Return the form that counts and its attempt: the newest one of theirs that the journal speaks of."""
        said = {line.form for line in reading.entries if line.module == entry.name}
        for attempt in range(entry.attempt, 0, -1):
            code = self._code(entry.name, attempt, apprentice)
            if code is not None and code in said:
                return code, attempt
        code = self._code(entry.name, entry.attempt, apprentice)
        if code is None:
            raise HandInError(
                apprentice,
                rule=f"Attempt {entry.attempt} of {entry.name} has no form for this apprentice.",
                remedy="Build and assign the module again, then collect.",
            )
        return code, entry.attempt

    def _code(self, module: str, attempt: int, apprentice: str) -> str | None:
        if (module, attempt) not in self._keys:
            self._keys[module, attempt] = open_keys(self.course.key_file(module, attempt))
        keys = self._keys[module, attempt]
        return keys.form_of(apprentice) if keys is not None else None

    def _older(self, before: tuple[Receipt, ...], attempt: int, arrived: datetime, content: bytes) -> bool:
        """Tell whether a hand-in is an earlier state than the latest one that was kept."""
        newest = receipts.latest(before)
        if newest is None:
            return False
        # A journal only grows: what the newest one begins with was handed in before it, whenever it came.
        return (
            attempt < newest.attempt
            or arrived < newest.arrived
            or receipts.journal_of(self.course, newest).startswith(content)
        )

    def _look_at(self, receipt: Receipt, reading: Reading, entry: CourseModule) -> None:
        place = f"{receipt.apprentice} {receipt.module}"

        def say(severity: Any, text: str) -> None:
            self.findings.append(Finding(severity, place, text))

        person = self.roster.find(receipt.apprentice)
        theirs = {receipt.apprentice, *([person.login] if person is not None else [])}
        others = sorted({line.apprentice for line in reading.entries} - theirs)
        if others:
            say(
                "warning", f"The journal speaks of {', '.join(repr(other) for other in others[:3])}. Ask how that came."
            )
        forms = sorted({line.form for line in reading.entries if line.module == receipt.module} - {receipt.form})
        if forms:
            say("warning", f"The journal speaks of form {', '.join(map(repr, forms[:3]))}; theirs is {receipt.form}.")
        if reading.problems:
            first = reading.problems[0]
            where = f"line {first.line}: " if first.line else ""
            more = f" There are {len(reading.problems)} such places." if len(reading.problems) > 1 else ""
            say("warning", f"The journal is not as it was written ({where}{first.text}){more} All else is taken.")
        known = [other for other in self._kept[receipt.apprentice, receipt.module] if not other.waits]
        if len({other.how == "paper" for other in known if other.form == receipt.form}) > 1:
            newest = receipts.latest(known)
            counts = "on paper" if newest is not None and newest.how == "paper" else "on screen"
            text = f"There are answers on paper and on screen for one form. The later ones count, {counts}"
            say("warning", f"{text}; where the others are marked already, you decide.")
        if receipt.older:
            say("note", "This is an earlier state than the latest one; it is kept, the latest stays.")
        due = cohorts.dates(self.course, entry, person).due if person is not None else None
        if due is not None and receipt.arrived > due:
            say("note", f"It arrived {span(int((receipt.arrived - due).total_seconds() // 60))} after it was due.")


_KEPT = "It is kept and does not count until you decide: trainkit-course ledger --open"
