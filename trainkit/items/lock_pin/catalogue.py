"""The misconceptions of the module *lock pin*: what each shows, and the step that cures it."""

from __future__ import annotations

from trainkit.items.misconceptions import Misconception

# What it shows, the cure and, where one of these would say what is right, what is told while an attempt is open.
_TEXTS: dict[str, tuple[str, ...]] = {
    # at the bench
    "goes-on-after-seating": (
        "This bars the engine on although the pin is in.",
        "When the pin goes in, stop at once. The next movement loads it, and it shears.",
    ),
    "sweeps-with-pin-held": (
        "This bars at a stretch with the pin held against the gear.",
        "Let go for the long way. Hold the pin only between press mark and give-up mark, a little at a time.",
    ),
    "presses-and-turns-back": (
        "This lets the pin go in while the engine is turned back.",
        "Turned back, the gears rest on their other flanks. Back off to the mark, then seat on the way forward.",
        "Turned back, the gears rest on their other flanks. Ask on which way the pin must seat, and from how far.",
    ),
    "backs-off-too-little": (
        "This comes forward again before all lash was taken up behind it.",
        "Back off at least by the press position and all lash from the bar to the component.",
    ),
    "any-dead-centre": (
        "This takes any passing of the hole for the right one.",
        "The hole comes by more often than the right dead centre. Look at what tells it before you set anything.",
    ),
    "exhaust-for-compression": (
        "This takes the exhaust dead centre for the compression one.",
        "They lie one crank turn apart. On compression both valves are shut; on exhaust they overlap.",
        "A cylinder has two dead centres in a cycle. On compression both valves are shut; on exhaust they overlap.",
    ),
    "trusts-the-feel": (
        "This trusts the feel of the pin alone.",
        "A false hole feels like the true one. The mark must stand at its place when the pin goes in.",
    ),
    "mark-alone": (
        "This trusts the mark alone, with no pin in the hole.",
        "A mark shows where the gear is, but holds nothing. Only the pin keeps it there.",
    ),
    "leaves-the-pin-in": (
        "This tightens the component while the pin is in.",
        "The pin only keeps a place. Take it out before anything loads the train.",
    ),
    "leaves-the-bar-on": (
        "This leaves the bar fitted when the engine is let free.",
        "Compression can kick back and throw the bar. Take the bar off first, then the pin out.",
    ),
    "uses-the-starter": (
        "This turns the engine with the starter.",
        "The starter gives no feel and no stop. Isolate it, and bar by hand.",
    ),
    "moves-after-setting": (
        "This moves the engine after the component was set.",
        "From setting to the final torque the crank stays where it is.",
    ),
    # how far back
    "backs-off-to-press": (
        "This goes back to the press mark only.",
        "From there the lash is not yet taken up when the hole comes by. Go back to the back-off mark.",
    ),
    "backs-off-to-give-up": (
        "This goes back to the give-up mark only.",
        "That is still past the hole. Go back to the back-off mark, which lies before the press mark.",
    ),
    "backs-off-from-the-hole": (
        "This counts from the hole, not from where the mark stands.",
        "The engine has gone on past the hole. Add the way from there back to the hole.",
    ),
    "gear-for-crank-degrees": (
        "This takes degrees of another gear for degrees of the crank.",
        "A gear at half crank speed turns half as far: its degrees count double at the crank.",
    ),
    "gear-crank-wrong-way": (
        "This uses the ratio between gear and crank the wrong way round.",
        "Ask which of the two turns faster. The faster one turns through the larger angle.",
    ),
    "bar-ratio-inverse": (
        "This uses the ratio of ring gear and pinion the wrong way round.",
        "The pinion is the smaller one, so it turns more often: multiply by ring teeth, divide by pinion teeth.",
    ),
    "bar-as-crank": (
        "This takes a turn of the bar for a turn of the crank.",
        "The bar turns the pinion. Multiply by ring teeth and divide by pinion teeth.",
    ),
    # lash
    "lash-left-out": (
        "This leaves the lash out.",
        "Lash must be taken up before the component moves. Add all lash from the bar to the component.",
    ),
    "lash-to-pin-only": (
        "This adds the lash as far as the pin only.",
        "The component lies further on. Add the lash of every mesh from the bar to the component.",
    ),
    "lash-only": (
        "This counts the lash alone.",
        "The gears must rest on their flanks when you begin to press. Add the press position.",
    ),
    "whole-lash-counts": (
        "This takes all lash up to the component for the error.",
        "What lies on the way to the pin counts against it. The error is the difference of the two ways.",
    ),
    "pin-lash-counts": (
        "This takes the lash on the way to the pin for the error.",
        "The pin holds its own gear. What counts is the component's lash less that of the pin.",
    ),
    "ignores-lash": (
        "This says that turning back makes no difference.",
        "Turned back, the component's gear is left ahead by its lash. It shows once the train runs forward.",
    ),
    "early-for-late": (
        "This has the right size and the wrong sense.",
        "A gear left ahead waits for the train to catch up once it runs forward: its event comes late.",
        "Ask what a gear that was left ahead does once the train runs forward: does it move at once, or wait?",
    ),
    # dead centres
    "reversed-order": (
        "This goes through the firing order backwards.",
        "Barred on in the running direction, the cylinders come in the order in which they fire.",
    ),
    "cam-for-crank": (
        "This takes degrees of the crank for degrees of the camshaft.",
        "The camshaft turns once while the crank turns twice. The firing interval is 720 divided by the cylinders.",
    ),
    "one-turn-is-a-cycle": (
        "This takes one crank turn for the whole cycle.",
        "Four strokes take two crank turns. After one turn the cylinder stands at its other dead centre.",
    ),
}

MISCONCEPTIONS = tuple(Misconception(code, "lock-pin", *texts) for code, texts in _TEXTS.items())
