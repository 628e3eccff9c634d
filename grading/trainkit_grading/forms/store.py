"""What was drawn, as the course keeps it: all forms of an attempt in one file, all keys in another.

The first line of a file says what it is and how long each following line is; each of those holds one form, or the keys
of one. So one form is read without the others, and what marking needs of memory does not hang on how many there are.
A file is written in one step, and the same drawing gives the same bytes.

Examples
--------
>>> import tempfile
>>> with tempfile.TemporaryDirectory() as folder:
...     path = Path(folder) / "attempt-1.jsonl"
...     keys = KeyFile(
...         course="c", module="m", attempt=1, pack="p", pack_digest="", plan=(),
...         forms={"K7": FormKeys(apprentice="amir", keys={})},
...     )
...     _ = path.write_bytes(content_of_keys(keys))
...     kept = open_keys(path)
...     kept.form_of("amir"), kept.read("K7") == keys.forms["K7"], read_keys(path) == keys
('K7', True, True)
"""

from __future__ import annotations

import hashlib
import itertools
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Generic, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from trainkit.errors import FormError
from trainkit.forms import Form, Forms, person_digest
from trainkit.items.facts import Facts, facts_of
from trainkit.items.kinds import Item, Key
from trainkit.modules import PlannedItem
from trainkit.sentences import NEWER, newer_format
from trainkit_grading.errors import DrawingError


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class FormKeys(_Entry):
    """The keys of one form.

    Parameters
    ----------
    apprentice : str
        Whose form it is; empty for somebody who was forgotten.
    keys : mapping of str to Key
        The key of each of its items by identifier.
    facts : mapping of str to Facts
        What is known of each draw, by the same identifiers; nothing in a line of format 1.
    spoken : bool
        Whether a bar that rests on one worded question waits for a spoken check; not in lines of earlier formats,
        so that what was given out keeps its results.
    """

    apprentice: str
    keys: dict[str, Annotated[Key, Field(discriminator="kind")]]
    facts: dict[str, Facts] = Field(default_factory=dict)
    spoken: bool = False

    def facts_of(self, name: str, item: Item) -> Facts:
        """Return what is known of the draw of an item; of format 1 it is counted off item and key."""
        return self.facts[name] if name in self.facts else facts_of(item, self.keys[name], {})


class _KeysOf(_Entry):
    """What all keys of an attempt have in common."""

    course: str
    module: str
    attempt: Annotated[int, Field(ge=1)]
    pack: str
    pack_digest: str
    plan: tuple[PlannedItem, ...]  # the blueprint's items as they were drawn
    # By item, the misconceptions that the plan wishes for and that the pack cannot show.
    not_askable: dict[str, tuple[str, ...]] = Field(default_factory=dict)


class KeyFile(_KeysOf):
    """All keys of one attempt at a module, by the code of the form; they never leave ``keys/``."""

    forms: dict[str, FormKeys]

    def form_of(self, apprentice: str) -> str | None:
        """Return the code of an apprentice's form, or None."""
        return next((code for code, form in self.forms.items() if form.apprentice == apprentice), None)


class _Numbered(_Entry):
    """A file of keys of format 2 has the facts of each draw; a line that was kept from format 1 has none.

    Format 3 also has wishes of the plan that the pack cannot show, or says of which forms spoken checks are held; where
    neither is needed, it is format 2.
    """

    format: Literal[1, 2, 3]


class KeysHead(_KeysOf, _Numbered):  # in this order, so that the number stands first in the line
    """The first line of a file of keys: what they have in common, whose each form is, and how long its line is."""

    people: dict[str, str]  # identifiers by the code of the form
    lines: dict[str, Annotated[int, Field(ge=1)]]


class _FormsHead(_Entry):
    """The first line of a file of forms; see :class:`trainkit.forms.Forms`."""

    format: Literal[1] = 1
    course: str
    module: str
    title: str
    pack: str
    pack_digest: str
    attempt: Annotated[int, Field(ge=1)]
    due: str = ""
    people: dict[str, str]
    lines: dict[str, Annotated[int, Field(ge=1)]]


H = TypeVar("H", KeysHead, _FormsHead)
V = TypeVar("V", FormKeys, Form)


class _Kept(Generic[H, V]):
    """A file of which one line at a time is read; it may be replaced, but then has to be opened again."""

    _head: type[H]
    _value: type[V]

    def __init__(self, path: Path, state: tuple[int, ...]) -> None:
        self.path = path
        self._state = state
        with path.open("rb") as stream:
            line = stream.readline()
            self.head: H = _understood(self._head, path, line)
            ends = list(itertools.accumulate(self.head.lines.values(), initial=len(line)))
        self._starts: dict[str, int] = dict(zip(self.head.lines, ends, strict=False))
        if ends[-1] != state[-1]:
            raise _unusable(path, "it is not as long as its first line says")

    @property
    def codes(self) -> Collection[str]:
        """The codes of the forms."""
        return self._starts.keys()

    def read_with_digest(self, code: str) -> tuple[V, str]:
        """Return what belongs to a form and the SHA-256 of how it is kept; KeyError where there is no such form.

        Raises
        ------
        DrawingError
            If it cannot be used.
        """
        start, length = self._starts[code], self.head.lines[code]
        try:
            with self.path.open("rb", buffering=0) as stream:
                stream.seek(start)
                line = stream.read(length)
            now = _state(self.path)
        except OSError as error:
            raise _unusable(self.path, str(error.strerror)) from None
        if now != self._state:
            raise _unusable(self.path, "it was written anew while it was being read")
        value = _understood(self._value, self.path, line)
        if not self._belongs(code, value):
            raise _unusable(self.path, f"form {code} is not where its first line says")
        return value, hashlib.sha256(line).hexdigest()

    def read(self, code: str) -> V:
        """Return what belongs to a form; see :meth:`read_with_digest`."""
        return self.read_with_digest(code)[0]

    def all(self) -> Iterator[tuple[str, V]]:
        """Yield everything by its code, in the order of the file."""
        with self.path.open("rb") as stream:
            stream.readline()
            for code, length in self.head.lines.items():
                value = _understood(self._value, self.path, stream.read(length))
                if not self._belongs(code, value):
                    raise _unusable(self.path, f"form {code} is not where its first line says")
                yield code, value

    def _belongs(self, code: str, value: V) -> bool:
        raise NotImplementedError


class KeptKeys(_Kept[KeysHead, FormKeys]):
    """A file of keys that has been opened: ``read(code)`` gives those of one form."""

    _head, _value = KeysHead, FormKeys

    def __init__(self, path: Path, state: tuple[int, ...]) -> None:
        super().__init__(path, state)
        self._codes = {name: code for code, name in reversed(self.head.people.items()) if name}

    def form_of(self, apprentice: str) -> str | None:
        """Return the code of an apprentice's form, or None."""
        return self._codes.get(apprentice)

    def _belongs(self, code: str, value: FormKeys) -> bool:
        return self.head.people.get(code) == value.apprentice


class KeptForms(_Kept[_FormsHead, Form]):
    """A file of forms that has been opened: ``read(code)`` gives one."""

    _head, _value = _FormsHead, Form

    def only(self, apprentice: str) -> Forms:
        """Return the forms as they are released, with nothing in it but the form of one apprentice.

        Raises
        ------
        FormError
            If there is none.
        """
        digest = person_digest(self.head.course, apprentice)
        code = self.head.people.get(digest, "")
        if code not in self.codes:
            raise FormError(
                apprentice,
                rule=f"This course has no form of {self.head.title} for this name.",
                remedy="Build and assign the module again.",
            )
        return _forms(self.head, (self.read(code),), {digest: code})

    def _belongs(self, code: str, value: Form) -> bool:
        return value.code == code


def open_keys(path: Path) -> KeptKeys | None:
    """Open a file of keys, or return None where there is none.

    Raises
    ------
    DrawingError
        If it is there but cannot be used.
    """
    return _opened(_kept_keys, path)


def open_forms(path: Path) -> KeptForms | None:
    """Open the course side's copy of the forms, or return None where there is none.

    Raises
    ------
    DrawingError
        If it is there but cannot be used.
    """
    return _opened(_kept_forms, path)


def read_keys(path: Path) -> KeyFile | None:
    """Read all keys, or return None where there are none; see :func:`open_keys`."""
    kept = open_keys(path)
    if kept is None:
        return None
    shared = {name: getattr(kept.head, name) for name in _KeysOf.model_fields}
    return KeyFile(**shared, forms=dict(kept.all()))


def read_forms(path: Path) -> Forms | None:
    """Read all forms, or return None where there are none; see :func:`open_forms`."""
    kept = open_forms(path)
    return None if kept is None else _forms(kept.head, (form for _, form in kept.all()), kept.head.people)


def content_of_keys(keys: KeyFile) -> bytes:
    """Return the bytes of a file of keys."""
    forms = sorted(keys.forms.items())
    # The ledger knows a line by its hash, so one of an earlier format stays as it is.
    lines = {
        code: _line(form, [name for name in ("facts", "spoken") if not getattr(form, name)]) for code, form in forms
    }
    shared = {name: getattr(keys, name) for name in _KeysOf.model_fields}
    more = keys.not_askable or any(form.spoken for _, form in forms)
    head = KeysHead(
        format=3 if more else 2 if any(form.facts for _, form in forms) else 1,
        **shared,
        people={code: form.apprentice for code, form in forms},
        lines={code: len(line) for code, line in lines.items()},
    )
    return b"".join((_line(head, () if keys.not_askable else ("not_askable",)), *lines.values()))


def content_of_forms(forms: Forms) -> bytes:
    """Return the bytes of the course side's copy of the forms."""
    lines = {form.code: _line(form) for form in forms.forms}
    shared = {name: getattr(forms, name) for name in _FormsHead.model_fields if name != "lines"}
    head = _FormsHead(**shared, lines={code: len(line) for code, line in lines.items()})
    return b"".join((_line(head), *lines.values()))


def _forms(head: _FormsHead, forms: Iterable[Form], people: Mapping[str, str]) -> Forms:
    shared = {name: getattr(head, name) for name in _FormsHead.model_fields if name not in ("lines", "people")}
    return Forms(**shared, forms=tuple(forms), people=dict(people))


def _line(value: BaseModel, without: Collection[str] = ()) -> bytes:
    return value.model_dump_json(exclude=set(without)).encode() + b"\n"


K = TypeVar("K", KeptKeys, KeptForms)


def _opened(opened: Callable[[Path, tuple[int, ...]], K], path: Path) -> K | None:
    try:
        # nbgrader asks once for each submission: what was opened is right until the file changes.
        return opened(path, _state(path))
    except FileNotFoundError:
        return None
    except OSError as error:
        raise _unusable(path, str(error.strerror)) from None


@lru_cache(maxsize=16)
def _kept_keys(path: Path, state: tuple[int, ...]) -> KeptKeys:
    return KeptKeys(path, state)


@lru_cache(maxsize=16)
def _kept_forms(path: Path, state: tuple[int, ...]) -> KeptForms:
    return KeptForms(path, state)


def _state(path: Path) -> tuple[int, ...]:
    met = path.stat()
    return met.st_ino, met.st_mtime_ns, met.st_size


M = TypeVar("M", bound=BaseModel)


def _understood(kind: type[M], path: Path, line: bytes) -> M:
    try:
        return kind.model_validate_json(line, strict=False)
    except ValidationError as error:
        errors = error.errors(include_url=False)
        first, newer = errors[0], newer_format(errors)
        if newer:
            raise DrawingError(str(path), rule=newer, remedy=NEWER) from None
        place = ".".join(str(part) for part in first["loc"]) or "file"
        raise _unusable(path, f"{place}: {first['msg']}") from None


def _unusable(path: Path, said: str) -> DrawingError:
    return DrawingError(
        str(path),
        rule=f"The course keeps what it has drawn in files of its own, and this one cannot be used ({said}).",
        remedy="Fetch it from your backup.",
    )
