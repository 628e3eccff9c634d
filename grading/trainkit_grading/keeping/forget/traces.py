"""How somebody's name is found again: in the text of a file, escaped or not, inside zips, in the name of a path."""

from __future__ import annotations

import html
import json
import re
import unicodedata
import zipfile
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import BinaryIO
from urllib.parse import quote

_CHUNK = 8_000_000
_LAP = 4_000  # longer than any name can be, however it is escaped
# So much of a zip is looked into; what an archive or a spreadsheet of a course holds is far below.
_MEMBERS, _DEEPEST = 100_000, 3
_ZIPS = (".zip", ".xlsx")
# A letter or digit beside it makes it another word, unless that ends an escaped sign: \u201c, \n or %2F.
_BEFORE = r"(?:(?<![0-9A-Za-z])|(?<=\\u[0-9A-Fa-f]{4})|(?<=\\[nrt])|(?<=%[0-9A-Fa-f]{2}))"
_AFTER = r"(?![0-9A-Za-z])"


def same(one: str, other: str) -> bool:
    """Tell whether two names are the same, composed or decomposed.

    Examples
    --------
    >>> same("Sørén", "Søre\u0301n")
    True
    """
    return unicodedata.normalize("NFC", one) == unicodedata.normalize("NFC", other)


@dataclass(frozen=True)
class Traces:
    r"""What names one person.

    Parameters
    ----------
    id : str
        Identifier.
    name : str
        Name as people write it; empty where it is not known any more.
    others : tuple of str
        Identifiers and names of everybody else: where one of them holds this person's, it is somebody else.
    account : str
        User name on a shared server, where it is another name.

    Examples
    --------
    >>> traces = Traces("amir", "Amir Śhah", ("amir.k",))
    >>> traces.named_in("of amir.k"), traces.named_in("autograded/amir/x"), traces.named_in("an admirable amirante")
    (False, True, False)
    >>> traces.named_in(r"said \u201cAmir \u015ahah\u201d"), traces.named_in("?q=Amir%20%C5%9Ahah")
    (True, True)
    """

    id: str
    name: str = ""
    others: tuple[str, ...] = ()
    account: str = ""

    @cached_property
    def _mine(self) -> frozenset[str]:
        return frozenset(form for word in (self.id, self.name, self.account) if word for form in _written(word))

    @cached_property
    def _folded(self) -> tuple[str, ...]:
        return tuple({form.casefold() for form in self._mine})

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        mine = self._mine
        longer = {
            form
            for other in self.others
            for form in _written(other)
            if any(word.casefold() in form.casefold() and not same(word, form) for word in mine)
        }
        theirs = [re.escape(form) for form in sorted(longer, key=lambda form: (-len(form), form))]
        ours = [_bounded(form) for form in sorted(mine, key=lambda form: (-len(form), form))]
        return re.compile("|".join([*theirs, f"(?P<mine>{'|'.join(ours)})"]), re.IGNORECASE)

    def named_in(self, text: str) -> bool:
        """Tell whether a text names the person."""
        # Nearly every text holds nothing like it, and that is found out a hundred times as fast.
        folded = text.casefold()
        if not any(form in folded for form in self._folded):
            return False
        return any(found["mine"] is not None for found in self._pattern.finditer(text))

    def named_in_file(self, path: Path) -> bool:
        """Tell whether the bytes of a file name the person; also what is packed in a zip or a spreadsheet."""
        with path.open("rb") as stream:
            return self._in_stream(stream, path.name, 0)

    def _in_stream(self, stream: BinaryIO, name: str, depth: int) -> bool:
        if depth < _DEEPEST and name.casefold().endswith(_ZIPS):
            try:
                with zipfile.ZipFile(stream) as packed:
                    return self._in_zip(packed, depth)
            except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError):
                stream.seek(0)  # a zip by its name alone
        lap = b""
        while chunk := stream.read(_CHUNK):
            if self.named_in((lap + chunk).decode("utf-8", "replace")):
                return True
            lap = chunk[-_LAP:]
        return False

    def _in_zip(self, packed: zipfile.ZipFile, depth: int) -> bool:
        for member in packed.infolist()[:_MEMBERS]:
            if self.named_in(member.filename):
                return True
            if not member.is_dir():
                with packed.open(member) as inside:
                    # Reading a zip in a zip needs a stream that goes back, which this one does.
                    if self._in_stream(inside, member.filename, depth + 1):  # type: ignore[arg-type] # it reads bytes
                        return True
        return False


def _written(word: str) -> set[str]:
    """Return a word in every form in which files and addresses have it."""
    forms: set[str] = set()
    for form in (unicodedata.normalize("NFC", word), unicodedata.normalize("NFD", word)):
        escaped = html.escape(form)
        forms |= {
            form,
            json.dumps(form)[1:-1],
            quote(form, safe=""),
            quote(form, safe="'’!()*"),
            quote(form, safe="'’!()*").replace("%20", "+"),
            escaped,
            escaped.replace("&#x27;", "&#39;").replace("&quot;", "&#34;"),
            html.escape(form, quote=False),
        }
    return forms


def _bounded(form: str) -> str:
    """Return the pattern of a whole word; scripts without spaces between words need no end of it."""
    before = _BEFORE if form[0].isascii() and form[0].isalnum() else ""
    after = _AFTER if form[-1].isascii() and form[-1].isalnum() else ""
    return f"{before}{re.escape(form)}{after}"
