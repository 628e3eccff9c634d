"""Drawing a sample of texts and observed work for a second marker.

What was drawn stands in the ledger before anybody marks it, so nobody can choose afterwards which marks were looked
at. The same seed, modules and size give the same sample again.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainkit_grading.errors import SignOffError
from trainkit_grading.ledger.kinds import Changed, Marked, Observed, SampleLine, SecondDrawn
from trainkit_grading.record.marked_submission import BY_PERSON

if TYPE_CHECKING:
    from trainkit_grading.course.seeds import Seed
    from trainkit_grading.ledger.book import Ledger


@dataclass(frozen=True, slots=True)
class Drawn:
    """A sample: the code of its sheet, the seed it was drawn by, its lines, and the number of its entry."""

    sheet: str
    seed: int
    lines: tuple[SampleLine, ...]
    entry: int = 0


def draw(
    ledger: Ledger, secret: Seed, modules: Sequence[str], seed: int, count: int = 0, percent: float = 0.0
) -> tuple[Drawn, bool]:
    """Draw a sample and record it; return it, and whether it is a new one.

    Parameters
    ----------
    ledger : Ledger
        The course's ledger, in a transaction.
    secret : Seed
        The course's secret, for the code of the sheet.
    modules : sequence of str
        Of which modules.
    seed : int
        The same gives the same sample.
    count : int, optional
        How many marks in all, shared out among the modules by how many each has.
    percent : float, optional
        Or how many per cent of each module's, one at the least.

    Raises
    ------
    SignOffError
        If there is nothing to draw from.
    """
    said = seed, tuple(sorted(modules)), count, percent
    before = drawn(ledger)
    for entry, each in before:
        if (entry.seed, entry.modules, entry.count, entry.percent) == said:
            return each, False
    taken = {
        (line.module, line.apprentice, line.attempt, line.item, line.answer) for _, d in before for line in d.lines
    }
    found = {module: list(_candidates(ledger, module)) for module in sorted(modules)}
    free = {module: [line for line in of if _work(line) not in taken] for module, of in found.items()}
    wanted = sizes({module: len(of) for module, of in free.items()}, count, percent)
    chosen: list[SampleLine] = []
    for module, of in free.items():
        stream = random.Random(f"second/{seed}/{module}")  # noqa: S311 - a sample that can be drawn again
        chosen += stream.sample(of, wanted[module])
    if not chosen:
        raise SignOffError(
            ", ".join(modules),
            rule="There is no mark that a person gave and that no second marker has had yet.",
            remedy="Mark texts in formgrader and record observations first.",
        )
    order = random.Random(f"second/{seed}")  # noqa: S311 - the order on the sheet must tell nothing
    order.shuffle(chosen)
    people = ledger.people({line.apprentice for line in chosen})
    lines = tuple(replace(line, line=number) for number, line in enumerate(chosen, start=1))
    sheet = secret.code("second", seed, *sorted(modules), count, f"{percent:g}", length=6)
    (entry,) = ledger.add(
        [
            SecondDrawn(
                seed=seed,
                modules=said[1],
                count=count,
                percent=percent,
                sheet=sheet,
                lines=tuple(replace(line, apprentice=people[line.apprentice]) for line in lines),
            )
        ]
    )
    return Drawn(sheet, seed, lines, entry.number), True


def _work(line: SampleLine) -> tuple[str, str, int, str, str]:
    return line.module, line.apprentice, line.attempt, line.item, line.answer


def drawn(ledger: Ledger) -> tuple[tuple[SecondDrawn, Drawn], ...]:
    """Return the samples on record; lines of people who were forgotten name nobody."""
    entries = list(ledger.entries(SecondDrawn, marks=False))
    names = ledger.names(line.apprentice for entry in entries for line in entry.lines)

    def named(lines: Iterable[SampleLine]) -> tuple[SampleLine, ...]:
        return tuple(replace(line, apprentice=names.get(line.apprentice, "")) for line in lines)

    return tuple((of, Drawn(of.sheet, of.seed, named(of.lines), of.number)) for of in entries)


def sizes(available: Mapping[str, int], count: int, percent: float) -> dict[str, int]:
    """Return how many are drawn of each module.

    With a count, each gets its share, largest remainders first; with a percentage, that of its own, rounded up.

    Examples
    --------
    >>> sizes({"a": 30, "b": 10, "c": 0}, 8, 0.0)
    {'a': 6, 'b': 2, 'c': 0}
    >>> sizes({"a": 30, "b": 1}, 0, 10.0)
    {'a': 3, 'b': 1}
    """
    total = sum(available.values())
    if not count:
        return {module: min(n, math.ceil(n * percent / 100 - 1e-9)) for module, n in available.items()}
    count = min(count, total)
    shares = {module: count * n / total if total else 0.0 for module, n in available.items()}
    whole = {module: int(share) for module, share in shares.items()}
    rest = sorted(shares, key=lambda module: (whole[module] - shares[module], module))
    for module in rest[: count - sum(whole.values())]:
        whole[module] += 1
    return whole


def _candidates(ledger: Ledger, module: str) -> Iterable[SampleLine]:
    """Yield the marks of a module that people gave and that the gradebook shows, in an order that hangs on nothing."""
    judged = ledger.judged(module)
    shown = ledger.shown(module)
    given = _said(ledger, module)
    numbers = {name: number for name, number in shown.items() if any(of == name for of, _ in judged)}
    entries = ledger.read(Marked, numbers.values())
    for name in sorted(numbers):
        entry = entries[numbers[name]]
        for row in entry.marks:
            of = judged.get((name, entry.attempt), {}).get(row.item)
            if row.kind not in BY_PERSON or of is None:
                continue
            observed = given.get(of.entry, 0)
            if row.kind == "observed" and not observed:
                continue  # nothing is on record that a second marker could look at
            yield SampleLine(
                0,
                module,
                row.item,
                row.kind,
                name,
                entry.attempt,
                entry.form,
                of.answer,
                entry.number,
                of.entry,
                of.points,
                row.out_of,
                observed if row.kind == "observed" else 0,
            )


def _said(ledger: Ledger, module: str) -> dict[int, int]:
    """Return the numbers of observations by the entries that gave points for them."""
    given = {entry.number: entry.entry for entry in ledger.entries(Changed, module=module, marks=False) if entry.entry}
    observed = ledger.read(Observed, given.values(), marks=False)
    return {number: of for number, of in given.items() if of in observed}
