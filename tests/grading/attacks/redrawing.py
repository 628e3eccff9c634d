"""Draw again until the shown question comes back, and read its key off: what an apprentice who can program may try.

Whoever attacks has a released form and the program: the public templates, and every pack that comes with it or with the
workbook. They first find the engine whose data the form shows, then call the templates with many seeds. A question
counts as met where its words are equal, its data, or its data without its options; the answer is carried over by what
the options say. It is found where that answer earns all its points.

What is given is found by nobody in this way: who writes the mechanics' own rules down, or calls them, solves the
question. ``grading/docs/marking.md`` says so.
"""

from __future__ import annotations

import json
import random
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from tests.trainkit.answers import right_answer
from trainkit.errors import ItemError
from trainkit.items.asking import asked
from trainkit.items.facts import Draw
from trainkit.items.kinds import Item, Key
from trainkit.items.marking import mark
from trainkit.items.template import find
from trainkit.packs import Pack

__all__ = ["Redrawn", "carried", "met_again", "rebuilt", "views"]

_NUMBER = re.compile(r"\d+(?:[.:/]\d+)*")
# Where the things that are chosen or moved stand in an item, and in an answer.
_PARTS = ("options", "cards", "rows", "targets", "actions")
_FEW = 20


def views(item: Item) -> tuple[str, ...]:
    """Return what two draws of one question have in common, the strictest first: words, data, data without options."""
    shown = item.model_dump(mode="json", exclude={"points"})
    data = {name: shown.get(name) for name in ("kind", "given", "figure", "scene", "scale", "units", "columns")}
    texts = {part: sorted(entry["text"] for entry in shown[part]) for part in _PARTS if part in shown}
    written = [entry["text"] for entry in shown.get("written", ())]
    missing = shown["missing"]["text"] if "missing" in shown else ""
    numbers = _NUMBER.findall(item.prompt)
    bare = data["given"] or data["figure"] or data["scene"] or numbers
    return (
        asked(item),
        json.dumps([data, texts, written, missing, numbers], sort_keys=True),
        # Without its options a question has to have data of its own; else any two would be the same.
        *([json.dumps([data, item.prompt, written, missing], sort_keys=True)] if bare else []),
    )


def _texts(item: Item) -> dict[str, str]:
    """Return what stands for each thing that can be chosen or moved, by its letter."""
    return {entry.id: entry.text for part in _PARTS for entry in getattr(item, part, ())}


def carried(theirs: tuple[Item, Key], shown: Item) -> dict[str, Any] | None:
    """Return the right answer to another draw as an answer to what is shown; None where something has no likeness."""
    item, key = theirs
    letters = {text: letter for letter, text in _texts(shown).items()}
    mine = {letter: letters.get(text) for letter, text in _texts(item).items()}
    answer: dict[str, Any] = right_answer(item, key)
    for part, said in answer.items():
        if part in ("option", "target"):
            answer[part] = mine[said]
        elif part in ("options", "cards"):
            answer[part] = [mine[each] for each in said]
        elif part == "rows":
            answer[part] = {mine[row]: column for row, column in said.items()}
    values = [each for part in answer.values() for each in (part if isinstance(part, list | dict) else [part])]
    return None if None in values else answer


class Redrawn:
    """Many draws of one template on one pack, kept by what they show."""

    def __init__(self, draws: Iterable[Draw]) -> None:
        self.draws: list[Draw] = []
        self.seen: dict[str, list[int]] = {}
        for draw in draws:
            for view in set(views(draw.item)):
                self.seen.setdefault(view, []).append(len(self.draws))
            self.draws.append(draw)

    @classmethod
    def of(cls, name: str, pack: Pack, count: int, seed: str) -> Redrawn:
        """Draw a template so many times, each with a seed of its own."""
        template = find(name)
        return cls(template.draw(random.Random(f"{seed} {name} {number}"), pack) for number in range(count))

    def answers(self, shown: Item, but: int = -1) -> Iterator[dict[str, Any]]:
        """Yield the answer of the first draw that each view meets again; the draw ``but`` is not looked at."""
        for view in views(shown):
            met = [number for number in self.seen.get(view, ()) if number != but]
            answer = carried(self.draws[met[0]], shown) if met else None
            if answer is not None:
                yield answer

    def finds(self, item: Item, key: Key, but: int = -1) -> bool:
        """Tell whether one of the answers earns all the points."""
        return any(mark(item, key, answer).points >= item.points for answer in self.answers(item, but))

    def met_again(self) -> int:
        """Return how many of the draws are found by all the others: each once as what the form shows."""
        return sum(self.finds(draw.item, draw.key, number) for number, draw in enumerate(self.draws))


def met_again(name: str, pack: Pack, count: int, seed: str) -> int:
    """Return how many of so many draws are found among the others."""
    return Redrawn.of(name, pack, count, seed).met_again()


def rebuilt(shown: Sequence[Item], names: Iterable[str], known: Mapping[str, Pack]) -> Pack:
    """Return the engine that a form is about, of those that are known: whose draws show most of the form's data."""
    data = {value for item in shown for value in _data(item)}
    kinds = {item.kind for item in shown}
    templates = [find(name) for name in names if find(name).kind in kinds]

    def alike(pack: Pack) -> int:
        theirs: set[tuple[str, str]] = set()
        for template in templates:
            try:
                for number in range(_FEW):
                    theirs.update(_data(template.draw(random.Random(number), pack).item))
            except ItemError:
                continue
        return len(theirs & data)

    return max(known.values(), key=alike)


def _data(item: Item) -> Iterator[tuple[str, str]]:
    yield from ((line.label, line.value) for line in item.given)
    yield from (("word", word) for word in re.findall(r"\w{5,}", " ".join((item.prompt, *_texts(item).values()))))
