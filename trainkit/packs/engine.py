"""The engine of a pack: cylinders, gears, meshes, how it is barred and how it is pinned."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from trainkit.packs.base import ClockText, Id, OneLine, Paragraph, Sourced

Viewpoint = Literal["front", "flywheel"]
Sense = Literal["clockwise", "anticlockwise"]
_Millimetres = Annotated[float, Field(gt=0, le=5000)]
_Teeth = Annotated[int, Field(ge=6, le=1000)]


class Engine(Sourced):
    """The engine as a whole.

    Parameters
    ----------
    name, kind : str
        What people call it, and what it is ("in-line four").
    job : str
        The work that this pack is about.
    cylinders : int
        Number of cylinders.
    firing_order : tuple of int
        Every cylinder once.
    bank_angle_deg : float, optional
        Angle between the two banks of a V engine, in degrees. Where it is stated, even firing is not assumed.
    firing_intervals_deg : tuple of float, optional
        Crank degrees from each firing in the order to the next, the last one back to the first; 720 in all. Without
        them the engine fires evenly, unless it has banks.
    rotation, seen_from : str
        The sense of rotation in service and the end it is stated from.
    number_one_at : str
        The end at which cylinder 1 sits.
    crank_radius_mm, rod_length_mm : float, optional
        Slider-crank lengths in millimetres, where piston positions are asked for.
    """

    name: OneLine
    kind: OneLine
    job: Paragraph
    strokes: Literal[4] = 4
    cylinders: Annotated[int, Field(ge=1, le=24)]
    firing_order: Annotated[tuple[int, ...], Field(min_length=1, max_length=24)]
    bank_angle_deg: Annotated[float, Field(gt=0, le=180)] | None = None
    firing_intervals_deg: Annotated[tuple[float, ...], Field(max_length=24)] = ()
    rotation: Sense
    seen_from: Viewpoint
    number_one_at: Viewpoint = "front"
    crank_radius_mm: _Millimetres | None = None
    rod_length_mm: _Millimetres | None = None

    @property
    def firing_known(self) -> bool:
        """Whether it is known how far apart the cylinders fire."""
        return bool(self.firing_intervals_deg) or self.bank_angle_deg is None or self.cylinders == 1

    @property
    def fires_evenly(self) -> bool:
        """Whether all cylinders are known to fire equally far apart, so that 720 / n holds."""
        return self.firing_known and len(set(self.firing_intervals_deg)) < 2


class Gear(Sourced):
    """One gear, sprocket or pulley of the train.

    Parameters
    ----------
    id, name : str
        Identifier and what people call it.
    teeth : int
        Number of teeth.
    on_shaft : str
        The shaft it sits on; gears of one shaft turn together. Its own identifier if nothing is said.
    role : str
        What it is for: a ``camshaft`` and a ``component`` turn at half crank speed on a four-stroke engine.
    module_mm : float, optional
        Module, millimetres of pitch diameter for each tooth; needed where lash is given in millimetres.
    seen_at : str
        The end of the engine from which this gear is seen.
    turns : str, optional
        The sense in which it turns when the engine runs, seen from ``seen_at``; the checker holds it against
        the meshes.
    at_mm : tuple of float, optional
        Where its shaft sits, in millimetres: how far to the right of any fixed point and how far up, seen from
        ``seen_at``. The checker holds it against teeth and module. Where the places of others settle it, it is
        worked out.
    split : bool
        Whether it is a split gear, two halves drawn apart by springs, that has no lash in its meshes.
    """

    id: Id
    name: OneLine
    teeth: _Teeth
    on_shaft: str = ""
    role: Literal["crank", "idler", "camshaft", "component", "accessory"] = "idler"
    module_mm: Annotated[float, Field(gt=0, le=50)] | None = None
    seen_at: Viewpoint = "front"
    turns: Sense | None = None
    at_mm: Annotated[tuple[float, ...], Field(min_length=2, max_length=2)] | None = None
    split: bool = False

    @property
    def from_the_front(self) -> tuple[float, float] | None:
        """Where its shaft sits in millimetres, to the right and up, seen from the front; None where nobody says."""
        if self.at_mm is None:
            return None
        across, up = self.at_mm
        return (across if self.seen_at == "front" else -across), up

    @property
    def shaft(self) -> str:
        """The shaft it sits on."""
        return self.on_shaft or self.id

    @property
    def pitch_radius_mm(self) -> float | None:
        """Pitch radius in millimetres, if the module is known."""
        return None if self.module_mm is None else self.module_mm * self.teeth / 2


class Mesh(Sourced):
    """Two gears that turn each other.

    Parameters
    ----------
    driver, driven : str
        Identifiers of the gears, as the drive runs in service.
    kind : str
        ``external`` (opposite sense), ``internal``, ``chain``, ``belt`` (same sense) or ``shaft`` (same shaft).
    lash_mm : float
        Backlash in millimetres at the pitch circle; of gears only.
    tight_side : str, optional
        On which side the pulled run of a chain or belt lies, seen from ``seen_at`` of the driver: ``left``,
        ``right``, ``top`` or ``bottom``. The checker holds it against rotation and shaft positions.
    """

    driver: str
    driven: str
    kind: Literal["external", "internal", "chain", "belt", "shaft"] = "external"
    lash_mm: Annotated[float, Field(ge=0, le=10)] = 0.0
    tight_side: Literal["left", "right", "top", "bottom"] | None = None

    @property
    def has_flanks(self) -> bool:
        """Whether teeth of two gears touch; a chain, a belt and a shaft have no flanks and no lash."""
        return self.kind in ("external", "internal")


class Barring(Sourced):
    """How the engine is turned by hand.

    Parameters
    ----------
    by : str
        ``ring-gear`` (a hand tool with a pinion on the ring gear), ``crank-nose`` (a socket on the crank),
        ``hydraulic`` or ``electric`` (a drive with a pinion on the ring gear; nobody holds a bar).
    ring_teeth, pinion_teeth : int, optional
        Tooth numbers where it is barred on the ring gear; a drive of its own may leave them out.
    module_mm, lash_mm : float, optional
        Module of the ring gear and backlash between ring gear and pinion, in millimetres.
    stands_at : str
        The end that the person who bars the engine stands at and faces.
    tool : str
        Identifier of the barring tool.
    """

    by: Literal["ring-gear", "crank-nose", "hydraulic", "electric"]
    ring_teeth: _Teeth | None = None
    pinion_teeth: _Teeth | None = None
    module_mm: Annotated[float, Field(gt=0, le=50)] | None = None
    lash_mm: Annotated[float, Field(ge=0, le=10)] = 0.0
    stands_at: Viewpoint
    tool: str

    @property
    def by_hand(self) -> bool:
        """Whether a person turns the tool, so that turns and sense of the hand can be asked for."""
        return self.by in ("ring-gear", "crank-nose")


class FurtherPin(Sourced):
    """A second pin, plate or dowel beside the one of the table ``lock_pin``, which is the first.

    Parameters
    ----------
    id, name : str
        Identifier and what people call it.
    kind : str
        ``pin``, ``plate`` or ``dowel``.
    hole_in : str
        Identifier of the gear that it holds, or ``flywheel`` for what turns with the crank.
    tool : str, optional
        Identifier of the tool, where it is one.
    """

    id: Id
    name: OneLine
    kind: Literal["pin", "plate", "dowel"] = "pin"
    hole_in: str
    tool: str = ""


class LockPinTable(Sourced):
    """Where the lock pin goes and how its place is recognised.

    Parameters
    ----------
    hole_in : str
        Identifier of the gear whose hole takes the pin, or ``flywheel`` for a hole that turns with the crank.
    holes : int
        Equally spaced holes in that gear, all of them true.
    cylinder, dead_centre : int, str
        The right place: dead centre of that cylinder on ``compression`` or ``exhaust``.
    tells_stroke : str
        What tells the right stroke: ``witness`` (a marked tooth must agree), ``valves`` (the valves of that
        cylinder are both shut) or ``hole`` (the hole itself comes by once a cam turn only).
    watched : str
        Identifier of the gear with the marked tooth, or ``flywheel`` for marks on the flywheel rim.
    seen_from : str
        The end from which the clock positions are read.
    press_from, seats, give_up, back_off_to : str
        Clock positions of the mark, in the order in which a barring forward meets the first three.
    press_from_deg, give_up_deg, back_off_deg : float, optional
        The same in crank degrees before (press, back off) and after (give up) the place, where a manual gives
        degrees in place of clock positions.
    component : str
        Identifier of the gear whose timing the pin fixes.
    clearance_deg : float
        The pin goes in while its hole is within this of lining up, either side, in crank degrees.
    tolerance_deg : float
        Timing error at the component that is let pass, in crank degrees.
    stiff : bool
        Whether the pin is found stiff and must be freed before any barring.
    vented : bool
        Whether every cylinder is vented, so that compression cannot kick back.
    false_holes_deg : tuple of float
        Crank degrees, counted forward from the right place, of holes that take the pin but are not the one.
    """

    hole_in: str
    holes: Annotated[int, Field(ge=1, le=36)] = 1
    cylinder: Annotated[int, Field(ge=1, le=24)] = 1
    dead_centre: Literal["compression", "exhaust"] = "compression"
    tells_stroke: Literal["witness", "valves", "hole"]
    watched: str = "flywheel"
    seen_from: Viewpoint
    press_from: ClockText | None = None
    seats: ClockText
    give_up: ClockText | None = None
    back_off_to: ClockText | None = None
    press_from_deg: Annotated[float, Field(gt=0, lt=360)] | None = None
    give_up_deg: Annotated[float, Field(gt=0, lt=360)] | None = None
    back_off_deg: Annotated[float, Field(gt=0, lt=360)] | None = None
    component: str
    clearance_deg: Annotated[float, Field(gt=0, le=10)] = 0.25
    tolerance_deg: Annotated[float, Field(ge=0, le=30)] = 0.0
    stiff: bool = False
    vented: bool = False
    false_holes_deg: Annotated[tuple[float, ...], Field(max_length=12)] = ()
