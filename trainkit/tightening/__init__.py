"""Tightening: stages and what may happen between them, joints after any history, patterns, friction.

:mod:`~trainkit.tightening.stages` holds the stages as data, :mod:`~trainkit.tightening.joint` a joint and its state,
:mod:`~trainkit.tightening.patterns` bolts as coordinates, :mod:`~trainkit.tightening.judging` how evenly an order
spreads the load, :mod:`~trainkit.tightening.friction` what another thread condition does to preload,
:mod:`~trainkit.tightening.seating` how a part tilts on a soft seal meanwhile, on invented stiffnesses.

Limits: bolts of one pattern are alike and reach the stage exactly; where orders are judged, tightening one does not
slacken its neighbours (elastic interaction is shown by ``seating`` alone); plates are stiff. Orders are compared at
equal stage, on near-circular patterns and long joints only. Where a manual gives a sequence, the manual decides.

Examples
--------
>>> pattern = Pattern.circle(4, 120)
>>> pattern.judge(["1", "3", "2", "4"]).is_best, pattern.judge(["1", "2", "3", "4"]).is_best
(True, False)
"""

from __future__ import annotations

from trainkit.tightening.friction import preload_change
from trainkit.tightening.joint import EventOutcome, Fault, Joint, JointState, Loosen, Renew, Tighten, Work, step
from trainkit.tightening.judging import MomentVerdict, OutwardVerdict
from trainkit.tightening.patterns import Pattern, Shape
from trainkit.tightening.seating import Seat, Seated, preload_shares
from trainkit.tightening.stages import STAGE_NAMES, WORKS, Schedule, Stage, StageName, WorkName, faults

__all__ = [
    "STAGE_NAMES",
    "WORKS",
    "EventOutcome",
    "Fault",
    "Joint",
    "JointState",
    "Loosen",
    "MomentVerdict",
    "OutwardVerdict",
    "Pattern",
    "Renew",
    "Schedule",
    "Seat",
    "Seated",
    "Shape",
    "Stage",
    "StageName",
    "Tighten",
    "Work",
    "WorkName",
    "faults",
    "preload_change",
    "preload_shares",
    "step",
]
