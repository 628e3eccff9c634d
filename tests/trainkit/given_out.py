"""What a course gives out, as tests make it: a released form beside a notebook, whose copy it is, and its journal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from trainkit.forms import Form, FormItem, Forms, Identity, person_digest
from trainkit.items.kinds import ChoiceItem, Item, Option
from trainkit.journal import Journal

CHOICE = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
NAMES: dict[str, Any] = {"course": "saltmere", "module": "lock-pin", "form": "K7", "apprentice": "amir"}


def release(
    folder: Path, items: Sequence[Item] = (CHOICE, CHOICE), people: Sequence[str] = ("amir",), **changes: Any
) -> Forms:
    """Write what a release holds: one form, K7, the same for all; ``changes`` are fields of the release."""
    values: dict[str, Any] = {
        **{"course": "saltmere", "module": "lock-pin", "title": "Lock pin", "pack": "dunlin", "attempt": 1},
        "pack_digest": "0" * 64,
        "forms": (Form(code="K7", items=tuple(FormItem(id=f"A{n}", item=item) for n, item in enumerate(items, 1))),),
        "people": {person_digest("saltmere", name): "K7" for name in people},
    }
    forms = Forms(**{**values, **changes})
    folder.mkdir(parents=True, exist_ok=True)
    forms.write(folder)
    return forms


def identify(folder: Path, apprentice: str = "amir", name: str = "Amir Onslow", course: str = "saltmere") -> Identity:
    identity = Identity(course=course, apprentice=apprentice, name=name, code="1")
    identity.write(folder)
    return identity


def give_out(folder: Path, items: Sequence[Item] = (CHOICE, CHOICE), name: str = "Amir Onslow") -> Path:
    """Write a release and whose copy it is."""
    release(folder, items)
    identify(folder, name=name)
    return folder


def journal_in(folder: Path, **changes: Any) -> Journal:
    return Journal(folder / "answers.jsonl", **{**NAMES, **changes})
