"""Whether a pack can fill the pools of a module, and what it lacks: the pools are really filled, from three seeds.

Building looks further: it draws larger pools, and goes on from further streams before it gives up.
"""

from __future__ import annotations

import random
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from trainkit.errors import ItemError, NotReadyError
from trainkit.items.template import fault_of, find
from trainkit.pools.filling import TRIAL, Missing, Pools, needs_of

if TYPE_CHECKING:
    from trainkit.modules import Blueprint
    from trainkit.packs import Pack
    from trainkit.pools.filling import Pool

SEEDS = 3
"""A module is ready if its pools fill from so many seeds."""


@dataclass(frozen=True, slots=True)
class Instead:
    """An item whose questions, or some of them, are about something else than the pack.

    Parameters
    ----------
    item, template : str
        The item of the blueprint, and what draws it.
    skill : str
        What it exercises, in words.
    about : str
        What it is about instead: ``another joint``, ``an example engine``.
    always : bool
        Whether all of its questions are.
    """

    item: str
    template: str
    skill: str
    about: str
    always: bool


@dataclass(frozen=True, slots=True)
class ModuleReadiness:
    """What came of filling the pools of a module from a pack.

    Parameters
    ----------
    module, title : str
        Its name, and the name as people read it.
    missing : tuple of Missing
        What keeps it from being ready.
    instead : tuple of Instead
        What is asked about another joint, or an example engine.
    not_askable : mapping of str to tuple of str
        By item, the codes of misconceptions that the blueprint wishes for and that cannot show on this engine.
    faults : tuple of str
        What went wrong unexpectedly, in one line each; whoever reads it should report it.
    seconds : float
        How long it took, in seconds of the processor.
    """

    module: str
    title: str
    missing: tuple[Missing, ...] = ()
    instead: tuple[Instead, ...] = ()
    not_askable: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
    faults: tuple[str, ...] = ()
    seconds: float = 0.0

    @property
    def ready(self) -> bool:
        """Whether the pools were filled."""
        return not self.missing

    def as_data(self) -> dict[str, Any]:
        """Return it as plain JSON data."""
        return {
            "module": self.module,
            "ready": self.ready,
            "missing": [
                {"item": each.item, "template": each.template, "needs": each.needs, "remedy": each.remedy}
                for each in self.missing
            ],
            "instead": [
                {"item": each.item, "template": each.template, "about": each.about, "always": each.always}
                for each in self.instead
            ],
            "not_askable": {item: list(codes) for item, codes in self.not_askable.items()},
            "faults": list(self.faults),
            "seconds": round(self.seconds, 2),
        }


@dataclass(frozen=True, slots=True)
class _Open:
    """A seed that anybody may know, for pools that no form is taken from."""

    number: int

    def stream(self, *labels: str | int) -> random.Random:
        return random.Random("/".join(map(str, ("trial", self.number, *labels))))  # noqa: S311 - no secret


def readiness(pack: Pack, blueprint: Blueprint) -> ModuleReadiness:
    """Fill the pools of a module from a pack, from three seeds, and put forms together from them.

    Parameters
    ----------
    pack : Pack
        The engine.
    blueprint : Blueprint
        The module.

    Examples
    --------
    >>> from trainkit import modules, packs
    >>> found = readiness(packs.load("dunlin"), modules.load("turning-direction").blueprint)
    >>> found.ready, found.missing, {each.about for each in found.instead}
    (True, (), {'an example engine'})
    """
    begun = time.process_time()
    missing: tuple[Missing, ...] = ()
    pools: list[Pool] = []
    for number in range(SEEDS):
        try:
            filled = Pools.fill(_Open(number), "", blueprint, pack, 1, size=TRIAL)
        except NotReadyError as error:
            missing = tuple(each for each in error.missing if isinstance(each, Missing))
            break
        pools += filled.pools
        if missing := _no_form(filled, pack):
            break
    return ModuleReadiness(
        blueprint.module,
        blueprint.title,
        missing,
        tuple(_instead(pools)) if not missing else (),
        MappingProxyType({pool.planned.id: pool.not_askable for pool in pools if pool.not_askable}),
        tuple(dict.fromkeys(fault for pool in pools for fault in pool.faults)),
        time.process_time() - begun,
    )


def _no_form(filled: Pools, pack: Pack) -> tuple[Missing, ...]:
    """Put forms together and return what kept one from being whole, its facts included."""
    template = ""
    try:
        for planned, drawn in filled.form("trial"):
            template = planned.template
            _ = drawn.facts
    except ItemError as error:
        return (Missing("", str(error.value), needs_of(error), error.remedy),)
    except Exception as error:  # noqa: BLE001 - what a build would meet is told here, whatever it is
        fault = fault_of(template, pack, error)
        return (Missing("", template, needs_of(fault), fault.remedy),)
    return ()


def _instead(pools: list[Pool]) -> list[Instead]:
    told: dict[str, Instead] = {}
    for pool in pools:
        about = [each.draw.instead for each in pool.draws]
        if not any(about):
            continue
        planned, always = pool.planned, all(about)
        before = told.get(planned.id)
        told[planned.id] = Instead(
            planned.id,
            planned.template,
            find(planned.template).skill,
            next(filter(None, about)),
            always and (before is None or before.always),
        )
    return list(told.values())
