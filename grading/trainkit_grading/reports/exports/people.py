"""Who stands in a row of an export: themselves, or a pseudonym that only the course can trace back."""

from __future__ import annotations

import base64
import hashlib
import hmac
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainkit_grading.course.roster import Apprentice
    from trainkit_grading.course.seeds import Seed
    from trainkit_grading.reports.coordinator.overview import PersonStanding


class PeopleShown:
    """Says how people and moments are shown.

    Parameters
    ----------
    seed : Seed
        The course's secret, from which pseudonyms come: the same person has the same one in every export of a course,
        another in every other course, and nobody without the secret can tell whose it is.
    pseudonyms : bool
        Whether people are pseudonymised.

    Examples
    --------
    >>> from trainkit_grading.course.seeds import Seed
    >>> shown = PeopleShown(Seed(bytes(32)), pseudonyms=True)
    >>> shown.person("amir") == PeopleShown(Seed(bytes(32)), pseudonyms=True).person("amir")
    True
    >>> PeopleShown(Seed(bytes(32)), pseudonyms=False).person("amir")
    'amir'
    """

    def __init__(self, seed: Seed, *, pseudonyms: bool) -> None:
        self._key = seed.digest("export")
        self.pseudonyms = pseudonyms

    def person(self, apprentice: str) -> str:
        """Return the identifier, or the pseudonym of ten signs."""
        if not self.pseudonyms or not apprentice:
            return apprentice
        made = hmac.new(self._key, apprentice.encode(), hashlib.sha256).digest()
        return "p-" + base64.b32encode(made).decode().lower()[:10]

    def about(self, course: str, person: Apprentice) -> dict[str, str]:
        """Return the columns that say who a row is about."""
        return {"course": course, "person": self.person(person.id), "name": person.name, "cohort": person.cohort}

    def in_order(self, people: Sequence[PersonStanding]) -> list[PersonStanding]:
        """Return people in the order of the roster; pseudonyms in their own, as the roster's would give them away."""
        return sorted(people, key=lambda each: self.person(each.person.id)) if self.pseudonyms else list(people)

    def moment(self, when: datetime | str | None) -> str:
        """Return a moment as ISO 8601 in UTC; only its day where people are pseudonymised.

        Examples
        --------
        >>> from trainkit_grading.course.seeds import Seed
        >>> PeopleShown(Seed(bytes(32)), pseudonyms=True).moment("2027-03-01T08:15:30.000Z")
        '2027-03-01'
        """
        if not when:
            return ""
        if isinstance(when, str):
            when = datetime.fromisoformat(when)
        when = when.replace(tzinfo=UTC) if when.tzinfo is None else when.astimezone(UTC)
        return (
            when.strftime("%Y-%m-%d") if self.pseudonyms else when.isoformat(timespec="seconds").replace("+00:00", "Z")
        )
