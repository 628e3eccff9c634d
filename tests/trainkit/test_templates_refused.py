"""Engines that have not what a template asks about: it says so, says what is missing, and what to do."""

from __future__ import annotations

import pytest

from tests.trainkit.draws import changed, drawn, start
from tests.trainkit.second_ways.reading import pack
from trainkit import packs
from trainkit.errors import ItemError
from trainkit.items.template import find, names


def without(*tables: str) -> packs.Pack:
    return pack("dunlin").model_copy(update=dict.fromkeys(tables, ()))


UNSAID = pack("dunlin").model_copy(update={"energies": (), "start_paths": ()})
# By what the pack lacks: the pack, what the refusal says, and the templates that say it.
REFUSED: list[tuple[packs.Pack, str, tuple[str, ...]]] = [
    *(
        (UNSAID, "what can move, burn or strike", (f"sequence/{name}",))
        for name in ("put-in-order", "forgotten-step", "either-order", "find-fault")
    ),
    (changed((r"^critical = true\n", "")), "observed-work", ("capstone/observed-work",)),
]


@pytest.mark.parametrize(
    ("name", "lacking", "says"), [(name, lacking, says) for lacking, says, each in REFUSED for name in each]
)
def test_an_engine_without_the_matter_is_refused(name: str, lacking: packs.Pack, says: str) -> None:
    with pytest.raises(ItemError) as caught:
        drawn(name, lacking)
    assert caught.value.value == lacking.name
    assert says in f"{caught.value.rule} {caught.value.remedy}"
    assert "leave the template out" in caught.value.remedy.lower()


@pytest.mark.parametrize("name", names())
def test_starting_point_of_a_new_pack_is_asked_everything(name: str) -> None:
    assert (start().engine.cylinders, len(start().gears)) == (3, 2)
    draw = drawn(name, start(), 2)
    assert draw.item.kind == find(name).kind
    if name.startswith("sequence/"):
        assert (draw.item.given[0].value == start().title) == (not draw.instead)


BARE = without("tools", "fasteners", "parts")


@pytest.mark.parametrize("name", [*names("torque-units"), *names("tightening")])
def test_an_engine_without_tools_and_joints_is_asked_about_an_example_that_is_named_so(name: str) -> None:
    draw = drawn(name, BARE)
    assert draw.instead.startswith(("an example", "example"))
    if name not in NEEDS_NO_EXAMPLE:
        assert "example for this question only" in " ".join(line.value for line in draw.item.given)


# The question is about a printed page or a row of wrenches, whosever they are.
NEEDS_NO_EXAMPLE = {"torque-units/odd-pair", "torque-units/which-wrench", "torque-units/which-settings"}
