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


NO_DANGER = changed((r"^dangerous = true\n", ""))
# By what the pack lacks: the pack, what the refusal says, and the templates that say it.
REFUSED: list[tuple[packs.Pack, str, tuple[str, ...]]] = [
    (without("tools"), "", tuple(name for name in names("torque-units") if name != "torque-units/which-settings")),
    (without("tools"), "", ("torque-units/which-settings",)),
    (without("fasteners"), "two units", ("torque-units/odd-pair", "torque-units/master-column")),
    (without("fasteners"), "a fastener of more than one", ("tightening/after-history",)),
    (without("fasteners"), "a pattern of bolts", ("tightening/next-bolt",)),
    (without("fasteners"), "several stages", ("tightening/stages-in-order",)),
    (without("fasteners"), "a torque in N·m", ("tightening/preload", "tightening/use-of-proof-load")),
    (without("fasteners"), "a thread from 5 to 16 mm", ("tightening/jacking-screw",)),
    (without("parts"), "single-use parts", ("tightening/not-again",)),
    (start(), "needs 6 parts with 3 fates", ("sequence/fate-of-parts",)),
    (start(), "takes_off and fits", ("sequence/fate-of-parts",)),
    *(
        (NO_DANGER, f"sequence/{name}", (f"sequence/{name}",))
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


# What a new pack cannot be asked yet.
NOT_ON_START = {
    *("torque-units/adapter-straight", "torque-units/adapter-at-an-angle", "torque-units/adapter-forgotten"),
    *("torque-units/which-wrench", "tightening/which-are-finished", "tightening/next-bolt", "tightening/not-again"),
    *("tightening/stages-in-order", "sequence/fate-of-parts"),
}


@pytest.mark.parametrize("name", names())
def test_starting_point_of_a_new_pack_can_be_asked_about_or_says_why_not(name: str) -> None:
    assert (start().engine.cylinders, len(start().gears)) == (3, 2)
    if name in NOT_ON_START:
        with pytest.raises(ItemError) as caught:
            drawn(name, start(), 2)
        assert "leave the template out of the blueprint" in caught.value.remedy.lower()
    else:
        item, _ = drawn(name, start(), 2)
        assert item.kind == find(name).kind
        if name.startswith("sequence/"):
            assert item.given[0].value == start().title
