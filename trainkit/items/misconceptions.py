"""Wrong rules of thought that are recognised, each with what it shows and the step that cures it.

The catalogue is data; the rules themselves, as functions of the same inputs as the right answer, stand with the
templates that use them. Every cure ends by sending the reader to the condition, the value and the tool that the
manual states: nobody is to work out their own torque on a real engine.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from functools import cache

from trainkit.errors import ItemError

MANUAL = "On the job, use the condition, the value and the tool that the manual states."

# Each home holds MISCONCEPTIONS, a tuple of Misconception.
_HOMES = (
    "trainkit.items.torque_units",
    "trainkit.items.tightening",
    "trainkit.items.lock_pin",
    "trainkit.items.sequence",
    "trainkit.items.turning_direction",
    "trainkit.items.lash_and_timing",
    "trainkit.items.capstone",
)


@dataclass(frozen=True, slots=True)
class Misconception:
    """One recognised wrong rule.

    Parameters
    ----------
    code : str
        Short and unique, words joined by hyphens: ``"inverse-factor"``.
    area : str
        The module it belongs to.
    shows : str
        What an answer of this sort shows, said to the apprentice: a whole, kind sentence.
    cure : str
        The worked step that puts it right, whole sentences; :data:`MANUAL` is added by :meth:`advice`.
    veiled : str
        What is told in the place of both while another attempt is open, to somebody who gave one option or number:
        only where ``shows`` or ``cure`` would then say what is right.
    """

    code: str
    area: str
    shows: str
    cure: str
    veiled: str = ""

    def advice(self) -> str:
        """Return what is shown, the cure and the reminder that the manual decides."""
        return f"{self.shows} {self.cure} {MANUAL}"

    def method(self, *, single: bool = False) -> str:
        """Return what may be told of it while another attempt is open.

        Parameters
        ----------
        single : bool
            Whether the answer is one thing, an option or a number, so that what it shows could say what is right.

        Examples
        --------
        >>> rounds = Misconception("rounds-down", "torque-units", "This goes down.", "Go up.", veiled="Look both ways.")
        >>> rounds.method().startswith("This goes down. Go up."), rounds.method(single=True).startswith("Look both")
        (True, True)
        """
        return f"{self.veiled} {MANUAL}" if single and self.veiled else self.advice()


# What an answer to any number can show, whatever the module.
GENERAL = (
    Misconception(
        code="right-number-wrong-unit",
        area="torque-units",
        shows="The number is right, but for another unit.",
        cure="Write down the unit first, then the number, and read both aloud before setting the wrench.",
    ),
)


@cache
def all_misconceptions() -> dict[str, Misconception]:
    """Return the whole catalogue by code."""
    found = {entry.code: entry for entry in GENERAL}
    for home in _HOMES:
        for entry in importlib.import_module(home).MISCONCEPTIONS:
            if entry.code in found:
                raise ItemError(entry.code, rule="A misconception has one home.", remedy="Rename one of the two.")
            found[entry.code] = entry
    return found


def both_advice(first: str, second: str) -> str:
    """Return what an answer shows that two wrong rules lead to together, both cures and the reminder of the manual.

    Examples
    --------
    >>> both_advice("inch-for-foot", "rounds-down").startswith("Two things come together here. This answer reads inch")
    True
    """
    found = [misconception(code) for code in (first, second)]
    told = " ".join(f"{entry.shows} {entry.cure}" for entry in found)
    return f"Two things come together here. {told} {MANUAL}"


def misconception(code: str) -> Misconception:
    """Return one entry of the catalogue.

    Raises
    ------
    ItemError
        If there is none of that code.
    """
    try:
        return all_misconceptions()[code]
    except KeyError:
        raise ItemError(code, rule="The catalogue has no such misconception.", remedy="Add it to its module.") from None
