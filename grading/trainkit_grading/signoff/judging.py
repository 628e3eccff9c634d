"""Whether observed work shows competence, with the written rule that made it so.

The rules, in the order in which they are asked; the first that holds decides:

=====  =============================================================================================
rule   what it says
=====  =============================================================================================
``S``  A stop for safety means not yet competent, whatever else was done.
``C``  A critical step that was not done means not yet competent, whatever else was done.
``P``  A critical step that needed a prompt means not yet competent, until it is shown again unprompted.
``N``  Another step that was not done means not yet competent: the work was not finished.
``Q``  More than a quarter of the other steps prompted means not yet competent.
``K``  Every critical step was done unprompted and every other step was done: competent.
=====  =============================================================================================

That a missed critical step or a stop decides is common practice, no source. The quarter is this product's own figure;
no published source is known for one. What is competent at the engine in training is no licence: for real work the
manufacturer's current manual, local codes and a licensed or supervising person decide.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from trainkit_grading.ledger.kinds import ObservedStep

__all__ = ["PROMPTED_AT_MOST", "RULES", "Competence", "ObservedStep", "judge", "outcome_of", "same_person"]

# Of the steps that are not critical, so large a part may need a prompt.
PROMPTED_AT_MOST = 0.25

RULES: Mapping[str, str] = {
    "S": "A stop for safety means not yet competent, whatever else was done.",
    "C": "A critical step that was not done means not yet competent, whatever else was done.",
    "P": "A critical step that needed a prompt means not yet competent, until it is shown again unprompted.",
    "N": "A step that was not done means not yet competent: the work was not finished.",
    "Q": "More than a quarter of the other steps prompted means not yet competent.",
    "K": "Every critical step was done unprompted and every other step was done: competent.",
}


@dataclass(frozen=True, slots=True)
class Competence:
    """What an observation shows.

    Parameters
    ----------
    verdict : str
        ``"competent"`` or ``"not yet competent"``.
    code, rule : str
        The letter of the rule that decided, and the rule as it is written.
    steps : tuple of ObservedStep
        The steps that made it so; empty for rule K.
    """

    verdict: Literal["competent", "not yet competent"]
    code: str
    rule: str
    steps: tuple[ObservedStep, ...] = ()

    @property
    def competent(self) -> bool:
        """Whether it is competent."""
        return self.verdict == "competent"

    def __str__(self) -> str:
        which = "; ".join(f"“{step.text}” ({step.outcome})" for step in self.steps)
        return f"{self.verdict}. {self.rule}{f' Steps: {which}.' if which else ''}"


def judge(steps: Sequence[ObservedStep], again: Sequence[ObservedStep] = ()) -> Competence:
    """Judge observed work.

    Parameters
    ----------
    steps : sequence of ObservedStep
        Every step of the checklist.
    again : sequence of ObservedStep, optional
        Steps that were shown again afterwards. One shown again unprompted makes up for a prompt; a stop for safety,
        and a step that was not done, are made up for by showing the whole work again. What goes wrong in showing it
        again counts.

    Examples
    --------
    >>> lock = ObservedStep("a", "Lock out the starter", True, "prompted")
    >>> wash = ObservedStep("b", "Wash the unit", False, "unprompted")
    >>> print(judge([lock, wash]))
    not yet competent. A critical step that needed a prompt means not yet competent, until it is shown again \
unprompted. Steps: “Lock out the starter” (prompted).
    >>> judge([lock, wash], [ObservedStep("a", "Lock out the starter", True, "unprompted")]).verdict
    'competent'
    """
    whole = [*steps, *again]
    # Shown again unprompted, once or more and never worse after that, a step stands as unprompted.
    last = {step.id: step.outcome for step in again}
    healed = {name for name, outcome in last.items() if outcome == "unprompted"}
    prompted = [s for s in steps if s.outcome == "prompted" and s.id not in healed]
    prompted += [s for s in again if s.outcome == "prompted" and s.id not in healed]
    prompted = list({step.id: step for step in prompted}.values())
    others = [step for step in steps if not step.critical]
    weak = [step for step in prompted if not step.critical]
    asked = (
        ("S", [step for step in whole if step.outcome == "stopped for safety"]),
        ("C", [step for step in whole if step.critical and step.outcome == "not done"]),
        ("P", [step for step in prompted if step.critical]),
        ("N", [step for step in whole if step.outcome == "not done"]),
        ("Q", weak if len(weak) > PROMPTED_AT_MOST * len(others) else []),
    )
    for code, met in asked:
        if met:
            return Competence("not yet competent", code, RULES[code], tuple(met))
    return Competence("competent", "K", RULES["K"])


def outcome_of(step: str, steps: Sequence[ObservedStep], again: Sequence[ObservedStep] = ()) -> str:
    """Return what stands of one step by the rules of :func:`judge`; empty where nobody has observed it.

    Parameters
    ----------
    step : str
        Its name.
    steps, again : sequence of ObservedStep
        As for :func:`judge`; what was shown again in the order of time.

    Examples
    --------
    >>> first = ObservedStep("a", "Lock out the starter", True, "prompted")
    >>> outcome_of("a", [first]), outcome_of("a", [first], [ObservedStep("a", "", True, "unprompted")])
    ('prompted', 'unprompted')
    """
    said = [each.outcome for each in (*steps, *again) if each.id == step]
    for grave in ("stopped for safety", "not done"):
        if grave in said:
            return grave
    return said[-1] if said else ""


def same_person(one: str, other: str) -> bool:
    """Tell whether two names are written alike, whatever their capitals, spaces and stops.

    Examples
    --------
    >>> same_person("P. Tidewell", "p tidewell "), same_person("P. Tidewell", "M. Orrin"), same_person("", "")
    (True, False, False)
    """
    import unicodedata

    def bare(name: str) -> str:
        return "".join(sign for sign in unicodedata.normalize("NFKC", name).casefold() if sign.isalnum())

    return bool(bare(one)) and bare(one) == bare(other)
