"""Hand-ins that keep their reader busy, or on whose shape readers of zips disagree."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Callable

from tests.bench.worst_zips import listing
from tests.grading.packed import member

from .base import Attack, Scene
from .zips import zipped

__all__ = ["COSTLY"]

FILE_LIMIT = 8_388_608


def _filled(line: bytes) -> Callable[[Scene], bytes]:
    """An honest journal, and one line again and again until the file is full."""

    def write(scene: Scene) -> bytes:
        honest = scene.parts["answers.jsonl"]
        return honest + line * ((FILE_LIMIT - len(honest)) // len(line))

    return write


def _tables(scene: Scene) -> bytes:
    inner = {f"{number}/a.zip": listing(60_000) for number in range(9)}
    return zipped({"identity.json": scene.parts["identity.json"], **inner})


def _at_end(offset: int, layout: str, value: int) -> Callable[[Scene], bytes]:
    """Another number in the end of the zip."""

    def pack(scene: Scene) -> bytes:
        data = bytearray(zipped(scene.parts))
        struct.pack_into(layout, data, data.rindex(b"PK\x05\x06") + offset, value)
        return bytes(data)

    return pack


def _in_table(offset: int, layout: str, value: int) -> Callable[[Scene], bytes]:
    """Another number in what the table of contents says of the journal."""

    def pack(scene: Scene) -> bytes:
        data = bytearray(zipped(scene.parts))
        struct.pack_into(layout, data, data.index(b"PK\x01\x02") + offset, value)
        return bytes(data)

    return pack


def _second_end(scene: Scene) -> bytes:
    """A second end, as large zips have one, that says another table than the first."""
    data = zipped(scene.parts)
    at = data.rindex(b"PK\x05\x06")
    second = struct.pack("<4sQ2H2L4Q", b"PK\x06\x06", 44, 45, 45, 0, 0, 10**6, 10**6, 46, 0)
    return data[:at] + second + struct.pack("<4sLQL", b"PK\x06\x07", 0, at, 1) + data[at:]


def _far_second_end(scene: Scene) -> bytes:
    """A pointer to a second end that lies elsewhere."""
    data = zipped(scene.parts)
    at = data.rindex(b"PK\x05\x06")
    return data[:at] + bytes(56) + struct.pack("<4sLQL", b"PK\x06\x07", 0, 2, 1) + data[at:]


def _with(*extra: tuple[zipfile.ZipInfo, bytes]) -> Callable[[Scene], bytes]:
    return lambda scene: zipped([*scene.parts.items(), *extra])


def _two_zips(scene: Scene) -> bytes:
    """Somebody else's answers in a zip, and the own zip behind it."""
    first = zipped({"answers.jsonl": scene.theirs, "identity.json": scene.parts["identity.json"]})
    return first + zipped(scene.parts)


def _swapped(scene: Scene) -> bytes:
    """The table says that the journal is where another file lies."""
    data = bytearray(zipped([*scene.parts.items(), ("other.txt", scene.theirs)]))
    table = data.index(b"PK\x01\x02")
    other = data.index(b"other.txt") - 30
    struct.pack_into("<L", data, table + 42, other)
    return bytes(data)


def _streamed(scene: Scene) -> bytes:
    """The sizes stand behind the content, as programs write them that pack while they send."""

    class Stream(io.BytesIO):
        def seekable(self) -> bool:
            return False

        def tell(self) -> int:
            raise OSError

    made = Stream()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in scene.parts.items():
            packed.writestr(name, content)
    return made.getvalue()


def _folder_for_journal(scene: Scene) -> bytes:
    return zipped({"answers.jsonl/": b"", "identity.json": scene.parts["identity.json"]})


def _inner(scene: Scene) -> bytes:
    return zipped({"again.zip": zipped(scene.parts)})


def _inner_of_two(scene: Scene) -> bytes:
    inner = {f"{number}/{name}": content for number in range(2) for name, content in scene.parts.items()}
    return zipped({"again.zip": zipped(inner)})


def _deep(scene: Scene) -> bytes:
    return zipped({"d/" * 300 + name: content for name, content in scene.parts.items()})


_LIST = b'{"response":{"kind":"actions","actions":[' + b"0," * 14_000 + b"0]}}\n"
_TOKENS = b'{"response":{"kind":"actions","actions":[' + b'"a",' * 7_500 + b'"b"]}}\n'
MUCH, BROKEN = "at most", "damaged"

COSTLY = (
    Attack("busy-blank", "Fills the journal with blank lines.", write=_filled(b"\n"), flagged="size"),
    Attack("busy-short", "Fills the journal with short lines.", write=_filled(b"x\n"), flagged="size"),
    Attack("busy-objects", "Fills it with lines that say nothing.", write=_filled(b"{}\n"), flagged="size"),
    Attack("busy-lists", "Fills it with lists of numbers for words.", write=_filled(_LIST), flagged="size"),
    Attack("busy-tokens", "Fills it with lists that are too long.", write=_filled(_TOKENS), flagged="size"),
    Attack("busy-table", "Lists a hundred thousand files.", pack=lambda _: listing(100_000), refused=MUCH),
    Attack("busy-tables", "Holds zips that list sixty thousand files each.", pack=_tables, refused=MUCH),
    Attack("end-second", "Has two ends that say different things.", pack=_second_end, refused=BROKEN),
    Attack("end-far", "Has an end that points to another.", pack=_far_second_end, refused=BROKEN),
    Attack("end-count", "Says in its end that it lists nothing.", pack=_at_end(10, "<H", 0)),
    Attack(
        "end-early", "Says that its table begins before its first byte.", pack=_at_end(12, "<L", 10**5), refused=BROKEN
    ),
    Attack("end-longest", "Says that its table has four gigabytes.", pack=_at_end(12, "<L", 2**32 - 1), refused=BROKEN),
    Attack("end-none", "Says that its table has no bytes.", pack=_at_end(12, "<L", 0), refused="holds answers.jsonl"),
    Attack("at-nowhere", "Says that the journal lies behind its end.", pack=_in_table(42, "<L", 2**31), refused=BROKEN),
    Attack("at-other", "Says that the journal lies where another file does.", pack=_swapped, refused=BROKEN),
    Attack("method-unknown", "Is packed in a way that does not exist.", pack=_in_table(10, "<H", 77), refused="packed"),
    Attack(
        "name-longest", "Says that a name is as long as can be.", pack=_in_table(28, "<H", 65_535), refused="leaves it"
    ),
    Attack("version-later", "Asks for a later reader.", pack=_in_table(6, "<H", 99), refused=BROKEN),
    Attack(
        "windows-link",
        "Holds a link as Windows makes it.",
        pack=_with((member("data", external_attr=0x400), b"C:/")),
        refused="a link",
    ),
    Attack("long-name", "Holds a file whose name fills pages.", pack=_with((member("n" * 60_000), b"x"))),
    Attack("no-date", "Holds files of the year 0.", pack=_in_table(12, "<L", 0)),
    Attack("two-zips", "Has somebody else's zip in front.", pack=_two_zips),
    Attack("sizes-behind", "Says its sizes behind its content.", pack=_streamed),
    Attack(
        "folder-named-journal",
        "Has a folder for a journal in the zip.",
        pack=_folder_for_journal,
        refused="no readable",
    ),
    Attack("zip-in-zip", "Is packed twice.", pack=_inner),
    Attack("zip-in-zip-two", "Is packed twice and holds two.", pack=_inner_of_two, refused="holds one hand-in"),
    Attack("deep-in-zip", "Lies three hundred folders deep in the zip.", pack=_deep),
    Attack("nothing-in-zip", "Is a zip of nothing.", pack=lambda _: zipped({}), refused="holds answers.jsonl"),
    Attack(
        "second-halves",
        "Holds the second halves that some systems pack.",
        pack=lambda scene: zipped({**scene.parts, "__MACOSX/._answers.jsonl": scene.theirs, "__MACOSX/._a.zip": b"x"}),
    ),
    Attack(
        "beside-bad-names",
        "Holds others' names beside its own.",
        pack=lambda scene: zipped(
            {"keys/answers.json": b"x", "gradebook.db": b"x", "roster.csv": b"apprentice,name\n", **scene.parts}
        ),
    ),
)
