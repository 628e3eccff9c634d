"""The packs that are for assessment only stay on the course side, and a course finds them by name."""

from __future__ import annotations

from pathlib import Path

import pytest

from trainkit import packs as shipped
from trainkit.errors import PackError
from trainkit.widgets.instruments import INSTRUMENTS, instrument
from trainkit_grading.course import packs


def test_every_assessment_pack_passes_and_is_installed_with_the_course_side_only() -> None:
    assert packs.names() == ("curlew",)
    assert not set(packs.names()) & set(shipped.shipped())
    for name in packs.names():
        found = packs.find_pack(name)
        assert isinstance(found, Path)
        assert shipped.examine(found).findings == ()
        assert shipped.load(found).name == name


def test_other_names_are_left_to_the_workbooks() -> None:
    assert packs.find_pack("dunlin") == "dunlin"
    with pytest.raises(PackError, match="installed: dunlin"):
        shipped.load(packs.find_pack("../curlew"))


@pytest.mark.parametrize("kind", INSTRUMENTS)
def test_an_instructor_can_show_instruments_of_an_assessment_pack(kind: str) -> None:
    made = instrument(kind, shipped.load(packs.find_pack("curlew")))
    assert made.shown()["kind"] == kind
    assert "<svg " in made.html()
    # The mark is on the flywheel there, and its marks are read from that end.
    if kind == "clock":
        assert "the mark on the flywheel stands" in made.text()
        assert "seen from the flywheel end" in made.text()
