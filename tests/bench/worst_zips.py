"""Zips that cost their reader as much as any that were found; each kind held the collector for seconds or minutes."""

from __future__ import annotations

import hashlib
import io
import json
import struct
import zipfile
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from trainkit.journal import FILE_LIMIT

Parts = Mapping[str, bytes]


def zipped(members: Mapping[str, bytes], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    """Return a zip."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", compression) as made:
        for name, content in members.items():
            made.writestr(name, content)
    return buffer.getvalue()


def listing(files: int) -> bytes:
    """Return a zip whose table of contents lists so many empty files and that packs very well."""
    local = struct.pack("<4s5H3L2H", b"PK\x03\x04", 20, 0, 0, 0, 33, 0, 0, 0, 5, 0) + b"00000"
    table = b"".join(
        struct.pack("<4s6H3L5H2L", b"PK\x01\x02", 20, 20, 0, 0, 0, 33, 0, 0, 0, 5, 0, 0, 0, 0, 0, 0)
        + f"{number:05d}"[-5:].encode()
        for number in range(files)
    )
    count = min(files, 0xFFFE)
    return local + table + struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, count, count, len(table), len(local), 0)


def _filled(line: bytes, first: bytes = b"") -> bytes:
    return first + line * ((FILE_LIMIT - len(first)) // len(line))


def _journal(content: Callable[[Parts], bytes]) -> Callable[[Parts], bytes]:
    return lambda parts: zipped({**parts, "answers.jsonl": content(parts)})


def _changing_its_mind(parts: Parts) -> bytes:
    """Every line is an honest answer that follows the one before it, and there are as many as the file holds."""
    first = json.loads(parts["answers.jsonl"].splitlines()[0])
    made: list[bytes] = []
    before, size = b"", 0
    while size < FILE_LIMIT - 2_000:
        digest = hashlib.sha256(before).hexdigest()[:16] if before else ""
        before = json.dumps({**first, "n": len(made) + 1, "before": digest}, separators=(",", ":")).encode()
        made.append(before + b"\n")
        size += len(made[-1])
    return b"".join(made)


def _many_large(parts: Parts) -> bytes:
    """Twenty journals, each another and each as long as one may be."""
    journals = {f"{number}/answers.jsonl": _filled(b" " * 200 + b"\n", parts["answers.jsonl"]) for number in range(20)}
    codes = {f"{number}/identity.json": parts["identity.json"] for number in range(20)}
    return zipped({name: content + name.encode() for name, content in journals.items()} | codes)


def _actions(token: bytes, count: int) -> bytes:
    return b'{"response":{"kind":"actions","actions":[' + (token + b",") * count + token + b"]}}\n"


def _tables(files: int, count: int) -> Callable[[Parts], bytes]:
    return lambda parts: zipped({**parts, **{f"{number}/a.zip": listing(files) for number in range(count)}})


def _bad_names(parts: Parts) -> bytes:
    return zipped({f"C:/{number:04d}/answers.jsonl": b"" for number in range(9_000)} | dict(parts))


def _bombs(parts: Parts) -> bytes:
    return zipped({f"{number}.zip": bytes(40_000_000) for number in range(12)} | dict(parts))


KINDS: dict[str, Callable[[Parts], bytes]] = {
    "100,000 files listed": lambda _: listing(100_000),
    "90 zips that list 100,000 files each": _tables(100_000, 90),
    "4,000 zips that list 200 files each": _tables(200, 4_000),
    "12 zips of 40 MB that are none": _bombs,
    "9,000 members with a drive letter": _bad_names,
    "20 journals of 8 MB": _many_large,
    "a journal of blank lines": _journal(lambda parts: _filled(b"\n", parts["answers.jsonl"])),
    "a journal of short lines": _journal(lambda parts: _filled(b"x\n", parts["answers.jsonl"])),
    "a journal of long lists": _journal(lambda parts: _filled(_actions(b"0", 14_000), parts["answers.jsonl"])),
    "a journal of 40,000 answers": _journal(_changing_its_mind),
}


def worst(people: Mapping[str, Parts]) -> Iterator[tuple[str, bytes]]:
    """Yield a zip from each of these people, the kinds in turn; each is in their own name."""
    kinds = list(KINDS.items())
    made: dict[str, bytes] = {}
    for number, (person, parts) in enumerate(people.items()):
        name, kind = kinds[number % len(kinds)]
        if name not in made:
            made[name] = kind(parts)
        yield person, kind(parts) if "journal" in name else made[name]


def parts_of(course: str, person: str, code: str, journal: bytes) -> dict[str, Any]:
    """Return what somebody hands in."""
    said = {"format": 1, "course": course, "apprentice": person, "name": person, "code": code}
    return {"answers.jsonl": journal, "identity.json": json.dumps(said).encode()}
