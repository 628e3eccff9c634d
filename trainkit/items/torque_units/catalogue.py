"""The misconceptions of the module *torque units*: what each shows, and the step that cures it."""

from __future__ import annotations

from trainkit.items.misconceptions import Misconception

# What it shows, the cure and, where one of these would say what is right, what is told while an attempt is open.
_TEXTS: dict[str, tuple[str, ...]] = {
    # converting
    "inverse-factor": (
        "This answer divides where it should multiply, or the other way round.",
        "Ask first which unit is the larger. More of the smaller unit make the same torque.",
    ),
    "inch-for-foot": (
        "This answer reads inch-pounds as foot-pounds, which is twelve times off.",
        "Read the unit aloud. 1 lbf·ft is 12 lbf·in.",
    ),
    "twelve-wrong-way": (
        "This answer uses the factor 12 between inch and foot the wrong way round.",
        "A foot is 12 inches, so the number of lbf·in is the larger one: multiply lbf·ft by 12.",
    ),
    "rough-factor": (
        "This answer uses 1.4 or 0.7, which is further off than the step of the wrench.",
        "Multiply lbf·ft by 1.356 to get N·m. Divide N·m by 1.356 to get lbf·ft.",
    ),
    "kgf-as-ten": (
        "This answer takes 1 kgf·m as 10 N·m.",
        "1 kgf·m is 9.807 N·m. The difference of 2 % shows on this scale.",
    ),
    "number-kept": (
        "This answer keeps the number and changes only the unit.",
        "Convert the number too. The same number in another unit is another torque.",
    ),
    "rounds-on-the-way": (
        "This answer rounds halfway through and then goes on with the rounded number.",
        "Keep all digits until the end. Round once, to the step of the wrench.",
    ),
    # putting a value on a scale
    "rounds-down": (
        "This answer goes down to the mark below, whichever is nearer.",
        "Take the nearest mark, above or below.",
    ),
    "rounds-up": (
        "This answer goes up to the mark above, whichever is nearer.",
        "Take the nearest mark, above or below.",
    ),
    "whole-numbers-only": (
        "This answer rounds to a whole number, not to a mark of the scale.",
        "Look at the step of the scale first. Then take the nearest multiple of it.",
    ),
    "between-marks": (
        "This answer lies between two marks, where the wrench cannot be set.",
        "Give the mark that is nearest to it.",
    ),
    # printed pairs
    "checks-one-way": (
        "This answer converts the pair in one direction only.",
        "Convert both ways. One way that gives the printed number is enough for the pair to belong.",
    ),
    "close-is-enough": (
        "This answer takes two values that lie near each other for a pair.",
        "Convert one column exactly and round it to the step of the other. The printed number must come out.",
    ),
    "master-reversed": (
        "This answer names the column that was rounded from the other one.",
        "The master is the column from which the other one can be worked out.",
        "Convert each column into the other and round. Which of the two numbers comes out as it is printed?",
    ),
    "step-overlooked": (
        "This answer leaves out what is said about the steps of the columns.",
        "Read to which step each column may have been rounded, and try each of these steps.",
    ),
    # adapters
    "adapter-multiplied": (
        "This answer multiplies by the lever ratio where it should divide.",
        "An adapter that lengthens the lever needs a lower setting: wanted × L ÷ (L + A).",
    ),
    "adapter-divided": (
        "This answer divides by the lever ratio where it should multiply.",
        "With the adapter the lever is longer, so the bolt gets more: setting × (L + A) ÷ L.",
    ),
    "adapter-added": (
        "This answer adds the length of the adapter to the torque.",
        "A length and a torque cannot be added. The adapter changes the lever: wanted × L ÷ (L + A).",
    ),
    "adapter-left-out": (
        "This answer leaves the adapter out.",
        "The lever reaches from the grip to the bolt, adapter included: wanted × L ÷ (L + A).",
    ),
    "adapter-subtracted": (
        "This answer takes the adapter off the lever.",
        "Pointing away from the hand the adapter adds to the lever: L + A.",
    ),
    "wrench-to-its-end": (
        "This answer measures the wrench to its end.",
        "The hand pulls at the middle of the grip. Measure the lever from there to the drive.",
    ),
    "angle-ignored": (
        "This answer treats the adapter as if it pointed straight on.",
        "Only the part of the adapter along the wrench counts: A × the cosine of the angle, at 90° nothing.",
    ),
    "angle-from-wrong-line": (
        "This answer counts the angle from the line square to the wrench.",
        "Count it from the line of the wrench: 0° is straight on, so the cosine belongs here.",
    ),
    "forgets-it-points-back": (
        "This answer takes an adapter that points back as if it pointed forward.",
        "Beyond 90° the adapter shortens the lever, so the setting is higher than the wanted torque.",
    ),
    # the tool itself
    "tolerance-of-full-scale": (
        "This answer takes the tolerance as a share of the largest value of the scale.",
        "The tolerance is a share of the value that is set.",
    ),
    "tolerance-as-units": (
        "This answer adds the per cent as if they were units of torque.",
        "4 % of a value is the value times 0.04.",
    ),
    "tolerance-halved": (
        "This answer gives each side half of the tolerance.",
        "The sign ± means the whole share on either side.",
    ),
    "limit-rounded-outward": (
        "This answer rounds a limit outward, to a reading that does not pass.",
        "Round a limit inward: the upper one down, the lower one up.",
    ),
    "tool-by-number": (
        "This answer compares the numbers and leaves out the units.",
        "Convert the torque to the unit of the scale first, then look where it lies.",
    ),
    "tool-too-large": (
        "This wrench is too large: so far down its scale a click says nothing.",
        "Take a wrench that has the value well inside its scale, above a fifth of its largest.",
        "Convert first. Take a wrench that has the value well inside its scale, above a fifth of its largest.",
    ),
    "tool-too-small": (
        "This wrench ends below the torque that is wanted.",
        "Take a wrench whose scale reaches beyond the value.",
        "Convert first. Take a wrench that has the value well inside its scale, above a fifth of its largest.",
    ),
}

MISCONCEPTIONS = tuple(Misconception(code, "torque-units", *texts) for code, texts in _TEXTS.items())
