"""Whether whoever owns a hand-in on this computer is whom it says it is from.

On a shared disk, and on a hub, the system keeps who wrote a file, and no apprentice can change that: the account is the
apprentice. A zip that an instructor drops in goes by its personal code. Where the two do not fit, nothing is decided
here: the hand-in is kept, and counts once a person says so.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from trainkit_grading.support.sharing import owner_of

if TYPE_CHECKING:
    from pathlib import Path

    from trainkit_grading.course.roster import Apprentice, Roster
    from trainkit_grading.intake.readers import HandIn

Doubt = Literal["owner not told", "owner unknown", "owner is another", "code is another's"]
"""Why it is in doubt who handed something in."""


@dataclass(frozen=True, slots=True)
class Reason:
    """A doubt, and what it rests on in a whole sentence."""

    doubt: Doubt
    text: str


def instructors(folder: Path, *, group: bool) -> frozenset[str]:
    """Return the accounts whose files go by the personal code in them: whoever works here, and whoever owns the course.

    Parameters
    ----------
    folder : Path
        The course folder.
    group : bool
        Whether the course is shared by a group of instructors; then its members, too.
    """
    if not hasattr(os, "getuid"):
        return frozenset()
    met = folder.stat()
    # Whoever is root can write under any name, so a file of root's proves nothing about an apprentice.
    found = {owner_of(uid) for uid in (0, os.getuid(), met.st_uid)}
    return frozenset(found | (_members(met.st_gid) if group else set()))


def _members(gid: int) -> set[str]:
    import grp
    import pwd

    try:
        listed = set(grp.getgrgid(gid).gr_mem)
    except KeyError:
        listed = set()
    return listed | {account.pw_name for account in pwd.getpwall() if account.pw_gid == gid}


def reason(
    hand_in: HandIn, person: Apprentice, roster: Roster, instructors: frozenset[str], named: str = ""
) -> Reason | None:
    """Return why it is in doubt that a hand-in is from ``person``, or None.

    Parameters
    ----------
    hand_in : HandIn
        What was handed in.
    person : Apprentice
        Whom its folder or its personal code names.
    roster : Roster
        Everybody on the course.
    instructors : frozenset of str
        Accounts of instructors; what they drop in goes by its code.
    named : str, optional
        Whom the ``identity.json`` in a folder of the shared disk names.
    """
    shared = hand_in.how == "exchange"
    if shared and not hand_in.owners:
        return Reason("owner not told", "The system does not tell whose account this folder belongs to.")
    for owner in hand_in.owners:
        other = roster.of_account(owner)
        if owner == person.login or (not shared and owner in instructors):
            continue
        says = f"It is handed in as {person.name} ({person.id})"
        if other is not None:
            return Reason("owner is another", f"{says}, and the file belongs to {other.name} ({other.id}).")
        return Reason("owner unknown", f"{says}, and the file belongs to {owner!r}, an account that no apprentice has.")
    if shared and named and named not in (person.id, person.login):
        return Reason("code is another's", f"It came from {person.name} ({person.id}) with the workbook of {named!r}.")
    return None
