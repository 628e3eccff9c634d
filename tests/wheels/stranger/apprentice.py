"""A stranger's program on the apprentices' side: questions are drawn, asked and marked through public names alone.

It is type-checked and run on the installed wheels. Give it a folder that may be written to.
"""

from __future__ import annotations

import random
import sys
from pathlib import Path

from trainkit import errors, items, journal, packs, widgets


def drawn(template: str, pack: packs.Pack, seed: int) -> tuple[items.Item, items.Key]:
    """Draw a question and what is right."""
    item, key = items.find(template).draw(random.Random(seed), pack)
    return item, key


def guess(item: items.Item) -> items.Response:
    """Answer without thinking: the first unit, the first option."""
    if item.kind == "number":
        return items.read_response({"kind": "number", "text": "10", "unit": item.units[0]})
    if item.kind == "choice":
        return items.read_response({"kind": "choice", "option": item.options[0].id})
    raise errors.ItemError(item.kind, rule="This program answers numbers and choices.", remedy="Draw one of them.")


def asked(name: str, item: items.Item, kept: journal.Journal) -> items.Response:
    """Put the question as a workbook does, and return the answer that is on the disk."""
    question: widgets.QuestionState = widgets.Assessed(name, item, kept)
    print(question.heading, item.prompt)
    reply = question.hear({"type": "save", "ticket": 1, "response": guess(item).model_dump(mode="json")})
    if reply["type"] != "saved":
        raise SystemExit(f"Not saved: {reply}")
    line: journal.JournalLine = kept.latest()[name]
    print(widgets.answer_words(item, line.response))
    return line.response


def main(folder: Path) -> None:
    """Draw, ask and mark two questions."""
    pack = packs.load("dunlin")
    kept = journal.Journal(
        folder / journal.JOURNAL_FILE, course="strange", module="torque-units", form="F1", apprentice="amir"
    )
    for number, template in enumerate(("torque-units/convert", "turning-direction/shaft-sense"), start=1):
        item, key = drawn(template, pack, seed=number)
        mark: items.Mark = items.mark(item, key, asked(f"A{number}", item, kept))
        print(mark.verdict, mark.points, mark.reason)
        if mark.misconception:
            print(items.misconception(mark.misconception).cure)
    if journal.read(folder / journal.JOURNAL_FILE).problems:
        raise SystemExit("The journal is not whole.")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
