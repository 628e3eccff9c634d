"""The packs that are for assessment only stay on the course side, and a course finds them by name."""

from __future__ import annotations

from pathlib import Path

import pytest

from trainkit import packs as shipped
from trainkit.errors import PackError
from trainkit_grading import packs


def test_every_assessment_pack_passes_and_is_installed_with_the_course_side_only() -> None:
    assert packs.names() == ("curlew",)
    assert not set(packs.names()) & set(shipped.shipped())
    for name in packs.names():
        found = packs.find(name)
        assert isinstance(found, Path)
        assert shipped.examine(found).findings == ()
        assert shipped.load(found).name == name


def test_other_names_are_left_to_the_workbooks() -> None:
    assert packs.find("dunlin") == "dunlin"
    with pytest.raises(PackError, match="installed: dunlin"):
        shipped.load(packs.find("../curlew"))
