"""Templates that a person judges: a why of the job in the apprentice's own words, and work that is watched.

Nothing here is decided by the machine. What a person looks for is worked out from the pack and its mechanics all the
same: facts, figures and reasons of a text, steps and critical steps of a piece of work.
"""

from __future__ import annotations

from trainkit.items.capstone.explaining import ExplainWhy
from trainkit.items.capstone.rubric import Rubric, RubricPoint, rubric_of
from trainkit.items.capstone.watching import ObservedWork
from trainkit.items.misconceptions import Misconception
from trainkit.items.template import Template

__all__ = ["MISCONCEPTIONS", "TEMPLATES", "Rubric", "RubricPoint", "rubric_of"]

TEMPLATES: tuple[Template, ...] = (ExplainWhy(), ObservedWork())

# A person reads what an answer shows; none is recognised by the machine.
MISCONCEPTIONS: tuple[Misconception, ...] = ()
