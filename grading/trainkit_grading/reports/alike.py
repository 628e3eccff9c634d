"""Which plays of a bench share more detours than chance gives, of a whole course, and how that is said."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.errors import TrainkitError
from trainkit.items.kinds import ActionsItem
from trainkit.items.template import find
from trainkit.sentences import counted
from trainkit_grading.diagnosis.detours import Alike, Play, alike
from trainkit_grading.forms.store import open_forms, open_keys
from trainkit_grading.ledger.kinds import Marked

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.forms.store import KeptForms
    from trainkit_grading.ledger.book import Ledger


@dataclass(frozen=True, slots=True)
class AlikePlays:
    """Two plays of one question that share more detours than chance gives."""

    module: str
    item: str
    found: Alike

    @property
    def text(self) -> str:
        """What is said of it; whose the plays are stands beside it.

        Examples
        --------
        >>> shared = (("", "", "back"), ("", "back", "back"), ("back", "back", "let-go"))
        >>> AlikePlays("lock-pin", "A1", Alike(("amir", "beth"), shared, 0.002)).text
        'Both plays make the same 3 detours. By chance, any two of this class would do so in 0.2 of 100 such classes.'
        """
        shared = counted(len(self.found.shared), "detour", "detours")
        rare = 100 * self.found.chance
        often = "less than 0.1" if rare < 0.1 else f"{rare:.1f}"
        return (
            f"Both plays make the same {shared}. By chance, any two of this class would do so in {often} of 100 such "
            "classes."
        )


def alike_plays(course: Course, ledger: Ledger, module: str) -> tuple[AlikePlays, ...]:
    """Return the plays of a module that a person should look at side by side; nothing else follows from it.

    Only the attempts that count are compared, and only with others of the same attempt.
    """
    files: dict[int, KeptForms | None] = {}
    plays: dict[tuple[int, str], list[Play]] = {}
    if not any(_played(course, module)):
        return ()
    for name, entry in _counting(ledger, module):
        if entry.attempt not in files:
            files[entry.attempt] = open_forms(course.forms_file(module, entry.attempt))
        forms = files[entry.attempt]
        if forms is None or entry.form not in forms.codes:
            continue
        form = forms.read(entry.form)
        for row in entry.marks:
            item = form.item(row.item) if row.kind == "actions" and row.response is not None else None
            if isinstance(item, ActionsItem) and row.response is not None:
                actions = json.loads(row.response).get("actions", ())
                plays.setdefault((entry.attempt, row.item), []).append(Play.of(name, item.scene, actions))
    return tuple(AlikePlays(module, item, found) for (_, item), of in plays.items() for found in alike(of))


def _played(course: Course, module: str) -> Iterator[bool]:
    """Yield whether a question of the module is played, for each that is planned; most modules hold none."""
    try:
        keys = open_keys(course.key_file(module, course.module(module).attempt))
    except TrainkitError:
        return
    for planned in keys.head.plan if keys is not None else ():
        yield find(planned.template).kind == "actions"


def _counting(ledger: Ledger, module: str) -> Iterator[tuple[str, Marked]]:
    """Yield what counts of everybody, in the order of their names."""
    shown = ledger.shown(module)
    entries = ledger.read(Marked, shown.values())
    for name, number in sorted(shown.items()):
        if number in entries:
            yield name, entries[number]
