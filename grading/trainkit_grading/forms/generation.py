"""Forms and keys: drawn from blueprint and pack, one form for each apprentice, module and attempt.

Each form is put together from pools of draws that are trimmed so that all forms are equally hard
(:mod:`trainkit.pools.filling`). What an item is and in which order its options stand come from keyed streams that
know nothing of each other, so the order tells nothing about the draw. The same seed, blueprint, pack and software
give the same bytes. A form that has been given out is never changed: it is kept as it is, and where pack or blueprint
have changed under it, drawing refuses and says so. What they were is kept, too (:mod:`..course.given_out`).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from trainkit.errors import NotReadyError
from trainkit.forms import Form, FormItem, Forms, person_digest
from trainkit.items.facts import Facts
from trainkit.items.kinds import Key
from trainkit.modules import Blueprint
from trainkit.pools import Pools, words
from trainkit.sentences import NEWER, newer_format
from trainkit_grading.course.seeds import Seed
from trainkit_grading.errors import DrawingError
from trainkit_grading.forms.examples import worked_in
from trainkit_grading.forms.store import (
    FormKeys,
    KeyFile,
    KeysHead,
    content_of_forms,
    content_of_keys,
    open_forms,
    open_keys,
    read_forms,
    read_keys,
)
from trainkit_grading.support.files import write_atomically
from trainkit_grading.support.outcome import Finding, Progress, quiet
from trainkit_grading.support.sharing import private_folder

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit_grading.course.folder import Course, CourseModule
    from trainkit_grading.course.roster import Apprentice, Roster

__all__ = [
    "Drawing",
    "FormKeys",
    "KeyFile",
    "draw",
    "draw_forms",
    "form_digest",
    "only",
    "open_forms",
    "open_keys",
    "read_forms",
    "read_given_out",
    "read_keys",
    "read_released",
    "record_release",
    "refuse_changed",
    "write",
]


class _Released(BaseModel):
    """Which forms of an attempt have been given out: the digest of each by its code, and since when each is out."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal[1] = 1
    forms: dict[str, str]
    since: dict[str, AwareDatetime] = Field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Drawing:
    """What was drawn for one attempt at a module: the forms as they are released, the keys, and what to look at."""

    forms: Forms
    keys: KeyFile
    findings: tuple[Finding, ...] = ()

    def only(self, apprentice: str) -> Forms:
        """Return the forms with nothing but this apprentice's in them."""
        return only(self.forms, apprentice)


def only(forms: Forms, apprentice: str) -> Forms:
    """Return ``forms`` with nothing in it but the form of one apprentice.

    Raises
    ------
    FormError
        If there is none.
    """
    form = forms.of(apprentice)
    digest = person_digest(forms.course, apprentice)
    return forms.model_copy(update={"forms": (form,), "people": {digest: form.code}})


def draw_forms(
    seed: Seed,
    course: str,
    blueprint: Blueprint,
    pack: Pack,
    attempt: int,
    apprentices: Iterable[str],
    shown: Collection[str] = (),
) -> Iterator[tuple[Form, FormKeys]]:
    """Draw forms and their keys, one for each apprentice; nobody's hangs on who else is named.

    Parameters
    ----------
    seed : Seed
        The course's secret.
    course : str
        Its name.
    blueprint : Blueprint
        What a form consists of.
    pack : Pack
        What it is about.
    attempt : int
        From 1; each attempt has forms of its own.
    apprentices : iterable of str
        Identifiers.
    shown : collection of str
        What stands for questions that the workbook works itself; nobody is asked them.

    Raises
    ------
    NotReadyError
        If the pack cannot fill the pools of all items.
    ItemError
        If an item cannot be told from one that stands in the form already.
    """
    yield from _put_together(Pools.fill(seed, course, blueprint, pack, attempt), seed, apprentices, shown)


def _put_together(
    pools: Pools, seed: Seed, apprentices: Iterable[str], shown: Collection[str]
) -> Iterator[tuple[Form, FormKeys]]:
    for apprentice in apprentices:
        items: list[FormItem] = []
        keys: dict[str, Key] = {}
        facts: dict[str, Facts] = {}
        for planned, drawn in pools.form(apprentice, shown):
            items.append(FormItem(id=planned.id, item=drawn.item))
            keys[planned.id], facts[planned.id] = drawn.key, drawn.facts
        code = seed.code("form", *pools.names, apprentice, length=8)
        yield Form(code=code, items=tuple(items)), FormKeys(apprentice=apprentice, keys=keys, facts=facts, spoken=True)


def draw(
    course: Course,
    entry: CourseModule,
    blueprint: Blueprint,
    pack: Pack,
    roster: Sequence[Apprentice] | Roster,
    seed: Seed,
    progress: Progress = quiet,
) -> Drawing:
    """Draw the forms and keys of a module's current attempt for these people.

    Nothing is written. Forms that have been given out are taken as they were, also those of people who have left.

    Raises
    ------
    DrawingError
        If pack or blueprint have changed since a form was given out, or a form that is out is no longer at hand.
    NotReadyError
        If the pack cannot fill the pools of all items, and somebody has no form yet.
    """
    released = read_released(course.released_file(entry.name, entry.attempt))
    old_keys = read_keys(course.key_file(entry.name, entry.attempt))
    old_forms = read_forms(course.forms_file(entry.name, entry.attempt))
    if released and old_keys is not None:
        refuse_changed(course, entry, old_keys, blueprint, pack)
    forms: dict[str, Form] = {}
    keys: dict[str, FormKeys] = {}
    findings: list[Finding] = []
    recorded = old_keys.not_askable if released and old_keys is not None else None
    pools, told = _filled(seed, course, entry, blueprint, pack, recorded)
    findings += told
    if isinstance(pools, NotReadyError):
        # Whoever has a form keeps it, whatever this release can draw; only somebody without one cannot be helped.
        holders = {known.apprentice for code, known in old_keys.forms.items() if code in released} if old_keys else ()
        if any(person.id not in holders for person in roster):
            raise pools
        roster = ()
    shown = worked_in(course, entry, blueprint)
    drawn = _put_together(pools, seed, (person.id for person in roster), shown) if isinstance(pools, Pools) else ()
    for number, (person, (form, known)) in enumerate(zip(roster, drawn, strict=True), start=1):
        if form.code in forms:  # pragma: no cover - 30 ** 8 codes; two the same must still never pass
            raise DrawingError(
                form.code, rule="Each form has a code of its own.", remedy=f"Give {person.id} another identifier."
            )
        forms[form.code], keys[form.code] = form, known
        progress(number, len(roster), person.name)
    for code, digest in released.items():
        kept = _kept(code, digest, old_forms, old_keys, forms.get(code), keys.get(code))
        if kept is None:
            raise DrawingError(
                code,
                place=entry.name,
                rule="This form has been given out, but its copy under forms/ or keys/ is missing or was changed.",
                remedy=f"Fetch both folders from your backup, or set attempt = {entry.attempt + 1} for this module.",
            )
        if code in forms and (kept[0], kept[1].keys) != (forms[code], keys[code].keys):
            who = kept[1].apprentice
            findings.append(
                Finding(
                    "warning",
                    f"{entry.name} {who}",
                    f"Form {code} is kept as it was given out; this version of the software would draw another.",
                )
            )
        forms[code], keys[code] = kept
    if old_keys is not None:
        _add_forgotten(entry, old_forms, old_keys, forms, keys)
    return Drawing(
        Forms(
            course=course.name,
            module=entry.name,
            title=blueprint.title,
            pack=pack.name,
            pack_digest=pack.digest,
            attempt=entry.attempt,
            due=entry.due.isoformat() if entry.due is not None else "",
            forms=tuple(forms[code] for code in sorted(forms)),
            people=dict(
                sorted(
                    (person_digest(course.name, keys[code].apprentice), code) for code in forms if keys[code].apprentice
                )
            ),
        ),
        KeyFile(
            course=course.name,
            module=entry.name,
            attempt=entry.attempt,
            pack=pack.name,
            pack_digest=pack.digest,
            plan=blueprint.items,
            not_askable=dict(pools.not_askable if recorded is None and isinstance(pools, Pools) else recorded or {}),
            forms={code: keys[code] for code in sorted(keys)},
        ),
        tuple(findings),
    )


def _add_forgotten(
    entry: CourseModule, old_forms: Forms | None, old_keys: KeyFile, forms: dict[str, Form], keys: dict[str, FormKeys]
) -> None:
    """Add the forms that are nobody's any more."""
    for code, known in old_keys.forms.items():
        if known.apprentice:
            continue
        if code in keys:
            raise DrawingError(
                keys[code].apprentice,
                place=entry.name,
                rule="Somebody with this identifier was forgotten, and their form would be this person's.",
                remedy="Give this person another identifier in roster.csv.",
            )
        kept_form = next((form for form in old_forms.forms if form.code == code), None) if old_forms else None
        if kept_form is not None:
            forms[code], keys[code] = kept_form, known


def _filled(
    seed: Seed,
    course: Course,
    entry: CourseModule,
    blueprint: Blueprint,
    pack: Pack,
    recorded: Mapping[str, tuple[str, ...]] | None,
) -> tuple[Pools | NotReadyError, list[Finding]]:
    """Fill the pools, or return why that cannot be done, with what to tell of it."""
    try:
        pools = Pools.fill(seed, course.name, blueprint, pack, entry.attempt, not_askable=recorded)
    except NotReadyError as error:
        text = f"No form can be drawn any more, so nobody can join late. {error.rule}"
        return error, [Finding("warning", entry.name, text)]
    found: list[Finding] = []
    for pool in pools.pools:
        place = f"{entry.name} {pool.planned.id}"
        found += [Finding("warning", place, f"Draws that failed were left out. {fault}") for fault in pool.faults]
        if pool.not_askable:
            found.append(
                Finding("note", place, f"{words.not_askable(pool.not_askable)}. The item is drawn without it.")
            )
    return pools, found


def refuse_changed(
    course: Course, entry: CourseModule, old: KeyFile | KeysHead, blueprint: Blueprint, pack: Pack
) -> None:
    """Refuse to draw from something else than the forms that are out were drawn from.

    Raises
    ------
    DrawingError
        If something changed, and what forms were drawn from is not at hand any more.
    """
    changed = [
        what
        for what, differs in (
            ("the name of the course", old.course != course.name),
            ("the pack", old.pack_digest != pack.digest),
            ("the items of the blueprint", old.plan != blueprint.items),
        )
        if differs
    ]
    if changed:
        raise DrawingError(
            entry.name,
            rule=f"Forms of attempt {entry.attempt} are out, and since then {' and '.join(changed)} changed.",
            remedy=f"Put it back as it was, or set attempt = {entry.attempt + 1} for this module in course.toml.",
        )


def _kept(
    code: str,
    digest: str,
    old_forms: Forms | None,
    old_keys: KeyFile | None,
    fresh: Form | None,
    fresh_keys: FormKeys | None,
) -> tuple[Form, FormKeys] | None:
    """Return the form that was given out with its keys: from the copies, or drawn again where that gives the same."""
    form = next((form for form in old_forms.forms if form.code == code), None) if old_forms is not None else None
    known = old_keys.forms.get(code) if old_keys is not None else None
    if form is not None and known is not None and form_digest(form) == digest:
        return form, known
    if fresh is not None and fresh_keys is not None and form_digest(fresh) == digest:
        return fresh, fresh_keys
    return None


def form_digest(form: Form) -> str:
    """Return the SHA-256 of a form's content, in hexadecimal digits."""
    text = json.dumps(form.model_dump(mode="json"), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def write(course: Course, drawing: Drawing) -> bool:
    """Write keys and the course side's copy of the forms, and tell whether anything changed."""
    attempt = (drawing.keys.module, drawing.keys.attempt)
    key_file, forms_file = course.key_file(*attempt), course.forms_file(*attempt)
    private_folder(key_file.parent)
    forms_file.parent.mkdir(parents=True, exist_ok=True)
    # Keys first: a form without its keys would be worth nothing.
    changed = write_atomically(key_file, content_of_keys(drawing.keys), mode=0o600)
    return write_atomically(forms_file, content_of_forms(drawing.forms)) or changed


def record_release(
    course: Course, module: str, attempt: int, forms: Iterable[Form], now: datetime | None = None
) -> None:
    """Record that forms are given out; from now on they stay as they are. Written before they leave the folder.

    ``now`` is when; a form that was out before keeps its first time.
    """
    path = course.released_file(module, attempt)
    known = _read_released(path) or _Released(forms={})
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = {form.code: form_digest(form) for form in forms}
    moments = {code: now for code in fresh if now is not None and code not in known.forms}
    merged = _Released(
        forms=dict(sorted({**fresh, **known.forms}.items())), since=dict(sorted({**moments, **known.since}.items()))
    )
    write_atomically(path, merged.model_dump_json(indent=1) + "\n")


def read_released(path: Path) -> Mapping[str, str]:
    """Return the digests of the forms that have been given out, by code."""
    record = _read_released(path)
    return record.forms if record is not None else {}


def read_given_out(path: Path) -> Mapping[str, datetime]:
    """Return since when each form is out, by code; of forms that an earlier release gave out it is not known."""
    record = _read_released(path)
    return record.since if record is not None else {}


def _read_released(path: Path) -> _Released | None:
    try:
        return _Released.model_validate_json(path.read_bytes(), strict=False)
    except FileNotFoundError:
        return None
    except (OSError, ValidationError) as error:
        errors = [] if isinstance(error, OSError) else error.errors(include_url=False)
        if newer := newer_format(errors):
            raise DrawingError(str(path), rule=newer, remedy=NEWER) from None
        said = str(error.strerror) if isinstance(error, OSError) else str(errors[0]["msg"])
        raise DrawingError(
            str(path),
            rule=f"The course keeps a record of the forms it has given out, and this one cannot be used ({said}).",
            remedy="Fetch it from your backup.",
        ) from None
