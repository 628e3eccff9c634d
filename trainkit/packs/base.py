"""What all entries of a pack share: read-only, strict about types, and closed against unknown keys."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Self

from pydantic import BaseModel, ConfigDict, Field

# Identifiers are written by people and shown to nobody; they also name cards and options of items.
Id = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=40)]
# One line for people, and a paragraph for people.
OneLine = Annotated[str, Field(min_length=1, max_length=160, pattern=r"^[^\x00-\x1f\x7f]+$")]
Paragraph = Annotated[str, Field(min_length=1, max_length=1200, pattern=r"^[^\x00-\x08\x0b-\x1f\x7f]+$")]
# A clock position as it is read off a gear case: "2:10". Twelve is up; see the viewpoint beside it.
ClockText = Annotated[str, Field(pattern=r"^\d{1,2}:\d{2}$")]
# One torque in two units, as printed: ("31 N·m", "23 lbf·ft").
PrintedPair = tuple[
    Annotated[str, Field(min_length=1, max_length=40)], Annotated[str, Field(min_length=1, max_length=40)]
]


class PackModel(BaseModel):
    """An entry of a pack: read-only, and closed against keys that nobody declared."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """Return a copy, with other values if wanted; nothing that was worked out for the original goes along.

        Otherwise a copy without its energies would order its steps as the original does, and the original as the copy.
        """
        copied = super().model_copy(update=update, deep=deep)
        for name in copied.__dict__.keys() - type(self).model_fields.keys():
            del copied.__dict__[name]
        return copied


class Sourced(PackModel):
    """An entry with values that a manual may have printed.

    Parameters
    ----------
    page : str, optional
        Where the manual prints the values of this entry; required in a pack that claims a manual.
    as_printed : tuple of str, optional
        Codes of findings about this entry that were looked up and accepted: the manual prints it so.
    """

    page: Annotated[str, Field(max_length=80)] = ""
    as_printed: Annotated[tuple[str, ...], Field(max_length=20)] = ()
