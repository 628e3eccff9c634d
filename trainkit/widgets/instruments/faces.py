"""The face of one gear, read like a clock while the crank is turned."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit.errors import GearError
from trainkit.widgets.instruments.turning import TrainTurned

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit.widgets.instruments.turning import Turned


_WRONG = "Reached by barring back: the gears rest on the wrong flank. Back off further, then come forward."


class ClockFace(TrainTurned):
    """The face of one gear, read like a clock, while the crank is turned.

    Parameters
    ----------
    pack : Pack
        The engine.
    gear : str, optional
        The gear; the one that bears the lock pin's mark by default.
    seen_from : str, optional
        The end it is seen from at first; the one that the pack reads its positions from by default.
    """

    kind = "clock"
    heading = "Follow the mark on the clock face"

    def __init__(self, pack: Pack, gear: str = "", seen_from: str = "") -> None:
        table = pack.lock_pin_table
        self.gear = pack.train.gear(gear or (pack.crank if table.watched == "flywheel" else table.watched))
        self.watched = not gear or gear == table.watched
        super().__init__(pack, seen_from or table.seen_from)

    def _chosen(self, gears: tuple[Turned, ...]) -> tuple[Turned, ...]:
        way = self.pack.train.path(self.pack.crank, self.gear.id).gears
        return tuple(gear for gear in gears if gear.id in way)

    @property
    def name(self) -> str:
        """What bears the mark, in words."""
        return "flywheel" if self.watched and self.pack.lock_pin_table.watched == "flywheel" else self.gear.title

    @property
    def lead(self) -> tuple[str, ...]:
        """What it shows, and how it is turned."""
        return (
            f"Bar the engine and read where the mark on the {self.name} stands, like the hour hand of a clock.",
            "From the other end the same mark stands at the mirrored hour.",
        )

    def _drawn(self, end: str) -> figures.Picture:
        if self.watched and self.pack.lock_pin.dial is not None:
            data = figures.marks_figure(
                self.pack.lock_pin, self.name, hand=self.pack.lock_pin_table.seats, seen_from=end
            )
        else:
            forward = next(gear for gear in self.gears if gear.id == self.gear.id)
            data = {
                "draw": "clock",
                "seen_from": end,
                "name": self.name,
                "hand": str(self.mark_at(self.gear.id, end)),
                "turns": "clockwise" if forward.clockwise == (end == "front") else "anticlockwise",
            }
        return figures.Picture({**data, "to_turn": self.gear.id})

    def _views(self) -> dict[str, str]:
        return {end: picture.svg for end, picture in self._pictures.items()}

    def _flank(self, gear: Turned) -> str:
        driver = self.pack.train.gear(gear.driver).title
        return figures.draw({"draw": "flank", "driver": driver, "driven": gear.name}, styled=False)

    def _layout(self) -> dict[str, Any]:
        return {}

    def _more(self) -> dict[str, Any]:
        return {
            **super()._more(),
            "watched": self.gear.id,
            "zones": self._zones(),
            "wrong": _WRONG,
            "sum": self._sum(),
            "larger": 1,
            "hole": None,
        }

    def _sum(self) -> list[str]:
        """Return how the lash from crank to mark adds up; nothing where there is no mesh or the pack gives no sizes."""
        path = self.pack.train.path(self.pack.crank, self.gear.id)
        try:
            return list(path.lash_lines()) if path.legs else []
        except GearError:
            return []

    def _facts(self) -> list[tuple[str, str]]:
        return [*super()._facts(), *(("Lash in all", line) for line in self._sum())]

    def _zones(self) -> list[dict[str, Any]]:
        """Return what to do in which part of the turn, by crank degrees after the mark's place; the last one is all."""
        pin = self.pack.lock_pin
        if not self.watched or pin.dial is None:
            return []
        table = self.pack.lock_pin_table
        valves = f", if the valves of cylinder {table.cylinder} are shut" if table.tells_stroke == "valves" else ""
        return [
            {"to": float(to), "words": words}
            for to, words in (
                (-pin.back_off, "Before the mark “back off to”: bar on forward."),
                (-pin.press_from, "Between “back off to” and “press from”: bar on forward, and do not press yet."),
                (-pin.clearance, "Between “press from” and the place of the pin: press, and bar on slowly."),
                (pin.clearance, f"At its place: the pin seats here{valves}."),
                (pin.give_up, "Past the place: bar on a little, pressing, but not beyond “give up”."),
                (360 / pin.dial.turns_per_crank, "Past “give up”: stop pressing. Back off, then come forward again."),
            )
        ]
