"""What an archive says of itself: the course, the end of its ledger, and the SHA-256 of every file in it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

# Beside the course's own folders; no command writes there.
ARCHIVED = "archived"
MANIFEST = f"{ARCHIVED}/manifest.json"
FIGURES = f"{ARCHIVED}/figures"


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class File(_Entry):
    """One file: how long it is, and its SHA-256 in hexadecimal digits."""

    bytes: Annotated[int, Field(ge=0)]
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class Manifest(_Entry):
    """What an archive holds.

    Parameters
    ----------
    course, title : str
        Short name and title.
    seed : bool
        Whether the secret seed is in it; without it no seal can be proven.
    as_of : str
        ISO time in UTC at which the figures in it were worked out: that of the last entry; empty without a ledger.
    entries, last_seal : int, str
        How many entries the ledger has, and the seal of the last one.
    packs : dict of str to str
        By the SHA-256 of a pack that marks come from, the file that holds it; empty where it was not at hand.
    modules : dict of str to str
        By the digest of a module's items that marks come from, the file of keys whose first line has them.
    files : dict of str to File
        Every other file, by its path.
    """

    format: Literal[1] = 1
    course: Annotated[str, Field(pattern="^[a-z0-9][a-z0-9-]{0,39}$")]
    title: str
    seed: bool
    as_of: str
    entries: Annotated[int, Field(ge=0)]
    last_seal: str
    packs: dict[str, str]
    modules: dict[str, str]
    files: dict[str, File]

    def to_bytes(self) -> bytes:
        """Return it as JSON; the same content gives the same bytes."""
        ordered = self.model_copy(update={"files": dict(sorted(self.files.items()))})
        return (ordered.model_dump_json(indent=1) + "\n").encode()
