"""Wrong rules of thought that give a number, in what is typed and in what is set."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from trainkit.items.marks import Mark, not_yet
from trainkit.items.misconceptions import misconception

if TYPE_CHECKING:
    from trainkit.items.kinds.values import NumberRule, Shown


# The last digits of a conversion must not decide: a billionth of the answer is far below any wrench.
SLACK = 1e-9
# A number that was written down by slip or guess is seldom that of a given rule, but people do take numbers that stand
# there. No source.
NUMBER_MET = 0.05


def slip(item: Shown, shown: str) -> Mark:
    """Return the mark of a number that a wrong rule gives; what is told of a rule holds nothing that was drawn."""
    found = misconception(shown)
    return not_yet(item, found.advice(), shown, method=found.method(single=True))


def recognised(rules: Sequence[NumberRule], near: Callable[[float], bool]) -> str | None:
    """Return the code of the first wrong rule that gives a number near to what was given."""
    return next((rule.misconception for rule in rules if near(rule.value)), None)
