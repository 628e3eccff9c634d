"""Hand-ins with damage anywhere, and what has to hold of each whatever the damage is."""

from __future__ import annotations

import io
import json
import random
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, fields
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from trainkit import journal
from trainkit.errors import TrainkitError
from trainkit.forms import Form
from trainkit.items.kinds import ActionsResponse, ChoiceResponse, Key, NumberResponse, OrderResponse, TextResponse
from trainkit.items.marking import mark
from trainkit.journal import Journal, Reading
from trainkit_grading.course.settings import Limits
from trainkit_grading.intake.readers import HandIn
from trainkit_grading.intake.readers.zips import read_zip
from trainkit_grading.ledger import flags, histories
from trainkit_grading.support.outcome import Finding

__all__ = ["Figures", "Sheet", "honest_journal", "judge", "mutated_journal", "mutated_zip"]

NOW = datetime(2027, 3, 2, tzinfo=UTC)
HOSTILE: tuple[Any, ...] = (
    *(None, True, False, 0, -1, 10**30, -0.0, 1e308, "", "\ud800", "\x00", "\u202e", "x" * 5000, [], {}, [[[[]]]]),
    *({"kind": "choice"}, {"kind": "set", "value": 1e7}, {"kind": "number", "text": "9" * 60, "unit": "N·m"}),
    *("0001-01-01T00:00:00.000Z", "9999-12-31T23:59:59.999Z", "2027-02-30T00:00:00.000Z", "f" * 32),
    *({"kind": "number", "text": "1e999999999"}, {"kind": "order", "cards": ["a"] * 8}, {"kind": "observed"}),
)
RUBBISH = (
    b"\xef\xbb\xbf",
    b"\x00" * 600,
    b"[" * 5000,
    b'{"a":' * 900,
    b'{"n":' + b"9" * 9000 + b"}",
    "{}".encode("utf-16"),
    b"\xff\xfe\xfd",
    b"\r",
    b"\n\n\n",
    b"\x1b[2J",
    b"PK\x05\x06" + bytes(18),
)


@dataclass(frozen=True)
class Sheet:
    """What a hand-in is marked with: one form, its keys, and where everything belongs."""

    form: Form
    keys: dict[str, Key]
    course: str
    module: str
    apprentice: str


@dataclass
class Figures:
    """What came of many hand-ins."""

    hand_ins: int = 0
    refused: int = 0
    lines_kept: int = 0
    problems: int = 0
    faults: list[str] = field(default_factory=list)

    def add(self, more: Figures) -> None:
        """Count what came of more hand-ins."""
        for each in fields(self):
            setattr(self, each.name, getattr(self, each.name) + getattr(more, each.name))


def honest_journal(path: Path, sheet: Sheet, rng: random.Random, count: int) -> bytes:
    """Return a journal as the workbook writes it, with answers of several kinds."""
    moment = NOW - timedelta(hours=20)

    def clock() -> datetime:
        nonlocal moment
        moment += timedelta(milliseconds=rng.randrange(400, 90_000))
        return moment

    names = [entry.id for entry in sheet.form.items]
    who = {"course": sheet.course, "module": sheet.module, "form": sheet.form.code, "apprentice": sheet.apprentice}
    made = Journal(path, **who, clock=clock)
    for _ in range(count):
        letters = [rng.choice("abcdefgh") for _ in range(rng.randrange(1, 8))]
        made.append(
            rng.choice(names),
            rng.choice(
                (
                    ChoiceResponse(option=letters[0]),
                    NumberResponse(text=f"{rng.uniform(-5, 500):.2f}", unit="N·m"),
                    OrderResponse(cards=tuple(letters)),
                    ActionsResponse(actions=tuple(letters), gave_up=rng.random() < 0.5),
                    TextResponse(text="The gear wants its mark up, 'gegenüber' 印 \n" * rng.randrange(1, 6)),
                )
            ),
        )
    return path.read_bytes()


def _bytes(content: bytearray, rng: random.Random) -> None:
    spot = rng.randrange(len(content)) if content else 0
    length = rng.choice((1, 1, 3, 40, 400))
    match rng.randrange(6):
        case 0:
            content[spot : spot + 1] = bytes((rng.randrange(256),))
        case 1:
            del content[spot : spot + length]
        case 2:
            content[spot:spot] = content[spot : spot + length]
        case 3:
            content[spot:spot] = rng.choice(RUBBISH)
        case 4:
            content[spot:spot] = rng.randbytes(length)
        case _:
            other = rng.randrange(len(content)) if content else 0
            content[spot:spot] = content[other : other + length]


def _lines(content: bytearray, rng: random.Random) -> None:
    lines = bytes(content).split(b"\n")
    spot, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    match rng.randrange(6):
        case 0:
            del lines[spot]
        case 1:
            lines.insert(spot, lines[other])
        case 2:
            lines[spot], lines[other] = lines[other], lines[spot]
        case 3:
            lines.insert(spot, rng.choice(RUBBISH))
        case 4:
            lines[spot] = lines[spot][: rng.randrange(len(lines[spot]) + 1)]
        case _:
            lines[spot] += b"\r"
    content[:] = b"\n".join(lines)


def _values(content: bytearray, rng: random.Random) -> None:
    """Another value somewhere in the JSON of one line."""
    lines = bytes(content).split(b"\n")
    spot = rng.randrange(len(lines))
    try:
        data = json.loads(lines[spot])
    except (ValueError, RecursionError):
        return
    if not isinstance(data, dict) or not data:
        return
    within = data["response"] if rng.random() < 0.4 and isinstance(data.get("response"), dict) else data
    if within:
        within[rng.choice([*within, "more"])] = rng.choice(HOSTILE)
    lines[spot] = json.dumps(data).encode()
    content[:] = b"\n".join(lines)


_WAYS: tuple[Callable[[bytearray, random.Random], None], ...] = (_bytes, _lines, _values)


def mutated_journal(content: bytes, rng: random.Random) -> bytes:
    """Return a journal with one to eight places damaged."""
    made = bytearray(content)
    for _ in range(rng.randrange(1, 9)):
        rng.choice(_WAYS)(made, rng)
    return bytes(made)


def mutated_zip(content: bytes, rng: random.Random) -> bytes:
    """Return a hand-in's zip around a journal, in three of four cases with its own bytes damaged, too."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", rng.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED))) as archive:
        for number in range(rng.choice((0, 0, 1, 3))):
            archive.writestr(f"extra{number}", rng.randbytes(30))
        archive.writestr(rng.choice(("answers.jsonl", "a/answers.jsonl")), content)
        archive.writestr("identity.json", b"{}")
    made = bytearray(buffer.getvalue())
    for _ in range(rng.choice((0, 1, 2, 5))):
        _bytes(made, rng)
    return bytes(made)


def _subsequence(wanted: list[Any], found: Iterator[Any]) -> bool:
    return all(any(entry == one for one in found) for entry in wanted)


def judge(sheet: Sheet, honest: bytes, rng: random.Random, figures: Figures) -> None:
    """Damage a hand-in and take it in, mark it and look at it; every fault is noted with what it is.

    A fault is an error other than trainkit's own; an intact line of the honest journal that is not read, or not in
    its place; a change before the last answer that goes unnoticed; a mark out of its bounds; a text that steers.
    """
    intact = {line: journal.read(line + b"\n").entries[0] for line in honest.split(b"\n") if line}
    content = mutated_journal(honest, rng)
    figures.hand_ins += 1
    try:
        found = list(read_zip(io.BytesIO(mutated_zip(content, rng)), "x.zip", NOW, Limits()))
        if not found or not all(isinstance(one, HandIn | Finding) for one in found):
            figures.faults.append(f"neither a hand-in nor a refusal: {found!r}")
        for one in found:
            if isinstance(one, Finding):
                figures.refused += 1
                if one.severity != "refused" or not one.text:
                    figures.faults.append(f"a refusal without words: {one!r}")
            else:
                content = one.journal
        reading = journal.read(content)
        _check_lines(intact, content, reading, figures)
        _check_marks(sheet, reading, figures)
    except TrainkitError:
        figures.refused += 1
    except Exception as error:  # noqa: BLE001 - whatever it is, it is what is looked for
        figures.faults.append(f"{type(error).__name__}: {error}"[:300])


def _check_lines(intact: dict[bytes, Any], content: bytes, reading: Reading, figures: Figures) -> None:
    wanted = [intact[line] for line in content[: journal.FILE_LIMIT].split(b"\n") if line in intact]
    figures.lines_kept += len(wanted)
    figures.problems += len(reading.problems)
    if not _subsequence(wanted, iter(reading.entries)):
        figures.faults.append("an intact line is not read")
    before = list(intact.values())
    differs = next(
        (n for n, (one, other) in enumerate(zip(before, reading.entries, strict=False)) if one != other), None
    )
    if differs is not None and len(reading.entries) > differs + 1 and not reading.problems:
        figures.faults.append(f"answer {differs + 1} is another, and nothing is said of it")


def _check_marks(sheet: Sheet, reading: Reading, figures: Figures) -> None:
    latest = reading.latest()
    for shown in sheet.form.items:
        if shown.id in latest:
            got = mark(shown.item, sheet.keys[shown.id], latest[shown.id].response)
            if not 0 <= got.points <= got.out_of == shown.item.points:
                figures.faults.append(f"{got.points} of {got.out_of} points")
    said = [
        *flags.problem_flags(reading),
        *flags.claim_flags(reading, sheet.apprentice, sheet.form.code, sheet.module, sheet.course),
        *flags.item_flags(reading, sheet.form),
        *flags.time_flags(reading.entries, NOW.replace(tzinfo=None), datetime(2027, 2, 1)),
    ]
    trace = histories.Trace.of(reading)
    shared = histories.shared({sheet.apprentice: trace, "another": trace})
    if reading.entries and "another" not in shared:
        figures.faults.append("a copy is not told of")
    for flag in (*said, *(flag for some in shared.values() for flag in some)):
        if not flag.text or any(ord(sign) < 32 or 0xD800 <= ord(sign) < 0xE000 for sign in flag.text):
            figures.faults.append(f"a flag that steers: {flag.text!r}")
