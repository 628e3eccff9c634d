"""What a picture of a gear train holds: its gears, what joins them, and the end it is seen from."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from trainkit.figures.shown import At, End, Name, Sense
from trainkit.items.kinds import Token, Value


class GearShown(Value):
    """One gear of the picture.

    Parameters
    ----------
    id, name : str
        Identifier, and the words beside it.
    teeth : int
        Number of teeth; sizes are to scale.
    turns : str, optional
        Sense of rotation, drawn as an arrow with its word; left out where it is asked for.
    witness, hole : str, optional
        Clock positions of the witness tooth and of the hole for the lock pin.
    pinned : bool
        Whether the pin is in the hole.
    pin : str, optional
        Clock position of the lock pin in the case, where the gears will be turned.
    chalk : str, optional
        Clock position of a chalk line, by which a gear without any other mark is seen to turn.
    at : tuple of float, optional
        Where its shaft sits, to the right and up as seen from the front, and its pitch radius, all in millimetres.
        Where every gear of the picture has it, they sit so; else they are laid out.
    """

    id: Token
    name: Name = ""
    teeth: Annotated[int, Field(ge=3, le=1000)]
    turns: Sense | None = None
    witness: At | None = None
    hole: At | None = None
    pinned: bool = False
    pin: At | None = None
    chalk: At | None = None
    at: Annotated[tuple[float, ...], Field(min_length=3, max_length=3)] | None = None


class MeshShown(Value):
    """Two gears that turn each other."""

    driver: Token
    driven: Token
    kind: Literal["external", "internal", "chain", "belt", "shaft"] = "external"


class TrainFigure(Value):
    """A gear train seen from one end.

    Parameters
    ----------
    seen_from : str
        The end.
    gears, meshes : tuple
        Up to twelve gears, and what joins them.
    to_turn : bool
        Whether a control will turn the gears: all teeth are drawn, and what turns with a gear stands in a group
        ``data-turns`` with the middle of the gear in ``data-middle``. Arrows of both senses stand in groups
        ``data-arrow``; all but those of the gear's ``turns`` are hidden.
    """

    draw: Literal["gear-train"] = "gear-train"
    seen_from: End
    gears: Annotated[tuple[GearShown, ...], Field(min_length=1, max_length=12)]
    meshes: Annotated[tuple[MeshShown, ...], Field(max_length=24)] = ()
    to_turn: bool = False
