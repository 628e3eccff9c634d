"""The lines of each module's card: rules of the trade in plain words, with the values of the pack beside them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trainkit import cycle, figures, quantities, roles, tightening
from trainkit.cards.card import Rule, SummaryCard, ValueTable
from trainkit.cards.values import (
    bolts_picture,
    first_upper,
    lash_rows,
    lever_picture,
    main_joint,
    pinned_picture,
    said,
    setting,
    torque_table,
    train_picture,
    turns_table,
    watched,
)
from trainkit.errors import ModuleError
from trainkit.quantities import THIN
from trainkit.sentences import noun

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit.packs.fastening import Fastener


_END = {"front": "the front", "flywheel": "the flywheel end"}
_OTHER = {"clockwise": "anticlockwise", "anticlockwise": "clockwise"}
_MANUAL = Rule("On the job", "The manual states condition, value and tool. Nobody works out their own.")


@dataclass(frozen=True, slots=True)
class _Lines:
    """What a module puts on its card."""

    rules: tuple[Rule, ...]
    table: ValueTable | None = None
    figure: Mapping[str, Any] | None = None
    steps: tuple[str, ...] = ()


def card(module: str, title: str, pack: Pack) -> SummaryCard:
    """Return the summary card of a module on an engine.

    Parameters
    ----------
    module, title : str
        Identifier and title of the module.
    pack : Pack
        The engine.

    Raises
    ------
    ModuleError
        If there is no card for this module.
    """
    if module not in _CARDS:
        raise ModuleError(module, rule=f"There are cards for {', '.join(_CARDS)}.", remedy="Leave the card out.")
    lines = _CARDS[module](pack)
    return SummaryCard(
        title=title,
        engine=pack.title,
        rules=lines.rules,
        table=lines.table,
        steps=lines.steps,
        figure=lines.figure,
        cautions=tuple(Rule(hazard.title.rstrip("."), hazard.text) for hazard in pack.cautions),
        notice=pack.notice,
    )


def _torque_units(pack: Pack) -> _Lines:
    one = quantities.torque("1 N·m")
    kilo = quantities.torque("1 kgf·m").to("N·m")
    rules = [
        Rule("Unit first", "Name the unit, then the number. A smaller unit needs a bigger number."),
        Rule(
            "Factors",
            f"1{THIN}N·m = {one.to('lbf·in').shown(0.01)} = {one.to('lbf·ft').shown(0.001)}. "
            f"1{THIN}lbf·ft = 12{THIN}lbf·in. 1{THIN}kgf·m = {kilo.shown(0.01)}.",
        ),
        Rule("Two columns", "The master was decided, the other was worked out from it. Convert from the master."),
        Rule("Which mark", "Set the mark of your wrench that is nearest to the value."),
        Rule("Which wrench", "Use it above a fifth of its largest value, and within its scale."),
        Rule(
            "Adapter", f"Setting = wanted × L ÷ (L + A × cos angle). At a right angle nothing changes.{_example(pack)}"
        ),
        _MANUAL,
    ]
    return _Lines(tuple(rules), torque_table(pack), lever_picture(pack))


def _example(pack: Pack) -> str:
    found = roles.reach(pack)
    if found.taken:
        return ""
    wrench, adapter, wanted = found.wrench, found.adapter, found.fastener.final.torque
    return (
        f" {first_upper(found.fastener.name)}: {wanted[0] if wanted else ''} wanted, L {wrench.length:g}{THIN}mm, "
        f"A {adapter.adapter_length:g}{THIN}mm, straight on. Set {setting(found)}."
    )


def _tightening(pack: Pack) -> _Lines:
    joint = main_joint(pack)
    rules = [
        Rule("Stages", f"{_stages(pack)} Bring all to one stage before any goes on."),
        Rule("Across", f"The next one lies opposite, so that the pulls cancel.{_order(joint)}"),
        Rule("Loosened again?", "One that was loosened has lost the clamp. Loosen all and begin again."),
        Rule("Oil", "The same torque pulls harder on an oiled thread. Preload = torque ÷ (K × diameter)."),
        Rule("Thread", "Diameter and pitch must both agree: M8 is not M8×1."),
        Rule("Once only", f"Renew what deforms or locks.{_once(pack)}"),
        _MANUAL,
    ]
    return _Lines(tuple(rules), torque_table(pack), None if joint is None else bolts_picture(joint))


def _stages(pack: Pack) -> str:
    most = max(pack.fasteners, key=lambda each: len(each.stages))
    return f"{first_upper(', then '.join(stage.name for stage in most.stages))}."


def _order(joint: Fastener | None) -> str:
    if joint is None:
        return ""
    order = tightening.Pattern(joint.positions).best_order()
    return f" {first_upper(joint.name)}: {'-'.join(order)}."


def _once(pack: Pack) -> str:
    names = [part.name for part in pack.parts if part.single_use]
    return f" Here: {'; '.join(names)}." if names else ""


def _turning(pack: Pack) -> _Lines:
    return _Lines(
        (
            Rule("From which end", f"Say it with every sense. {_both_ends()}"),
            Rule("Turns the sense over", "Outside teeth on outside teeth."),
            Rule("Keeps the sense", "Teeth inside a ring, chain, toothed belt, one shaft."),
            Rule("Count", "Odd: the opposite way. Even: the same way. The viewpoint comes last."),
            Rule("How far", "More teeth turn less. Turns × teeth of the driver ÷ teeth of the driven."),
            Rule("Clock", "From the other end h becomes 12 − h. 30° are one hour."),
            Rule("Your hand", _hand(pack)),
        ),
        turns_table(pack),
        train_picture(pack),
    )


def _both_ends() -> str:
    return "Clockwise from the front is anticlockwise from the flywheel end."


def _hand(pack: Pack) -> str:
    engine, bar = pack.engine, pack.bar
    if not pack.barring.by_hand:
        return f"A drive turns the engine ({pack.barring.by}). Inch it forward, and stop before the place."
    turn = bar.tool(360 if engine.rotation == "clockwise" else -360, seen_from=engine.seen_from)
    turns = f"{said(turn.turns)} {noun(float(turn.turns), 'turn')} of the tool for one crank turn"
    return f"Barred forward, it turns {turn.sense}, from {_END[bar.stands_at]}, where you stand. {first_upper(turns)}."


def _lock_pin(pack: Pack) -> _Lines:
    pin, table = pack.lock_pin, pack.lock_pin_table
    marks = figures.marks_figure(pin, watched(pack))
    at = {mark["label"]: mark["at"] for mark in marks["marks"]}
    place = f"{table.dead_centre} dead centre of cylinder {table.cylinder}"
    return _Lines(
        (
            Rule(
                "The right place",
                f"{first_upper(place)}, every {said(pin.right_every)} crank degrees. {_told(pack)}",
            ),
            Rule("The hole alone does not tell", f"It comes by every {said(pin.period)} crank degrees.")
            if pin.period != pin.right_every or pin.false_holes
            else Rule("The hole", f"It comes by every {said(pin.period)} crank degrees."),
            Rule(
                "Forward",
                f"Marks seen from {_END[table.seen_from]}: press from {at['press from']}, pin seats {at['pin seats']}. "
                "Once it seats, stop, and take the bar off.",
            ),
            Rule(
                "Missed",
                f"At {at['give up']} let go. Bar back to {at['back off to']}, then come forward again.",
            ),
            Rule("Never", f"Never press while you bar back{_WRONG_FLANKS if roles.has_lash(pack) else '.'}"),
            Rule(
                "Then",
                f"Set the {pack.gear(table.component).name}. Take the pin out before it is brought to its torque.",
            ),
            Rule("Again", f"Bar on {said(pin.right_every)} crank degrees and check that the pin goes in."),
        ),
        figure=marks,
    )


def _told(pack: Pack) -> str:
    table = pack.lock_pin_table
    if table.tells_stroke == "witness":
        return f"The marked tooth of the {watched(pack)} must agree."
    if table.tells_stroke == "valves":
        return f"Look at the valves of cylinder {table.cylinder}: {cycle.valves_at(table.dead_centre)}."
    return "The hole comes by there only."


def _lash(pack: Pack) -> _Lines:
    table, engine = pack.lock_pin_table, pack.engine
    part = pack.gear(table.component)
    turned = pack.train.turn(pack.crank, 360 if engine.rotation == "clockwise" else -360, seen_from=engine.seen_from)
    with_drive = turned.sense(part.id, table.seen_from)
    per_turn = abs(pack.train.ratio(pack.crank, part.id))
    path = pack.train.path(pack.crank, part.id)
    take_up = (
        Rule(
            "Take it up",
            f"Turn the {part.name} gently against its drive until you feel resistance. "
            f"That is {_OTHER[with_drive]}, seen from {_END[table.seen_from]}.",
        ),
        Rule("No force", "Pressed on further, the gear springs back and the timing goes early."),
    )
    return _Lines(
        (
            *(take_up if roles.has_lash(pack) else (_NO_LASH,)),
            Rule("Degrees", "Millimetres ÷ radius × 57.3. Take the circle on which they were measured."),
            Rule(
                "Of the crank",
                f"The {part.name} makes {said(per_turn)} turn for one of the crank: × {said(1 / per_turn)}.",
            ),
            Rule("Early or late", "Shaft turned with its drive: early. Housing: the other way round."),
            Rule(
                "Harmless", "Rocked within the lash, or loose and taken up again. Shaft and housing must stay as set."
            ),
            Rule(
                "Dead centres",
                f"{_firing(pack)} Barred back, count backwards.",
            ),
        ),
        ValueTable(f"Lash on the way to the {part.name}", ("mesh", "in crank degrees"), lash_rows(path.lash_lines())),
        figures.train_figure(
            pack.train, seen_from=engine.seen_from, turning=(pack.crank, engine.rotation), gears=path.gears
        ),
    )


_WRONG_FLANKS = ": the gears then rest on the wrong flanks."
_NO_LASH = Rule(
    "No lash", "None is stated on this way. Come to the place forward, so that a chain or belt is taut as it runs."
)


def _firing(pack: Pack) -> str:
    order = cycle.FiringOrder(pack.engine.firing_order)
    if pack.firing is None:
        return f"Firing order {order}; how far apart is not stated."
    if pack.firing.even:
        return f"Firing order {order}, {said(order.interval)}° apart."
    return f"Firing order {order}, {', '.join(said(each) for each in pack.firing.intervals)}° apart in turn."


def _sequence(pack: Pack) -> _Lines:
    return _Lines(
        (
            Rule("A step waits for a reason", "Know the reason, and you need not learn the list by heart."),
            Rule("First", "Make safe: nothing can start, turn back, spray or fall."),
            Rule("Bar and pin", "Whatever locks the engine comes out before anything can load it."),
            Rule("Stages", "First stage, then out with what locks, then the final stage. Check again after."),
            Rule("Before you close", "Count tools and loose parts. Renew what serves once only."),
        ),
        figure=pinned_picture(pack),
        steps=tuple(step.text for step in pack.steps_of() if step.critical),
    )


def _capstone(pack: Pack) -> _Lines:
    pin = pack.lock_pin
    return _Lines(
        (
            Rule("From which end?", f"At which end are the gears, and where do I stand? {_both_ends()}"),
            Rule("What lies between?", "Count the meshes of outside teeth. Find gears that share a shaft."),
            Rule(
                "Where does the pin go?",
                f"Here its hole comes by every {said(pin.period)} crank degrees. {_told(pack)}",
            ),
            Rule("Which unit?", "Which column is the master, and what does my wrench read?"),
            Rule("How far is the joint?", "As far as its least tight bolt. Stage by stage, across."),
            Rule("What serves once only?", "It is on the bench before the old one comes off."),
            Rule("What must wait?", "Locks out before load. Checks after the final stage."),
        ),
        torque_table(pack),
        train_picture(pack),
    )


_CARDS: dict[str, Callable[[Pack], _Lines]] = {
    "torque-units": _torque_units,
    "tightening": _tightening,
    "turning-direction": _turning,
    "lock-pin": _lock_pin,
    "lash-and-timing": _lash,
    "sequence": _sequence,
    "capstone": _capstone,
}
