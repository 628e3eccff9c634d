"""The misconceptions of the module *turning direction*: what each shows, and the step that cures it."""

from __future__ import annotations

from trainkit.items.misconceptions import Misconception

_TEXTS = {
    # counting changes of sense
    "mesh-too-few": (
        "This answer leaves out one mesh.",
        "Put a finger on each place where teeth meet, from gear to gear. Each one turns the sense over.",
    ),
    "gears-counted": (
        "This answer counts gears, not meshes.",
        "Two gears have one mesh between them. Count the places where teeth meet.",
    ),
    "idler-counted-twice": (
        "This answer counts an idler as a change of its own.",
        "An idler has a mesh on either side. Count these two meshes and nothing for the gear itself.",
    ),
    "chain-turns-over": (
        "This answer lets a chain or belt turn the sense over.",
        "Follow the upper strand: it pulls both wheels the same way. A chain or belt keeps the sense.",
    ),
    "ring-turns-over": (
        "This answer lets a gear inside a ring turn the sense over.",
        "Inside a ring both go round the same way. Only outside teeth turn the sense over.",
    ),
    "shaft-as-mesh": (
        "This answer counts two gears on one shaft as a mesh.",
        "What sits on one shaft turns as one piece. Go from gear to gear, and count only where teeth meet.",
    ),
    # the end that is looked from
    "viewpoint-forgotten": (
        "This answer forgets that it is seen from the other end.",
        "From the other end clockwise is anticlockwise. Turn the sense over once more, last of all.",
    ),
    "viewpoint-for-nothing": (
        "This answer turns the sense over for a viewpoint that has not changed.",
        "Read both viewpoints aloud. Only where they differ the sense turns over once more.",
    ),
    "half-turned-over": (
        "This answer turns over what one gear does and leaves the other as it was.",
        "The other end changes every sense on the engine. Turn over all of them, or none.",
    ),
    # the barring tool
    "tool-like-engine": (
        "This answer turns the tool the way the engine turns, without a mesh between.",
        "Pinion and ring gear are a mesh of outside teeth. Facing the same end, the tool turns the other way.",
    ),
    "socket-as-mesh": (
        "This answer counts the socket on the crank nose as a mesh.",
        "The socket sits on the crank and turns as one with it. Only the viewpoint still counts.",
    ),
    # how far
    "inverse-ratio": (
        "This answer uses the ratio upside down.",
        "The smaller gear turns faster. Ask first whether the answer must be more or less than what was given.",
    ),
    "one-to-one": (
        "This answer lets both gears turn equally far.",
        "Teeth pass one by one: turns × teeth is the same for both. The gear with more teeth turns less.",
    ),
    "ratio-of-idler": (
        "This answer stops at the last gear between and leaves out the mesh behind it.",
        "Multiply mesh by mesh up to the gear that is asked for. The teeth of an idler cancel out.",
    ),
    "compound-as-idler": (
        "This answer takes two gears on one shaft for an idler.",
        "Where two gears share a shaft their teeth do not cancel. Multiply mesh by mesh.",
    ),
    # clock positions
    "clock-backwards": (
        "This answer goes round the clock the other way.",
        "Clockwise goes from 12 to 1 to 2, as the hands do. Say the hours aloud while you turn.",
    ),
    "hour-as-sixty-degrees": (
        "This answer takes one degree as one minute of the clock.",
        "Twelve hours are 360°, so one hour is 30° and one degree is two minutes.",
    ),
    "mirrored-top-to-bottom": (
        "This answer mirrors the clock top to bottom.",
        "Walk round the engine: top stays top, left and right change places. h becomes 12 − h.",
    ),
    "turned-half-round": (
        "This answer turns the clock half round.",
        "Walk round the engine: 12 stays at the top. Only left and right change places, h becomes 12 − h.",
    ),
}

MISCONCEPTIONS = tuple(Misconception(code, "turning-direction", *texts) for code, texts in _TEXTS.items())
