"""Taking apart and building up: every pack is drawn, and what a step waits for is what the procedure says."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from typing import Any

import pytest

from tests.trainkit import random_packs
from tests.trainkit.plain_engine import plain
from tests.trainkit.second_ways.reading import PACKS, pack
from trainkit import figures, packs
from trainkit.errors import FormError
from trainkit.widgets.instruments import instrument
from trainkit.widgets.instruments.parts import TakenApart
from trainkit.widgets.movable import movable

EVERY = (*PACKS, "start", *(f"random {number}" for number in range(25)))


def named(name: str) -> packs.Pack:
    if name == "start":
        return packs.load_text(plain(), "my-engine.toml")
    kind, _, number = name.partition(" ")
    return random_packs.pack(int(number)) if kind == "random" else pack(name)


def missing(shown: dict[str, Any], step: dict[str, Any], done: set[str]) -> str:
    """Return what a step waits for, told a second way: from what is shown, without the browser's code."""
    gates = [gate for danger in shown["dangers"] if step["id"] in danger["reaches"] for gate in danger["gates"]]
    return next((before for before in (*gates, *(need["before"] for need in step["needs"])) if before not in done), "")


@pytest.mark.parametrize("name", EVERY)
def test_every_pack_is_drawn_and_can_be_worked_through(name: str) -> None:
    engine = named(name)
    state = instrument("parts", engine)
    assert isinstance(state, TakenApart)
    shown = state.shown()
    sheet = ET.fromstring(shown["figure"])  # noqa: S314 - our own picture
    drawn = [
        group.get("data-piece") for group in sheet.iter("{http://www.w3.org/2000/svg}g") if group.get("data-piece")
    ]
    assert drawn == [piece["id"] for piece in shown["pieces"]]
    assert len(set(drawn)) == len(drawn)
    assert len(json.dumps(shown)) < 200_000
    # Whatever can come next is taken: all steps get done, and in an order that the procedure finds right.
    done: list[str] = []
    while len(done) < len(shown["steps"]):
        open_now = [
            step["id"] for step in shown["steps"] if step["id"] not in done and not missing(shown, step, {*done})
        ]
        done.append(open_now[-1])
    assert engine.procedure("").judge(done).broken == ()
    assert state.html().startswith("<section>")
    assert all(piece["text"] in state.text() for piece in shown["pieces"])


@pytest.mark.parametrize("name", ["dunlin", "start"])
def test_every_broken_pair_is_answered_with_a_reason(name: str) -> None:
    engine = named(name)
    shown = instrument("parts", engine).shown()
    for step in shown["steps"]:
        for need in step["needs"]:
            assert need["reason"]
            assert need["outcome"] in shown["outcomes"]
            assert engine.procedure("").comes_before(need["before"], step["id"])
            assert need["unsafe"] <= engine.procedure("").is_dangerous(need["before"], step["id"])


def test_nothing_depends_on_what_things_are_called() -> None:
    text = plain()
    engine = packs.load_text(text, "a.toml")
    other = engine.model_copy(
        update={"parts": tuple(part.model_copy(update={"name": f"Teil {n}"}) for n, part in enumerate(engine.parts))}
    )
    sorts = [
        [
            piece["sort"]
            for axis in TakenApart(each)._picture(dict.fromkeys(TakenApart(each).pieces, True))["axes"]
            for piece in axis
        ]
        for each in (engine, other)
    ]
    assert sorts[0] == sorts[1]


def test_a_pack_without_anything_that_moves_says_so() -> None:
    engine = pack("dunlin")
    still = tuple(
        step.model_copy(
            update={
                "takes_off": (),
                "fits": (),
                "loosens": "",
                "fastener": "",
                "puts_on": (),
                "takes_away": (),
                "pin": None,
            }
        )
        for step in engine.steps
    )
    note = movable("parts", engine.model_copy(update={"steps": still}), {})
    assert "there is nothing to draw" in repr(note)


def test_a_picture_of_nothing_that_is_known_is_refused() -> None:
    with pytest.raises(FormError):
        figures.draw({"draw": "parts", "axes": [[{"id": "a", "name": "a", "sort": "engine"}]]})
