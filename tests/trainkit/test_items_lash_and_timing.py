"""What is particular to the questions about lash and timing; see ``test_templates.py`` for the rest."""

from __future__ import annotations

import re

import pytest

from tests.trainkit.draws import everywhere
from trainkit.items.kinds import NumberItem
from trainkit.items.template import names


@pytest.mark.parametrize("name", names("lash-and-timing"))
def test_a_number_is_the_same_from_either_end_and_in_degrees_of_the_crank(name: str) -> None:
    for item, _ in everywhere(name):
        if isinstance(item, NumberItem):
            assert "same seen from either end" in item.prompt
            assert re.fullmatch(r"to the nearest 0\.0?1° of the crank", item.to_nearest)
