"""What of a course folder, and of its shared disk, names somebody, and what becomes of each place.

Every file is looked at. What is known to be somebody's goes; a file about several is written anew without them; what
is only derived goes and can be made again; whatever else names them is told of and left to a person.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from trainkit.errors import TrainkitError
from trainkit.forms import FORMS_FILE, Forms, Identity, person_digest
from trainkit_grading.forms.store import content_of_forms, content_of_keys, read_forms, read_keys
from trainkit_grading.intake import chain, readers, receipts
from trainkit_grading.keeping.forget import strike
from trainkit_grading.keeping.forget.traces import Traces, same
from trainkit_grading.nbgrader_bridge import steps
from trainkit_grading.support.files import LOCKS, WORK_FOLDER, files_under, regular, write_atomically
from trainkit_grading.support.outcome import Finding

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course


# Folders with a folder for each apprentice.
_BY_PERSON = ("submitted", "autograded", "feedback", "arrivals")
# What follows from the rest: it goes where it names them, and is made again by its command.
_DERIVED = {
    "autograded": "trainkit-course mark",
    "feedback": "trainkit-course feedback",
    "report": "trainkit-course report",
    "export": "trainkit-course export",
    "export-pseudonymised": "trainkit-course export --pseudonyms",
    "zips": "trainkit-course assign",
    "sheets": "trainkit-course sheet",
    "checklists": "trainkit-course checklist",
    "preview": "trainkit-course preview",
}
# Whether they name anybody cannot be seen from outside: a pseudonym, a compressed page.
_ALWAYS = ("export", "export-pseudonymised")
_OWN = "questions.ipynb"
_LEFT_ALONE = {*LOCKS, WORK_FOLDER}
_EXCHANGED = re.compile(r"(?P<user>[^+]+)\+[^+]+\+.*")


@dataclass(frozen=True, slots=True)
class Mention:
    """One place that names somebody.

    Parameters
    ----------
    path : Path
        The file or folder.
    shown : str
        How it is told.
    what : str
        What becomes of it: ``"removed"``, ``"written anew"`` or ``"told of"``.
    again : str
        The command that makes it again; empty where there is none, or it is not needed.
    do : callable or None
        Does it; None where a person has to look.
    named : bool
        Whether it names them for certain; else it could, and nobody can see it from outside.
    """

    path: Path
    shown: str
    what: str
    again: str = ""
    do: Callable[[], None] | None = None
    named: bool = True


def find_mentions(course: Course, traces: Traces) -> Iterator[Mention]:
    """Yield every place but the roster, the folders first.

    Parameters
    ----------
    course : Course
        The course folder, held.
    traces : Traces
        Whom to look for.
    """
    seen: list[Path] = []
    codes = frozenset(_codes(course, traces))
    used = steps.address(course) == f"sqlite:///{course.gradebook.as_posix()}"
    database = {f"{course.gradebook.name}{end}" for end in ("", "-wal", "-shm", "-journal")} if used else set()
    for place in _whole(course, traces):
        seen.append(place.path)
        yield place
    yield from _drawn(course, traces)
    yield from _second(course, traces)
    for path in files_under(course.folder):
        inside = path.relative_to(course.folder)
        if (
            inside.parts[0] in _LEFT_ALONE | database
            or inside.parts == ("roster.csv",)
            or any(p in path.parents for p in seen)
        ):
            continue
        if inside.parts[0] == "second" or _is_drawn(inside.parts):
            continue  # looked at above, by what they hold
        yield from _file(course, traces, codes, path, inside)
    yield from _disk(course, traces, codes)


def _whole(course: Course, traces: Traces) -> Iterator[Mention]:
    """Yield folders that are somebody's by their name."""
    for name in _BY_PERSON:
        home = course.folder / name
        if home.is_dir():
            for path in sorted(home.iterdir()):
                if same(path.name, traces.id):
                    gone = _removed(path, course)
                    yield replace(gone, do=_released(path, course, gone)) if name == "arrivals" else gone


def _released(path: Path, course: Course, gone: Mention) -> Callable[[], None]:
    """Return how what was handed in goes: the seals of its receipts stay, so that the chain is still whole."""

    def do() -> None:
        chain.release(course, course.seed(), path.name)
        if gone.do is not None:
            gone.do()

    return do


def _disk(course: Course, traces: Traces, codes: frozenset[str]) -> Iterator[Mention]:
    """Yield what lies on the shared disk, where there is one."""
    if course.exchange_root is None:
        return
    home = course.exchange_root / course.name
    gone: list[Path] = []
    for part in ("inbound", "outbound", "feedback"):
        if not (home / part).is_dir():
            continue
        for path in sorted((home / part).iterdir()):
            said = _EXCHANGED.fullmatch(path.name)
            if said is not None and any(same(said["user"], mine) for mine in (traces.id, traces.account)):
                gone.append(path)
                yield _removed(path, course)
        for path in files_under(home / part):
            if not any(parent in path.parents or parent == path for parent in gone):
                yield from _by_content(course, traces, codes, path, derived=part == "feedback", again="")


def _file(course: Course, traces: Traces, codes: frozenset[str], path: Path, inside: Path) -> Iterator[Mention]:
    top = inside.parts[0]
    if top == "inbox":
        yield from _inbox(course, traces, path)
    elif inside.parts == ("arrivals.jsonl",):
        yield from _lines(course, path, lambda line: _told(line, traces))
    elif top == "entered":
        yield from _entered(course, traces, codes, path)
    elif len(inside.parts) == 1 and path.name.endswith(".log"):
        yield from _lines(course, path, traces.named_in)
    elif top == "keys" and inside.parts[1:2] == ("answers",):
        yield from _by_content(course, traces, codes, path, derived=True, again="trainkit-course answers")
    elif top in _DERIVED and inside.parts[1:] != (_OWN,):
        yield from _by_content(course, traces, codes, path, derived=True, again=_DERIVED[top])
    else:
        yield from _by_content(course, traces, codes, path, derived=False, again="")


def _by_content(
    course: Course, traces: Traces, codes: frozenset[str], path: Path, *, derived: bool, again: str
) -> Iterator[Mention]:
    """Look at what a file holds; ``derived`` files go where they name the person."""
    if not regular(path):
        if traces.named_in(path.name) or traces.named_in(str(path.readlink())):
            yield Mention(path, _shown(path, course), "told of")
        return
    if path.name == FORMS_FILE:
        changed = _forms_without(course, traces, codes, path)
        if changed is not None:
            yield _written(path, course, changed)
            return
    top = path.relative_to(course.folder).parts[0] if path.is_relative_to(course.folder) else ""
    # A page that a browser printed is packed, and nobody can look into it.
    packed = path.suffix.casefold() == ".pdf" and derived
    mine = same(path.stem, traces.id) or traces.named_in(path.name)
    named = mine or traces.named_in_file(path)
    if derived and (named or packed or top in _ALWAYS):
        # What was theirs alone is not made again.
        yield _removed(path, course, "" if mine else again, named=named)
    elif named:
        yield Mention(path, _shown(path, course), "told of")


def _codes(course: Course, traces: Traces) -> Iterator[str]:
    """Yield the codes of the forms that are somebody's."""
    for path in sorted(course.keys.glob("*/attempt-*.jsonl")):
        keys = read_keys(path)
        for code, of in keys.forms.items() if keys is not None else ():
            if same(of.apprentice, traces.id):
                yield code


def _is_drawn(parts: tuple[str, ...]) -> bool:
    return (
        len(parts) == 3 and parts[0] in ("keys", "forms") and re.fullmatch(r"attempt-\d+\.jsonl", parts[2]) is not None
    )


def is_key(course: Course, path: Path) -> bool:
    """Tell whether a file holds keys of forms."""
    return path.is_relative_to(course.keys) and path.suffix == ".jsonl"


def _drawn(course: Course, traces: Traces) -> Iterator[Mention]:
    """Yield the files of forms and keys in which somebody stands; what was asked stays, as nobody's."""
    for path in sorted(course.folder.glob("forms/*/attempt-*.jsonl")):
        forms = read_forms(path)
        digest = person_digest(course.name, traces.id)
        if forms is not None and digest in forms.people:
            people = {name: code for name, code in forms.people.items() if name != digest}
            yield _written(path, course, content_of_forms(forms.model_copy(update={"people": people})))
    for path in sorted(course.keys.glob("*/attempt-*.jsonl")):
        keys = read_keys(path)
        if keys is None or not any(same(of.apprentice, traces.id) for of in keys.forms.values()):
            continue
        theirs = {code for code, of in keys.forms.items() if same(of.apprentice, traces.id)}
        nobody = {
            code: of.model_copy(update={"apprentice": ""}) if code in theirs else of for code, of in keys.forms.items()
        }
        # The record of what is out comes before the keys, which alone tell whose a form was.
        released = course.released_file(path.parent.name, int(path.stem.removeprefix("attempt-")))
        if released.is_file():
            said: dict[str, Any] = json.loads(released.read_text("utf-8"))
            if any(code in said.get(part, {}) for part in ("forms", "since") for code in theirs):
                for part in ("forms", "since"):
                    said[part] = {code: of for code, of in said.get(part, {}).items() if code not in theirs}
                yield _written(released, course, json.dumps(said, indent=1).encode() + b"\n")
        yield _written(path, course, content_of_keys(keys.model_copy(update={"forms": nobody})), 0o600)


def _forms_without(course: Course, traces: Traces, codes: frozenset[str], path: Path) -> bytes | None:
    """Return a released file without somebody, or None where they are not in it."""
    try:
        forms = Forms.model_validate_json(path.read_bytes(), strict=False)
    except (ValidationError, OSError):
        return None
    digest = person_digest(forms.course, traces.id)
    built = path.is_relative_to(course.source)
    kept = tuple(form for form in forms.forms if built or form.code not in codes)
    if digest not in forms.people and kept == forms.forms:
        return None
    # What was built agrees with forms/, so a form that is nobody's stays there; it was given out, and leaves there.
    rest = forms.model_copy(
        update={
            "forms": kept,
            "people": {name: of for name, of in forms.people.items() if name != digest and (built or of not in codes)},
            "dates": {code: of for code, of in forms.dates.items() if built or code not in codes},
        }
    )
    return (rest.model_dump_json(indent=1) + "\n").encode()


def _second(course: Course, traces: Traces) -> Iterator[Mention]:
    """Yield the second markers' sheets with somebody's work: page and table are written anew without it."""
    home = course.folder / "second"
    if not home.is_dir():
        return
    for sheet in strike.second_sheets(course, traces.id):
        page, table = home / f"{sheet.code}.html", home / f"{sheet.code}.csv"
        if page.is_file() and (sheet.now or page.read_text("utf-8") != strike.second_page(course, sheet.code)):

            def write(page: Path = page, code: str = sheet.code) -> None:
                write_atomically(page, strike.second_page(course, code))

            yield Mention(page, _shown(page, course), "written anew", do=write)
        if table.is_file():
            rest = _table_without(table.read_text("utf-8-sig"), sheet.lines)
            if rest is not None:
                yield _written(table, course, ("\ufeff" + rest).encode())
    for path in files_under(home):
        if regular(path) and (traces.named_in(path.name) or traces.named_in_file(path)):
            yield Mention(path, _shown(path, course), "told of")


def _table_without(text: str, lines: frozenset[int]) -> str | None:
    head = text.partition("\n")[0]
    delimiter = max(",;\t", key=head.count)
    rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    names = [cell.strip().casefold() for cell in rows[0]] if rows else []
    if "line" not in names:
        return None
    at = names.index("line")
    kept = [row for row in rows if len(row) <= at or row[at].strip() not in {str(line) for line in lines}]
    if len(kept) == len(rows):
        return None
    buffer = io.StringIO()
    csv.writer(buffer, delimiter=delimiter, lineterminator="\r\n").writerows(kept)
    return buffer.getvalue()


def _inbox(course: Course, traces: Traces, path: Path) -> Iterator[Mention]:
    """Look at what was dropped into the inbox: a hand-in of theirs would be told of again by the next collecting."""
    if not regular(path):
        return
    try:
        said = list(readers.from_path(path, course.limits)) if path.suffix.casefold() == ".zip" else []
    except TrainkitError:  # pragma: no cover - what is wrong with a zip is a finding
        said = []
    found = [each for each in said if not isinstance(each, Finding)]
    theirs = [each for each in found if _is_from(each.identity, traces)]
    if not theirs and not traces.named_in(path.name) and not traces.named_in_file(path):
        return
    others = [each for each in found if each not in theirs]
    kept = {file.name.partition("-")[2] for file in course.arrivals.glob("*/*/*-*")} if others else set()
    if all(receipts.content_digest(each.journal)[:12] in kept for each in others):
        yield _removed(path, course)
    else:
        # Others' hand-ins in it have not been taken yet.
        yield Mention(path, f"{_shown(path, course)} (collect it first: it holds hand-ins of others)", "told of")


def _is_from(identity: bytes | None, traces: Traces) -> bool:
    try:
        return same(Identity.model_validate_json(identity or b"", strict=False).apprentice, traces.id)
    except ValidationError:
        return False


def _told(line: str, traces: Traces) -> bool:
    """Tell whether a line of the record of hand-ins is about somebody, or names them."""
    try:
        said = json.loads(line)
    except (ValueError, RecursionError):
        return traces.named_in(line)
    if not isinstance(said, dict):
        return False
    if "refused" in said:
        return traces.named_in(json.dumps(said, ensure_ascii=False))
    return same(str(said.get("apprentice", "")), traces.id)


def _entered(course: Course, traces: Traces, codes: frozenset[str], path: Path) -> Iterator[Mention]:
    """Look at what was typed in from paper: lines about their forms go, files that are theirs by name go whole."""
    if not regular(path):
        return

    def about(line: str) -> bool:
        return traces.named_in(line) or any(code in line for code in codes)

    home = path.relative_to(course.folder).parts
    if any(same(Path(part).stem, traces.id) or Path(part).stem in codes or part in codes for part in home):
        yield _removed(path, course)
    elif path.suffix == ".jsonl":
        yield from _lines(course, path, about)
    elif about(path.read_bytes().decode("utf-8", "replace")):
        yield _removed(path, course)


def _lines(course: Course, path: Path, about: Callable[[str], bool]) -> Iterator[Mention]:
    lines = path.read_bytes().split(b"\n")
    kept = [line for line in lines if not about(line.decode("utf-8", "replace"))]
    if kept != lines:
        yield _written(path, course, b"\n".join(kept), stat.S_IMODE(path.stat().st_mode))


def _removed(path: Path, course: Course, again: str = "", *, named: bool = True) -> Mention:
    def do() -> None:
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)

    return Mention(path, _shown(path, course), "removed", again, do, named)


def _written(path: Path, course: Course, content: bytes, mode: int | None = None) -> Mention:
    kept = stat.S_IMODE(path.stat().st_mode) if mode is None else mode

    def do() -> None:
        write_atomically(path, content, kept)

    return Mention(path, _shown(path, course), "written anew", do=do)


def _shown(path: Path, course: Course) -> str:
    return path.relative_to(course.folder).as_posix() if path.is_relative_to(course.folder) else str(path)
