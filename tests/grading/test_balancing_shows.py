"""What a blueprint says an item has to be able to show, every form's item can show."""

from __future__ import annotations

import tomllib

import pytest

from trainkit import modules, packs
from trainkit.errors import ModuleError
from trainkit.modules import Blueprint
from trainkit.pools.filling import Pools
from trainkit_grading.course.seeds import Seed
from trainkit_grading.diagnosis import chances

TEMPLATE = """
format = 1
module = "units"
title = "Units"
pack = "dunlin"
minutes = 5
cut_score = 70
objectives = ["Convert"]
[[skills]]
id = "convert"
name = "Convert"
templates = ["torque-units/convert"]
[[items]]
id = "A1"
template = "torque-units/convert"
shows = [{shows}]
"""


def blueprint(*shows: str) -> Blueprint:
    return Blueprint.model_validate(tomllib.loads(TEMPLATE.format(shows=", ".join(f'"{code}"' for code in shows))))


def shown(wanted: Blueprint) -> list[set[str]]:
    pools = Pools.fill(Seed(bytes(32)), "course", wanted, packs.load("dunlin"), 1)
    return [set(chances(item, key)) for number in range(20) for _, (item, key) in pools.form(f"apprentice {number}")]


def test_every_form_can_show_what_the_blueprint_names() -> None:
    # About one draw in seven can show both of these.
    assert not all({"inch-for-foot", "rounds-on-the-way"} <= codes for codes in shown(blueprint()))
    assert all(
        {"inch-for-foot", "rounds-on-the-way"} <= codes
        for codes in shown(blueprint("inch-for-foot", "rounds-on-the-way"))
    )


def test_what_no_draw_can_show_is_left_out_and_said() -> None:
    wished = blueprint("inch-for-foot", "clock-backwards", "rounds-on-the-way")
    pools = [Pools.fill(Seed(bytes([number] * 32)), "course", wished, packs.load("dunlin"), 1) for number in range(3)]
    assert [dict(filled.not_askable) for filled in pools] == [{"A1": ("clock-backwards",)}] * 3
    assert all({"inch-for-foot", "rounds-on-the-way"} <= codes for codes in shown(wished))


def test_what_was_left_out_once_is_left_out_again() -> None:
    """Whoever joins late gets an item of the same sort, also where more could be shown by now."""
    wished = blueprint("inch-for-foot", "rounds-on-the-way")
    filled = Pools.fill(
        Seed(bytes(32)), "course", wished, packs.load("dunlin"), 1, not_askable={"A1": ("rounds-on-the-way",)}
    )
    assert filled.not_askable == {"A1": ("rounds-on-the-way",)}
    assert not all("rounds-on-the-way" in each.draw.could_show for each in filled.pools[0].draws)
    assert all("inch-for-foot" in each.draw.could_show for each in filled.pools[0].draws)


def test_a_misconception_that_the_catalogue_lacks_is_said(tmp_path_factory: pytest.TempPathFactory) -> None:
    home = tmp_path_factory.mktemp("modules") / "units"
    home.mkdir()
    (home / "module.toml").write_text(TEMPLATE.format(shows='"thinks-too-fast"'), "utf-8")
    with pytest.raises(ModuleError, match="no misconception 'thinks-too-fast'"):
        modules.load(home)
