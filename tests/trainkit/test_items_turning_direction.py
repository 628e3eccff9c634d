"""What is particular to the questions about turning direction; see ``test_templates.py`` for the rest."""

from __future__ import annotations

import pytest

from tests.trainkit.draws import drawn, everywhere, start
from trainkit.items.template import names

ENDS = ("seen from", "from the same end", "You watch from", "A colleague watches from")


@pytest.mark.parametrize("name", names("turning-direction"))
def test_every_question_says_from_which_end(name: str) -> None:
    assert all(any(words in item.prompt for words in ENDS) for item, _ in everywhere(name))


@pytest.mark.parametrize("name", names("turning-direction"))
def test_any_engine_is_asked_on_an_example_that_is_named_as_such(name: str) -> None:
    for of in (start(), "dunlin"):
        draw = drawn(name, of, 4)
        assert draw.instead == "an example engine"
        assert draw.item.given[0].value.startswith("example for this question only")
    assert drawn(name, start(), 4) == drawn(name, "dunlin", 4)
