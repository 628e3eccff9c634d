"""Drawing a question again until it comes back does not pay: hardly any is met again.

The limit is 1 in 20 within 10,000 draws. That takes minutes for each template (``tests/bench/redrawing_figures.py``).
Here are so few draws that only what is far beyond the limit shows for certain: of :data:`DRAWS` draws more than
:data:`MOST` are met again by chance once in many thousand runs where the limit is kept.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.trainkit.second_ways.reading import PACKS, pack
from trainkit.items.marking import mark
from trainkit.items.template import find, names
from trainkit_grading.release.build import build

from .attacks.redrawing import Redrawn, met_again, rebuilt
from .makers import PEOPLE, form_of, found, keys_of

# Two draws of a space of 200,000 are equal: among 100 there are 4,950 pairs, so 0.025 equal ones are expected.
DRAWS, MOST = 100, 4
# A person judges the answers to these: there is no key to read off.
BY_PERSON = ("text", "observed")
# A bench is searched for each draw; its space is measured in the bench and in test_bench_starts.py.
SLOW = ("lock-pin/pin-the-engine",)
ASKED = (
    "torque-units/convert",
    "torque-units/adapter-straight",
    "tightening/preload",
    "turning-direction/shaft-sense",
    "lock-pin/how-far-back",
)


@pytest.mark.parametrize("name", [name for name in names() if name not in SLOW and find(name).kind not in BY_PERSON])
def test_a_question_is_hardly_ever_drawn_again(name: str) -> None:
    assert met_again(name, pack("dunlin"), DRAWS, "again") <= MOST


def test_what_is_drawn_from_few_is_found_by_the_same_search() -> None:
    """The search finds what there is to be found, and what it reads off earns all the points."""
    few = find("sequence/which-missing").draw
    assert Redrawn(few(random.Random(seed % 20), pack("dunlin")) for seed in range(DRAWS)).met_again() > DRAWS / 20


def test_an_apprentices_form_is_not_found_again(tmp_path: Path) -> None:
    bench = found(tmp_path / "course", ASKED)
    assert build(bench.course).ok
    known = {engine: pack(engine) for engine in PACKS}
    met = asked = 0
    for person, _ in PEOPLE:
        form = form_of(bench.course, person)
        keys = keys_of(bench.course, form.code)
        # What the form shows says which engine it is about; a form does not name the template of a question.
        engine = rebuilt([shown.item for shown in form.items], ASKED, known)
        assert engine == pack("dunlin")
        for name in ASKED:
            again = Redrawn.of(name, engine, DRAWS, person)
            for shown in form.items:
                answers = again.answers(shown.item) if shown.item.kind == find(name).kind else ()
                met += any(mark(shown.item, keys[shown.id], answer).points >= shown.item.points for answer in answers)
        asked += len(form.items)
    assert met < asked / 20
