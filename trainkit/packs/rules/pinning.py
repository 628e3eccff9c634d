"""Rules about the lock pin: the window, the way back, and what tells the right dead centre."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from trainkit.errors import GearError, LockPinError
from trainkit.packs.rules.base import Breach, Case, rule

if TYPE_CHECKING:
    from trainkit.lockpin import Dial
    from trainkit.packs.engine import LockPinTable

__all__: list[str] = []

# Key of the clock position, key of the degrees, and on which side of its place the mark then stands.
_POSITIONS = (("press_from", "press_from_deg", 1), ("give_up", "give_up_deg", -1), ("back_off_to", "back_off_deg", 1))


def _dial(case: Case) -> Dial | None:
    """Return how the watched mark goes round, or None where the train does not tell."""
    from trainkit.gears import Clock, seen, signed
    from trainkit.lockpin import Dial

    table, engine, train, crank = case.pack.lock_pin_table, case.pack.engine, case.train, case.pack.crank
    watched = crank if table.watched == "flywheel" else table.watched
    known = [gear.id for gear in case.pack.gears]
    if train is None or not crank or watched not in known or not _readable(table.seats):
        return None
    turned = train.ratio(crank, watched) * signed(engine.rotation)
    turned = seen(turned, stated_from=engine.seen_from, seen_from=table.seen_from)
    return Dial(table.seen_from, turned > 0, abs(turned), Clock.parse(table.seats).degrees)


def _readable(clock: str) -> bool:
    from trainkit.gears import Clock

    try:
        Clock.parse(clock)
    except GearError:
        return False
    return True


def _before(table: LockPinTable, dial: Dial) -> dict[str, Fraction]:
    """Return the crank degrees before (+) or after (−) the place, for every position that is given and readable."""
    from trainkit.gears import Clock

    found = {}
    for clock_key, degrees_key, side in _POSITIONS:
        clock, degrees = getattr(table, clock_key), getattr(table, degrees_key)
        if clock is not None:
            if _readable(clock):
                found[clock_key] = dial.before(Clock.parse(clock).degrees)
        elif degrees is not None:
            found[clock_key] = side * Fraction(str(degrees))
    return found


@rule("lock_pin")
def _positions_given(case: Case) -> Iterator[Breach]:
    table = case.pack.lock_pin_table
    for clock_key, degrees_key, _ in _POSITIONS:
        if getattr(table, clock_key) is None and getattr(table, degrees_key) is None:
            yield Breach(
                "pin-position-missing",
                ("lock_pin", clock_key),
                "",
                f"The position {clock_key} is given as a clock position or in crank degrees.",
                f"Add {clock_key} or {degrees_key}.",
            )
    for key in ("press_from", "seats", "give_up", "back_off_to"):
        clock = getattr(table, key)
        if clock is not None and not _readable(clock):
            yield Breach(
                "clock-unreadable",
                ("lock_pin", key),
                clock,
                "A clock position is hours and minutes, 0:00 to 12:59.",
                'Write it as "2:10".',
            )


_CLOCK = re.compile(r"(?<![\d:])\d{1,2}:\d{2}(?![\d:])")


@rule("lock_pin", "steps")
def _texts_agree(case: Case) -> Iterator[Breach]:
    """Hold the clock positions that steps tell against those of the table."""
    table = case.pack.lock_pin_table
    known = [clock for clock in (table.press_from, table.seats, table.give_up, table.back_off_to) if clock]
    for place, step in enumerate(case.pack.steps):
        for told in _CLOCK.findall(step.text):
            if told.lstrip("0") not in [clock.lstrip("0") for clock in known]:
                yield Breach(
                    "clock-in-text-unknown",
                    ("steps", place, "text"),
                    told,
                    f"The clock positions of the lock pin are {', '.join(known)}.",
                    "Correct the text, or the table lock_pin.",
                    "remark",
                )


@rule("lock_pin", "engine")
def _cylinder(case: Case) -> Iterator[Breach]:
    table, engine = case.pack.lock_pin_table, case.pack.engine
    if table.cylinder > engine.cylinders:
        yield Breach(
            "cylinder-unknown",
            ("lock_pin", "cylinder"),
            table.cylinder,
            f"The engine has {engine.cylinders} cylinders.",
            "Name one of them.",
        )


@rule("lock_pin", "gears")
def _in_sight(case: Case) -> Iterator[Breach]:
    table = case.pack.lock_pin_table
    for gear in case.pack.gears:
        if gear.id == table.watched and gear.seen_at != table.seen_from:
            yield Breach(
                "mark-out-of-sight",
                ("lock_pin", "seen_from"),
                table.seen_from,
                f"The gear {gear.id} is seen from the {gear.seen_at}, so its mark is read from there.",
                "Check the viewpoint; from the other end a clock position h reads 12 − h.",
                "printed",
            )


@rule("lock_pin", "gears", "meshes", "engine")
def _window(case: Case) -> Iterator[Breach]:
    table = case.pack.lock_pin_table
    dial = _dial(case)
    if dial is None:
        return
    before = _before(table, dial)
    if len(before) < 3:
        return
    press, give_up, back = before["press_from"], before["give_up"], before["back_off_to"]
    if give_up < 0 < press < back:
        return
    other = _before(table, replace(dial, clockwise=not dial.clockwise))
    way = "clockwise" if dial.clockwise else "anticlockwise"
    clocks = all(getattr(table, key) is not None for key, _, _ in _POSITIONS)
    if clocks and other["give_up"] < 0 < other["press_from"] < other["back_off_to"]:
        yield Breach(
            "clock-positions-contradict-meshes",
            ("lock_pin", "press_from"),
            f"{table.press_from}, {table.seats}, {table.give_up}",
            f"By rotation and meshes the mark goes {way} seen from the {table.seen_from}; "
            "these positions are met the other way round.",
            "Check rotation and viewpoint of the engine, seen_from here, and the meshes on the way to the mark.",
            "printed",
        )
        return
    if press <= 0:
        yield Breach(
            "window-never-passed",
            ("lock_pin", _key(table, 0)),
            _written(table, 0),
            f"Barring forward, the mark goes {way} seen from the {table.seen_from} and reaches this position only "
            f"after the pin should have seated ({table.seats}).",
            "Give the position at which to begin to press, before the place in the sense of rotation.",
            "printed",
        )
    if give_up >= 0:
        yield Breach(
            "window-after-give-up",
            ("lock_pin", _key(table, 1)),
            _written(table, 1),
            f"Barring forward, the mark goes {way} seen from the {table.seen_from} and passes the give-up position "
            f"before the pin can seat ({table.seats}).",
            "Give the position at which the hole has been missed, after the place in the sense of rotation.",
            "printed",
        )
    if back <= press and press > 0:
        yield _short_way_back(table, back, press, press)


@rule("lock_pin", "gears", "meshes", "engine", "barring")
def _way_back(case: Case) -> Iterator[Breach]:
    table, setup = case.pack.lock_pin_table, case.pin
    if not isinstance(setup, Exception) and setup.back_off < setup.least_back_off:
        yield _short_way_back(table, setup.back_off, setup.press_from, setup.least_back_off)


def _short_way_back(table: LockPinTable, back: Fraction, press: Fraction, least: Fraction) -> Breach:
    from trainkit.lockpin.angles import rounded_up

    lash = f" plus {float(least - press):g}° of lash from the bar to the component" if least > press else ""
    return Breach(
        "back-off-too-short",
        ("lock_pin", _key(table, 2)),
        f"{_written(table, 2)} ({float(back):g} crank degrees before the place)",
        f"Backing off goes beyond the press position, {float(press):g}°{lash}: "
        f"at least {float(rounded_up(least)):g} crank degrees.",
        "Give a position further back, or the pin seats before the gears are on their flanks.",
        "printed",
    )


def _key(table: LockPinTable, row: int) -> str:
    clock_key, degrees_key, _ = _POSITIONS[row]
    return clock_key if getattr(table, clock_key) is not None else degrees_key


def _written(table: LockPinTable, row: int) -> object:
    return getattr(table, _key(table, row))


@rule("lock_pin", "gears", "meshes", "engine")
def _both_ways_agree(case: Case) -> Iterator[Breach]:
    table, dial = case.pack.lock_pin_table, _dial(case)
    if dial is None:
        return
    before = _before(table, dial)
    for clock_key, degrees_key, side in _POSITIONS:
        degrees = getattr(table, degrees_key)
        if degrees is None or getattr(table, clock_key) is None or clock_key not in before:
            continue
        # A clock position is read to a minute, half a degree of the gear; the degrees to the last digit printed.
        room = Fraction(1, 4) / dial.turns_per_crank + Fraction(1, 2)
        if abs(side * before[clock_key] - Fraction(str(degrees))) > room:
            yield Breach(
                "clock-contradicts-degrees",
                ("lock_pin", degrees_key),
                degrees,
                f"By rotation and meshes, {getattr(table, clock_key)} is {float(side * before[clock_key]):g} "
                f"crank degrees {'before' if side > 0 else 'after'} the place.",
                "Check both; one gear degree may be more than one crank degree.",
                "printed",
            )


@rule("lock_pin", "gears", "meshes", "engine", "barring")
def _right_dead_centre(case: Case) -> Iterator[Breach]:
    table, setup = case.pack.lock_pin_table, case.pin
    if not isinstance(setup, Exception) and setup.untold:
        wrong = setup.untold[0]
        yield Breach(
            "dead-centre-untold",
            ("lock_pin", "tells_stroke"),
            table.tells_stroke,
            f"The hole comes by every {float(setup.period):g} crank degrees, the right dead centre every "
            f"{float(setup.right_every):g}; at {float(wrong * setup.period):g} degrees nothing tells it from the right "
            "one.",
            'Name what tells: "valves", or a "witness" mark on a gear that turns at half crank speed.',
        )


@rule("lock_pin", "gears", "meshes", "engine", "barring")
def _modelled(case: Case) -> Iterator[Breach]:
    table, dial, error = case.pack.lock_pin_table, _dial(case), case.pin
    if dial is None or not isinstance(error, LockPinError | GearError):
        return
    before = _before(table, dial)
    known = [gear.id for gear in case.pack.gears]
    if len(before) < 3 or not before["give_up"] < 0 < before["press_from"] < before["back_off_to"]:
        return  # told by the rule about the window
    if table.component not in known or table.hole_in not in [*known, "flywheel"]:
        return  # told by the rule about names
    if (
        table.cylinder > case.pack.engine.cylinders
        or len(set(case.pack.engine.firing_order)) < case.pack.engine.cylinders
    ):
        return  # told by their own rules
    yield Breach("pin-impossible", ("lock_pin",), error.value, error.rule, error.remedy)
