"""An answered workbook stays readable where no kernel is: in an export, on paper, in the course's copy."""

from __future__ import annotations

import random
import shutil
from html import escape
from pathlib import Path

import nbformat
from nbclient import NotebookClient
from nbconvert import HTMLExporter

from trainkit import modules, packs
from trainkit.forms import Form, FormItem, Forms, Identity, person_digest
from trainkit.items import template
from trainkit.items.item import ChoiceItem
from trainkit.items.responses import ChoiceResponse
from trainkit.journal import Journal
from trainkit.widgets.paper import answer_words, paragraphs


def test_an_answered_copy_is_exported_with_questions_and_answers(tmp_path: Path) -> None:
    module = modules.load("lock-pin")
    pack = packs.load("dunlin")
    rng = random.Random(5)
    items = tuple(
        FormItem(id=planned.id, item=template.find(planned.template).draw(rng, pack)[0])
        for planned in module.blueprint.items
    )
    Forms(
        course="saltmere",
        module="lock-pin",
        title="Lock pin",
        pack="dunlin",
        pack_digest=pack.digest,
        attempt=1,
        forms=(Form(code="K7", items=items),),
        people={person_digest("saltmere", "amir"): "K7"},
    ).write(tmp_path)
    Identity(course="saltmere", apprentice="amir", name="Amir", code="1").write(tmp_path)
    first = items[0].item
    assert isinstance(first, ChoiceItem)
    response = ChoiceResponse(option=first.options[1].id)
    journal = Journal(tmp_path / "answers.jsonl", course="saltmere", module="lock-pin", form="K7", apprentice="amir")
    journal.append("A1", response)

    notebook = nbformat.read(shutil.copy(module.notebook, tmp_path), as_version=4)
    NotebookClient(notebook, resources={"metadata": {"path": str(tmp_path)}}, store_widget_state=False).execute()
    page, _ = HTMLExporter().from_notebook_node(notebook)

    assert "You are Amir." in page
    for entry in items:
        assert f"Question {entry.id}" in page
        assert escape(paragraphs(entry.item.prompt)[0]) in page
    assert escape(answer_words(first, response)) in page
    assert "Not answered." in page
    assert "widget-view" not in page
