"""Checklists: the steps of a piece of work in the order in which they are done, as whoever observes it has them.

A checklist comes from a pack, then it has all steps of one configuration, or from the observed item of somebody's
form, then it has that item's steps. Both say a step in the same words, so that one observation can serve both.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from trainkit.items.capstone.watching import CAUTION, CAUTIONS_STEP, step_text
from trainkit.items.kinds import ObservedItem
from trainkit.items.sequence.cards import Variant, variants
from trainkit.sentences import NEWER, newer_than
from trainkit_grading.errors import SignOffError
from trainkit_grading.forms.store import open_forms, open_keys
from trainkit_grading.support.plaintext import one_line

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit_grading.course.folder import Course, CourseModule
    from trainkit_grading.course.roster import Apprentice
    from trainkit_grading.course.seeds import Seed


OUTCOMES = ("unprompted", "prompted", "not done", "stopped for safety")
"""What can become of a step, in the words of every sheet."""
FORMAT = 1


@dataclass(frozen=True, slots=True)
class CheckStep:
    """One step: a name of its own, what is done, and whether leaving it out can hurt the engine or a person."""

    id: str
    text: str
    critical: bool


@dataclass(frozen=True, slots=True)
class Checklist:
    """One checklist, for one apprentice or for whoever is written on it.

    Parameters
    ----------
    code : str
        Six signs that stand on the sheet and find it again.
    scope : str
        What it is about, ``"dunlin"``, ``"dunlin/coolant-heater"`` or ``"capstone/A12"``: sheets of one scope can
        be compared.
    title : str
        The same, in words.
    course : str
        Short name of the course.
    pack, pack_digest : str
        Name of the pack, and SHA-256 of its file.
    apprentice, person : str
        Identifier and name; empty on a blank sheet.
    module, item, form : str
        Where it comes from an item: which one, and of which form.
    notice : str
        What is said about the values, and who decides in real work.
    cautions, given : tuple of (str, str)
        The cautions, in their order, and the lines that say which engine this is.
    steps : tuple of CheckStep
        In an order in which they can be done.

    Examples
    --------
    >>> from trainkit import packs
    >>> from trainkit_grading.course.seeds import Seed
    >>> sheet = of_pack(packs.load("dunlin"), Seed(bytes(32)), "saltmere")
    >>> sheet.scope, sheet.stem, sheet.steps[0].critical, sheet.steps[1].id
    ('dunlin', 'dunlin-blank', True, 'cautions-2')
    """

    code: str
    scope: str
    title: str
    course: str
    pack: str
    pack_digest: str
    notice: str
    cautions: tuple[tuple[str, str], ...]
    given: tuple[tuple[str, str], ...]
    steps: tuple[CheckStep, ...]
    apprentice: str = ""
    person: str = ""
    module: str = ""
    item: str = ""
    form: str = ""

    @property
    def stem(self) -> str:
        """Name of its files without their endings."""
        return f"{self.scope.replace('/', '-')}-{self.apprentice or 'blank'}"

    def to_text(self) -> str:
        """Return it as JSON."""
        return json.dumps({"format": FORMAT, **asdict(self)}, ensure_ascii=False, indent=1) + "\n"

    @classmethod
    def from_text(cls, text: str, place: str) -> Checklist:
        """Read what :meth:`to_text` wrote.

        Raises
        ------
        SignOffError
            If it is another file, or was damaged.
        """
        try:
            said = json.loads(text)
            met = said.pop("format")
            if newer := newer_than(met, str(FORMAT)):
                raise SignOffError(place, rule=newer, remedy=NEWER)
            if met != FORMAT:
                raise ValueError("of another format")
            said["steps"] = tuple(CheckStep(**step) for step in said["steps"])
            for name in ("cautions", "given"):
                said[name] = tuple((head, words) for head, words in said[name])
            return cls(**said)
        except SignOffError:
            raise
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            raise SignOffError(
                place,
                rule=f"This file of a checklist cannot be read ({type(error).__name__}: {error}).",
                remedy="Make it again: trainkit-course checklist",
            ) from None


def of_pack(
    pack: Pack, seed: Seed, course: str, configuration: str = "", person: Apprentice | None = None
) -> Checklist:
    """Return the checklist of all steps of a pack in one configuration.

    Raises
    ------
    PackError
        If the pack has no such configuration.
    """
    if configuration:
        pack.configuration(configuration)
    chosen = variants(pack)[configuration]
    scope = f"{pack.name}/{configuration}" if configuration else pack.name
    who, name = (person.id, person.name) if person is not None else ("", "")
    cautions = tuple((hazard.title.rstrip("."), hazard.text) for hazard in pack.cautions)
    steps = (
        *_ticks("cautions", cautions),
        *(CheckStep(step, step_text(chosen, step), pack.step(step).critical) for step in _in_order(chosen)),
    )
    return Checklist(
        seed.code("checklist", course, scope, pack.digest, who, length=6),
        scope,
        f"The whole job on {pack.engine.name}",
        course,
        pack.name,
        pack.digest,
        pack.notice,
        cautions,
        tuple((line.label, line.value) for line in chosen.given),
        steps,
        who,
        name,
    )


def of_item(course: Course, entry: CourseModule, person: Apprentice, seed: Seed) -> Checklist:
    """Return the checklist of the observed item of somebody's present form.

    Raises
    ------
    SignOffError
        If the module asks for no observed work, or no form was drawn for this person.
    """
    forms = open_forms(course.forms_file(entry.name, entry.attempt))
    keys = open_keys(course.key_file(entry.name, entry.attempt))
    code = keys.form_of(person.id) if keys is not None else None
    if forms is None or keys is None or code is None or code not in forms.codes:
        raise SignOffError(
            person.id,
            place=entry.name,
            rule="No form was drawn for this person.",
            remedy=f"Build and assign it first: trainkit-course build {entry.name}",
        )
    form = forms.read(code)
    shown = next((each for each in form.items if isinstance(each.item, ObservedItem)), None)
    if shown is None or not isinstance(shown.item, ObservedItem):
        raise SignOffError(
            entry.name,
            rule="This module asks for no observed work.",
            remedy="Make the checklist of a pack: trainkit-course checklist --pack dunlin",
        )
    blueprint = course.workbook(entry).blueprint
    pack = course.pack(entry)
    cautions = stated_cautions(shown.item)
    critical = set(shown.item.critical)
    steps: list[CheckStep] = []
    for step in shown.item.steps:
        parted = step.text == CAUTIONS_STEP and cautions
        steps += _ticks(step.id, cautions) if parted else [CheckStep(step.id, step.text, step.id in critical)]
    return Checklist(
        seed.code("checklist", course.name, entry.name, shown.id, keys.head.pack_digest, code, person.id, length=6),
        f"{entry.name}/{shown.id}",
        f"{blueprint.title}, practical work {shown.id}",
        course.name,
        pack.name,
        keys.head.pack_digest,
        pack.notice,
        cautions,
        tuple((line.label, line.value) for line in shown.item.given if not line.label.startswith(CAUTION)),
        tuple(steps),
        person.id,
        person.name,
        entry.name,
        shown.id,
        form.code,
    )


def stated_cautions(item: ObservedItem) -> tuple[tuple[str, str], ...]:
    """Return the cautions that an item states, each its title and what to do."""
    return tuple(
        (line.label.removeprefix(CAUTION), line.value) for line in item.given if line.label.startswith(CAUTION)
    )


def tick_text(title: str) -> str:
    """Return the words beside the tick of one caution.

    Examples
    --------
    >>> tick_text("Fuel jet")
    'See to the caution “Fuel jet”'
    """
    return f"See to the caution “{title}”"


def _ticks(step: str, cautions: Sequence[tuple[str, str]]) -> Iterator[CheckStep]:
    """Yield a step for each caution: seen to one by one, each has a tick of its own, and each is critical."""
    for place, (title, _) in enumerate(cautions, start=1):
        yield CheckStep(f"{step}-{place}", tick_text(title), True)


def read_checklist(path: Path) -> Checklist:
    """Read a checklist from its file.

    Raises
    ------
    SignOffError
        If there is none, or it cannot be read.
    """
    try:
        text = path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise SignOffError(
            str(path),
            rule=f"The checklist cannot be read ({type(error).__name__}).",
            remedy="Make it again: trainkit-course checklist",
        ) from None
    return Checklist.from_text(text, path.name)


def find_checklist(folder: Path, named: str) -> Checklist:
    """Find a checklist by its code or by the name of its files.

    Raises
    ------
    SignOffError
        If there is none.
    """
    wanted = named.strip()
    plain = Path(wanted).name
    for ending in (".observed.jsonl", ".ipynb", ".html", ".json"):
        plain = plain.removesuffix(ending)
    met: list[str] = []
    for path in sorted(folder.glob("*.json")):
        if path.stem == plain:
            return read_checklist(path)
        try:
            sheet = read_checklist(path)
        except SignOffError as error:
            met.append(str(error))
            continue
        if sheet.code == wanted.upper():
            return sheet
    raise SignOffError(
        one_line(named),
        rule=" ".join(("No checklist has this code or name.", *met)),
        remedy=f"The code stands at the top of the sheet; what was made lies in {folder.name}/.",
    )


def _in_order(chosen: Variant) -> Iterator[str]:
    """Yield the steps as the pack lists them, each one after those that it waits for."""
    left = list(chosen.procedure.steps)
    while left:
        ready = next(step for step in left if not any(chosen.procedure.comes_before(other, step) for other in left))
        left.remove(ready)
        yield ready
