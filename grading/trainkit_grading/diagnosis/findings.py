"""The answers of one apprentice put together: what they hold, how sure that is, and what it rests on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from trainkit.items.facts import Facts, met_by_chance
from trainkit.items.kinds import Item, Key, Response, kind_of
from trainkit.items.marking import mark
from trainkit_grading.diagnosis.chances import PRIOR, Chance, Met, chances, seen, whole
from trainkit_grading.errors import DiagnosisError

# A label is given from this probability on, and never on fewer answers that show it.
LABEL = 0.9
LEAST = 2
# What the model takes for impossible happens at most so often: an answer that cannot be read, say.
_NEVER = 1e-6
# How often somebody slips or guesses, and how probable that is before anything is known about them. Judgement, no
# source; the answers of the apprentice decide.
SLIPS: Mapping[float, float] = MappingProxyType({0.02: 0.2, 0.05: 0.3, 0.1: 0.25, 0.2: 0.15, 0.4: 0.1})


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer of an apprentice.

    Parameters
    ----------
    item_id : str
        What the item is called, unique among the answers: ``"torque-units A3"``.
    item, key : Item, Key
        What was shown and what is right.
    response : Response or None
        What was given; None where nothing was.
    facts : Facts, optional
        What is known of the draw; without it what could be shown is counted anew.
    """

    item_id: str
    item: Item
    key: Key
    response: Response | None
    facts: Facts | None = None


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What all answers together say about one misconception.

    Parameters
    ----------
    misconception : str
        Its code.
    probability : float
        That it is held, 0 to 1.
    could_show : tuple of str
        Identifiers of the items whose answers could have shown it, in order.
    shown : tuple of str
        Identifiers of those that did.
    """

    misconception: str
    probability: float
    could_show: tuple[str, ...]
    shown: tuple[str, ...]

    @property
    def chances(self) -> int:
        """How many answers could have shown it."""
        return len(self.could_show)

    @property
    def held(self) -> bool:
        """Whether to say that it is held: probable enough, and never from one answer alone."""
        return self.probability >= LABEL and len(self.shown) >= LEAST


@dataclass(frozen=True, slots=True)
class _Evidence:
    """What one answer says, for each frequency of slips.

    Parameters
    ----------
    item_id : str
        Which item was answered.
    kinds : mapping of str to str
        The kind of the answer for each misconception that it could have shown.
    could : mapping of float to mapping
        How likely each kind is with and without the misconception.
    likely : mapping of float to float
        How likely the answer is as a whole.
    """

    item_id: str
    kinds: Mapping[str, Met]
    could: Mapping[float, Mapping[str, Chance]]
    likely: Mapping[float, float]


def diagnose(answers: Iterable[Answer], slips: Mapping[float, float] = SLIPS) -> tuple[Diagnosis, ...]:
    """Return what the answers of one apprentice say about every misconception that they could have shown.

    Parameters
    ----------
    answers : iterable of Answer
        All of one apprentice, from as many modules as there are; their order says nothing. An item that was left
        out counts neither for nor against anything.
    slips : mapping of float to float
        How often somebody may slip or guess, each with its probability beforehand.

    Returns
    -------
    tuple of Diagnosis
        The most probable first, those as probable as each other by their codes.

    Raises
    ------
    DiagnosisError
        If two answers bear the same identifier.
    """
    evidence = _gathered(answers, slips)
    found = []
    for code in {code for one in evidence for code in one.kinds}:
        could_show = sorted(one.item_id for one in evidence if code in one.kinds)
        shown = sorted(one.item_id for one in evidence if one.kinds.get(code) == "shows")
        found.append(Diagnosis(code, _probability(code, evidence, slips), tuple(could_show), tuple(shown)))
    return tuple(sorted(found, key=lambda finding: (-finding.probability, finding.misconception)))


def _gathered(answers: Iterable[Answer], slips: Iterable[float]) -> list[_Evidence]:
    met: set[str] = set()
    evidence = []
    for answer in answers:
        if answer.item_id in met:
            raise DiagnosisError(
                answer.item_id,
                rule="Each item comes in once, with the answer that counts.",
                remedy="Put the module before the item's name, and leave out answers that were given again later.",
            )
        met.add(answer.item_id)
        item, key, response, facts = answer.item, answer.key, answer.response, answer.facts
        if response is None or kind_of(item.kind).by_person or not item.kind == key.kind == response.kind:
            continue
        kinds = seen(item, key, response, facts)
        right = mark(item, key, response, facts).verdict == "right"
        could = {slip: chances(item, key, slip, kinds, facts) for slip in slips}
        shares = met_by_chance(item, key, facts)
        likely = {slip: whole(item, shares, kinds.values(), right, slip) for slip in slips}
        evidence.append(_Evidence(answer.item_id, kinds, could, likely))
    return evidence


def _probability(code: str, evidence: Iterable[_Evidence], slips: Mapping[float, float]) -> float:
    """Return the probability that a misconception is held, averaged over how often the apprentice may slip.

    The logarithms are summed exactly, so that the order of the answers says nothing.
    """
    held, not_held = [], []
    for slip, weight in slips.items():
        if_held, if_not = [math.log(PRIOR * weight)], [math.log((1.0 - PRIOR) * weight)]
        for one in evidence:
            if code in one.kinds:
                kind, chance = one.kinds[code], one.could[slip][code]
                if_held.append(math.log(max(chance.if_held[kind], _NEVER)))
                if_not.append(math.log(max(chance.if_not[kind], _NEVER)))
            else:
                likely = math.log(one.likely[slip])
                if_held.append(likely)
                if_not.append(likely)
        held.append(math.fsum(if_held))
        not_held.append(math.fsum(if_not))
    most = max(*held, *not_held)
    share, rest = (math.fsum(math.exp(log - most) for log in logs) for logs in (held, not_held))
    return share / (share + rest)
