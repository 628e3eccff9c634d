"""Rules about what a pack says of itself: its notice, its sources, its cautions."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from trainkit.packs.rules.base import Breach, Case, rule
from trainkit.sentences import listed

if TYPE_CHECKING:
    from trainkit.packs.findings import Path

__all__: list[str] = []


@rule("notice")
def _notice(case: Case) -> Iterator[Breach]:
    source = case.pack.provenance
    if source.values == "manual":
        for key in ("manual", "edition"):
            if not getattr(source, key).strip():
                yield Breach(
                    "manual-unnamed",
                    ("notice", "values"),
                    source.values,
                    f"A pack with a manual's values names its {key}.",
                    f'Add {key} = "…", as it stands on the cover.',
                )
        return
    for key in ("manual", "edition"):
        if getattr(source, key):
            yield Breach(
                "manual-unclaimed",
                ("notice", key),
                getattr(source, key),
                "Invented values come from no manual.",
                'Delete it, or write values = "manual" and give each value its page.',
            )


@rule("hazards")
def _cautions(case: Case) -> Iterator[Breach]:
    from trainkit.packs.cautions import STANDARD
    from trainkit.packs.work import USUAL_CAUTIONS

    given = {hazard.kind for hazard in case.pack.hazards}
    general = [kind for kind in STANDARD if kind not in given]
    if general:
        about = listed([USUAL_CAUTIONS[kind] for kind in general])
        yield Breach(
            "caution-not-stated",
            ("hazards",),
            ", ".join(general),
            f"The pack states no caution of its own about {about}; general words stand in.",
            "Add [[hazards]] of this kind. Name what is meant on this engine.",
            "remark",
        )
    for kind, about in USUAL_CAUTIONS.items():
        if kind not in given and kind not in STANDARD:
            yield Breach(
                "caution-missing",
                ("hazards",),
                kind,
                f"Every pack has a caution about {about}.",
                f'Add [[hazards]] with kind = "{kind}"; `trainkit new-pack` writes one to start from.',
            )


@rule("notice", "engine", "gears", "meshes", "barring", "lock_pin", "fasteners")
def _pages(case: Case) -> Iterator[Breach]:
    pack = case.pack
    if pack.provenance.values != "manual":
        return
    wanted: list[tuple[Path, object, str]] = [
        (("engine", "firing_order"), pack.engine.firing_order, pack.engine.page),
        (("barring", "by"), pack.barring.by, pack.barring.page),
        (("lock_pin", "seats"), pack.lock_pin_table.seats, pack.lock_pin_table.page),
    ]
    wanted += [(("gears", place, "teeth"), gear.teeth, gear.page) for place, gear in enumerate(pack.gears)]
    wanted += [
        (("meshes", place, "lash_mm"), mesh.lash_mm, mesh.page)
        for place, mesh in enumerate(pack.meshes)
        if mesh.lash_mm
    ]
    for place, fastener in enumerate(pack.fasteners):
        wanted += [
            (
                ("fasteners", place, "stages", number, "torque" if stage.torque else "angle"),
                stage.torque or stage.angle,
                stage.page or fastener.page,
            )
            for number, stage in enumerate(fastener.stages)
            if stage.torque or stage.angle
        ]
    for path, value, page in wanted:
        if not page.strip():
            yield Breach(
                "value-without-page",
                path,
                value,
                "In a pack that claims a manual, every value names the page it came from.",
                'Add page = "…" to this table.',
            )
