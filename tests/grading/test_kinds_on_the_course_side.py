"""The registries of the course side know exactly the kinds of answers that there are."""

from __future__ import annotations

from typing import Any, get_args

import pytest

from trainkit.items.kinds import Name
from trainkit_grading.cli.simulate.ways import WAYS, ways_of
from trainkit_grading.paper.kinds import blank_of
from trainkit_grading.record.marked_submission import BY_PERSON

NAMES: tuple[Name, ...] = get_args(Name)


def test_paper_has_every_kind_under_its_own_name() -> None:
    assert [blank_of(name).name for name in NAMES] == list(NAMES)


def test_all_but_observed_work_is_answered_by_simulated_apprentices() -> None:
    assert [name for name in NAMES if ways_of(name) is None] == ["observed"]
    assert set(WAYS) == set(NAMES) - {"observed"}


def test_texts_and_observed_work_are_marked_by_a_person() -> None:
    assert BY_PERSON == ("text", "observed")


@pytest.mark.parametrize("registry", [blank_of, ways_of])
def test_a_name_of_no_kind_is_refused(registry: Any) -> None:
    with pytest.raises(AssertionError, match="essay"):
        registry("essay")
