"""How strong a bolt is: ISO 898-1 property classes for metric threads, SAE J429 grades for inch threads."""

from __future__ import annotations

import re
from dataclasses import dataclass

from trainkit.errors import FastenerError
from trainkit.fasteners.threads import INCH, Thread

MPA_PER_KSI = 4.4482216152605 * 1000 / INCH**2  # a pound force on a square inch, in N/mm²

# Class: for diameters up to and above 16 mm, nominal proof stress, least yield (or 0.2 % proof) stress, nominal tensile
# strength, all MPa. ISO 898-1:2013 table 3; the number of the table and the rows above 16 mm from memory.
_CLASSES = {
    "4.6": ((225, 240, 400), (225, 240, 400)),
    "4.8": ((310, 340, 400), (310, 340, 400)),
    "5.6": ((280, 300, 500), (280, 300, 500)),
    "5.8": ((380, 420, 500), (380, 420, 500)),
    "6.8": ((440, 480, 600), (440, 480, 600)),
    "8.8": ((580, 640, 800), (600, 660, 800)),
    "10.9": ((830, 940, 1000), (830, 940, 1000)),
    "12.9": ((970, 1100, 1200), (970, 1100, 1200)),
}
# Grade: largest diameter in inches, then proof, yield and tensile strength in ksi. SAE J429 table 1; the proof
# strengths of grades 5 and 8 up to 1 in were seen in a published table, the rest is from memory.
_GRADES = {
    "2": ((0.75, (55, 57, 74)), (1.5, (33, 36, 60))),
    "5": ((1.0, (85, 92, 120)), (1.5, (74, 81, 105))),
    "8": ((1.5, (120, 130, 150)),),
}


@dataclass(frozen=True, slots=True)
class Strength:
    """What a class or grade promises, in MPa.

    Parameters
    ----------
    name : str
        ``"8.8"`` or ``"grade 5"``.
    proof : float
        Proof stress: held without lasting stretch.
    yielding : float
        Least yield stress, or stress at 0.2 % lasting stretch.
    tensile : float
        Tensile strength.
    """

    name: str
    proof: float
    yielding: float
    tensile: float


def as_thread(thread: Thread | str) -> Thread:
    """Return the thread itself, or the one that a designation names."""
    return thread if isinstance(thread, Thread) else Thread(thread)


def strength(cls: str | float, thread: Thread | str) -> Strength:
    """Return what a property class or grade promises for a thread.

    Parameters
    ----------
    cls : str or float
        ``"8.8"`` or 8.8 for a metric thread; ``"grade 5"``, ``"SAE 5"`` or ``"5"`` for an inch thread.
    thread : Thread or str
        Its size matters: thick bolts of one class are made differently.

    Raises
    ------
    FastenerError
        If there is no such class, or it belongs to the other thread system.

    Examples
    --------
    >>> strength("10.9", "M8")
    Strength(name='10.9', proof=830.0, yielding=940.0, tensile=1000.0)
    >>> strength("8.8", "M20").proof
    600.0
    """
    screw = as_thread(thread)
    text = f"{cls:g}" if isinstance(cls, int | float) and not isinstance(cls, bool) else cls
    if not isinstance(text, str):
        raise FastenerError(cls, rule="A class is text such as 8.8 or grade 5.", remedy="Write it so.")
    name = re.sub(r"^(class|grade|gr\.?|sae)\s*", "", " ".join(text.split()).replace(",", "."), flags=re.IGNORECASE)
    if screw.system == "metric":
        if name not in _CLASSES:
            raise FastenerError(
                cls,
                rule=f"The property classes of metric bolts are {', '.join(_CLASSES)}.",
                remedy="Read the marking on the bolt head or the manual.",
            )
        found = _CLASSES[name][screw.diameter > 16]
        return Strength(name, *(float(value) for value in found))
    if name not in _GRADES:
        raise FastenerError(
            cls,
            rule=f"The grades of inch bolts known here are {', '.join(_GRADES)} (SAE J429).",
            remedy="Read the marking on the bolt head or the manual.",
        )
    for largest, values in _GRADES[name]:
        if 0.25 * INCH - 1e-9 <= screw.diameter <= largest * INCH + 1e-9:
            return Strength(f"grade {name}", *(value * MPA_PER_KSI for value in values))
    raise FastenerError(
        str(screw),
        rule=f"Grade {name} is laid down from 1/4 in to 1 1/2 in.",
        remedy="Take the strength of this screw from its manual.",
    )


def proof_load(thread: Thread | str, cls: str | float) -> float:
    """Return the proof load in newtons: stress area times proof stress.

    The tables of ISO 898-1 multiply the area after rounding it and round again, so they differ by up to 0.4 %.

    Examples
    --------
    >>> round(proof_load("M12", "10.9"), -2)
    69900.0
    """
    screw = as_thread(thread)
    return screw.stress_area * strength(cls, screw).proof
