"""Diagnosis: for each misconception the probability that an apprentice holds it, from all answers that could show it.

What an item could have shown comes from its key (:func:`chances`), what an answer showed from marking it
(:func:`seen`), and :func:`diagnose` puts the answers of one apprentice together.

The model
---------
Each misconception is judged by itself, by Bayes' rule: before any answer it is held with the probability
:data:`PRIOR`, and every answer that could have shown it multiplies the odds by how much more likely such an answer is
from somebody who holds it. An answer comes about in one of two ways:

- With the probability :data:`SLIP` it is a slip or a guess: any wrong answer, by chance. What part of the wrong
  answers shows the misconception is counted off the key.
- Otherwise it is thought out. A held misconception then shows with the probability :data:`HOLD`, in a played scenario
  with :data:`HOLD_IN_PLAY`, because a play need not come by the place where it matters. Where the item could have
  shown others too, one of these may be held as well; of two that are held, each shows half of the time. Whoever
  thinks and shows nothing is right.

So a right answer speaks against a misconception, one that shows another speaks against it a little, and one that shows
nothing known says nothing. A finding is *held* (:attr:`Finding.held`) only where the probability is at least
:data:`LABEL` **and** at least :data:`LEAST` answers show it: one answer alone never makes one.

Its limits
----------
The three probabilities are judgement (common practice, no source), the same for everybody; an apprentice who guesses
far more often than one answer in ten is labelled too soon. Misconceptions are taken as independent of each other,
and answers too once it is given what is held: whoever has just been told better in practice no longer fits. A wrong
idea that is in no catalogue shows as nothing, or as the misconception that happens to give the same answer. Texts and
observed work are judged by a person and do not come in.

Examples
--------
>>> from trainkit.items.item import ChoiceItem, Option
>>> from trainkit.items.key import ChoiceKey
>>> from trainkit.items.responses import ChoiceResponse
>>> item = ChoiceItem(prompt="How far?", options=tuple(Option(id=name, text=name) for name in "abc"))
>>> key = ChoiceKey(template="t/t", working=("So far.",), right="a", shows={"b": "inverse-ratio", "c": "one-to-one"})
>>> given = ChoiceResponse(option="b")
>>> (found, other) = diagnose([Answer("A1", item, key, given)])
>>> found.misconception, round(found.probability, 2), found.chances, found.held
('inverse-ratio', 0.25, 1, False)
>>> (found, other) = diagnose([Answer(name, item, key, given) for name in ("A1", "A2", "A3")])
>>> found.misconception, round(found.probability, 2), found.shown, found.held
('inverse-ratio', 0.99, ('A1', 'A2', 'A3'), True)
"""

from __future__ import annotations

from trainkit_grading.diagnosis.chances import HOLD, HOLD_IN_PLAY, PRIOR, SLIP, Chance, Kind, chances, seen
from trainkit_grading.diagnosis.findings import LABEL, LEAST, Answer, Finding, diagnose

__all__ = [
    "HOLD",
    "HOLD_IN_PLAY",
    "LABEL",
    "LEAST",
    "PRIOR",
    "SLIP",
    "Answer",
    "Chance",
    "Finding",
    "Kind",
    "chances",
    "diagnose",
    "seen",
]
