"""Answers that several people share: what is looked for when two journals may have one history."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import Connection, Select, and_, func, select

from trainkit_grading.ledger import details
from trainkit_grading.ledger.tables import ENTRY, MARK, PERSON, SHOWN


def moments_in_common(connection: Connection, module: str) -> Mapping[str, frozenset[tuple[str, str]]]:
    """Return time and item of the answers that somebody else gave, too, at the very same millisecond.

    Only what the gradebook shows of a module is compared.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the course's database.
    module : str
        The module.

    Returns
    -------
    mapping of str to frozenset of (str, str)
        By apprentice; whoever shares nothing is not in it.
    """
    shown = _shown(module).subquery()
    answers = (
        select(MARK.c.answered, MARK.c.item, shown.c.apprentice)
        .join(shown, shown.c.entry == MARK.c.entry)
        .where(MARK.c.answered != "")
    )
    once = answers.subquery()
    twice = (
        select(once.c.answered, once.c.item).group_by(once.c.answered, once.c.item).having(func.count() > 1).subquery()
    )
    query = answers.join(twice, and_(twice.c.answered == MARK.c.answered, twice.c.item == MARK.c.item))
    found: dict[str, set[tuple[str, str]]] = {}
    for answered, item, apprentice in connection.execute(query):
        found.setdefault(apprentice, set()).add((answered, item))
    return {name: frozenset(of) for name, of in found.items()}


def files_in_common(connection: Connection, module: str) -> Mapping[str, frozenset[str]]:
    """Return the numbers of journals that stand beside somebody else's answers, too, by apprentice.

    Only what the gradebook shows of a module is compared.
    """
    shown = _shown(module).subquery()
    query = select(ENTRY.c.detail, shown.c.apprentice).join(shown, shown.c.entry == ENTRY.c.number)
    holders: dict[str, set[str]] = {}
    for detail, apprentice in connection.execute(query):
        for file in details.files(detail):
            holders.setdefault(file, set()).add(apprentice)
    found: dict[str, set[str]] = {}
    for file, names in holders.items():
        for name in names if len(names) > 1 else ():
            found.setdefault(name, set()).add(file)
    return {name: frozenset(of) for name, of in found.items()}


def _shown(module: str) -> Select[tuple[int, str]]:
    """Return the query for the entries that the gradebook shows of a module, and whose they are."""
    return (
        select(SHOWN.c.entry, PERSON.c.apprentice)
        .join(PERSON, PERSON.c.person == SHOWN.c.person)
        .where(SHOWN.c.module == module)
    )
