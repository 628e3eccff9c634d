"""Diagnosis: for each misconception the probability that an apprentice holds it, from all answers that could show it.

What an item could have shown comes from its key (:func:`chances`), what an answer showed from marking it
(:func:`seen`), and :func:`diagnose` puts the answers of one apprentice together.

The model
---------
Each misconception is judged by itself, by Bayes' rule: before any answer it is held with the probability
:data:`PRIOR`, and every answer that could have shown it multiplies the odds by how much more likely such an answer is
from somebody who holds it. An answer comes about in one of two ways:

- It is a slip or a guess: any wrong answer, by chance. What part of the wrong answers shows the misconception is
  counted off the key. How often somebody slips is not known beforehand (:data:`SLIPS`): the result is averaged over
  it, each frequency weighed by how well it agrees with all answers. So the answers of somebody who is often wrong, in
  whatever way, count for less.
- Otherwise it is thought out. A held misconception then shows with the probability :data:`HOLD`, in a played scenario
  with :data:`HOLD_IN_PLAY`, because a play need not come by the place where it matters. Where the item could have
  shown others too, one of these may be held as well; of two that are held, each shows half of the time. A number that
  two wrong rules lead to together counts as shown for both, each as if it had shown alone. Whoever thinks and shows
  nothing is right.

So a right answer speaks against a misconception, one that shows another speaks against it a little, and one that shows
nothing known says no more than how careful the apprentice is. A misconception is *held* (:attr:`Diagnosis.held`) only
where the probability is at least :data:`LABEL` **and** at least :data:`LEAST` answers show it: one answer alone never
makes one.

Its limits
----------
The probabilities of the model are judgement (common practice, no source). Misconceptions are taken as independent of
each other, and answers too once it is given what is held: whoever has just been told better in practice no longer
fits, and two questions about the same pair of steps count as two answers. A wrong idea that is in no catalogue shows as
nothing, or as the misconception that happens to give the same answer; held firmly enough, it is then taken for that
one. What an order or a place shows is what marking names first; others that it breaks as well count as not shown.
Texts and observed work are judged by a person and do not come in.

Examples
--------
>>> from trainkit.items.kinds import ChoiceItem, Option
>>> from trainkit.items.kinds import ChoiceKey
>>> from trainkit.items.kinds import ChoiceResponse
>>> item = ChoiceItem(prompt="How far?", options=tuple(Option(id=name, text=name) for name in "abc"))
>>> key = ChoiceKey(template="t/t", working=("So far.",), right="a", shows={"b": "inverse-ratio", "c": "one-to-one"})
>>> given = ChoiceResponse(option="b")
>>> (found, other) = diagnose([Answer("A1", item, key, given)])
>>> found.misconception, round(found.probability, 2), found.chances, found.held
('inverse-ratio', 0.22, 1, False)
>>> (found, other) = diagnose([Answer(name, item, key, given) for name in ("A1", "A2", "A3")])
>>> found.misconception, round(found.probability, 2), found.shown, found.held
('inverse-ratio', 0.92, ('A1', 'A2', 'A3'), True)
"""

from __future__ import annotations

from trainkit_grading.diagnosis.chances import HOLD, HOLD_IN_PLAY, PRIOR, SLIP, Chance, Met, chances, seen
from trainkit_grading.diagnosis.findings import LABEL, LEAST, SLIPS, Answer, Diagnosis, diagnose

__all__ = [
    "HOLD",
    "HOLD_IN_PLAY",
    "LABEL",
    "LEAST",
    "PRIOR",
    "SLIP",
    "SLIPS",
    "Answer",
    "Chance",
    "Diagnosis",
    "Met",
    "chances",
    "diagnose",
    "seen",
]
