"""Every authored workbook follows the same form, so that whoever knows one knows all."""

from __future__ import annotations

import itertools
import json
import re
from typing import Any

import pytest

from tests.workbooks.workbook_text import cells, source
from trainkit import modules
from trainkit.items.template import find

NAMES = modules.names()
ASK = re.compile(r'book\.ask\("([A-Z][0-9]{1,2})"\)')
# Drawn anew each time, or by what has tests of its own.
DRAWN = re.compile(r"book\.(?:practice|complete|instrument|plot|card|warm_up)\([^()]*\)")


def code(name: str) -> list[dict[str, Any]]:
    return [cell for cell in cells(name) if cell["cell_type"] == "code"]


@pytest.mark.parametrize("name", NAMES)
def test_it_is_a_notebook_whose_cells_have_names(name: str) -> None:
    notebook = json.loads(modules.load(name).notebook.read_text("utf-8"))
    assert notebook["nbformat"] == 4
    assert notebook["nbformat_minor"] >= 5
    assert "widgets" not in notebook["metadata"]


def test_there_is_a_workbook_for_each_of_the_seven_modules() -> None:
    assert {
        *("torque-units", "tightening", "turning-direction", "lock-pin", "lash-and-timing", "sequence"),
        "capstone",
    } == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_it_opens_its_own_module_then_shows_the_cautions(name: str) -> None:
    first, second, *_ = code(name)
    assert f'book = workbook.open("{name}")' in source(first).splitlines()
    assert source(second) == "book.cautions()"
    assert cells(name)[0]["cell_type"] == "markdown"
    assert source(cells(name)[0]).startswith("# ")


@pytest.mark.parametrize("name", NAMES)
def test_no_workbook_speaks_of_menus_that_its_page_does_not_show(name: str) -> None:
    text = "\n".join(source(cell) for cell in cells(name) if cell["cell_type"] == "markdown")
    assert re.findall(r"(?i)\bmenus?\b|\bkernel|\bcells?\b|run all", text) == []


@pytest.mark.parametrize("name", NAMES)
def test_every_item_of_the_blueprint_is_asked_once_in_a_cell_of_its_own(name: str) -> None:
    blueprint = modules.load(name).blueprint
    assert len(blueprint.items) <= 12
    asking = [cell for cell in code(name) if "ask(" in source(cell)]
    matches = [ASK.fullmatch(source(cell)) for cell in asking]
    assert [match[1] for match in matches if match] == [item.id for item in blueprint.items]
    assert all(matches), "such a cell holds nothing else"
    for cell in asking:
        assert cell["metadata"]["deletable"] is False
        assert cell["metadata"]["editable"] is False
        assert cell["metadata"]["jupyter"]["source_hidden"] is True
    assert source(code(name)[-1]) == "book.finish()"


def judged(template: str) -> bool:
    return find(template).kind in ("text", "observed")


@pytest.mark.parametrize("name", NAMES)
def test_every_skill_is_practised_and_every_question_belongs_to_a_skill(name: str) -> None:
    blueprint = modules.load(name).blueprint
    practised = [cell for cell in code(name) if source(cell).startswith("book.practice(")]
    assert [source(cell) for cell in practised] == [f'book.practice("{skill.id}")' for skill in blueprint.skills]
    for cell in practised:
        assert "nbval-ignore-output" in cell["metadata"]["tags"]
        assert cell["metadata"]["jupyter"]["source_hidden"] is True
    templates = {template for skill in blueprint.skills for template in skill.templates}
    # What a person judges cannot be practised on the screen, where each answer is explained at once.
    assert {item.template for item in blueprint.items if not judged(item.template)} <= templates
    assert not any(judged(template) for template in templates)
    assert all(find(template).name == template for template in templates)


@pytest.mark.parametrize("name", NAMES)
def test_only_what_is_drawn_escapes_the_check_of_outputs(name: str) -> None:
    for cell in code(name):
        drawn = DRAWN.fullmatch(source(cell)) is not None
        assert [tag for tag in cell["metadata"].get("tags", []) if tag.startswith("nbval")] == (
            ["nbval-ignore-output"] if drawn else []
        )
        if drawn:
            assert cell["metadata"]["jupyter"]["source_hidden"] is True


PARTS = (
    *("book.cautions()", "book.instrument", "book.objectives()", "book.complete", "book.warm_up()", "book.practice"),
    *("book.card()", "book.words()", "book.ask", "book.finish()"),
)


@pytest.mark.parametrize("name", NAMES)
def test_the_first_step_has_cautions_then_a_question_to_think_about_and_a_picture_to_grab(name: str) -> None:
    """A step begins at a heading, so what stands before the second heading is what is met first."""
    texts = [(cell["cell_type"], source(cell)) for cell in cells(name)]
    later = [place for place, (kind, text) in enumerate(texts) if kind == "markdown" and text.startswith(("##", "# "))]
    first = texts[: later[1]]
    assert [kind for kind, _ in first] == ["markdown", "code", "code", "markdown", "code", "code"]
    title, opening, warned, think, picture, aims = (text for _, text in first)
    assert len(title.split()) <= 45, "little is read before there is something to do"
    assert f'workbook.open("{name}")' in opening
    assert warned == "book.cautions()"
    # Underlined, its title begins no step of its own.
    assert think.startswith("Think first\n-----------\n\n")
    assert think.endswith("? Decide before you go on.")
    assert re.fullmatch(r'book\.instrument\("[a-z]+"\)', picture)
    assert aims == "book.objectives()"
    answers = [text for kind, text in texts if kind == "markdown" and "the first question" in text]
    assert len(answers) == 1, "the text says once where the question to think about is answered"
    assert texts.index(("markdown", answers[0])) < next(
        n for n, (_, text) in enumerate(texts) if "book.practice" in text
    )


@pytest.mark.parametrize("name", NAMES)
def test_it_explains_then_lets_try_then_asks(name: str) -> None:
    """Grabbed first; then explained, half worked, warmed up, practised, summed up, asked, handed in."""
    sources = [source(cell) for cell in code(name)]
    places = {part: [place for place, text in enumerate(sources) if text.startswith(part)] for part in PARTS}
    assert all(places.values())
    # Instruments may come again in the explanation.
    firsts = {part: found[:1] if part == "book.instrument" else found for part, found in places.items()}
    assert all(max(firsts[one]) < min(firsts[next_one]) for one, next_one in itertools.pairwise(PARTS))
    assert max(places["book.instrument"]) < min(places["book.complete"])
    several = ("book.practice", "book.ask", "book.instrument")
    assert all(len(places[part]) == 1 for part in PARTS if part not in several)
    examples = [cell["id"] for cell in code(name) if cell["id"].startswith("example")]
    shown = [cell["id"] for cell in code(name)]
    assert shown.index(examples[-1]) < places["book.complete"][0]
    heads = [source(cell) for cell in cells(name) if cell["cell_type"] == "markdown"]
    # What heads a step is an entry of the contents list: each is there once.
    entries = [line for text in heads for line in text.splitlines()[:1] if line.startswith("#")]
    assert len(set(entries)) == len(entries)
    assert sum(text.startswith("## Worked example") for text in heads) >= 3
    visible = [cell for cell in code(name) if cell["metadata"].get("jupyter", {}).get("source_hidden") is not True]
    assert len(visible) >= 3
    assert {cell["id"].partition("-")[0] for cell in visible} == {"example"}


@pytest.mark.parametrize("name", NAMES)
def test_nobody_changes_or_deletes_a_cell_by_accident(name: str) -> None:
    for cell in cells(name):
        assert cell["metadata"]["deletable"] is False
        assert cell["metadata"]["editable"] is False


@pytest.mark.parametrize("name", NAMES)
def test_outputs_are_kept_and_readable_without_a_kernel(name: str) -> None:
    for cell in code(name):
        assert cell["outputs"], f"{cell['id']} has no output; see workbooks/README.md"
        for output in cell["outputs"]:
            assert output["output_type"] in ("display_data", "execute_result", "stream")
            data = output.get("data", {"text/plain": output.get("text", "")})
            assert "application/vnd.jupyter.widget-view+json" not in data
            assert "".join(data["text/plain"]).strip()
            assert "object at 0x" not in "".join(data["text/plain"])


@pytest.mark.parametrize("name", NAMES)
def test_cells_keep_names_that_say_what_they_hold(name: str) -> None:
    names = [cell["id"] for cell in cells(name)]
    assert len(set(names)) == len(names)
    assert all(re.fullmatch(r"[a-z][a-z0-9-]{2,50}", each) for each in names)
    assert len([cell for cell in code(name) if cell["id"].startswith("example")]) >= 3


@pytest.mark.parametrize("name", NAMES)
def test_the_code_that_is_shown_is_short(name: str) -> None:
    """Few lines, each of which fits the page of a small laptop."""
    for cell in code(name):
        if cell["metadata"].get("jupyter", {}).get("source_hidden") is not True:
            lines = source(cell).splitlines()
            # The train that the last module makes up is a list, a gear a line.
            assert len(lines) <= (18 if "GearTrain" in source(cell) else 14), cell["id"]
            assert max(map(len, lines)) <= 112, cell["id"]
