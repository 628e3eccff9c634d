"""Whether forms and keys are still those that marks in the ledger come from."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit_grading.errors import DrawingError
from trainkit_grading.forms import generation
from trainkit_grading.forms.store import open_forms, open_keys
from trainkit_grading.record.provenance import module_digest
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from pathlib import Path

    from trainkit_grading.course.folder import Course
    from trainkit_grading.forms.store import KeptForms, KeptKeys

_FETCH = "Fetch it from your backup."


@dataclass(frozen=True, slots=True)
class MarkedForm:
    """What the ledger says of the newest marks of an attempt, the digests of what they come from among it."""

    number: int
    apprentice: str
    module: str
    attempt: int
    form: str
    journal: str
    outcome: str
    pack_hash: str
    module_hash: str
    form_hash: str
    keys_hash: str
    software_hash: str
    shown: bool


@dataclass(frozen=True, slots=True)
class _Files:
    """The digests of what one attempt was drawn as, by the code of the form."""

    pack: str
    module: str
    people: Mapping[str, str]
    keys: Mapping[str, str]
    forms: Mapping[str, str]


def files_digest(course: Course) -> str:
    """Return the SHA-256 of all files of forms and keys."""
    total = hashlib.sha256()
    for folder in (course.keys, course.folder / "forms"):
        for path in sorted(folder.glob("*/attempt-*.json*")):
            with path.open("rb") as stream:
                content = hashlib.file_digest(stream, "sha256").hexdigest()
            total.update(f"{path.relative_to(course.folder).as_posix()} {content}\n".encode())
    return total.hexdigest()


class Drawn:
    """The forms and keys of a course; each file is read once."""

    def __init__(self, course: Course) -> None:
        self._course = course
        self._digests: dict[tuple[str, int], Mapping[str, str]] = {}

    def compare(self, marked: Iterable[MarkedForm]) -> Iterator[Finding]:
        """Yield which forms and keys are not those that the marks come from."""
        by_attempt: dict[tuple[str, int], list[MarkedForm]] = {}
        for each in marked:
            by_attempt.setdefault((each.module, each.attempt), []).append(each)
        for (module, attempt), some in sorted(by_attempt.items()):
            try:
                files = self._read(module, attempt)
            except DrawingError as error:
                yield Finding("refused", f"{module} attempt {attempt}", f"{error.rule} {error.remedy}")
                continue
            for each in some:
                yield from _of_one(files, each)

    def released(self) -> Iterator[Finding]:
        """Yield which forms are not as they were given out, marked or not."""
        for entry in self._course.modules:
            for attempt in range(1, entry.attempt + 1):
                given = generation.read_released(self._course.released_file(entry.name, attempt))
                try:
                    there = self._forms(entry.name, attempt) if given else {}
                except DrawingError as error:
                    yield Finding("refused", f"{entry.name} attempt {attempt}", f"{error.rule} {error.remedy}")
                    continue
                for code in sorted(given):
                    if there.get(code) != given[code]:
                        text = f"Form {code} of attempt {attempt} is not as it was given out. {_FETCH}"
                        yield Finding("refused", f"forms/{entry.name}", text)

    def _forms(self, module: str, attempt: int) -> Mapping[str, str]:
        if (module, attempt) not in self._digests:
            forms = open_forms(self._course.forms_file(module, attempt))
            if forms is None:
                raise _missing(module, attempt)
            self._digests[module, attempt] = _form_digests(forms)
        return self._digests[module, attempt]

    def _read(self, module: str, attempt: int) -> _Files:
        keys = open_keys(self._course.key_file(module, attempt))
        if keys is None:
            raise _missing(module, attempt)
        return _Files(
            keys.head.pack_digest,
            module_digest(module, keys.head.plan, keys.head.not_askable),
            keys.head.people,
            {code: hashlib.sha256(line).hexdigest() for code, line in _lines(keys)},
            self._forms(module, attempt),
        )


def _missing(module: str, attempt: int) -> DrawingError:
    return DrawingError(
        module,
        rule=f"There are no forms or no keys of attempt {attempt}, and marks come from them.",
        remedy="Fetch the folders forms/ and keys/ from your backup.",
    )


def _of_one(files: _Files, each: MarkedForm) -> Iterator[Finding]:
    held = (
        ("The form", files.forms.get(each.form), each.form_hash),
        ("The keys of the form", files.keys.get(each.form), each.keys_hash),
        ("The plan of the module in the file of keys", files.module, each.module_hash),
        ("The digest of the pack in the file of keys", files.pack, each.pack_hash),
        ("The owner of the form", files.people.get(each.form), each.apprentice),
    )
    for what, there, wanted in held:
        if there != wanted:
            said = "is not there" if there is None else "is not what the marks come from"
            said = said.replace("is", "are", 1) if what == "The keys of the form" else said
            text = f"{what} {each.form}" if what.endswith("form") else what
            yield Finding(
                "refused",
                f"{each.module} {each.apprentice}",
                f"{text} {said} (entry {each.number}, attempt {each.attempt}). {_FETCH} If it was corrected on "
                f'purpose, say so: trainkit-course mark {each.module} --why "what was wrong"',
            )


def _form_digests(forms: KeptForms) -> dict[str, str]:
    """Return the digests of forms as they were taken when they were given out: of the content, in one spelling."""
    found = {}
    for code, line in _lines(forms):
        try:
            text = json.dumps(json.loads(line), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
        except (ValueError, RecursionError):
            continue
        found[code] = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
    return found


def _lines(kept: KeptKeys | KeptForms) -> Iterator[tuple[str, bytes]]:
    path: Path = kept.path
    with path.open("rb") as stream:
        stream.readline()
        for code, length in kept.head.lines.items():
            yield code, stream.read(length)
