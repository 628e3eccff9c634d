"""What all rules share: a fault, the case they judge, and the list they enter themselves in."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from trainkit.errors import GearError, LockPinError, ProcedureError
from trainkit.packs import mechanics
from trainkit.packs.near import meant

if TYPE_CHECKING:
    from trainkit.gears import GearTrain
    from trainkit.lockpin import Setup
    from trainkit.packs.findings import Path
    from trainkit.packs.schema import Document
    from trainkit.procedures import Procedure


# ``cannot``: nothing could be right with it. ``printed``: it contradicts itself, but a manual may print it so.
# ``remark``: worth knowing. ``unstated``: the pack may be used, yet not for what rests on this.
Weight = Literal["cannot", "printed", "remark", "unstated"]


@dataclass(frozen=True, slots=True)
class Breach:
    """What a rule met: a finding before its line and its severity are known.

    Parameters
    ----------
    code : str
        Stable, words joined by hyphens.
    path : tuple of str and int
        Where it stands in the data.
    value : object
        What was met.
    rule, remedy : str
        Whole sentences.
    weight : str
        How serious it is, apart from where the pack's values come from.
    """

    code: str
    path: Path
    value: object
    rule: str
    remedy: str
    weight: Weight = "cannot"


class Case:
    """A document under examination, and the models built from it; None where it does not allow one.

    Parameters
    ----------
    pack : Document
        The document. Sections whose shape is wrong are missing from it; no rule that needs them is asked.
    misconceptions : collection of str, optional
        Codes of the catalogue, for the rule about them; a layer above knows it.
    """

    def __init__(self, pack: Document, misconceptions: Collection[str] | None = None) -> None:
        self.pack = pack
        self.misconceptions = misconceptions

    @cached_property
    def train(self) -> GearTrain | None:
        """The gear train."""
        try:
            return mechanics.train(self.pack)
        except GearError:
            return None

    @cached_property
    def configurations(self) -> tuple[str, ...]:
        """The names of all configurations; the empty one stands for none of them."""
        return ("", *(configuration.id for configuration in self.pack.configurations))

    @cached_property
    def procedures(self) -> dict[str, Procedure]:
        """The precedence in every configuration that has one."""
        found = {}
        for name in self.configurations:
            try:
                found[name] = mechanics.procedure(self.pack, name)
            except ProcedureError:
                continue
        return found

    @cached_property
    def bases(self) -> dict[str, Procedure]:
        """The written precedence alone in every configuration that has one, without what follows by itself."""
        from trainkit.procedures import Procedure

        found = {}
        for name in self.configurations:
            known, edges, dropped = mechanics.written(self.pack, name)
            try:
                found[name] = Procedure(known, edges).without(dropped)
            except ProcedureError:
                continue
        return found

    def unordered(self, first: str, second: str) -> bool:
        """Tell whether in some configuration both steps are done, with nothing that puts the first before."""
        return any(
            first in procedure and second in procedure and not procedure.comes_before(first, second)
            for procedure in self.procedures.values()
        )

    @cached_property
    def pin(self) -> Setup | LockPinError | GearError:
        """The pinning model, or what keeps the lock pin from being modelled."""
        try:
            return mechanics.lock_pin(self.pack)
        except (LockPinError, GearError) as error:
            return error


Rule = Callable[[Case], Iterator[Breach]]
RULES: list[tuple[frozenset[str], Rule]] = []


def rule(*needs: str) -> Callable[[Rule], Rule]:
    """Enter a rule in the list, with the sections of the document that it looks at."""

    def enter(function: Rule) -> Rule:
        RULES.append((frozenset(needs), function))
        return function

    return enter


def near(name: str, known: list[str] | tuple[str, ...], what: str) -> str:
    """Say what to do about a name that nobody declares.

    Examples
    --------
    >>> near("pinn", ["bar", "pin"], "tool")
    'Did you mean pin? Otherwise declare this tool.'
    """
    found = meant(name, known)
    return f"Did you mean {found}? Otherwise declare this {what}." if found else f"Declare this {what}."
