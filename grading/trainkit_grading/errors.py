"""The course side's branch of the error tree.

Every error says the value that was met, the rule it breaks and the remedy, as :mod:`trainkit.errors` has it::

    TrainkitError
    └── CourseError (ValueError)        a course folder or its course.toml that cannot be used
        ├── SystemRefusalError          what the system under a course refuses: a disk, a right, a database
        ├── RosterError                 a roster that cannot be read; carries every wrong line
        ├── SeedError                   a secret seed that is missing, unreadable or open to others
        ├── DrawingError                forms or keys that cannot be drawn, or that do not fit what was released
        ├── BuildError                  a module whose notebook or blueprint cannot become an assignment
        ├── ReleaseError                an assignment that may not or cannot be released
        ├── HandInError                 something handed in that is refused
        ├── LedgerError                 a ledger that this software cannot read or must not change
        ├── SignOffError                an observation, a second mark, an appeal or a decision that cannot be recorded
        ├── PaperError                  a written answer, a form code or a record of typing that cannot be taken
        ├── PackSheetError              a workbook that no pack can be read from, or a pack that no workbook can hold
        ├── ArchiveError                an archive that cannot be made, or that is not as it was packed
        ├── DiagnosisError              answers that cannot be put together
        └── StatisticsError             numbers that a figure cannot be worked out from
"""

from __future__ import annotations

from trainkit.errors import TrainkitError


class CourseError(TrainkitError, ValueError):
    """A course folder or its ``course.toml`` that cannot be used."""


class SystemRefusalError(CourseError):
    """What the system under a course refuses: a disk, a right, a database.

    It is no fault of one module or one person, so a command that meets it need not try the next.
    """


class RosterError(CourseError):
    """A roster that cannot be read at all; single wrong lines are findings, not errors."""


class SeedError(CourseError):
    """A secret seed that is missing, unreadable or open to others."""


class DrawingError(CourseError):
    """Forms or keys that cannot be drawn, or that no longer fit what was released."""


class BuildError(CourseError):
    """A module whose notebook or blueprint cannot become an assignment."""


class ReleaseError(CourseError):
    """An assignment that may not or cannot be released."""


class HandInError(CourseError):
    """Something handed in that is refused."""


class LedgerError(CourseError):
    """A ledger that this software cannot read or must not change."""


class SignOffError(CourseError):
    """An observation, a second mark, an appeal or a decision that cannot be recorded."""


class PaperError(CourseError):
    """A written answer, the code of a form, or a record of typing that cannot be taken."""


class PackSheetError(CourseError):
    """A workbook that no pack can be read from, or a pack that no workbook can hold; wrong cells are findings."""


class ArchiveError(CourseError):
    """An archive of a course that cannot be made, or that is not as it was packed."""


class DiagnosisError(CourseError):
    """Answers of one apprentice that cannot be put together."""


class StatisticsError(CourseError):
    """Numbers that a figure cannot be worked out from: what is merely too little gets no error but its reason."""
