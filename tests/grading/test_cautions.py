"""What keeps people from harm stands on every page, for every engine of the course."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from trainkit import packs
from trainkit.packs.cautions import STANDARD
from trainkit_grading.course import packs as own_packs
from trainkit_grading.course.cautions import cautions_of
from trainkit_grading.course.folder import Course
from trainkit_grading.release import init


@pytest.fixture
def course(tmp_path: Path) -> Course:
    """A course as it begins: practice on one engine, the capstone on another."""
    return init.create(tmp_path / "course", "saltmere", "Saltmere")


def test_no_engine_of_the_course_loses_a_caution(course: Course) -> None:
    hazards = cautions_of(course)["hazards"]
    assert len({(title, text) for title, text in hazards}) == len(hazards)
    engines = [packs.load("dunlin"), packs.load(own_packs.find_pack("curlew"))]
    for pack in engines:
        for hazard in pack.cautions:
            titles = [title for title, text in hazards if text == hazard.text]
            everywhere = all(hazard.text in {each.text for each in other.cautions} for other in engines)
            assert (hazard.title if everywhere else f"{hazard.title} ({pack.engine.name})") in titles
    assert sum(title.startswith("Starting system (") for title, _ in hazards) == 2


def test_a_course_with_one_engine_names_none(course: Course) -> None:
    alone = replace(course, modules=course.modules[:1])
    assert not [title for title, _ in cautions_of(alone)["hazards"] if "(" in title]


def without(*kinds: str) -> str:
    """Write Dunlin as somebody who states no caution of these kinds."""
    text = (Path(packs.__file__).parent / "data" / "dunlin.toml").read_text("utf-8")
    for kind in kinds:
        text, found = re.subn(rf'\[\[hazards\]\]\nkind = "{kind}"\ntitle = .*\ntext = .*\n', "", text)
        assert found == 1
    return text


@pytest.mark.parametrize("kind", STANDARD)
def test_general_words_stand_in_for_a_caution_that_a_pack_does_not_state(kind: str) -> None:
    pack = packs.load_text(without(kind), "mine.toml")
    (stands,) = [hazard for hazard in pack.cautions if hazard.kind == kind]
    assert (stands.title, stands.text) == STANDARD[kind]
    (finding,) = packs.examine_text(without(kind), "mine.toml").findings
    assert (finding.code, finding.severity, finding.value) == ("caution-not-stated", "note", kind)


def test_all_that_can_hurt_is_named_for_a_pack_that_says_nothing_of_it() -> None:
    said = " ".join(hazard.text for hazard in packs.load_text(without(*STANDARD), "mine.toml").cautions)
    for words in (
        "eye protection",
        "none beside moving gears",
        "No flames",
        "hospital at once, even if the wound looks small",
        "Never feel for a leak by hand",
        "the coolant boils out",
        "A spring under load",
        "A heater can have its own supply",
        "try to start the engine",
        "One person calls",
    ):
        assert words in said
