"""Rules about energies: each answered, isolated, proved and brought back, and how the engine can be started."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, get_args

from trainkit.packs.energies import ASKED_KINDS, EnergyKind
from trainkit.packs.precedences import of_energies, of_pins, sources
from trainkit.packs.rules.base import Breach, Case, near, rule
from trainkit.packs.work import DEEDS, Hazard

if TYPE_CHECKING:
    from trainkit.packs.findings import Path
    from trainkit.procedures import Edge

__all__: list[str] = []

# What is made safe by waiting or letting down has no isolator to lock.
_NO_LOCK = frozenset({"hot-coolant", "capacitor"})
_NAMED = ("makes_safe", "proves", "restores", "needs_live")


@rule("energy", "engine")
def _answered(case: Case) -> Iterator[Breach]:
    pack = case.pack
    if not pack.energies:
        yield Breach(
            "safety-not-stated",
            ("engine",),
            "",
            "Nothing says what can move, burn or strike at this engine; no safe order can be worked out.",
            "Add [[energy]] entries, and makes_safe, proves and restores to steps; `trainkit new-pack` writes some.",
            "unstated",
        )
        return
    given = {each.kind for each in pack.energies}
    for kind, about in ASKED_KINDS.items():
        if kind not in given:
            yield Breach(
                "energy-unanswered",
                ("energy", len(pack.energies) - 1),
                kind,
                f"Every pack says whether there is {about}.",
                f'Add [[energy]] with kind = "{kind}"; where there is none, present = false and looked_by.',
                "unstated",
            )
    for place, each in enumerate(pack.energies):
        path: Path = ("energy", place)
        if not each.present:
            if not each.looked_by.strip():
                yield Breach(
                    "energy-unlooked",
                    (*path, "present"),
                    each.id,
                    "Where there is no such source, somebody has looked for it.",
                    'Add looked_by = "…": who looked, and where.',
                )
            continue
        needed = ("proved_by",) if each.kind in _NO_LOCK else ("isolated_at", "locked_by", "proved_by")
        for key in needed:
            if not getattr(each, key).strip():
                yield Breach(
                    "energy-undescribed",
                    path,
                    each.id,
                    f"A source says where it is isolated, how it is locked and how it is proved; {key} is missing.",
                    f'Add {key} = "…".',
                    "unstated",
                )
        if each.turns and each.reaches == "named":
            yield Breach(
                "reach-too-small",
                (*path, "reaches"),
                each.reaches,
                "What can turn the engine reaches everybody at it.",
                "Delete this key.",
            )


@rule("energy", "steps", "configurations")
def _names(case: Case) -> Iterator[Breach]:
    pack = case.pack
    known = [each.id for each in pack.energies]
    kinds = [*get_args(EnergyKind), *get_args(Hazard.model_fields["kind"].annotation)]
    for place, step in enumerate(pack.steps):
        for key in (*_NAMED, "exposed_to"):
            allowed = [*known, *kinds] if key == "exposed_to" else known
            for index, name in enumerate(getattr(step, key)):
                if name not in allowed:
                    yield Breach(
                        "energy-undeclared",
                        ("steps", place, key, index),
                        name,
                        "No energy of this name is declared.",
                        near(name, allowed, "energy"),
                    )
        for index, name in enumerate(step.does):
            if name not in DEEDS:
                yield Breach(
                    "deed-unknown",
                    ("steps", place, "does", index),
                    name,
                    f"What a step does is one of {', '.join(DEEDS)}.",
                    "Write one of them, or delete it.",
                )
    named = [each.id for each in pack.configurations]
    for place, energy in enumerate(pack.energies):
        for index, name in enumerate(energy.only_with):
            if name not in named:
                yield Breach(
                    "configuration-undeclared",
                    ("energy", place, "only_with", index),
                    name,
                    "No configuration of this name is declared.",
                    near(name, named, "configuration"),
                )


@rule("energy", "steps", "configurations")
def _cut_and_proved(case: Case) -> Iterator[Breach]:
    """Hold that each source that reaches somebody is isolated, proved and brought back, in every configuration."""
    pack = case.pack
    places = {each.id: place for place, each in enumerate(pack.energies)}
    told: set[tuple[str, str]] = set()
    for name in case.configurations:
        where = f" With {name}." if name else ""
        for source in sources(pack, name):
            energy = source.energy
            path: Path = ("energy", places[energy.id])
            found = []
            if source.reached and not source.safe:
                own = energy.kind == "heater" and energy.own_supply
                found.append(
                    Breach(
                        "heater-not-isolated" if own else "energy-not-isolated",
                        path,
                        energy.id,
                        f"It reaches {source.reached[0]}, and no step makes it safe."
                        + (" It has a supply of its own, which no other isolator cuts." if own else "")
                        + where,
                        f'Add a step with makes_safe = ["{energy.id}"].',
                    )
                )
            elif source.reached and not source.proofs:
                found.append(
                    Breach(
                        "energy-not-proved",
                        path,
                        energy.id,
                        f"It reaches {source.reached[0]}, and no step proves that it is dead.{where}",
                        f'Add a step with proves = ["{energy.id}"]; isolated is not yet proved.',
                    )
                )
            elif source.safe and not source.restores:
                found.append(
                    Breach(
                        "energy-not-restored",
                        path,
                        energy.id,
                        f"It is made safe, and no step brings it back; the engine would be handed over so.{where}",
                        f'Add restores = ["{energy.id}"] to the step that does.',
                        "remark",
                    )
                )
            yield from (fault for fault in found if (fault.code, energy.id) not in told)
            told |= {(fault.code, energy.id) for fault in found}


@rule("energy", "steps")
def _asked(case: Case) -> Iterator[Breach]:
    """Hold that everybody is clear, and the person in charge agrees, before what turns the engine comes back."""
    turning = {each.id for each in case.pack.energies if each.turns}
    done = {deed for step in case.pack.steps for deed in step.does}
    for place, step in enumerate(case.pack.steps):
        back = [name for name in step.restores if name in turning]
        for deed in ("clear", "agree"):
            if back and deed not in done:
                yield Breach(
                    "restored-unasked",
                    ("steps", place, "restores"),
                    ", ".join(back),
                    f"Before this comes back a step {DEEDS[deed]}.",
                    f'Add such a step with does = ["{deed}"].',
                )


@rule("energy", "start_paths", "engine")
def _paths(case: Case) -> Iterator[Breach]:
    pack = case.pack
    known = {each.id: each for each in pack.energies if each.present}
    starting = [each.id for each in known.values() if each.starts]
    if starting and not pack.start_paths:
        yield Breach(
            "start-paths-missing",
            ("energy", [each.id for each in pack.energies].index(starting[0])),
            starting[0],
            "Where something can start the engine, the pack says on which paths.",
            "Add [[start_paths]] with the links of each: energy, switches, signal.",
            "unstated",
        )
    for place, path in enumerate(pack.start_paths):
        for index, link in enumerate(path.links):
            if link not in known and link not in path.controls:
                yield Breach(
                    "start-link-unknown",
                    ("start_paths", place, "links", index),
                    link,
                    "A link of a start path is an energy that is there, or one of its controls.",
                    near(link, [*known, *path.controls], "energy or control"),
                )
        for index, control in enumerate(path.controls):
            if control in known:
                yield Breach(
                    "control-isolates-nothing",
                    ("start_paths", place, "controls", index),
                    control,
                    "A control isolates nothing; this is an energy.",
                    "Delete it from controls.",
                )
        if not any(link in known for link in path.links):
            yield Breach(
                "control-isolates-nothing",
                ("start_paths", place, "links"),
                ", ".join(path.links),
                "Every start path rests on an energy; mode switch, key and emergency stop isolate nothing.",
                "Add the energy that turns the engine.",
            )


@rule("energy", "start_paths", "steps")
def _attempts(case: Case) -> Iterator[Breach]:
    """Hold that a start attempt that proves something has every other link of the path closed."""
    pack = case.pack
    known = {each.id: each for each in pack.energies if each.present}
    safe = {each: {step.id for step in pack.steps if each in step.makes_safe} for each in known}
    for place, each in enumerate(pack.energies):
        if not each.present or each.proof != "start-attempt":
            continue
        at: Path = ("energy", place, "proof")
        on = [path for path in pack.start_paths if each.id in path.links]
        if each.kind != "automatic-start" and (not each.starts or (pack.start_paths and not on)):
            yield Breach(
                "attempt-proves-nothing",
                at,
                each.id,
                "A start attempt proves only a source that is a link of a start path.",
                "Name it in links of that path, or prove it otherwise.",
            )
        for path in on:
            for link in path.links:
                both = link in known and link != each.id and known[link].proof == "start-attempt"
                if both or (link != each.id and safe.get(link, set()) & safe[each.id]):
                    yield Breach(
                        "attempt-proves-nothing",
                        at,
                        f"{each.id}, {link}",
                        f"On the path {path.id} both links are open when the start is tried; "
                        "then an attempt that fails proves neither.",
                        "Isolate and prove one after the other, the second by a tester.",
                    )


@rule("energy", "steps", "precedence", "configurations", "tools", "fasteners", "start_paths")
def _against_safety(case: Case) -> Iterator[Breach]:
    """Find the written precedences that contradict what follows from energies and pins."""
    places = {(edge.before, edge.after): place for place, edge in enumerate(case.pack.precedence)}
    told: set[int] = set()
    for name, base in case.bases.items():
        if name in case.procedures and name:
            continue
        derived: list[Edge] = [*of_energies(case.pack, name, base), *of_pins(case.pack, name, base)]
        for edge in derived:
            if edge.before == edge.after or not base.comes_before(edge.after, edge.before):
                continue
            chain = [
                places[pair]
                for each in base.why(edge.after, edge.before)
                if (pair := (each.before, each.after)) in places
            ]
            place = max(chain, default=-1)
            if place in told:
                continue
            told.add(place)
            yield Breach(
                "precedence-against-safety",
                ("precedence", place) if chain else ("precedence",),
                f"{edge.after} before {edge.before}",
                f"{edge.before} has to come before {edge.after}. {edge.reason}",
                "Delete or turn round this precedence, or correct what the two steps do.",
            )
        if name not in case.procedures and not told:
            yield Breach(
                "precedence-against-safety",
                ("precedence",),
                name or "no configuration",
                "What the steps do with energies and pins lets no order stand.",
                "Check makes_safe, proves, restores, needs_live, exposed_to and pin of the steps.",
            )
