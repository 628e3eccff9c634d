"""What a torque makes of a bolt: preload, dry and oiled, and how much of the proof load that is."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit.errors import FastenerError
from trainkit.fasteners import Strength, Thread, preload, proof_load, strength
from trainkit.items import examples
from trainkit.items.difficulty import digits
from trainkit.items.distinct_answers import Finishes, Readings, numbers, on_step
from trainkit.items.kinds import Given
from trainkit.items.questions import NumberQuestion, NumberTemplate
from trainkit.items.template import redraw_if
from trainkit.items.tightening.joints import thread_of
from trainkit.quantities import THIN, Torque, plain, round_to_step
from trainkit.sentences import opening

if TYPE_CHECKING:
    from trainkit.packs import Pack


# Nut factors that an exercise may state; usual assumptions are 0.20 dry and 0.15 oiled (common practice, no source).
_DRY = (0.17, 0.18, 0.19, 0.20, 0.21, 0.22, 0.23)
_OILED = (0.12, 0.13, 0.14, 0.15, 0.16)
_FORCE_STEP = 0.1  # kN
_COUNTS = (2, 3, 4, 5, 6, 8, 10, 12)
# Which lines of the table of classes are shown beside the one that is asked for.
_METRIC_CLASSES = ("5.8", "8.8", "10.9", "12.9")
_INCH_CLASSES = ("2", "5", "8")
_LEAST_USE, _MOST_USE = 25.0, 90.0  # per cent


@dataclass(frozen=True, slots=True)
class ThreadPull:
    """A torque on a thread.

    Parameters
    ----------
    torque : Torque
        What the screw gets.
    thread : Thread
        Its thread.
    dry, oiled : float
        Nut factors.
    is_oiled : bool
        The condition that the thread is in.
    across : float
        Part of the diameter that is put in for it.
    """

    torque: Torque
    thread: Thread
    dry: float
    oiled: float
    is_oiled: bool
    across: float = 1.0

    @property
    def factor(self) -> float:
        """The nut factor that counts here."""
        return self.oiled if self.is_oiled else self.dry

    @property
    def preload(self) -> float:
        """Preload in kN."""
        return preload(self.torque, self.thread, self.factor) / 1000 / self.across

    @property
    def without_factor(self) -> float:
        """Torque over diameter, in kN."""
        return self.preload * self.factor


# Wrong ways to a preload, in kN.
PRELOAD_RULES: Mapping[str, Callable[[ThreadPull], float | None]] = MappingProxyType(
    {
        "diameter-in-wrong-unit": lambda case: case.preload * (25.4 if case.thread.system == "inch" else 10),
        "more-torque-for-oil": lambda case: (
            case.without_factor / case.dry * (case.oiled / case.dry) if case.is_oiled else None
        ),
        "other-condition": lambda case: case.without_factor / (case.dry if case.is_oiled else case.oiled),
        "nut-factor-left-out": lambda case: case.without_factor,
        "nut-factor-multiplied": lambda case: case.without_factor * case.factor,
        "radius-for-diameter": lambda case: replace(case, across=0.5).preload,
    }
)

# The condition of the thread or its diameter is misread, and another rule works on that; or a unit is mixed up at last.
PRELOAD_READINGS: Readings[ThreadPull] = MappingProxyType(
    {
        "other-condition": lambda case: replace(case, is_oiled=not case.is_oiled),
        "radius-for-diameter": lambda case: replace(case, across=0.5),
    }
)
PRELOAD_FINISHES: Finishes[ThreadPull] = MappingProxyType(
    {"diameter-in-wrong-unit": lambda case, value: float(value) * (25.4 if case.thread.system == "inch" else 10)}
)


class Preload(NumberTemplate):
    """The preload of a bolt from its torque, dry or oiled.

    Difficulty: the digits of torque, diameter and answer; a thread in inches; a thread that is oiled.
    """

    name = "tightening/preload"
    skill = "work out what oil does to the preload"
    quantity = "preload"
    weights = MappingProxyType({"digits": 0.25, "inches": 0.5, "oiled": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> NumberQuestion:
        """Draw once."""
        designation, grade = examples.thread(rng, examples.systems(pack))
        torque = examples.final_torque(rng, designation, grade)
        case = ThreadPull(torque, thread_of(designation), rng.choice(_DRY), rng.choice(_OILED), rng.random() < 0.6)
        redraw_if(1000 * case.preload > examples.proof(designation, grade))
        found = numbers(
            PRELOAD_RULES, case, case.preload, _FORCE_STEP, readings=PRELOAD_READINGS, finishes=PRELOAD_FINISHES
        )
        told, diameter, shown = torque.shown(), _short(case.thread.diameter), _force(found.answer)
        size = f"{plain(_FORCE_STEP)}{THIN}kN"
        condition = "oiled" if case.is_oiled else "dry"
        return NumberQuestion(
            prompt=f"The nut factors are stated for this exercise only. The thread is {condition}. "
            "How large is the preload of one of these?",
            given=(
                examples.named(f"{rng.choice(_COUNTS)} {examples.name(rng)}"),
                Given(label="Thread", value=str(case.thread)),
                *_inch_size(case.thread),
                Given(label="Torque", value=told),
                Given(label="Nut factor K, dry thread", value=f"{case.dry:.2f}"),
                Given(label="Nut factor K, oiled thread", value=f"{case.oiled:.2f}"),
            ),
            to_nearest=f"to the nearest {size}",
            numbers=found,
            unit="kN",
            shown=shown,
            working=(
                f"Preload F = T ÷ (K × d). The thread is {condition}, so K is {case.factor:.2f}.",
                f"The nominal diameter d is {diameter}{THIN}mm. N·m divided by millimetres gives kN.",
                f"F = {plain(case.torque.value)} ÷ ({case.factor:.2f} × {diameter}) = {_short(case.preload)}{THIN}kN.",
                f"To the nearest {size} this is {shown}.",
            ),
            features={
                "digits": digits(told, diameter, shown),
                "inches": case.thread.system != "metric",
                "oiled": case.is_oiled,
            },
            instead=examples.JOINT,
        )


@dataclass(frozen=True, slots=True)
class Stretch:
    """A preload on a bolt of a class, with areas and stresses as a table prints them.

    Parameters
    ----------
    force : float
        Preload, kN.
    diameter, area : float
        Nominal diameter, mm, and stress area, mm².
    proof, tensile : float
        Proof stress and tensile strength of the class, MPa.
    neighbour : float
        Proof stress of the neighbouring class, MPa.
    """

    force: float
    diameter: float
    area: float
    proof: float
    tensile: float
    neighbour: float

    def share(self, stress: float) -> float:
        """Return how many per cent of a stress the force makes in the stress area."""
        return 100_000 * self.force / (self.area * stress)

    @property
    def use(self) -> float:
        """Use of the proof load in per cent."""
        return self.share(self.proof)


# Wrong ways to the use of the proof load, in per cent.
PROOF_RULES: Mapping[str, Callable[[Stretch], float | None]] = MappingProxyType(
    {
        "next-class": lambda case: case.share(case.neighbour),
        "area-of-nominal-diameter": lambda case: case.use * case.area / (math.pi * case.diameter**2 / 4),
        "share-upside-down": lambda case: 10_000 / case.use,
        "breaking-for-proof": lambda case: case.share(case.tensile),
    }
)

# A line of the table or the area is read wrongly, and another rule works on that; or the share is put upside down.
PROOF_READINGS: Readings[Stretch] = MappingProxyType(
    {
        "next-class": lambda case: replace(case, proof=case.neighbour),
        "area-of-nominal-diameter": lambda case: replace(case, area=math.pi * case.diameter**2 / 4),
    }
)
PROOF_FINISHES: Finishes[Stretch] = MappingProxyType({"share-upside-down": lambda _, value: 10_000 / float(value)})


class UseOfProofLoad(NumberTemplate):
    """How many per cent of the proof load a preload uses.

    Difficulty: the digits of area, stress and preload, and of the answer; the classes in the table.
    """

    name = "tightening/use-of-proof-load"
    skill = "tell how far a bolt is stretched"
    quantity = "use of the proof load"
    weights = MappingProxyType({"digits": 0.25, "classes": 0.25})

    def ask(self, rng: random.Random, pack: Pack) -> NumberQuestion:
        """Draw once."""
        designation, grade = examples.thread(rng, examples.systems(pack))
        thread = thread_of(designation)
        share = rng.uniform(_LEAST_USE, _MOST_USE) / 100
        force = round_to_step(share * examples.proof(designation, grade) / 1000, _FORCE_STEP)
        table = _table(grade, thread)
        case = _stretch(force, thread, grade, table)
        found = numbers(PROOF_RULES, case, case.use, 1.0, readings=PROOF_READINGS, finishes=PROOF_FINISHES)
        # A table with more digits would tell otherwise.
        redraw_if(on_step(100_000 * force / proof_load(thread, grade), 1.0) != found.answer)
        area, proof, pull = f"{case.area:g}{THIN}mm²", f"{case.proof:.0f}{THIN}MPa", _force(force)
        load, shown = _short(case.area * case.proof / 1000), f"{plain(found.answer)}{THIN}%"
        return NumberQuestion(
            prompt="How much of its proof load does this preload use?",
            given=(
                examples.named(f"{rng.choice(_COUNTS)} {examples.name(rng)}"),
                Given(label="Marked on the head", value=_title(grade)),
                Given(label="Thread", value=str(thread)),
                *_inch_size(thread),
                Given(label="Stress area", value=area),
                Given(label="Preload of one", value=pull),
                *(Given(label=opening(_title(name)), value=_stresses(each)) for name, each in table),
            ),
            to_nearest=f"to the nearest 1{THIN}%",
            numbers=found,
            unit="%",
            shown=shown,
            working=(
                f"Proof load = stress area × proof stress = {area} × {proof} = {load}{THIN}kN.",
                f"Use = preload ÷ proof load = {plain(force, _FORCE_STEP)} ÷ {load} = {shown}.",
            ),
            features={"digits": digits(area, pull, shown), "classes": len(table)},
            instead=examples.JOINT,
        )


Table = tuple[tuple[str, Strength], ...]  # classes and what they promise for a thread, the weakest first


def _stretch(force: float, thread: Thread, grade: str, table: Table) -> Stretch:
    """Return a preload with what the table says of the class and of its neighbour.

    Raises
    ------
    Redraw
        If the table has no neighbour, or too little or too much of the proof load is used.
    """
    redraw_if(len(table) < 2)
    here = next(place for place, (name, _) in enumerate(table) if name == grade)
    own = table[here][1]
    # The next class up; the strongest has only the one below it.
    neighbour = table[here + 1 if here + 1 < len(table) else here - 1][1]
    stresses = (float(round(stress)) for stress in (own.proof, own.tensile, neighbour.proof))
    case = Stretch(force, thread.diameter, float(f"{thread.stress_area:.3g}"), *stresses)
    redraw_if(not _LEAST_USE <= case.use <= _MOST_USE)
    return case


@lru_cache(maxsize=256)
def _table(grade: str, thread: Thread) -> Table:
    """Return classes and what they promise for a thread, the weakest first, this one among them."""
    usual = _METRIC_CLASSES if thread.system == "metric" else _INCH_CLASSES
    own = strength(grade, thread)
    found = {own.name: (grade, own)}
    for name in usual:
        try:
            other = strength(name, thread)
        except FastenerError:
            continue  # this class is not laid down for the size
        found.setdefault(other.name, (other.name, other))
    return tuple(sorted(found.values(), key=lambda entry: entry[1].proof))


def _title(grade: str) -> str:
    return f"class {grade}" if grade[:1].isdigit() else grade


def _stresses(of: Strength) -> str:
    return f"proof stress {of.proof:.0f}{THIN}MPa, tensile strength {of.tensile:.0f}{THIN}MPa"


def _inch_size(thread: Thread) -> tuple[Given, ...]:
    """Return the line that says how many millimetres an inch size is."""
    if thread.system == "metric":
        return ()
    size = str(thread).partition("-")[0]
    return (Given(label=f"{size} in" if "#" not in size else size, value=f"{_short(thread.diameter)}{THIN}mm"),)


def _force(value: float) -> str:
    return f"{plain(value, _FORCE_STEP)}{THIN}kN"


def _short(value: float) -> str:
    """Return a number with four significant digits."""
    return f"{float(f'{value:.4g}'):g}"
