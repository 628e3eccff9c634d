"""The sentences of a workbook, and how long they are.

A heading, a cell of a table, an item of a list and a paragraph are read each by itself. A sentence ends at ``.``, ``?``
or ``!`` where white space follows, and not within a number or after one of the abbreviations below; a colon, a
semicolon or a dash never ends one. A word is what stands between white space and holds a letter or a digit, so that
``44 N·m`` counts as two and ``×`` as none.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

from trainkit import modules

# Points after these end no sentence.
_ABBREVIATIONS = ("e.g.", "i.e.", "etc.", "approx.", "no.", "vs.", "Mr.", "Ms.", "Dr.")
_END = re.compile(r"(?<=[.?!])[\"”’)*_]*\s+")
_MARKS = re.compile(r"[*_`]+|^#+\s*|^[-*]\s+|^\d+\.\s+")


def sentences(text: str) -> Iterator[str]:
    """Yield the sentences of Markdown text, or of the plain text of an output."""
    for block in _blocks(text):
        plain = " ".join(_MARKS.sub("", block).split())
        held = ""
        for part in _END.split(plain):
            held = f"{held} {part}".strip()
            if not held.endswith(_ABBREVIATIONS):
                yield held
                held = ""
        if held:
            yield held


def _blocks(text: str) -> Iterator[str]:
    """Yield what is read by itself."""
    paragraph: list[str] = []
    for line in [*text.splitlines(), ""]:
        bare = line.strip()
        if bare.startswith("|"):
            if not re.fullmatch(r"[|\s:-]+", bare):
                yield from (cell for cell in bare.strip("|").split("|") if cell.strip())
            continue
        if not bare or bare.startswith("#") or re.match(r"([-*]|\d+\.)\s", bare):
            if paragraph:
                yield " ".join(paragraph)
            paragraph = [bare] if re.match(r"([-*]|\d+\.)\s", bare) else []
            if bare.startswith("#"):
                yield bare
            continue
        paragraph.append(bare)
    if paragraph:
        yield " ".join(paragraph)


def words(sentence: str) -> int:
    """Return how many words a sentence has."""
    return sum(any(sign.isalnum() for sign in word) for word in sentence.split())


def cells(name: str) -> list[dict[str, Any]]:
    """Return the cells of a module's own notebook."""
    found: list[dict[str, Any]] = json.loads(modules.load(name).notebook.read_text("utf-8"))["cells"]
    return found


def source(cell: dict[str, Any]) -> str:
    """Return the source of a cell as one text."""
    return "".join(cell["source"])


def said(cell: dict[str, Any]) -> str:
    """Return what the kept outputs of a cell say, a line by itself."""
    texts = []
    for output in cell["outputs"]:
        data = output.get("data", {"text/plain": output.get("text", "")})
        texts.append("".join(data["text/plain"]))
    # In an output each line stands by itself.
    return "\n\n".join("\n".join(texts).splitlines())
