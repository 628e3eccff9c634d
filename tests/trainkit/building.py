"""Whole modules out of a pack, for tests and benches: pools filled as a build fills them, and forms for some people."""

from __future__ import annotations

import random

from trainkit import modules
from trainkit.items.kinds import kind_of
from trainkit.packs import Pack
from trainkit.pools import Pools, readiness

PEOPLE = ("amir", "bea", "cho")


class Seed:
    """A seed that is no secret, as nobody is assessed."""

    def __init__(self, number: int) -> None:
        self.number = number

    def stream(self, *labels: str | int) -> random.Random:
        return random.Random("/".join(map(str, ("any engine", self.number, *labels))))


def ready_modules(pack: Pack) -> dict[str, tuple[str, ...]]:
    """Return what each module lacks; nothing for one that is ready."""
    found = {name: readiness(pack, modules.load(name).blueprint) for name in modules.names()}
    for each in found.values():
        assert not each.faults, each.faults
        for missing in each.missing:
            assert missing.needs, missing
            assert missing.remedy.endswith("."), missing
    return {name: tuple(missing.needs for missing in each.missing) for name, each in found.items()}


def build(pack: Pack, module: str, seed: int = 1) -> int:
    """Fill the pools of a module and put a form together for each of three people; return the number of items."""
    pools = Pools.fill(Seed(seed), "any", modules.load(module).blueprint, pack, 1)
    count = 0
    for person in PEOPLE:
        for _, drawn in pools.form(person):
            assert drawn.item.kind == kind_of(drawn.key.kind).name
            assert drawn.facts is not None
            count += 1
    return count
