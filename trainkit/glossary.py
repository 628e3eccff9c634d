"""The words of the trade that the workbooks use, each said in a sentence or two.

A workbook prints such a word **bold** where it explains it. A page may open the words on tap
(:data:`trainkit.widgets.kernel_messages` sends them); :meth:`trainkit.workbook.Book.words` lists them for everybody.

Nothing here depends on an engine: what a pack states (numbers, sides, parts) never stands in a glossary.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

__all__ = ["TERMS", "Term", "find", "term"]


@dataclass(frozen=True, slots=True)
class Term:
    """One word of the trade.

    Parameters
    ----------
    term : str
        The word as a workbook explains it.
    text : str
        What it means, in one or two short sentences; units and viewpoints are said.
    forms : tuple of str
        How else it is met: in the plural, as a verb, spelt another way.
    """

    term: str
    text: str
    forms: tuple[str, ...] = ()

    @property
    def spellings(self) -> tuple[str, ...]:
        """The term and its other forms."""
        return (self.term, *self.forms)


TERMS: tuple[Term, ...] = (
    Term(
        "torque",
        "A force times the length of its lever. The workbooks give it in N·m, lbf·ft, lbf·in, kgf·m or ozf·in.",
        ("torques",),
    ),
    Term(
        "tightening stage",
        "One round of tightening, done on every bolt before the next. The first holds the parts, the final fixes them.",
        ("tightening stages", "first stage", "final stage", "first stages", "final stages"),
    ),
    Term(
        "dual-unit value",
        "One torque that is printed in two units. One number was decided, the other worked out and rounded.",
        ("dual-unit values", "dual unit value", "dual-unit", "printed in two units"),
    ),
    Term(
        "master",
        "The number of a dual-unit value that was decided. Convert from it, never from the rounded one.",
        ("master column", "masters"),
    ),
    Term(
        "tool step",
        "From one mark of the wrench's scale to the next, in the wrench's unit. You can set no value in between.",
        ("tool's step", "step of its scale", "step of the scale", "step of the wrench", "tool steps"),
    ),
    Term(
        "adapter",
        "A piece between wrench and bolt that reaches past other parts. It changes the lever, so the setting too.",
        ("adapters", "adaptor", "adaptors"),
    ),
    Term(
        "nut factor",
        "A plain number, K, for what friction takes of the torque. It is lower with oil than dry.",
        ("nut factors", "factor K"),
    ),
    Term(
        "preload",
        "The pull in a tightened bolt, in kilonewtons (kN). It is what holds the joint together.",
        ("preloads", "preloaded"),
    ),
    Term(
        "proof load",
        "The pull that a bolt bears without lasting stretch, in kN. It is stress area times proof stress.",
        ("proof loads",),
    ),
    Term(
        "proof stress",
        "The stress that a bolt of a class bears without lasting stretch, in MPa. One MPa is one newton a mm².",
        ("proof stresses",),
    ),
    Term(
        "stress area",
        "The part of a bolt's cross-section that carries the pull, in mm². The thread takes some away.",
        ("stress areas",),
    ),
    Term(
        "pitch",
        "From one turn of a thread to the next, in millimetres. Where none is written, the coarse one is meant.",
        ("pitches",),
    ),
    Term(
        "jacking screw",
        "A screw that presses a stuck part off, through a tapped hole. Turn several in by turns.",
        ("jacking screws",),
    ),
    Term(
        "single-use part",
        "A part that deforms or locks once, such as a sealing ring. A new one goes in each time.",
        ("single-use parts", "single-use", "used once only", "use once"),
    ),
    Term(
        "witness mark",
        "A line of paint across bolt and part. If it is broken later, something has turned.",
        ("witness marks",),
    ),
    Term(
        "dowel",
        "A pin that locates one part on another. It is there to position, not to take torque.",
        ("dowels", "timing dowel", "dowelled"),
    ),
    Term(
        "barring",
        "Turning the engine slowly by hand, with a tool made for it. Forward is the sense it runs in.",
        ("bar forward", "bar on", "bar back", "barred", "barring tool", "barring tools"),
    ),
    Term(
        "ring gear",
        "The large toothed ring on the flywheel. It turns with the crank.",
        ("ring gears",),
    ),
    Term(
        "pinion",
        "The smaller of two gears that mesh. A barring pinion turns the ring gear.",
        ("pinions", "barring pinion"),
    ),
    Term(
        "crank nose",
        "The free end of the crank, at the front of the engine. A socket on it turns the crank directly.",
    ),
    Term(
        "mesh",
        "The place where the teeth of two gears meet. Outside teeth turn the sense over.",
        ("meshes", "meshing"),
    ),
    Term(
        "idler",
        "A gear between two others. It turns the sense over, yet leaves their speeds as they would be.",
        ("idlers", "idler gear", "idler gears"),
    ),
    Term(
        "seen from the front",
        "As you see it when you face the free end of the crank. Clockwise here is anticlockwise from the flywheel.",
        ("from the front", "front end"),
    ),
    Term(
        "seen from the flywheel end",
        "As you see it when you face the flywheel. Clockwise here is anticlockwise from the front.",
        ("from the flywheel end", "flywheel end"),
    ),
    Term(
        "clock position",
        "Where a mark stands, read like a clock: twelve is at the top. Say from which end you look.",
        ("clock positions", "like a clock"),
    ),
    Term(
        "top dead centre",
        "The highest place of a piston. Each cylinder meets it twice in two crank turns (720°).",
        ("top dead centres", "dead centre", "dead centres"),
    ),
    Term(
        "top dead centre on compression",
        "Both valves are shut and the gas is squeezed. This is where the cylinder fires.",
        ("dead centre on compression", "compression dead centre", "on compression"),
    ),
    Term(
        "top dead centre on exhaust",
        "One crank turn after compression. The exhaust valve is closing and the inlet valve is opening.",
        ("dead centre on exhaust", "exhaust dead centre", "on exhaust"),
    ),
    Term(
        "firing order",
        "The order in which the cylinders fire, once each in two crank turns (720°).",
        ("firing orders",),
    ),
    Term(
        "lock pin",
        "A pin that holds the gear train at one place while a part is set. Nothing may turn while it is in.",
        ("lock pins",),
    ),
    Term(
        "witness tooth",
        "A marked tooth. It stands at its place only when the engine stands at the right dead centre.",
        ("marked tooth", "marked teeth"),
    ),
    Term(
        "lash",
        "The play between two meshing teeth, in mm at the pitch circle or in degrees. It keeps gears from binding.",
        ("backlash",),
    ),
    Term(
        "pitch circle",
        "The circle of a gear on which its teeth meet those of the other gear. Its radius is given in mm.",
        ("pitch circles", "pitch radius"),
    ),
    Term(
        "keyway",
        "A slot in shaft and wheel. A small block lies in it, the key: it fixes the wheel on its shaft.",
        ("keyways", "key in a shaft", "key of the shaft"),
    ),
    Term(
        "catch tray",
        "A tray under the work. What falls lands in it, and not among the gears.",
        ("catch trays", "tray"),
    ),
)
"""All of them, in the order in which the modules bring them up."""


@cache
def _pattern() -> re.Pattern[str]:
    # The longest spelling first, so that a word within a longer one does not hide it.
    spellings = sorted((s for each in TERMS for s in each.spellings), key=len, reverse=True)
    return re.compile(r"(?<![\w-])(?:" + "|".join(map(re.escape, spellings)) + r")(?![\w-])", re.IGNORECASE)


@cache
def _by_spelling() -> dict[str, Term]:
    return {spelling.casefold(): each for each in TERMS for spelling in each.spellings}


def term(spelling: str) -> Term | None:
    """Return the term that is spelt so, in any of its forms, or None.

    Examples
    --------
    >>> term("Dead centres").term
    'top dead centre'
    >>> term("gasket") is None
    True
    """
    return _by_spelling().get(" ".join(spelling.split()).casefold())


def find(text: str) -> tuple[Term, ...]:
    """Return the terms that a text uses, each once, in the order in which they first stand there.

    Examples
    --------
    >>> [each.term for each in find("Bar on until the idler's hole takes the lock pin.")]
    ['barring', 'idler', 'lock pin']
    >>> find("The space bar is no tool.")
    ()
    """
    plain = " ".join(text.split())
    return tuple(dict.fromkeys(_by_spelling()[hit.group().casefold()] for hit in _pattern().finditer(plain)))
