"""The misconceptions of the module *lash and timing*: what each shows, and the step that cures it."""

from __future__ import annotations

from trainkit.items.misconceptions import Misconception

# What it shows, the cure and, where one of these would say what is right, what is told while an attempt is open.
_TEXTS: dict[str, tuple[str, ...]] = {
    # taking up lash
    "taken-up-with-drive": (
        "This answer takes up the lash with the drive.",
        "In service the driving tooth pushes from behind. Turn the driven gear back against it, against its drive.",
        "Ask from which side the driving tooth pushes in service. The gear must rest on that flank.",
    ),
    "heaved": (
        "This answer goes on until nothing gives any more.",
        "Stop where resistance is first felt. Force beyond that winds the gears up and shifts the timing.",
        "Ask when a gear rests on its flank, and what more force does to the gears after that.",
    ),
    "wind-up-as-lash": (
        "This answer takes wind-up for lash that was left over.",
        "Lash left over makes the event late. Wound-up gears spring forward when let go and make it early.",
        "Ask which way the gears go once the force is let go, and what that does to the event.",
    ),
    "driver-drawn-back": (
        "This answer draws the driving gear back from the gear that it drives.",
        "In service the driving tooth pushes. Turn the driving gear with its drive, to the tooth that it pushes.",
        "Ask which of the two gears drives the other in service. The gears must rest on those flanks.",
    ),
    "lash-left-over": (
        "This answer leaves part of the lash.",
        "Turn on gently until you first feel resistance. Only then the gear rests on its flank.",
        "Ask when a gear rests on its flank, and where it goes in service if it does not.",
    ),
    "lash-as-wind-up": (
        "This answer takes lash that was left over for wind-up.",
        "A gear that stops short of its flank waits for the driving tooth. Lash left over makes the event late.",
        "Ask where the gear goes once the engine runs, and what that does to the event.",
    ),
    "force-let-go-counts": (
        "This answer counts force that was let go again.",
        "Only where the gear stands when it is clamped counts. Let go, it is not wound up any more.",
        "Ask where the gear stood at the moment when it was clamped.",
    ),
    # degrees
    "crank-for-gear-degrees": (
        "This answer gives degrees of the crank, where those of the shaft are asked.",
        "At half crank speed the shaft turns half as far as the crank. Read what the degrees are of.",
    ),
    "doubled-twice": (
        "This answer doubles twice.",
        "Half crank speed counts once: degrees of the shaft × 2 are degrees of the crank.",
    ),
    "doubled-regardless": (
        "This answer doubles, although this gear does not turn at half crank speed.",
        "Only camshaft and fuel shaft turn at half speed. Take the ratio from the teeth.",
    ),
    "wrong-circle": (
        "This answer takes the radius of another circle.",
        "Use the radius of the circle along which the millimetres were measured.",
    ),
    "millimetre-as-degree": (
        "This answer takes a millimetre for a degree.",
        "On a small circle a millimetre is more degrees than on a large one. Degrees are millimetres ÷ radius × 57.3°.",
    ),
    # movements
    "any-movement-ruins": (
        "This answer takes every movement for harmful.",
        "What can be taken up again before the joint is tight is lost nowhere. Ask what stays after that.",
    ),
    "no-movement-matters": (
        "This answer takes a harmful movement for harmless.",
        "Taking up lash puts back the gear alone. Ask whether shaft and housing still stand as they were set.",
    ),
    "housing-for-shaft": (
        "This answer mixes up shaft and housing.",
        "A shaft set forward comes early. A housing set forward waits longer for its shaft, and comes late.",
        "Ask which of the two was moved, shaft or housing, and which of them waits for the other.",
    ),
    # the cycle
    "numbered-order": (
        "This answer counts the cylinders by their numbers.",
        "Count along the firing order. The next number is seldom the next to fire.",
    ),
    "forward-for-back": (
        "This answer goes forward along the firing order, although the engine is barred back.",
        "Barred back, the cylinders come in the reverse of the firing order.",
    ),
}

MISCONCEPTIONS = tuple(Misconception(code, "lash-and-timing", *texts) for code, texts in _TEXTS.items())
