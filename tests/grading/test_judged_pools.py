"""What a person judges comes in every sort: trimming a pool leaves each family of texts its share of the forms."""

from __future__ import annotations

from collections import Counter

from trainkit import modules, packs
from trainkit.items.kinds import ObservedItem, TextItem
from trainkit.pools.filling import LEAST, Pools
from trainkit_grading.course.packs import find_pack
from trainkit_grading.course.seeds import Seed

PEOPLE = 60


def pools() -> Pools:
    blueprint = modules.load("capstone").blueprint
    judged = tuple(item for item in blueprint.items if item.template.startswith("capstone/"))
    return Pools.fill(
        Seed(bytes(32)),
        "saltmere",
        blueprint.model_copy(update={"items": judged}),
        packs.load(find_pack(blueprint.assessed_on)),
        1,
    )


def test_every_family_of_texts_has_its_share() -> None:
    filled = pools()
    assert [len(pool.draws) >= LEAST for pool in filled.pools] == [True, True]
    families: Counter[str] = Counter()
    ends: Counter[str] = Counter()
    for number in range(PEOPLE):
        for _, (item, _) in filled.form(f"apprentice {number}"):
            if isinstance(item, TextItem):
                families[item.prompt[:19]] += 1
            elif isinstance(item, ObservedItem):
                ends[item.steps[-1].text] += 1
    assert len(families) == 4
    # One of them has few different questions, and is asked accordingly seldom.
    assert min(families.values()) > PEOPLE / 20
    assert len(ends) >= 4
    assert max(ends.values()) < PEOPLE / 2
