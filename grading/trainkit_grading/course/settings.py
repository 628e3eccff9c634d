"""What ``course.toml`` says: its shape, its limits, and the words for what is wrong with it."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationInfo, field_validator

from trainkit.errors import TrainkitError
from trainkit.packs.findings import shorten
from trainkit.sentences import NEWER, newer_format
from trainkit_grading.support.outcome import Finding

COURSE_FILE = "course.toml"


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class CourseModule(_Entry):
    """One module as this course runs it.

    ``folder`` is empty for a module that comes with trainkit, else the folder of one's own; ``pack`` is empty where
    the assessment is drawn from the pack that the blueprint says, else the name of a pack that comes with either
    distribution or the path of a pack file. ``practise_on`` is empty where the workbook explains and practises the
    engine that the blueprint says, else such a name or path. All paths are relative to the course folder. ``reveal`` is
    empty where feedback tells what the course says. ``supervised`` says whether a pass counts as evidence only with a
    session record behind it; where it is left out it does, as in every course made before this could be said.
    """

    name: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{0,39}$")]
    folder: str = ""
    pack: str = ""
    practise_on: str = ""
    opens: AwareDatetime | None = None
    due: AwareDatetime | None = None
    attempt: Annotated[int, Field(ge=1, le=20)] = 1
    reveal: Literal["", "method", "answers"] = ""
    supervised: bool | None = None

    @field_validator("opens", "due", mode="before")
    @classmethod
    def _zoned(cls, when: object) -> object:
        if _is_zoned(when):
            return when
        raise ValueError("a time has a date, a time and a zone, like 2027-04-01T16:00:00+01:00")


class Cohort(_Entry):
    """People who go through the course together: which modules they take, and when.

    Without ``modules`` they take all of the course. ``opens`` and ``due`` hold their own dates by the name of the
    module; where one is missing, that of ``[[modules]]`` counts.
    """

    name: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$")]
    title: Annotated[str, Field(max_length=120)] = ""
    modules: Annotated[tuple[str, ...], Field(strict=False)] = ()
    opens: dict[str, AwareDatetime] = Field(default_factory=dict)
    due: dict[str, AwareDatetime] = Field(default_factory=dict)

    def __hash__(self) -> int:
        return hash((self.name, self.title, self.modules))

    @field_validator("opens", "due", mode="before")
    @classmethod
    def _zoned(cls, dates: object) -> object:
        if isinstance(dates, dict) and all(map(_is_zoned, dates.values())):
            return dates
        raise ValueError("each time has a date, a time and a zone, like lock-pin = 2027-04-01T16:00:00+01:00")

    def takes(self, module: str) -> bool:
        """Tell whether the people of this cohort take a module."""
        return not self.modules or module in self.modules


class Criterion(_Entry):
    """One numbered criterion of a qualification, and what is evidence of it.

    ``modules`` are to be passed. ``steps`` are what is to be seen in practical work: ``"dunlin:isolate"`` is one step
    of a checklist, ``"dunlin"`` the whole of it signed off as competent, ``"any"`` any checklist.
    """

    number: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9.-]{0,11}$")]
    text: Annotated[str, Field(min_length=1, max_length=300)]
    modules: Annotated[tuple[str, ...], Field(strict=False)] = ()
    steps: Annotated[tuple[str, ...], Field(strict=False)] = ()


def _is_zoned(when: object) -> bool:
    return isinstance(when, datetime) and when.tzinfo is not None


class Limits(_Entry):
    """What one hand-in may hold at most; far above what an honest one does."""

    hand_in_bytes: Annotated[int, Field(ge=10_000, le=1_000_000_000)] = 50_000_000
    hand_in_files: Annotated[int, Field(ge=2, le=10_000)] = 200


class Attempts(_Entry):
    """How often a module can be tried: the most attempts, which of them counts, and the hours between two."""

    allowed: Annotated[int, Field(ge=1, le=20)] = 3
    counts: Literal["best", "last"] = "best"
    hours_between: Annotated[float, Field(ge=0, le=8760)] = 0.0


class Lateness(_Entry):
    """What arriving late costs: per cent of the points earned for each day begun, after minutes of grace."""

    percent_a_day: Annotated[float, Field(ge=0, le=100)] = 0.0
    at_most_percent: Annotated[float, Field(ge=0, le=100)] = 100.0
    grace_minutes: Annotated[float, Field(ge=0, le=10_080)] = 0.0

    def penalty(self, points: float, seconds_late: float) -> float:
        """Return the points that are taken off, at most all of them.

        Examples
        --------
        >>> Lateness(percent_a_day=10, grace_minutes=5).penalty(20, 25 * 3600)
        4.0
        >>> Lateness(percent_a_day=10, grace_minutes=5).penalty(20, 240)
        0.0
        """
        late = seconds_late - 60 * self.grace_minutes
        if late <= 0 or points <= 0:
            return 0.0
        percent = min(math.ceil(late / 86_400) * self.percent_a_day, self.at_most_percent)
        return min(round(points * percent / 100, 2), points)


class _Exchange(_Entry):
    root: str = ""


class Settings(_Entry):
    """What ``course.toml`` says."""

    format: Literal[1]
    name: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$")]
    title: Annotated[str, Field(min_length=1, max_length=120)]
    modules: Annotated[list[CourseModule], Field(min_length=1)]
    cohorts: list[Cohort] = Field(default_factory=list)
    qualification: Annotated[str, Field(max_length=120)] = ""
    criteria: list[Criterion] = Field(default_factory=list)
    reveal: Literal["method", "answers"] = "method"
    access: Literal["private", "group"] = "private"
    database: str = ""
    exchange: _Exchange = _Exchange()
    limits: Limits = Limits()
    attempts: Attempts = Attempts()
    lateness: Lateness = Lateness()

    @field_validator("title")
    @classmethod
    def _readable(cls, title: str) -> str:
        if not title.isprintable():
            raise ValueError("a title has no control characters")
        return title

    @field_validator("database")
    @classmethod
    def _address(cls, address: str) -> str:
        if not address:
            return address
        # SQLAlchemy takes a fifth of a second to load; a course that keeps its marks in a file does not need it yet.
        from trainkit_grading.support.database import url_of

        driver = url_of(address).drivername
        # Taken apart and put together again, it would hold percent signs, which nbgrader's own tool cannot take.
        return f"{driver}://{address.partition('://')[2]}"

    @field_validator("modules")
    @classmethod
    def _once(cls, entries: list[CourseModule]) -> list[CourseModule]:
        _each_once("module", [entry.name for entry in entries])
        for entry in entries:
            _in_order(entry.name, entry.opens, entry.due)
        return entries

    @field_validator("cohorts")
    @classmethod
    def _known(cls, cohorts: list[Cohort], info: ValidationInfo) -> list[Cohort]:
        _each_once("cohort", [cohort.name for cohort in cohorts])
        modules = {entry.name: entry for entry in info.data.get("modules", ())}
        for cohort in cohorts:
            strange = next((n for n in (*cohort.modules, *cohort.opens, *cohort.due) if n not in modules), None)
            if strange is not None and modules:
                raise ValueError(f"the cohort {cohort.name!r} names {strange!r}, and the course runs no such module")
            for name, entry in modules.items():
                opens, due = cohort.opens.get(name, entry.opens), cohort.due.get(name, entry.due)
                _in_order(f"{name} of cohort {cohort.name}", opens, due)
        return cohorts

    @field_validator("criteria")
    @classmethod
    def _evident(cls, criteria: list[Criterion], info: ValidationInfo) -> list[Criterion]:
        _each_once("criterion", [criterion.number for criterion in criteria])
        modules = {entry.name for entry in info.data.get("modules", ())}
        for criterion in criteria:
            if not criterion.modules and not criterion.steps:
                raise ValueError(f"the criterion {criterion.number!r} names no evidence, neither modules nor steps")
            strange = next((name for name in criterion.modules if name not in modules), None)
            if strange is not None and modules:
                raise ValueError(
                    f"the criterion {criterion.number!r} names {strange!r}, and the course runs no such module"
                )
        return criteria


def _each_once(what: str, names: list[str]) -> None:
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise ValueError(f"the {what} {twice!r} stands there twice")


def _in_order(what: str, opens: datetime | None, due: datetime | None) -> None:
    if opens is not None and due is not None and opens >= due:
        raise ValueError(f"{what} is due before it opens")


# What each setting is, for people; pydantic's own words name types.
_RULES = {
    "format": "The format of course.toml is 1.",
    "name": "The name has 1 to 40 small letters, digits and hyphens.",
    "title": "The title has 1 to 120 characters.",
    "modules": "Each module is a [[modules]] table with a name.",
    "cohorts": "Each cohort is a [[cohorts]] table with a name.",
    "criteria": "Each criterion is a [[criteria]] table with a number, a text, and modules or steps.",
    "number": "The number of a criterion has 1 to 12 letters, digits, stops and hyphens, between quotation marks.",
    "steps": 'The steps are a list of texts like "dunlin:isolate", "dunlin" or "any".',
    "attempt": "The attempt is a whole number from 1 to 20.",
    "opens": "An opening has a date, a time and a zone, like 2027-04-01T08:00:00+01:00, without quotation marks.",
    "due": "A due date has a date, a time and a zone, like 2027-04-01T16:00:00+01:00, without quotation marks.",
    "reveal": 'What feedback tells is "method" or "answers".',
    "supervised": "Whether a module is to be supervised is true or false, without quotation marks.",
    "folder": "The folder is text, relative to the course folder.",
    "pack": "The pack is the name of a pack or the path of a .toml file.",
    "practise_on": "The pack to practise on is the name of a pack or the path of a .toml file.",
    "root": "The root of the exchange is the path of a folder, as text.",
    "hand_in_bytes": "The largest hand-in is a whole number of bytes from 10000 to 1000000000.",
    "allowed": "The most attempts are a whole number from 1 to 20.",
    "counts": 'The attempt that counts is "best" or "last".',
    "hours_between": "The hours between two attempts are a number from 0 to 8760.",
    "percent_a_day": "What a day late costs is a number of per cent from 0 to 100.",
    "at_most_percent": "What lateness costs at most is a number of per cent from 0 to 100.",
    "grace_minutes": "The minutes of grace are a number from 0 to 10080.",
    "access": 'Who may open the course folder is "private" or "group".',
    "database": "The database is text: empty for a file in this folder, or an address like "
    "postgresql+psycopg://name@host/course.",
    "hand_in_files": "The most files in a hand-in are a whole number from 2 to 10000.",
}


def shown(value: object) -> str:
    """Return a value as it is written in ``course.toml``, on one short line.

    Examples
    --------
    >>> shown("x"), shown(True), shown(datetime(2027, 4, 1, 16))
    ("'x'", 'true', '2027-04-01T16:00:00')
    """
    return f"{value!r:.60}" if isinstance(value, str) else shorten(value, 60)


def setting_finding(error: Any) -> Finding:
    """Say in the course's own words what pydantic found wrong with a setting."""
    parts = [str(part + 1) if isinstance(part, int) else part for part in error["loc"]]
    key = ".".join(parts) or "course.toml"
    last = next((part for part in reversed(error["loc"]) if isinstance(part, str)), "")
    newer = newer_format([error])
    if newer:
        return Finding("refused", f"{COURSE_FILE} {key}", f"{newer} {NEWER}")
    if error["type"] == "extra_forbidden":
        return Finding(
            "refused", f"{COURSE_FILE} {key}", "There is no such setting. Take it out, or mend its spelling."
        )
    if error["type"] == "missing":
        return Finding("refused", f"{COURSE_FILE} {key}", f"This setting is missing. {_RULES.get(last, '')} Add it.")
    if last == "database":
        # What was met is not repeated as it is: there may be a password in it.
        cause = error.get("ctx", {}).get("error")
        said = str(cause) if isinstance(cause, TrainkitError) else f"{_RULES[last]} Mend this line."
        return Finding("refused", f"{COURSE_FILE} {key}", said)
    said = str(error["ctx"]["error"]) + "." if error["type"] == "value_error" else ""
    own = said[:1].upper() + said[1:] if last in ("modules", "cohorts", "criteria") else ""
    rule = own or _RULES.get(last, error["msg"])
    return Finding("refused", f"{COURSE_FILE} {key}", f"{shown(error['input'])}: {rule} Mend this line.")
