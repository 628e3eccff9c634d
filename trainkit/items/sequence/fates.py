"""What becomes of each part: a grid of parts against what is done with them.

Asked is what is done with the part that came off, or would have come off: back in its place, over to the new part,
thrown away, sent away, left alone. So a part that is renewed and one that is only thrown away are the same case, and
a new part out of its box is no case at all.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.errors import ItemError
from trainkit.items.difficulty import tens_of_words
from trainkit.items.facts import Draw
from trainkit.items.kept import once_a_pack
from trainkit.items.kinds import Given, GridItem, GridKey, Option
from trainkit.items.sequence.cards import Variant, lettered, variant, variants
from trainkit.items.template import Template, redraw_if
from trainkit.items.tightening.renewing import may_open
from trainkit.items.tightening.renewing import shown_by as shown_by_renewing
from trainkit.sentences import opening

if TYPE_CHECKING:
    from trainkit.packs import Pack, Part

ROWS = 6
# So many different columns are right at least; a grid with one right column everywhere asks nothing.
KINDS = 3

BACK, OVER, AWAY, SENT, LEFT = "1", "2", "3", "4", "5"
# Always in this order, all of them: what an engine has none of is still thinkable.
COLUMNS: Mapping[str, str] = MappingProxyType(
    {
        BACK: "Put it back in its place",
        OVER: "Move it over to the new part",
        AWAY: "Throw it away",
        SENT: "Send it away for overhaul",
        LEFT: "Leave it where it is",
    }
)
_COLUMN_OF = MappingProxyType(
    {"refit": BACK, "transfer": OVER, "renew": AWAY, "discard": AWAY, "return": SENT, "stays": LEFT}
)
_WHY = MappingProxyType(
    {
        BACK: "a sound part goes back.",
        OVER: "needed on the new part, so moved over from the old one.",
        AWAY: "not fitted again by any step.",
        SENT: "no scrap. Sent away whole and labelled, for overhaul.",
        LEFT: "not taken off by any step.",
    }
)
# The rest of a job says how it is done. A stop after a short word is an abbreviation, as in "set No. 4".
_FIRST_SENTENCE = re.compile(r"(?<=[a-z]{3}[.])\s+(?=[A-Z])")


def becomes(part: Part, off: Iterable[str], on: Iterable[str]) -> str:
    """Return the column of a part where the steps bear out its fate, else nothing.

    Parameters
    ----------
    part : Part
        The part, with its fate.
    off, on : iterable of str
        Identifiers of all parts that a step takes off, and of those that a step fits.

    Examples
    --------
    >>> from trainkit.packs import Part
    >>> cover = Part(id="cover", name="cover", fate="refit")
    >>> COLUMNS[becomes(cover, ["cover"], ["cover"])]
    'Put it back in its place'
    >>> becomes(cover, [], [])  # somebody could say just as well that it stays
    ''
    """
    column = _COLUMN_OF.get(part.fate or "", "")
    moves = part.id in off, part.id in on
    borne_out = {
        BACK: moves == (True, True) and not part.single_use,
        OVER: moves == (True, True) and not part.single_use,
        # A new part out of its box is never taken off: nothing becomes of it.
        AWAY: moves[0],
        SENT: moves == (True, False),
        LEFT: moves == (False, False),
    }
    return column if column and borne_out[column] else ""


def shown_by(part: Part, right: str, given: str) -> str:
    """Return the misconception that a wrong column shows, or nothing.

    Parameters
    ----------
    part : Part
        The part.
    right, given : str
        The right column, and the one that was chosen.

    Examples
    --------
    >>> from trainkit.packs import Part
    >>> gasket = Part(id="a", name="gasket of a cover", fate="renew", single_use=True, seals=True)
    >>> shown_by(gasket, AWAY, BACK), shown_by(gasket, AWAY, SENT)
    ('used-seal-good-enough', '')
    """
    if right == AWAY:
        return shown_by_renewing(part) if part.single_use and given != SENT else ""
    if right in (BACK, OVER) and given == AWAY:
        return "renews-everything"
    if right == OVER and given in (SENT, LEFT):
        return "left-on-old-part"
    if right == SENT and given == AWAY:
        return "old-unit-scrapped"
    if right == LEFT and given != LEFT:
        return "stripped-too-far"
    return ""


@dataclass(frozen=True, slots=True)
class _Case:
    """The parts of one variant: those that can be asked about, each with its column, and new ones out of a box."""

    pool: tuple[tuple[Part, str], ...]
    new: tuple[Part, ...]

    @property
    def columns(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(column for _, column in self.pool))

    @property
    def enough(self) -> bool:
        return len(self.pool) >= ROWS and len(self.columns) >= KINDS


@once_a_pack
def _cases(pack: Pack) -> Mapping[str, _Case]:
    """Return the parts of each variant."""
    found = {}
    for name, chosen in variants(pack).items():
        steps = [pack.step(step) for step in chosen.procedure.steps]
        off = {part for step in steps for part in step.takes_off}
        on = {part for step in steps for part in step.fits}
        here = {part for step in steps for part in step.parts}
        # A part of another variant is not on this engine, whatever its fate; one that no step names is on all.
        elsewhere = {part for step in pack.steps for part in step.parts} - here
        parts = [part for part in pack.parts if part.id not in elsewhere]
        found[name] = _Case(
            tuple((part, column) for part in parts if (column := becomes(part, off, on))),
            tuple(part for part in parts if part.id in on - off and part.fate == "renew"),
        )
    return MappingProxyType(found)


class FateOfParts(Template):
    """For each of several parts it is to be said what is done with it.

    Difficulty: the parts to judge; the different things that are done with them; the words to read, in tens.
    """

    name = "sequence/fate-of-parts"
    skill = "say what becomes of each part"
    kind = "grid"
    weights = MappingProxyType({"parts": 0.5, "fates": 0.5, "tens of words": 0.5})

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> Draw:
        """Draw once."""
        chosen = variant(rng, pack)
        parts = _drawn(rng, self.name, chosen)
        letters = lettered([part.id for part in parts], shuffle)
        named = {part.id: opening(part.name) for part in parts}
        item = GridItem(
            prompt="The job is done from beginning to end. What do you do with each of these parts?",
            given=(*chosen.given, *_told(chosen)),
            rows=tuple(Option(id=letter, text=named[part]) for part, letter in letters.items()),
            columns=tuple(Option(id=column, text=text) for column, text in COLUMNS.items()),
        )
        wrong = [(part, right, given) for part, right in parts.items() for given in COLUMNS if given != right]
        shows = {
            f"{letters[part.id]} {given}": code
            for part, right, given in wrong
            if (code := shown_by(part, right, given))
        }
        why = {part.id: f"{named[part.id]}: {_why(part, right)}" for part, right in parts.items()}
        key = GridKey(
            template=self.name,
            working=(
                "Ask of each part: does it come off, does it serve once only, and where is it needed afterwards?",
                *(f"{named[part.id]}. {COLUMNS[right]}." for part, right in parts.items()),
            ),
            right={letters[part.id]: right for part, right in parts.items()},
            shows=shows,
            # A joint that is held by a used locking part may open while the engine runs.
            critical=tuple(
                pair
                for part, _, given in wrong
                if shows.get(pair := f"{letters[part.id]} {given}") == "single-use-reused" and may_open(part)
            ),
            reasons={letters[part]: text for part, text in why.items()},
        )
        features = {
            "parts": len(parts),
            "fates": len(set(parts.values())),
            "tens of words": tens_of_words(named.values()),
        }
        return Draw(item, key, features)


def _drawn(rng: random.Random, name: str, chosen: Variant) -> dict[Part, str]:
    """Draw parts, each with its column: one of each of three columns, then any."""
    cases = _cases(chosen.pack)
    if not any(case.enough for case in cases.values()):
        raise ItemError(
            chosen.pack.name,
            rule=f"The template {name} found no draw: it needs {ROWS} parts with {KINDS} fates that steps carry out.",
            remedy="Name more parts in takes_off and fits of the steps, or leave the template out of the blueprint.",
        )
    case = cases[chosen.configuration]
    redraw_if(not case.enough)
    taken = [
        rng.choice([entry for entry in case.pool if entry[1] == column]) for column in rng.sample(case.columns, KINDS)
    ]
    rest = [entry for entry in case.pool if entry not in taken]
    return dict([*taken, *rng.sample(rest, ROWS - KINDS)])


def _told(chosen: Variant) -> Iterator[Given]:
    """Say what the job is and what lies ready for it: without that nobody could know what is to move over."""
    yield Given(label="The job", value=_FIRST_SENTENCE.split(chosen.pack.engine.job, 1)[0])
    new = _cases(chosen.pack)[chosen.configuration].new
    if new:
        yield Given(label="Ready on the bench", value="; ".join(part.name for part in new))


def _why(part: Part, column: str) -> str:
    if column == AWAY and part.single_use:
        return "used once only, then renewed."
    if column == AWAY and part.fate == "renew":
        return "renewed here."
    return _WHY[column]
