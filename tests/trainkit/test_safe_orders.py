"""No order is right that brings anyone within reach of a source that is not proved dead: a plant is played."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest

import trainkit_grading.course
from tests.trainkit import random_packs
from tests.trainkit.plant import Plant
from trainkit import packs

CURLEW = Path(trainkit_grading.course.__file__).parent / "packs" / "curlew.toml"
BOTH = {"dunlin": packs.load("dunlin"), "curlew": packs.load(CURLEW)}
CASES = [(name, each) for name, pack in BOTH.items() for each in ("", *(c.id for c in pack.configurations))]


def _nearly(rng: random.Random, order: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    """Yield orders by chance: some quite mixed, more with one to three steps elsewhere."""
    for _ in range(15):
        yield tuple(rng.sample(order, len(order)))
    for _ in range(120):
        moved = list(order)
        for _ in range(rng.randint(1, 3)):
            moved.insert(rng.randrange(len(moved)), moved.pop(rng.randrange(len(moved))))
        yield tuple(moved)


@pytest.mark.parametrize(("name", "configuration"), CASES)
def test_every_right_order_is_safe(name: str, configuration: str) -> None:
    pack, rng = BOTH[name], random.Random(f"{name} {configuration}")
    procedure = pack.procedure(configuration)
    for _ in range(60):
        order = procedure.random_valid_order(rng)
        assert Plant(pack, configuration).play(order) == []


@pytest.mark.parametrize(("name", "configuration"), CASES)
def test_an_order_that_hurts_is_never_right(name: str, configuration: str) -> None:
    pack, rng = BOTH[name], random.Random(f"{name} {configuration} wrong")
    procedure = pack.procedure(configuration)
    hurting = 0
    for order in _nearly(rng, procedure.random_valid_order(rng)):
        harm = Plant(pack, configuration).play(order)
        if harm:
            hurting += 1
            verdict = procedure.judge(order)
            assert not verdict.valid, harm
            assert len(verdict.dangerous) > 0, harm
    assert hurting > 40


@pytest.mark.parametrize("number", range(100))
def test_no_order_of_a_random_engine_hurts_and_is_right(number: int) -> None:
    pack, rng = random_packs.pack(number), random.Random(number)
    procedure = pack.procedure()
    for _ in range(10):
        assert Plant(pack).play(procedure.random_valid_order(rng)) == []
    for order in (tuple(rng.sample(procedure.steps, len(procedure.steps))) for _ in range(20)):
        if harm := Plant(pack).play(order):
            assert len(procedure.judge(order).dangerous) > 0, harm
