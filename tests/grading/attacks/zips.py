"""Zips that try something on their way in."""

from __future__ import annotations

import io
import json
import stat
import struct
import warnings
import zipfile
import zlib
from collections.abc import Callable, Mapping
from typing import Any

from tests.grading.packed import member

from .base import Attack, Scene, theirs
from .payloads import TEXTS

__all__ = ["ZIPS", "zipped"]


def zipped(members: Mapping[str, bytes] | list[tuple[Any, bytes]], **more: Any) -> bytes:
    """Return a zip, whatever its members are."""
    buffer = io.BytesIO()
    listed = members if isinstance(members, list) else list(members.items())
    with (
        warnings.catch_warnings(),
        zipfile.ZipFile(buffer, "w", **{"compression": zipfile.ZIP_DEFLATED, **more}) as made,
    ):
        warnings.simplefilter("ignore", UserWarning)  # zipfile warns of what is wanted here: a name twice
        for name, content in listed:
            made.writestr(name, content)
    return buffer.getvalue()


def _with(*extra: tuple[Any, bytes | str], **more: Any) -> Callable[[Scene], bytes]:
    """An honest hand-in, and something beside it; ``SECRET`` in a content stands for the path of the secret."""

    def pack(scene: Scene) -> bytes:
        made: list[tuple[Any, bytes]] = list(scene.parts.items())
        for name, content in extra:
            text = content.replace("SECRET", str(scene.secret)) if isinstance(content, str) else content
            made.append((name, text if isinstance(text, bytes) else text.encode()))
        return zipped(made, **more)

    return pack


def _identity(**changes: Any) -> Callable[[Scene], bytes]:
    def pack(scene: Scene) -> bytes:
        said = json.loads(scene.parts["identity.json"]) | changes
        return zipped({**scene.parts, "identity.json": json.dumps(said).encode()})

    return pack


def _link(name: str) -> zipfile.ZipInfo:
    return member(name, stat.S_IFLNK | 0o777)


def _linked_journal(scene: Scene) -> bytes:
    entries: list[tuple[Any, bytes]] = [(_link("answers.jsonl"), str(scene.secret).encode())]
    return zipped([*entries, ("identity.json", scene.parts["identity.json"])])


def _locked(scene: Scene) -> bytes:
    data = bytearray(zipped(scene.parts))
    for sign, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        data[data.index(sign) + offset] |= 1
    return bytes(data)


def _twice(scene: Scene) -> bytes:
    return zipped([*scene.parts.items(), ("answers.jsonl", scene.theirs)])


def _bomb(scene: Scene) -> bytes:
    return zipped({**scene.parts, "answers.jsonl": bytes(60_000_000)})


def _nested(scene: Scene) -> bytes:
    inner = zipped({"answers.jsonl": bytes(8_000_000)})
    for _ in range(3):
        inner = zipped({f"{number}.zip": inner for number in range(40)})
    return zipped({"all.zip": inner, "identity.json": scene.parts["identity.json"]})


def _bundle(scene: Scene) -> bytes:
    """Many hand-ins in one small zip, each with a large journal."""
    journal = scene.parts["answers.jsonl"] + (b" " * 9999 + b"\n") * 400
    members = {"answers.jsonl": journal, "identity.json": b"{}"}
    return zipped({f"{number}/{name}": content for number in range(20) for name, content in members.items()})


def _overlapping(scene: Scene) -> bytes:
    """A thousand entries of the table of contents that all stand for the same bytes."""
    content = scene.parts["answers.jsonl"] * 50
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    packed = packer.compress(content) + packer.flush()
    sizes = (zlib.crc32(content), len(packed), len(content))
    local = struct.pack("<4s5H3L2H", b"PK\x03\x04", 20, 0, 8, 0, 33, *sizes, 13, 0) + b"answers.jsonl" + packed
    table = b""
    for number in range(150):
        name = b"answers.jsonl" if not number else f"{number}/answers.jsonl".encode()
        table += (
            struct.pack("<4s6H3L5H2L", b"PK\x01\x02", 20, 20, 0, 8, 0, 33, *sizes, len(name), 0, 0, 0, 0, 0, 0) + name
        )
    end = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 150, 150, len(table), len(local), 0)
    return local + table + end


def _many(scene: Scene) -> bytes:
    return zipped({**scene.parts, **{f"{number:060d}": b"" for number in range(20_000)}}, compression=0)


def _wrong(offsets: tuple[int, int], value: int) -> Callable[[Scene], bytes]:
    """The size or the checksum of the journal is another than it says."""

    def pack(scene: Scene) -> bytes:
        data = bytearray(zipped(scene.parts))
        for sign, offset in zip((b"PK\x03\x04", b"PK\x01\x02"), offsets, strict=True):
            struct.pack_into("<L", data, data.index(sign) + offset, value)
        return bytes(data)

    return pack


def _two_names(scene: Scene) -> bytes:
    """The name in the table is another than the one before the content."""
    data = zipped(scene.parts)
    at = data.index(b"answers.jsonl")
    return data[:at] + b"identity.json" + data[at + 13 :]


def _other_name(scene: Scene) -> bytes:
    """A further field of the table gives the entry another name, as some programs believe."""
    name = b"../../keys/seed"
    extra = struct.pack("<HHBL", 0x7075, 5 + len(name), 1, zlib.crc32(b"notes.txt")) + name
    return zipped([*scene.parts.items(), (member("notes.txt", extra=extra), b"x")])


def _commented(scene: Scene) -> bytes:
    """The comment at the end is the end of another zip."""
    data = bytearray(zipped(scene.parts))
    other = zipped({"answers.jsonl": scene.theirs, "identity.json": scene.parts["identity.json"]})
    struct.pack_into("<H", data, len(data) - 2, len(other))
    return bytes(data) + other


def _zero_in_name(scene: Scene) -> bytes:
    data = zipped([*scene.parts.items(), ("answers.jsonl_txt", scene.theirs)])
    return data.replace(b"answers.jsonl_txt", b"answers.jsonl\0txt")


LEAVES, TWICE, PACKED = "leaves it", "a name of its own", "packed as zips usually are"
DEVICES = ("con", "NUL.txt", "com1.jsonl", "aux/answers.txt", "trailing. ")

ZIPS = (
    Attack("zip-climbs", "Climbs out of its folder.", pack=_with(("../../keys/seed", "x")), refused=LEAVES),
    Attack("zip-climbs-back", "Climbs with backslashes.", pack=_with(("..\\..\\keys\\seed", "x")), refused=LEAVES),
    Attack("zip-absolute", "Names a path from the root.", pack=_with(("/etc/cron.d/x", "x")), refused=LEAVES),
    Attack("zip-drive", "Names a drive.", pack=_with(("C:\\Windows\\x", "x")), refused=LEAVES),
    Attack("zip-server", "Names a server.", pack=_with(("\\\\server\\share\\x", "x")), refused=LEAVES),
    Attack("zip-link", "Holds a link to a secret.", pack=_with((_link("notes.txt"), "SECRET")), refused="a link"),
    Attack("zip-link-folder", "Holds a link to a folder.", pack=_with((_link("data"), "/")), refused="a link"),
    Attack("zip-link-journal", "Has a link for a journal.", pack=_linked_journal, refused="a link"),
    Attack("zip-pipe", "Holds a pipe.", pack=_with((member("x", stat.S_IFIFO | 0o644), "")), refused="a pipe"),
    Attack("zip-device", "Holds a device.", pack=_with((member("x", stat.S_IFCHR | 0o644), "")), refused="a device"),
    Attack("zip-socket", "Holds a socket.", pack=_with((member("x", stat.S_IFSOCK | 0o644), "")), refused="a socket"),
    Attack("zip-locked", "Is encrypted.", pack=_locked, refused="encrypted"),
    Attack("zip-twice", "Holds two journals of one name.", pack=_twice, refused=TWICE),
    Attack(
        "zip-twice-here", "Holds two of one name.", pack=_with(("./answers.jsonl", b"x")), refused="a name of its own"
    ),
    Attack(
        "zip-cases",
        "Holds a second journal whose name differs in capitals.",
        pack=_with(("Answers.JSONL", b"{}"), ("IDENTITY.json", b"{}")),
    ),
    Attack("zip-devices", "Holds names that Windows keeps for itself.", pack=_with(*((name, "x") for name in DEVICES))),
    Attack(
        "zip-programs",
        "Holds programs beside the journal.",
        pack=_with(("json.py", "x"), ("trainkit/__init__.py", "x"), ("nbgrader_config.py", "x")),
    ),
    Attack("zip-bomb", "Unpacks to a thousand times its size.", pack=_bomb, refused="at most"),
    Attack("zip-nested", "Holds zips in zips in zips.", pack=_nested, refused="holds answers.jsonl"),
    Attack("zip-bundle", "Holds many large journals.", pack=_bundle, refused="at most"),
    Attack("zip-overlap", "Lists the same bytes many times.", pack=_overlapping, refused="identity.json"),
    Attack("zip-many", "Lists twenty thousand files.", pack=_many, refused="at most"),
    Attack("zip-size", "Says a wrong size.", pack=_wrong((22, 24), 7), refused="damaged"),
    Attack("zip-sum", "Says a wrong checksum.", pack=_wrong((14, 16), 7), refused="damaged"),
    Attack("zip-huge", "Says a size of four gigabytes.", pack=_wrong((22, 24), 2**32 - 2), refused="at most"),
    Attack("zip-names", "Says two names for one file.", pack=_two_names, refused="damaged"),
    Attack("zip-other-name", "Says a second name that climbs.", pack=_other_name),
    Attack("zip-comment", "Ends in another zip.", pack=_commented, counts=theirs, flagged="name"),
    Attack("zip-zero", "Has a zero byte in a name.", pack=_zero_in_name, refused=LEAVES),
    Attack("zip-cut", "Is cut off.", pack=lambda scene: zipped(scene.parts)[:-40], refused="zip"),
    Attack(
        "zip-before",
        "Is a program with a zip behind it.",
        pack=lambda scene: b"#!/bin/sh\ntouch ran\n" + zipped(scene.parts),
    ),
    Attack(
        "zip-packing",
        "Is packed as few zips are.",
        pack=_with(compression=zipfile.ZIP_LZMA),
        refused="packed as zips usually are",
    ),
    Attack("zip-none", "Is no zip.", pack=lambda _: TEXTS["script"].encode() * 40, refused="zip"),
    Attack(
        "zip-anothers",
        "Takes somebody else's name with its own code.",
        pack=_identity(apprentice="honest-b"),
        refused="personal code",
    ),
    Attack(
        "zip-nobody",
        "Takes a name that is a path.",
        pack=_identity(apprentice="../../keys"),
        refused="Nobody on the roster",
    ),
    Attack("zip-script", "Takes a script for a name.", pack=_identity(name=TEXTS["script"] + TEXTS["terminal"])),
    Attack(
        "zip-deep",
        "Says who it is in nested lists.",
        pack=lambda scene: zipped({**scene.parts, "identity.json": b"[" * 9000}),
        refused="not as it was given out",
    ),
    Attack("zip-time", "Brings its own time of arrival.", pack=_with(("timestamp.txt", "2001-01-01 00:00:00 UTC"))),
    Attack(
        "zip-terminal", "Holds names that steer a terminal.", pack=_with(("\x1b[2J\u202e/../x\n", "x")), refused=LEAVES
    ),
)
