"""An answered workbook stays readable where no kernel is: in an export, on paper, in the course's copy."""

from __future__ import annotations

import random
import shutil
from html import escape
from pathlib import Path

import nbformat
from nbclient import NotebookClient
from nbconvert import HTMLExporter

from tests.trainkit.given_out import identify, journal_in, release
from trainkit import modules, packs
from trainkit.items import template
from trainkit.items.kinds import ChoiceItem, ChoiceResponse
from trainkit.widgets.paper import answer_words, paragraphs


def test_an_answered_copy_is_exported_with_questions_and_answers(tmp_path: Path) -> None:
    module = modules.load("lock-pin")
    pack = packs.load("dunlin")
    rng = random.Random(5)
    asked = {planned.id: template.find(planned.template).draw(rng, pack)[0] for planned in module.blueprint.items}
    release(tmp_path, tuple(asked.values()), pack_digest=pack.digest)
    identify(tmp_path, name="Amir")
    first = asked["A1"]
    assert isinstance(first, ChoiceItem)
    response = ChoiceResponse(option=first.options[1].id)
    journal_in(tmp_path).append("A1", response)

    notebook = nbformat.read(shutil.copy(module.notebook, tmp_path), as_version=4)
    NotebookClient(notebook, resources={"metadata": {"path": str(tmp_path)}}, store_widget_state=False).execute()
    page, _ = HTMLExporter().from_notebook_node(notebook)

    assert "You are Amir." in page
    for name, item in asked.items():
        assert f"Question {name}" in page
        assert escape(paragraphs(item.prompt)[0]) in page
    assert escape(answer_words(first, response)) in page
    assert "Not answered." in page
    assert "widget-view" not in page
