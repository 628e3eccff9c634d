"""The misconceptions of the module *tightening*: what each shows, and the step that cures it."""

from __future__ import annotations

from trainkit.items.misconceptions import Misconception

# What it shows, the cure and, where one of these would say what is right, what is told while an attempt is open.
_TEXTS: dict[str, tuple[str, ...]] = {
    # what a joint is like after a history
    "first-for-final": (
        "This answer takes the first stage for the final one.",
        "At the first stage parts are held, yet can still be set. Only the final stage is final.",
        "Go through the lines one by one. Did every fastener take every stage, all of them together, and stay tight?",
    ),
    "tightest-for-all": (
        "This answer goes by the fastener that is tightest.",
        "A joint is only as far as its least tight fastener. Look at each of them.",
    ),
    "stage-skipped": (
        "This answer lets a stage be left out.",
        "Each stage leaves a joint that the next one needs. Loosen all and take the stages in turn.",
        "A joint is finished only where every fastener took every stage and stayed tight. Take each stage with all of "
        "them together. Where that was not so, loosen all and begin again.",
    ),
    "one-to-final-first": (
        "This answer takes one fastener further before the others have caught up.",
        "Bring all of them to one stage. Then bring all of them to the next.",
        "A joint is finished only where every fastener took every stage and stayed tight. Take each stage with all of "
        "them together. Where that was not so, loosen all and begin again.",
    ),
    "single-use-reused": (
        "This answer uses again what is made to be used once.",
        "A stretched bolt or a used locking nut holds less the second time. Fit a new one.",
    ),
    "loosening-overlooked": (
        "This answer leaves out that one fastener was loosened again.",
        "The clamp of the whole joint has changed. Loosen all of them and begin again.",
        "A joint is finished only where every fastener took every stage and stayed tight. Take each stage with all of "
        "them together. Where that was not so, loosen all and begin again.",
    ),
    "a-little-more": (
        "This answer pulls a finished joint a little further.",
        "More than the stated value stretches the bolt for good. At the final stage, stop.",
        "Go through the lines one by one. Did every fastener take every stage, all of them together, and stay tight?",
    ),
    # which bolt comes next
    "round-in-a-circle": (
        "This answer goes to the neighbour, round in a circle.",
        "Neighbours pull the part over to one side. Go across, and spread the load.",
    ),
    "end-to-end": (
        "This answer goes to the neighbour, along the part.",
        "A long part is drawn down from its centre outwards, in turn on either side.",
    ),
    "ends-first": (
        "This answer fixes the ends before the middle.",
        "With both ends held, the middle cannot settle. Begin at the centre and work outwards.",
    ),
    # what is done between the stages
    "sets-loose-parts": (
        "This order lines a part up while nothing holds it.",
        "A loose part does not stay where it is put. Bring all fasteners to the lowest stage first.",
    ),
    "moves-at-first": (
        "This order shifts or fits parts that are already held.",
        "From the first stage on the parts are clamped. Shift and fit them before that.",
    ),
    "checks-before-held": (
        "This order checks a position that is not held yet.",
        "What is checked loose may move afterwards. Check once the parts are held.",
    ),
    "final-still-moves": (
        "This order lines a part up after the final stage.",
        "At the final stage nothing may move. Line the part up before it.",
    ),
    # preload and proof load
    "diameter-in-wrong-unit": (
        "This answer puts in a diameter that is not in millimetres.",
        "N·m divided by millimetres gives kN. Write the diameter in millimetres first.",
    ),
    "more-torque-for-oil": (
        "This answer takes it that an oiled thread needs more torque.",
        "Oil lowers the nut factor. The same torque then stretches the bolt more, not less.",
    ),
    "other-condition": (
        "This answer uses the nut factor of the other condition of the thread.",
        "Look first whether the thread is dry or oiled. Then take the factor that goes with it.",
    ),
    "nut-factor-left-out": (
        "This answer leaves the nut factor out.",
        "Most of the torque goes into friction. The nut factor stands for it: F = T ÷ (K × d).",
    ),
    "nut-factor-multiplied": (
        "This answer multiplies by the nut factor where it should divide.",
        "The more friction, the less preload: F = T ÷ (K × d).",
    ),
    "radius-for-diameter": (
        "This answer uses half of the diameter.",
        "The nut factor goes with the whole nominal diameter: F = T ÷ (K × d).",
    ),
    "next-class": (
        "This answer takes the proof stress of the neighbouring class.",
        "Read the marking on the head, and go along its own line of the table.",
    ),
    "area-of-nominal-diameter": (
        "This answer works out the area from the nominal diameter, as π × d² ÷ 4.",
        "The thread takes a part of the bolt away. Use the stress area of the table.",
    ),
    "share-upside-down": (
        "This answer divides the proof load by the preload.",
        "The share that is used is preload ÷ proof load.",
    ),
    "breaking-for-proof": (
        "This answer measures against the tensile strength, at which the bolt breaks.",
        "The proof load is what the bolt bears without lasting stretch. Use the proof stress.",
    ),
    # reading a thread
    "pitch-read-as-length": (
        "This answer reads the pitch in the designation as a length.",
        "The second number is the pitch, in millimetres from thread to thread. A length comes last, if at all.",
    ),
    "pitch-left-out": (
        "This answer goes by the diameter alone.",
        "A thread fits where diameter and pitch agree. Another pitch jams after a turn or two.",
    ),
    "pitch-alone": (
        "This answer goes by the pitch alone.",
        "A thread fits where diameter and pitch agree. Another diameter falls through or does not enter.",
    ),
    "screw-too-short": (
        "This screw is too short to press the part off.",
        "A jacking screw reaches through the flange and then as far as the part shall move.",
    ),
    # parts that are used once
    "used-seal-good-enough": (
        "This answer fits a used seal again.",
        "A seal has taken the shape of its old place. It seals once.",
    ),
    "damaged-part-fitted": (
        "This answer fits a part that is damaged.",
        "Renew a part that is cracked or bent, whatever it is.",
    ),
    "renews-everything": (
        "This answer throws away a part that goes back.",
        "Only parts that deform or lock once are renewed. A sound part goes back where it was.",
    ),
}

MISCONCEPTIONS = tuple(Misconception(code, "tightening", *texts) for code, texts in _TEXTS.items())
