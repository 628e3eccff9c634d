"""The bolts of a joint, tightened one after the other, and how a part on a soft seal tilts and gapes meanwhile.

The screen follows each press with the numbers and the formulas of :mod:`trainkit.tightening.seating`. Which bolt comes
next, and which order is the most even, is worked out here when it is asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit.errors import ItemError, ResponseError
from trainkit.items.tightening.joints import BY_HAND, Bolts, schedule, stages_of
from trainkit.sentences import listed, opening, with_unit
from trainkit.tightening import Pattern, Seat, preload_shares
from trainkit.widgets.hearing import Message, Reply, unknown
from trainkit.widgets.instruments.base import Instrument

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainkit.packs import Fastener, Pack


_MOST = 24  # bolts that a picture has room for
_FEW = 9  # a key of one digit each

_LEAD = (
    "Tighten the bolts in an order of your own, and watch the part tilt and gape. Loosen all, try another order, and "
    "compare.",
    "A training part on a soft seal stands here for the real one. How soft it is has been invented, and gaps are drawn "
    "larger than they are: it shows which way things go, never how far.",
)
_HOW = (
    "Press a bolt in the picture, its button, or the key with its number; with Shift it is loosened. A bolt at its "
    "last stage is tightened to it again. Drag the picture, or use the arrow keys on it, to look from another side."
)
_BOWS = "A long part also bows, which this stiff one does not show."


class BoltsTightened(Instrument):
    """The joints of a pack that draw a part down by three bolts or more.

    Parameters
    ----------
    pack : Pack
        The engine.
    fastener : str, optional
        The joint to begin with; by default the one with the most bolts near a circle whose order matters.

    Raises
    ------
    ItemError
        If the pack has no such joint, or not the one that is named.
    """

    kind = "bolts"
    heading = "Draw the part down evenly"

    def __init__(self, pack: Pack, fastener: str = "") -> None:
        super().__init__()
        self.pack = pack
        self.patterns = {
            each.id: Pattern(each.positions)
            for each in pack.fasteners
            if 3 <= each.count <= _MOST and each.pattern != "single" and len(each.positions) == each.count
        }
        found = self.patterns
        order = sorted(
            found,
            key=lambda name: (
                not found[name].has_question,
                found[name].shape != "circle",
                len(found[name]) > _FEW,
                -len(found[name]),
            ),
        )
        if not order or fastener not in ("", *order):
            raise ItemError(
                fastener or pack.name,
                rule=f"This needs a joint of three or more bolts, at most {_MOST}, whose places the pack gives.",
                remedy="Give pattern and spread_mm of a [[fasteners]] table, or name another fastener.",
            )
        self.joints = order
        self.joint = fastener or order[0]

    @property
    def lead(self) -> tuple[str, ...]:
        """What it shows, and how it is used."""
        return _LEAD

    def _answer(self, message: Message) -> Reply:
        kind, joint = message.get("type"), message.get("joint")
        if kind not in ("hint", "judge"):
            return super()._answer(message)
        if not isinstance(joint, str) or joint not in self.patterns:
            raise ResponseError(
                joint, rule="Only the joints that are shown can be asked about.", remedy="Choose one of them."
            )
        bolts = message.get("done" if kind == "hint" else "order")
        names = self.patterns[joint].names
        if not isinstance(bolts, list) or not all(bolt in names for bolt in bolts) or len(set(bolts)) < len(bolts):
            raise ResponseError(
                bolts, rule=f"An order names some of the bolts {', '.join(names)}, each once.", remedy="List them."
            )
        if kind == "hint":
            return {"type": "told", "words": self.hint(joint, bolts)}
        if len(bolts) < len(names):
            raise unknown(kind)
        return {"type": "told", "words": self.verdict(joint, bolts)}

    def hint(self, joint: str, done: Sequence[str]) -> str:
        """Return which bolt comes next where these are at the stage already; all of them begin anew."""
        fastener, pattern = self.pack.fastener(joint), self.patterns[joint]
        words = Bolts(fastener)
        at_stage = [] if len(done) == len(pattern) else list(done)
        if fastener.order:
            printed = [str(place) for place in fastener.order]
            left = next(bolt for bolt in printed if bolt not in at_stage)
            return f"The manual prints the order {', '.join(printed)}: next is {words.noun} {left}."
        best = pattern.best_next(at_stage) if pattern.has_question else ()
        if len(best) in (0, len(pattern) - len(at_stage)):
            return f"Any {words.noun} that is left does as well as any other."
        what = "evens it out best" if pattern.shape == "circle" else f"is nearest to the middle. {_BOWS}"
        return f"{opening(words.noun)} {listed(best, 'or')} {what.removesuffix('.')}."

    def verdict(self, joint: str, order: Sequence[str]) -> str:
        """Return what there is to say of the order in which the bolts were first tightened."""
        fastener, pattern = self.pack.fastener(joint), self.patterns[joint]
        if fastener.order:
            printed = [str(place) for place in fastener.order]
            if list(order) == printed:
                return "This was the order that the manual prints."
            return f"The manual prints another order, and the manual decides: {', '.join(printed)}."
        if not pattern.has_question:
            return "With these bolts every order is as even as any other."
        if pattern.judge(order).is_best:
            return "No order is more even than yours."
        return f"A more even order: {', '.join(pattern.best_order())}. Loosen all, try it and compare."

    def _more(self) -> dict[str, Any]:
        return {"joints": [self._seated(name) for name in self.joints], "joint": self.joint, "how": _HOW}

    def _stages(self, fastener: Fastener) -> list[dict[str, Any]]:
        """Return the stages for which a tool is needed, and what share of the preload each gives."""
        shares = preload_shares(schedule(stages_of(fastener)))
        words = Bolts(fastener)
        return [
            {
                "name": f"{stage.name} stage" if stage.name in ("first", "final") else stage.name,
                "text": words.stage_words(stage.name).removeprefix("the "),
                "share": share,
            }
            for stage, share in zip(fastener.stages, shares, strict=True)
            if stage.name != BY_HAND[0]
        ]

    def _seated(self, joint: str) -> dict[str, Any]:
        fastener, seat = self.pack.fastener(joint), Seat.of(self.patterns[joint])
        words = Bolts(fastener)
        return {
            "id": joint,
            "text": f"{fastener.name} ({len(seat.names)})",
            "noun": words.noun,
            "nouns": words.nouns,
            **seat.data(),
            "stages": self._stages(fastener),
            "watch": [{"text": text, "order": order} for text, order in self._watched(joint)],
        }

    def _watched(self, joint: str) -> list[tuple[str, list[int]]]:
        """Return ways to go about it that can be watched: what each is, and which bolt is pressed after which."""
        fastener, pattern = self.pack.fastener(joint), self.patterns[joint]
        stages, count = len(self._stages(fastener)), len(pattern)
        in_stages = ", in stages" if stages > 1 else ""
        found: list[tuple[str, list[int]]] = []
        if fastener.order:
            found.append((f"Watch: the printed order{in_stages}", [place - 1 for place in fastener.order] * stages))
        elif pattern.has_question:
            how = "crosswise" if pattern.shape == "circle" else "from the middle outwards"
            places = [pattern.names.index(name) for name in pattern.best_order()]
            found.append((f"Watch: {how}{in_stages}", places * stages))
        round_it = "round the circle" if pattern.shape == "circle" else "from one end to the other"
        found.append((f"Watch: {round_it}{in_stages}", list(range(count)) * stages))
        if stages > 1:
            one = Bolts(fastener).noun
            found.append((f"Watch: one {one} home at once", [place for place in range(count) for _ in range(stages)]))
        return found

    def _figure(self) -> figures.Picture:
        """Return one bolt alone at its last stage, and all of them at their first one."""
        seat, words = Seat.of(self.patterns[self.joint]), Bolts(self.pack.fastener(self.joint))
        stages = self._stages(words.fastener)
        home = seat.start().tightened(0, stages[-1]["share"])
        first = seat.start()
        for bolt in self._watched(self.joint)[0][1][: len(seat.names)]:
            first = first.tightened(bolt, stages[0]["share"])
        states = [
            {"title": f"{opening(words.noun)} {seat.names[0]} home alone", "pose": home.pose, "tight": seat.names[:1]},
            {"title": f"{opening(words.all)}: {stages[0]['name']}", "pose": first.pose, "tight": seat.names},
        ]
        return figures.Picture(
            {
                "draw": "flange",
                "names": seat.names,
                "bolts": seat.bolts,
                "outline": seat.outline,
                "nouns": words.nouns,
                "states": states,
            }
        )

    def _facts(self) -> list[tuple[str, str]]:
        fastener = self.pack.fastener(self.joint)
        facts = [("Joint", f"{fastener.name} ({fastener.count})")]
        if fastener.order:
            facts.append(("Printed order", ", ".join(map(str, fastener.order))))
        elif self.patterns[self.joint].has_question:
            facts.append(("One of the most even orders", ", ".join(self.patterns[self.joint].best_order())))
        return [
            *facts,
            *((text.removeprefix("Watch: "), self._told(order)) for text, order in self._watched(self.joint)),
        ]

    def _told(self, order: Sequence[int]) -> str:
        """Return how the part leans on the way, and what the slackest bolt is left with."""
        fastener, seat = self.pack.fastener(self.joint), Seat.of(self.patterns[self.joint])
        stages = self._stages(fastener)
        state, reached, leans = seat.start(), [0] * len(seat.bolts), []
        for bolt in order:
            state = state.tightened(bolt, stages[reached[bolt]]["share"])
            reached[bolt] += 1
            leans.append(state.lean)
        least = min(range(len(reached)), key=lambda bolt: state.loads[bolt])
        mean, name = sum(leans) / len(leans), f"{Bolts(fastener).noun} {seat.names[least]}"
        return (
            f"{with_unit(f'{mean:.1f}', 'mm')} of lean on average. "
            f"At the end {name} pulls least, {with_unit(f'{state.loads[least] * 100:.0f}', '%')}."
        )
