"""The order of somebody who does not wait: right but for one step, which is done too late."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainkit.procedures import Edge, Procedure


def hurried(procedure: Procedure, edge: Edge) -> tuple[str, ...]:
    """Return a right order of the steps but for the first step of an edge, which stands behind the second."""
    return moved_behind(procedure.repair(procedure.steps).order, edge)


def moved_behind(order: Sequence[str], edge: Edge) -> tuple[str, ...]:
    """Return an order with the first step of an edge moved behind the second."""
    moved = [step for step in order if step != edge.before]
    moved.insert(moved.index(edge.after) + 1, edge.before)
    return tuple(moved)
