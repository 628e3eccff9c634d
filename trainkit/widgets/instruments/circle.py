"""The bolts of a joint, tightened one after the other, and how unevenly they pull at the part meanwhile."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit.errors import ItemError, ResponseError
from trainkit.gears import Clock
from trainkit.items.tightening.joints import Bolts, pattern_of
from trainkit.sentences import listed, opening
from trainkit.widgets.hearing import Message, Reply
from trainkit.widgets.instruments.base import Instrument

if TYPE_CHECKING:
    from trainkit.packs import Fastener, Pack
    from trainkit.tightening import Pattern


_NOTHING = 0.005  # less is written as 0.00


class BoltsTightened(Instrument):
    """The joints of a pack whose bolts sit so that one order is better than another.

    Parameters
    ----------
    pack : Pack
        The engine.
    fastener : str, optional
        The joint to begin with; by default the one with the most bolts near a circle.

    Raises
    ------
    ItemError
        If the pack has no such joint, or not the one that is named.
    """

    kind = "bolts"
    heading = "Tighten bolt after bolt, evenly"

    def __init__(self, pack: Pack, fastener: str = "") -> None:
        super().__init__()
        self.pack = pack
        self.patterns: dict[str, Pattern] = {
            each.id: pattern for each in pack.fasteners if (pattern := pattern_of(each)) is not None
        }
        # The first of the largest for which a key of one digit each is enough, those near a circle before long joints.
        found = self.patterns
        order = sorted(found, key=lambda name: (found[name].shape != "circle", len(found[name]) > 9, -len(found[name])))
        if not order or fastener not in ("", *order):
            raise ItemError(
                fastener or pack.name,
                rule="This needs a joint of three or more bolts whose places make one order better than another.",
                remedy="Give pattern and spread_mm of a [[fasteners]] table, or name another fastener.",
            )
        self.joints = order
        self._put(fastener or order[0])

    def _put(self, joint: str) -> None:
        self.joint = joint
        self.done: list[str] = []
        self.hint = False

    @property
    def fastener(self) -> Fastener:
        """The joint as it stands in the pack."""
        return self.pack.fastener(self.joint)

    @property
    def pattern(self) -> Pattern:
        """Where its bolts sit."""
        return self.patterns[self.joint]

    @property
    def lead(self) -> tuple[str, ...]:
        """What it shows, and how it is used."""
        return (
            "Choose the next bolt. All are taken to the same stage; see how unevenly they pull at the part meanwhile.",
            "The unbalanced moment pulls the part over to one side. 1 is what one bolt alone does.",
        )

    def _answer(self, message: Message) -> Reply:
        ways = {
            "tighten": self._tighten,
            "undo": self._undo,
            "again": self._again,
            "hint": self._show,
            "joint": self._change,
        }
        way = ways.get(str(message.get("type")))
        if way is None:
            return super()._answer(message)
        way(message)
        return {"type": "tightened", "joint": self.settled()}

    def _tighten(self, message: Message) -> None:
        bolt, so_far = message.get("bolt"), message.get("so_far")
        # A press may come twice where an answer was lost: it must not count twice.
        if so_far != len(self.done):
            return
        if bolt not in self.pattern.names or bolt in self.done:
            raise ResponseError(
                bolt, rule="Only a bolt that is not tightened yet comes next.", remedy="Choose another one."
            )
        self.done.append(str(bolt))
        self.hint = False

    def _undo(self, message: Message) -> None:
        if message.get("so_far") == len(self.done):
            del self.done[-1:]
            self.hint = False

    def _again(self, _: Message) -> None:
        self._put(self.joint)

    def _show(self, _: Message) -> None:
        self.hint = True

    def _change(self, message: Message) -> None:
        joint = message.get("joint")
        if joint not in self.joints:
            raise ResponseError(
                joint, rule="Only the joints that are shown can be chosen.", remedy="Choose one of them."
            )
        self._put(str(joint))

    def settled(self) -> dict[str, Any]:
        """Return the joint as it stands, as plain JSON data."""
        picture, finished = self._figure(), len(self.done) == len(self.pattern)
        return {
            "id": self.joint,
            "figure": picture.svg,
            "words": picture.text,
            "bolts": [{"id": name, "done": name in self.done} for name in self.pattern.names],
            "noun": Bolts(self.fastener).noun,
            "count": len(self.done),
            "said": self._said(),
            "log": [self._line(count) for count in range(1, len(self.done) + 1)],
            "hint": self._hint() if self.hint and not finished else "",
            "verdict": self._verdict() if finished else [],
        }

    @property
    def _round(self) -> bool:
        return self.pattern.shape == "circle"

    def _said(self) -> str:
        """Return what the last bolt did."""
        if not self.done:
            return "Nothing is tightened yet."
        words = Bolts(self.fastener)
        if not self._round:
            inner = [name for name in self.pattern.best_next(self.done[:-1]) if name != self.done[-1]]
            head = f"{words.some(self.done[-1:])} is tightened."
            if self.done[-1] in self.pattern.best_next(self.done[:-1]):
                return f"{head} None that is left lies nearer to the middle."
            return f"{head} {words.some(inner)} nearer to the middle waited: the part may be bowed there."
        pull = self.pattern.pull(self.done)
        return f"{words.some(self.done[-1:])} is tightened. {_moment(pull.x, pull.y)} {_saddle(pull.second)}"

    def _line(self, count: int) -> str:
        done = self.done[:count]
        name = Bolts(self.fastener).some(done[-1:])
        if not self._round:
            return name
        pull = self.pattern.pull(done)
        return f"{name}: moment {pull.moment + 0.0:.2f}, second harmonic {pull.second + 0.0:.2f}"

    @property
    def _printed(self) -> list[str]:
        """The order that the pack prints: that order counts, whatever the picture says."""
        return [str(place) for place in self.fastener.order]

    def _hint(self) -> str:
        if printed := self._printed:
            left = next(bolt for bolt in printed if bolt not in self.done)
            return f"The manual prints the order {', '.join(printed)}: {Bolts(self.fastener).noun} {left}."
        best = self.pattern.best_next(self.done)
        words = Bolts(self.fastener)
        if len(best) == len(self.pattern) - len(self.done):
            return f"Any {words.noun} that is left does as well as any other."
        what = "evens it out best" if self._round else "lies nearest to the middle"
        names = listed(best, "or")
        return f"{opening(words.noun)} {names} {what}."

    def _verdict(self) -> list[str]:
        if printed := self._printed:
            if self.done == printed:
                return ["All are tightened, in the order that the manual prints."]
            return ["All are tightened.", f"The manual prints another order, which counts: {', '.join(printed)}."]
        verdict = self.pattern.judge(self.done)
        if verdict.is_best:
            return ["All are tightened. No order is more even than yours."]
        return [
            "All are tightened.",
            f"A more even order: {', '.join(self.pattern.best_order())}.",
            "Go back a bolt, or start again, and compare.",
        ]

    def _more(self) -> dict[str, Any]:
        return {
            "joints": [
                {"id": name, "text": f"{self.pack.fastener(name).name} ({len(self.patterns[name])})"}
                for name in self.joints
            ],
            "joint": self.settled(),
        }

    def _figure(self) -> figures.Picture:
        joint = self.fastener
        circle = joint.spread_mm if joint.pattern == "circle" else None
        data = figures.bolts_figure(
            self.pattern, self.done, circle=circle, noun=Bolts(joint).noun, nouns=Bolts(joint).nouns
        )
        if self._round:
            pull = self.pattern.pull(self.done)
            data["pull"] = [round(pull.x, 6), round(pull.y, 6)]
        return figures.Picture(data)

    def _facts(self) -> list[tuple[str, str]]:
        joint = ("Joint", f"{self.fastener.name} ({len(self.pattern)})")
        if printed := self._printed:
            return [joint, ("Printed order", ", ".join(printed))]
        return [joint, ("One of the most even orders", ", ".join(self.pattern.best_order()))]


def _moment(x: float, y: float) -> str:
    size = math.hypot(x, y)
    if size < _NOTHING:
        return "Unbalanced moment 0.00: nothing pulls the part over."
    return f"Unbalanced moment {size:.2f}, towards {Clock.at(round(math.degrees(math.atan2(x, y)), 3))} on the clock."


def _saddle(second: float) -> str:
    if second < _NOTHING:
        return "Second harmonic 0.00: the part is not bent."
    how = "a little" if second < 1.5 else "clearly"
    return f"Second harmonic {second:.2f}: the part is {how} bent, like a saddle."
