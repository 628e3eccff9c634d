"""From an observation to the points of the observed item in a form: one piece of watching serves both.

An observation fills an observed item if it is of the same pack, the very same file, and holds every step of the item
in the same words. So an item's own checklist fills it, and so does that of the whole job. It does not matter which is
there first, the observation or the marks. Points are the item's own: a prompt costs half a step, and a stop for
safety, on whatever step of the sheet, or a critical step of the item that was not done earns nothing.

Each observation is put in once. What a person sets in formgrader afterwards stays until another observation comes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from trainkit.items.capstone.watching import CAUTIONS_STEP
from trainkit.items.kinds import ObservedItem, ObservedKey, ObservedResponse
from trainkit.items.marking import mark
from trainkit_grading.ledger.kinds import Changed, Marked, Observed
from trainkit_grading.record.manual_points import ManualPoints
from trainkit_grading.signoff.checklists import OUTCOMES, stated_cautions, tick_text
from trainkit_grading.signoff.observations import standing

if TYPE_CHECKING:
    from trainkit_grading.forms.store import KeptForms
    from trainkit_grading.ledger.book import Ledger
    from trainkit_grading.ledger.entries import MarkRow
    from trainkit_grading.record.to_mark import ModuleToMark
    from trainkit_grading.record.write import Recorder


def fill(recorder: Recorder, names: Sequence[str]) -> dict[str, Marked]:
    """Give the points that observations on record have not given yet; return the marks that count now."""
    return recorder.give(due(recorder.ledger, recorder.module, names)) if names else {}


def due(ledger: Ledger, module: ModuleToMark, names: Sequence[str]) -> tuple[ManualPoints, ...]:
    """Return the points that observations on record have not given yet.

    Parameters
    ----------
    ledger : Ledger
        The course's ledger.
    module : ModuleToMark
        The module whose items are filled.
    names : sequence of str
        Whose.
    """
    wanted = set(names)
    observed: dict[str, list[Observed]] = {}
    for each in ledger.entries(Observed, module=["", module.name], apprentice=names, marks=False):
        if each.apprentice in wanted:
            observed.setdefault(each.apprentice, []).append(each)
    if not observed:
        return ()
    some = sorted(observed)
    put_in = _put_in(ledger, module.name, observed)
    numbers = [of.number for of in ledger.standing(module.name, some).values() if of.apprentice in observed]
    found = []
    for entry in ledger.read(Marked, numbers).values():
        for row in entry.marks:
            if row.kind != "observed":
                continue
            item = _item(module.forms(entry.attempt), entry, row)
            if item is None:
                continue
            fitting = [each for each in observed[entry.apprentice] if fits(each, item, entry.provenance.pack)]
            given = _given(entry, row, item, fitting)
            if given is not None and given.entry > put_in.get((entry.apprentice, entry.attempt, row.item), 0):
                found.append(given)
    return tuple(found)


def fits(observation: Observed, item: ObservedItem, pack_digest: str) -> bool:
    """Tell whether an observation of the whole work says what became of every step of an item."""
    if observation.again or observation.provenance.pack != pack_digest:
        return False
    return {step.text for step in item.steps} <= set(_outcomes(observation, item))


def seen(ledger: Ledger, module: str) -> dict[tuple[str, int, str], Observed]:
    """Return the observation that points of a module follow from, by apprentice, attempt and item.

    Where somebody has set other points since, there is none.
    """
    judged = {
        of.entry: (name, attempt, item)
        for (name, attempt), items in ledger.judged(module).items()
        for item, of in items.items()
    }
    said = ledger.read(Changed, judged, marks=False).values()
    observed = ledger.read(Observed, (entry.entry for entry in said if entry.entry), marks=False)
    return {judged[entry.number]: observed[entry.entry] for entry in said if entry.entry in observed}


def became(observation: Observed, item: ObservedItem) -> tuple[str, ...]:
    """Return in words what became of the steps of an item, those first that were not done alone."""
    here = {step.text for step in item.steps} | _ticks(item)
    steps = [step for step in observation.steps if step.text in here]
    alone = sum(step.outcome == "unprompted" for step in steps)
    others = (f"{step.outcome.capitalize()}: {step.text}" for step in steps if step.outcome != "unprompted")
    return (f"{alone} of {len(steps)} steps done without a prompt.", *others)


def _ticks(item: ObservedItem) -> set[str]:
    """Return the words beside the ticks of the cautions that an item states."""
    return {tick_text(title) for title, _ in stated_cautions(item)}


def _outcomes(observation: Observed, item: ObservedItem) -> dict[str, str]:
    """Return what became of the steps by their words.

    Sheets of today have a tick for each caution, those of earlier releases, and the items, one step for all of them.
    The step is what the worst of the ticks is, as the safety of all hangs on each.
    """
    became = {step.text: step.outcome for step in observation.steps}
    ticks = _ticks(item)
    if ticks and ticks <= became.keys():
        became.setdefault(CAUTIONS_STEP, max((became[text] for text in ticks), key=OUTCOMES.index))
    return became


def _given(entry: Marked, row: MarkRow, item: ObservedItem, fitting: Iterable[Observed]) -> ManualPoints | None:
    """Return the points of the observation that counts among those that fit."""
    chosen = standing(fitting)
    if chosen is None:
        return None
    observation = chosen[0]
    became = _outcomes(observation, item)
    response = ObservedResponse.model_validate(
        {"steps": {step.id: became[step.text] for step in item.steps}, "observer": observation.observer}
    )
    got = mark(item, ObservedKey(template=row.template, working=(), critical=item.critical), response)
    stopped = any(step.outcome == "stopped for safety" for step in observation.steps)
    return ManualPoints(
        entry.apprentice,
        entry.attempt,
        row.item,
        0.0 if stopped else got.points,
        f"Observed: entry {observation.number}.",
        observation.number,
        stopped or got.critical,
    )


def _item(forms: KeptForms | None, entry: Marked, row: MarkRow) -> ObservedItem | None:
    if forms is None or entry.form not in forms.codes:
        return None
    item = forms.read(entry.form).item(row.item)
    return item if isinstance(item, ObservedItem) else None


def _put_in(
    ledger: Ledger, module: str, observed: Mapping[str, Iterable[Observed]]
) -> Mapping[tuple[str, int, str], int]:
    """Return the newest observation that was put in, by apprentice, attempt and item."""
    numbers = {each.number for of in observed.values() for each in of}
    found: dict[tuple[str, int, str], int] = {}
    for entry in ledger.entries(Changed, module=module, apprentice=sorted(observed), marks=False):
        if entry.entry in numbers:
            key = (entry.apprentice, entry.attempt, entry.item)
            found[key] = max(entry.entry or 0, found.get(key, 0))
    return found
