"""Rules about what must be in order by what the steps do: loosened before tightened, off before on.

One precedence that is missing leaves many pairs of steps without order. They are told once, with the precedence that
mends them all.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.packs.rules.base import Breach, Case, rule
from trainkit.sentences import counted

if TYPE_CHECKING:
    from trainkit.packs.findings import Path
    from trainkit.packs.work import Step
    from trainkit.procedures import Procedure

__all__: list[str] = []

_LAST = 99  # behind every stage
_MOST = 100  # pairs; where more are without order, the rest shows when these are mended


@dataclass(frozen=True, slots=True)
class _Need:
    """Two steps that must be in order: where that is told, and why they must."""

    thing: str  # the fastener or the part
    before: str
    after: str
    code: str
    path: Path
    value: str
    told: str
    hint: str = ""


@rule("steps", "precedence", "fasteners", "parts", "configurations")
def _in_order(case: Case) -> Iterator[Breach]:
    missing = [need for need in (*_stages(case), *_parts(case)) if case.unordered(need.before, need.after)]
    turned: dict[str, list[_Need]] = defaultdict(list)
    for need in missing:
        if _turned(case, need):
            turned[need.thing].append(need)
    for same in turned.values():
        told = max(same, key=lambda need: bool(need.hint))
        yield Breach(
            told.code,
            told.path,
            told.value,
            f"{told.told}; the precedences say the other way round.",
            f"Turn round what puts {told.after} before {told.before}.{told.hint}",
        )
    for first, second, group in _causes(case, [need for need in missing if not _turned(case, need)]):
        # The pair that is told stands nearest to the precedence that mends it.
        told = next((need for need in group if (need.before, need.after) == (first, second)), group[0])
        more = len({(need.before, need.after) for need in group}) - 1
        also = f" It also puts {counted(more, 'other pair')} of steps in order." if more else ""
        yield Breach(
            told.code,
            told.path,
            told.value,
            f"{told.told}; no precedence says so.",
            f"Add a precedence, directly or by way of others: {first} before {second}.{also}{told.hint}",
        )


def _turned(case: Case, need: _Need) -> bool:
    return any(
        need.before in procedure and need.after in procedure and procedure.comes_before(need.after, need.before)
        for procedure in case.procedures.values()
    )


def _stages(case: Case) -> Iterator[_Need]:
    """Yield that a fastener is loosened before it is tightened, and goes through its stages in turn."""
    ranks = {
        fastener.id: {stage.name: number for number, stage in enumerate(fastener.stages)}
        for fastener in case.pack.fasteners
    }
    temporary = {fastener.id for fastener in case.pack.fasteners if fastener.temporary}
    work: dict[str, list[tuple[int, int, Step]]] = defaultdict(list)
    for place, step in enumerate(case.pack.steps):
        if step.loosens in ranks:
            # What holds a tool is tightened first and loosened in the end.
            work[step.loosens].append((_LAST if step.loosens in temporary else -1, place, step))
        if step.stage in ranks.get(step.fastener, {}):
            work[step.fastener].append((ranks[step.fastener][step.stage], place, step))
    for fastener, entries in work.items():
        for (rank, _, earlier), (other, place, later) in itertools.permutations(entries, 2):
            if rank < other:
                hint = ""
                if rank == -1:
                    hint = (
                        f" If {fastener} is tightened first and loosened again within the job, write temporary = true "
                        "there instead."
                    )
                elif other == _LAST:
                    hint = f" If {fastener} stays when the work is done, delete temporary = true there."
                yield _Need(
                    fastener,
                    earlier.id,
                    later.id,
                    "stages-unordered",
                    ("steps", place, "stage" if later.fastener == fastener else "loosens"),
                    later.id,
                    f"{fastener} is {_what(earlier, fastener)} before it is {_what(later, fastener)}",
                    hint,
                )


def _what(step: Step, fastener: str) -> str:
    return f"{f'brought to {step.stage}' if step.fastener == fastener else 'loosened'} ({step.id})"


def _parts(case: Case) -> Iterator[_Need]:
    """Yield that a part comes off before it goes on."""
    for off in case.pack.steps:
        for place, on in enumerate(case.pack.steps):
            for part in sorted(set(off.takes_off) & set(on.fits)):
                if off.id != on.id:
                    yield _Need(
                        part,
                        off.id,
                        on.id,
                        "part-fitted-before-removal",
                        ("steps", place, "fits"),
                        part,
                        f"A part comes off ({off.id}) before it goes on ({on.id})",
                    )


def _causes(case: Case, missing: list[_Need]) -> Iterator[tuple[str, str, list[_Need]]]:
    """Yield the precedences that are missing, each with the pairs that it would put in order."""
    groups: list[tuple[Procedure[str], tuple[str, str], list[_Need]]] = []
    order = list(case.procedures.values())
    at = {need: next(n for n, each in enumerate(order) if _lacks(each, need)) for need in missing[:_MOST]}
    # What is missing everywhere comes first; what a configuration adds is mostly mended with it.
    for need in sorted(at, key=at.__getitem__):
        here = order[at[need]]
        for number, (procedure, pair, group) in enumerate(groups):
            wider = _mending(here, [*group, need]) if procedure is here else pair if _mends(here, pair, need) else None
            if wider is not None:
                groups[number] = (procedure, wider, [*group, need])
                break
        else:
            groups.append((here, (need.before, need.after), [need]))
    yield from ((*pair, group) for _, pair, group in groups)


def _lacks(procedure: Procedure[str], need: _Need) -> bool:
    return need.before in procedure and need.after in procedure and not procedure.comes_before(need.before, need.after)


def _mends(procedure: Procedure[str], pair: tuple[str, str], need: _Need) -> bool:
    """Tell whether a precedence would put a pair in order."""
    first, second = pair
    if first not in procedure or second not in procedure:
        return False
    return (first == need.before or procedure.comes_before(need.before, first)) and (
        second == need.after or procedure.comes_before(second, need.after)
    )


def _mending(procedure: Procedure[str], group: list[_Need]) -> tuple[str, str] | None:
    """Return the precedence that would put all pairs of a group in order, or None where there is no one."""
    befores, afters = {need.before for need in group}, {need.after for need in group}

    def behind(step: str) -> bool:
        return all(step == each or procedure.comes_before(each, step) for each in befores)

    def ahead(step: str) -> bool:
        return all(step == each or procedure.comes_before(step, each) for each in afters)

    firsts, seconds = list(filter(behind, procedure.steps)), list(filter(ahead, procedure.steps))
    # As near to the pairs as can be: nothing is put in order that need not be.
    near = [step for step in firsts if not any(procedure.comes_before(each, step) for each in firsts)]
    far = [step for step in seconds if not any(procedure.comes_before(step, each) for each in seconds)]
    return next(
        (
            (first, second)
            for first in near
            for second in far
            if first != second and not procedure.comes_before(second, first)
        ),
        None,
    )
