"""What is particular to the questions about turning direction; see ``test_templates.py`` for the rest."""

from __future__ import annotations

import re

import pytest

from tests.trainkit.draws import drawn, everywhere
from tests.trainkit.plain_engine import plain
from trainkit import packs
from trainkit.items.template import names

ENDS = ("seen from", "from the same end", "You watch from", "A colleague watches from")


@pytest.mark.parametrize("name", names("turning-direction"))
def test_every_question_says_from_which_end(name: str) -> None:
    assert all(any(words in item.prompt for words in ENDS) for item, _ in everywhere(name))


def test_two_packs_with_the_same_gears_but_for_their_teeth_are_not_mixed_up() -> None:
    text = plain()
    one = packs.load_text(text, "one.toml")
    teeth = {each.id: each.teeth for each in one.gears}
    text = re.sub(r"^teeth = (\d+)", lambda found: f"teeth = {2 * int(found[1])}", text, flags=re.MULTILINE)
    other = packs.load_text(text, "other.toml")
    assert {each.id: each.teeth for each in other.gears} == {name: 2 * count for name, count in teeth.items()}
    drawings = [drawn("turning-direction/shaft-turn", each, 4)[0] for each in (one, other, one)]
    assert drawings[0] == drawings[2] != drawings[1]
