"""Simulated apprentices: they answer through the public response types and the same journal code as people do.

Each has a skill, slips now and then, guesses or leaves out what they do not know, and may hold misconceptions: stated
wrong rules of thought that show in every item which can show them. They know the keys only as a person knows a trade:
what they write goes through the journal and is marked like any other answer. All of it follows from a seed.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from trainkit.forms import Form
from trainkit.items.kinds import Item, Key, Response
from trainkit.journal import JOURNAL_FILE, Journal
from trainkit_grading.cli.simulate.ways import showing, showing_both, ways_of


@dataclass(frozen=True, slots=True)
class Habits:
    """How a simulated apprentice answers.

    Parameters
    ----------
    skill : float
        Chance to know the answer to an item, 0 to 1.
    slip : float
        Chance that a known answer goes wrong in the writing: a digit, two neighbouring cards, one action too many.
    guess : float
        Chance to guess at what is not known, instead of leaving it out.
    misconceptions : frozenset of str
        Codes of the misconceptions that are held.
    second_thoughts : float
        Chance to answer an item twice; the later answer counts.
    hold : float
        How often a held misconception shows where it can; 1 for always.
    """

    skill: float = 0.8
    slip: float = 0.04
    guess: float = 0.8
    misconceptions: frozenset[str] = frozenset()
    second_thoughts: float = 0.15
    hold: float = 0.85


def cohort(size: int, codes: Sequence[str], rng: random.Random) -> tuple[Habits, ...]:
    """Return the habits of a whole cohort: most know most of it, about half hold a misconception or two.

    Parameters
    ----------
    size : int
        How many.
    codes : sequence of str
        Misconceptions that can be held.
    rng : random.Random
        Seeded by the caller.

    Examples
    --------
    >>> len(cohort(3, ["inverse-factor"], random.Random(1)))
    3
    """
    people = []
    for _ in range(size):
        held = rng.sample(sorted(codes), min(len(codes), rng.choice((0, 0, 0, 1, 1, 2))))
        people.append(
            Habits(
                skill=round(0.45 + 0.5 * rng.betavariate(4, 2), 3),
                slip=round(rng.uniform(0.02, 0.08), 3),
                guess=round(rng.uniform(0.6, 0.95), 3),
                misconceptions=frozenset(held),
            )
        )
    return tuple(people)


def answer_form(
    folder: Path,
    form: Form,
    keys: Mapping[str, Key],
    habits: Habits,
    seed: str,
    *,
    course: str,
    module: str,
    apprentice: str,
    start: datetime,
) -> int:
    """Answer all items of a form in a workbook's folder, and return how many answers were written.

    Items that have an answer in the journal are passed over, so that a run that was cut off goes on.

    Parameters
    ----------
    folder : Path
        The apprentice's folder.
    form : Form
        What is asked.
    keys : mapping of str to Key
        Keys by item.
    habits : Habits
        Who answers.
    seed : str
        The same seed gives the same answers, item by item.
    course, module, apprentice : str
        As the workbook writes them into the journal.
    start : datetime
        When the first answer is given, with its time zone.
    """
    now = start
    journal = Journal(
        folder / JOURNAL_FILE,
        course=course,
        module=module,
        form=form.code,
        apprentice=apprentice,
        clock=lambda: now,
    )
    answered = journal.latest()
    written = 0
    for entry in form.items:
        # A stream of its own for each item: what was answered before does not change what comes.
        rng = random.Random(f"{seed}/{module}/{apprentice}/{entry.id}")  # noqa: S311 - invented answers, no secret
        now += timedelta(seconds=rng.randint(25, 140))
        if entry.id in answered:
            continue
        times = 2 if rng.random() < habits.second_thoughts else 1
        for _ in range(times):
            given = answer(entry.item, keys[entry.id], habits, rng)
            if given is not None:
                journal.append(entry.id, given)
                written += 1
                now += timedelta(seconds=rng.randint(5, 40))
    return written


def answer(item: Item, key: Key, habits: Habits, rng: random.Random) -> Response | None:
    """Return what a simulated apprentice answers, or None where they leave it out.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> from trainkit.items.kinds import ChoiceKey
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> key = ChoiceKey(template="t/t", working=("On.",), right="a")
    >>> answer(item, key, Habits(skill=1.0, slip=0.0), random.Random(1))
    ChoiceResponse(kind='choice', option='a')
    """
    ways = ways_of(key.kind)
    if ways is None:
        return None
    held = sorted(habits.misconceptions & shown_by(key))
    if held and rng.random() < habits.hold:
        both = showing_both(item, key, habits.misconceptions, rng) if rng.random() < habits.hold else None
        wrong = both or showing(item, key, rng.choice(held), rng)
        if wrong is not None:
            return wrong
    if rng.random() < habits.skill:
        return ways.slipped(item, key, rng) if rng.random() < habits.slip else ways.right(item, key, rng)
    return ways.guessed(item, rng) if rng.random() < habits.guess else None


def shown_by(key: Key) -> frozenset[str]:
    """Return the misconceptions that an answer to this key's item can show; all of its area for a scenario."""
    ways = ways_of(key.kind)
    return frozenset() if ways is None else frozenset(ways.shown(key))
