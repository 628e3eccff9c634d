"""What becomes of each part: a grid of parts against what is done with them.

Asked is what is done with each part as it lies there: put in its place, moved over to the new part, thrown away, sent
away, left alone. That follows from its fate in the pack, which the question tells, and from what was found: a part may
be cracked, lie there new in its bag, or have come out although it stays. So the same part has one answer in one
question and another in the next.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from trainkit.items.difficulty import tens_of_words
from trainkit.items.facts import Draw
from trainkit.items.kept import once_a_pack
from trainkit.items.kinds import Given, GridItem, GridKey, Option
from trainkit.items.sequence.cards import Variant, lettered, variant, variants
from trainkit.items.sequence.example import OnExample
from trainkit.items.template import redraw_if
from trainkit.items.tightening.renewing import may_open
from trainkit.items.tightening.renewing import shown_by as shown_by_renewing
from trainkit.sentences import opening

if TYPE_CHECKING:
    from trainkit.packs import Pack, Part

ROWS = 6
# So many different columns are right at least, or one of them would be right too often; none is right more than
# so often.
KINDS, _MOST = 4, 2
# So many times parts are drawn for what is wished for.
_TRIES = 12
# How often what only one part can show is asked.
_ALONE = 0.75

BACK, OVER, AWAY, SENT, LEFT = "1", "2", "3", "4", "5"
# Always in this order, all of them: what an engine has none of is still thinkable.
COLUMNS: Mapping[str, str] = MappingProxyType(
    {
        BACK: "Put it in its place",
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
Found = Literal["usual", "cracked", "new", "out"]
# So many parts, at least and at most, are told of beside those asked about.
_BESIDE: Mapping[Found, tuple[int, int]] = MappingProxyType({"cracked": (1, 2), "new": (0, 2), "out": (0, 1)})
_WHY_FOUND: Mapping[Found, str] = MappingProxyType(
    {
        "cracked": "cracked. It is neither fitted nor sent away.",
        "new": "new. It goes where the old one was.",
        "out": "sound, and it belongs there: it came out by chance.",
    }
)
# Columns in which a part is used again.
_USED = frozenset((BACK, OVER, LEFT))
# What the question tells: what the sheet says of parts, then what was found.
_LINES: Mapping[str, Callable[[_Row], bool]] = MappingProxyType(
    {
        "To be used once only": lambda row: row.part.single_use,
        "To be thrown away": lambda row: row.part.fate == "discard",
        "To be renewed": lambda row: row.part.fate == "renew" and not row.part.single_use,
        "Missing on the new part": lambda row: row.part.fate == "transfer",
        "Goes for overhaul": lambda row: row.part.fate == "return",
        "Not to be taken off": lambda row: row.part.fate == "stays",
        "Found cracked": lambda row: row.found == "cracked",
        "Lies there new, in its bag": lambda row: row.found == "new",
        "Came out by chance, sound": lambda row: row.found == "out",
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
    'Put it in its place'
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


def found_so(part: Part, column: str) -> Mapping[Found, str]:
    """Return what may be found of a part, and what is done with it then.

    Parameters
    ----------
    part : Part
        The part.
    column : str
        What is done with it where nothing out of the ordinary is found.

    Examples
    --------
    >>> from trainkit.packs import Part
    >>> gasket = Part(id="a", name="gasket", fate="renew", single_use=True)
    >>> {found: COLUMNS[column] for found, column in found_so(gasket, AWAY).items()}
    {'usual': 'Throw it away', 'new': 'Put it in its place'}
    """
    if column == LEFT:
        return {"usual": LEFT, "out": BACK}
    if part.single_use and column == AWAY:
        return {"usual": AWAY, "new": BACK} if part.fate == "renew" else {"usual": AWAY}
    return {"usual": column, "cracked": AWAY}


def shown_by(part: Part, right: str, given: str, found: Found = "usual") -> str:
    """Return the misconception that a wrong column shows, or nothing.

    Parameters
    ----------
    part : Part
        The part.
    right, given : str
        The right column, and the one that was chosen.
    found : str, optional
        What was found of it.

    Examples
    --------
    >>> from trainkit.packs import Part
    >>> gasket = Part(id="a", name="gasket of a cover", fate="renew", single_use=True, seals=True)
    >>> shown_by(gasket, AWAY, BACK), shown_by(gasket, AWAY, SENT), shown_by(gasket, AWAY, BACK, "cracked")
    ('used-seal-good-enough', '', 'damage-overlooked')
    """
    if found == "cracked":
        return "damage-overlooked" if given in _USED else ""
    if found == "new":
        return ""
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
class _Row:
    """A part, what was found of it, and what is done with it."""

    part: Part
    found: Found
    column: str


@dataclass(frozen=True, slots=True)
class _Case:
    """The parts of one variant: what can be asked about, by its column, and new ones out of a box."""

    rows: Mapping[str, tuple[_Row, ...]]
    new: tuple[Part, ...]

    @property
    def parts(self) -> frozenset[str]:
        """The parts that can be asked about."""
        return frozenset(row.part.id for rows in self.rows.values() for row in rows)

    @property
    def enough(self) -> bool:
        """Whether a grid can be filled in which no column is right so often that it would be the best guess."""
        return len(self.parts) >= ROWS and len(self.rows) >= KINDS


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
        rows: dict[str, list[_Row]] = {}
        for part in parts:
            if usual := becomes(part, off, on):
                for state, column in found_so(part, usual).items():
                    rows.setdefault(column, []).append(_Row(part, state, column))
        found[name] = _Case(
            MappingProxyType({column: tuple(rows[column]) for column in COLUMNS if column in rows}),
            tuple(part for part in parts if part.id in on - off and part.fate == "renew"),
        )
    return MappingProxyType(found)


class FateOfParts(OnExample):
    """For each of several parts it is to be said what is done with it.

    Difficulty: the parts to judge; the different things that are done with them; the words to read, in tens.
    """

    name = "sequence/fate-of-parts"
    skill = "say what becomes of each part"
    kind = "grid"
    weights = MappingProxyType({"parts": 0.5, "fates": 0.5, "tens of words": 0.25})

    def __init__(self, wanted: Iterable[str] = ()) -> None:
        self._wanted = frozenset(wanted)

    def aimed(self, shows: Iterable[str], /) -> FateOfParts:
        """Return a template that draws parts again until a wrong column can show these."""
        return FateOfParts(shows)

    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random) -> Draw:
        """Draw once."""
        chosen = variant(rng, pack)
        for _ in range(_TRIES if self._wanted else 1):
            rows = _drawn(rng, chosen)
            if self._wanted <= {shown_by(row.part, row.column, given, row.found) for row in rows for given in COLUMNS}:
                break
        letters = lettered([row.part.id for row in rows], shuffle)
        named = {row.part.id: opening(row.part.name) for row in rows}
        told = (*_job(chosen), *_told([*rows, *_beside(rng, chosen, rows)]))
        item = GridItem(
            prompt="Everything lies on the bench. Below is what the sheet says of the parts, and what you found. "
            "A cracked part is neither fitted nor sent away. What do you do with each of these parts?",
            given=(*chosen.given, *told),
            rows=tuple(Option(id=letter, text=named[part]) for part, letter in letters.items()),
            columns=tuple(Option(id=column, text=text) for column, text in COLUMNS.items()),
        )
        wrong = [(row, given) for row in rows for given in COLUMNS if given != row.column]
        shows = {
            f"{letters[row.part.id]} {given}": code
            for row, given in wrong
            if (code := shown_by(row.part, row.column, given, row.found))
        }
        key = GridKey(
            template=self.name,
            working=(
                "Ask of each part: is it sound, may it be used again, and where is it needed afterwards?",
                *(f"{named[row.part.id]}. {COLUMNS[row.column]}." for row in rows),
            ),
            right={letters[row.part.id]: row.column for row in rows},
            shows=shows,
            # A joint that is held by a used locking part may open while the engine runs, and a cracked part may break.
            critical=tuple(
                f"{letters[row.part.id]} {given}"
                for row, given in wrong
                if _harms(row, shows.get(f"{letters[row.part.id]} {given}", ""))
            ),
            reasons={letters[row.part.id]: f"{named[row.part.id]}: {_why(row)}" for row in rows},
        )
        features = {
            "parts": len(rows),
            "fates": len({row.column for row in rows}),
            "tens of words": tens_of_words([*named.values(), *(line.value for line in told)]),
        }
        return Draw(item, key, features)


def _harms(row: _Row, code: str) -> bool:
    return code == "damage-overlooked" or (code == "single-use-reused" and may_open(row.part))


def _drawn(rng: random.Random, chosen: Variant) -> list[_Row]:
    """Draw what is asked: most columns once, some twice, so that each is right about as often as the others."""
    case = _cases(chosen.pack)[chosen.configuration]
    redraw_if(not case.enough)
    # What only one part of the engine can show does not stand in every question.
    counts = {column: int(len(rows) > 1 or rng.random() < _ALONE) for column, rows in case.rows.items()}
    for _ in range(ROWS):
        room = [column for column, count in counts.items() if 0 < count < min(_MOST, len(case.rows[column]))]
        if sum(counts.values()) >= ROWS:
            break
        redraw_if(not room)
        counts[rng.choice(room)] += 1
    redraw_if(sum(counts.values()) != ROWS)
    taken: list[_Row] = []
    # Where there are few to choose from, they are chosen first.
    for column in sorted(case.rows, key=lambda each: len(case.rows[each])):
        for _ in range(counts[column]):
            asked = {row.part.id for row in taken}
            open_to = [row for row in case.rows[column] if row.part.id not in asked]
            redraw_if(not open_to)
            # Each thing that may be found as often, however many parts it may be found of.
            found = rng.choice(list(dict.fromkeys(row.found for row in open_to)))
            taken.append(rng.choice([row for row in open_to if row.found == found]))
    return taken


def _beside(rng: random.Random, chosen: Variant, rows: Sequence[_Row]) -> Iterator[_Row]:
    """Draw parts that are told of and not asked about: whoever answers has to look, not to count the lines."""
    asked = {row.part.id for row in rows}
    found = [row for each in _cases(chosen.pack)[chosen.configuration].rows.values() for row in each]
    for state, counts in _BESIDE.items():
        for _ in range(rng.randint(*counts)):
            others = [row for row in found if row.found == state and row.part.id not in asked]
            if others:
                row = rng.choice(others)
                asked.add(row.part.id)
                yield row


def _job(chosen: Variant) -> Iterator[Given]:
    """Say what the job is and what lies ready for it: without that nobody could know what is to move over."""
    yield Given(label="The job", value=_FIRST_SENTENCE.split(chosen.pack.engine.job, 1)[0])
    new = _cases(chosen.pack)[chosen.configuration].new
    if new:
        yield Given(label="Ready on the bench", value="; ".join(part.name for part in new))


def _told(rows: Iterable[_Row]) -> Iterator[Given]:
    """Say what the sheet says of parts, and what was found; what stands in no line is sound and goes back."""
    listed = sorted(rows, key=lambda row: row.part.name)
    for label, holds in _LINES.items():
        names = [row.part.name for row in listed if holds(row)]
        if names:
            yield Given(label=label, value="; ".join(names))


def _why(row: _Row) -> str:
    if row.found != "usual":
        return _WHY_FOUND[row.found]
    if row.column == AWAY and row.part.single_use:
        return "used once only, then renewed."
    if row.column == AWAY and row.part.fate == "renew":
        return "renewed here."
    return _WHY[row.column]
