"""From the tables of a pack to the models that judge: gear train, pinning, procedure."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainkit import procedures
    from trainkit.packs.schema import Pack

__all__ = ["procedure"]


def procedure(pack: Pack, configuration: str = "") -> procedures.Procedure:
    """Return the precedence among the steps of a configuration.

    What holds only by way of a step that does not apply here still holds.
    """
    from trainkit.procedures import Procedure

    whole = Procedure([step.id for step in pack.steps], pack.precedence)
    here = {step.id for step in pack.steps_of(configuration)}
    return whole.without(step.id for step in pack.steps if step.id not in here)
