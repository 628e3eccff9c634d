"""Summary cards: their values are the pack's, whatever pack it is, and they print alone."""

from __future__ import annotations

import re
from fractions import Fraction
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from trainkit import cards, modules, packs
from trainkit.errors import ModuleError
from trainkit.packs import Pack
from trainkit.widgets.control import Control
from trainkit.workbook import Book

DUNLIN = packs.load("dunlin")
OWN = Path(__file__).parent / "plain_engine.toml"  # an engine with little


def own() -> Pack:
    return packs.load(OWN)


def card(module: str, pack: Pack = DUNLIN) -> cards.SummaryCard:
    return cards.card(module, modules.load(module).blueprint.title, pack)


def rule(found: cards.SummaryCard, head: str) -> str:
    return next(each.text for each in found.rules if each.head == head)


@pytest.mark.parametrize("pack", [DUNLIN, own()], ids=["dunlin", "own"])
@pytest.mark.parametrize("module", modules.names())
def test_every_module_has_a_card_with_cautions_and_who_decides(module: str, pack: Pack) -> None:
    found = card(module, pack)
    assert 4 <= len(found.rules) <= 8
    # An engine without a joint of three bolts or more has no pattern to draw.
    assert (found.figure is None) == (pack is not DUNLIN and module in ("torque-units", "tightening"))
    for form in (str(found), re.sub("<[^>]+>", " ", found.html)):
        said = form.replace("&#x27;", "'")
        for caution in pack.cautions:
            assert f"{caution.title.rstrip('.')}." in said
            assert said.index(caution.text) < said.index(found.rules[0].text.split("'")[0]), "the cautions stand first"
        assert "licensed or supervising person" in said
        assert said.strip().endswith(cards.LAST)
    if pack is not DUNLIN:
        assert "dunlin" not in str(found).casefold()
        assert "fuel metering" not in str(found)


@pytest.mark.parametrize("module", modules.names())
def test_sentences_are_short(module: str) -> None:
    found = card(module)
    for each in found.rules:
        for sentence in re.split(r"(?<=[.?:]) ", each.text):
            if ";" not in sentence:  # a list of parts is read one by one
                assert len(sentence.split()) <= 20, sentence


def test_torques_stand_there_in_both_units_as_printed() -> None:
    table = card("tightening").table
    assert table is not None
    printed = " ".join(cell.replace("\N{NO-BREAK SPACE}", " ") for row in table.rows for cell in row)
    screws = DUNLIN.fastener("gear-screws")
    for stage in screws.stages[1:]:
        assert stage.torque is not None
        assert f"{stage.torque[0]} ({stage.torque[1]})" in printed


def test_turns_and_senses_are_those_of_the_tooth_counts() -> None:
    table = card("turning-direction").table
    assert table is not None
    turns = {row[0]: row[1] for row in table.rows}
    teeth = {gear.name: gear.teeth for gear in DUNLIN.gears}
    # Every gear of this engine is reached through plain idlers: only the first and the last tooth counts matter.
    assert {name: Fraction(turned) for name, turned in turns.items()} == {
        name: Fraction(teeth["crank gear"], count) for name, count in teeth.items()
    }
    assert "9 turns of the tool" in rule(card("turning-direction"), "Your hand")  # 126 ÷ 14 teeth


def test_the_lock_pin_rule_is_the_packs() -> None:
    found = card("lock-pin")
    assert "Compression dead centre of cylinder 1, every 720" in rule(found, "The right place")
    assert "press from 2:15, pin seats 2:30" in rule(found, "Forward")
    assert "back to 1:55" in rule(found, "Missed")


def test_the_steps_that_can_hurt_break_no_bond() -> None:
    steps = [step.id for step in DUNLIN.steps_of() if step.critical]
    found = card("sequence")
    assert found.steps == tuple(DUNLIN.step(each).text for each in steps)
    assert DUNLIN.procedure().among(steps).judge(steps).broken == ()


def test_a_module_of_ones_own_has_no_card() -> None:
    with pytest.raises(ModuleError, match="There are cards for"):
        cards.card("welding", "Welding", DUNLIN)


class Page(HTMLParser):
    """What a page would fetch."""

    def __init__(self) -> None:
        super().__init__()
        self.fetched: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.fetched += [tag for name, _ in attrs if name in ("src", "href", "srcset", "data")]
        if tag in ("script", "link", "img", "object"):
            self.fetched.append(tag)


@pytest.mark.parametrize("module", modules.names())
def test_what_is_printed_stands_alone(module: str, tmp_path: Path) -> None:
    control = Book(modules.load(module), tmp_path).card()
    assert isinstance(control, Control)
    state: Any = control.state
    shown = state.shown()
    page = Page()
    page.feed(shown["page"])
    assert page.fetched == []
    assert "url(" not in shown["page"]
    assert state.html() in shown["page"]
    assert state.text() == str(card(module))
    assert state.hear({"type": "save", "ticket": 3}) == {
        "type": "refused",
        "text": "A card has nothing to answer.",
        "ticket": 3,
    }


def test_words_of_a_pack_are_no_markup() -> None:
    nasty = DUNLIN.model_copy(update={"title": "<script>alert(1)</script>"})
    found = card("lock-pin", nasty)
    assert "<script" not in found.html
    assert "<script" not in found.page


def test_more_gears_and_bolts_than_a_picture_holds_are_left_out() -> None:
    crank = DUNLIN.gear("crank")
    more = tuple(crank.model_copy(update={"id": f"g{n}", "name": f"pump {n}", "role": "accessory"}) for n in range(9))
    meshes = tuple(DUNLIN.meshes[0].model_copy(update={"driven": gear.id}) for gear in more)
    many = DUNLIN.fastener("gear-screws").model_copy(update={"count": 30})
    crowded = DUNLIN.model_copy(
        update={"gears": DUNLIN.gears + more, "meshes": DUNLIN.meshes + meshes, "fasteners": (many, *DUNLIN.fasteners)}
    )
    crowded.__dict__.pop("train", None)  # it was worked out for the engine as it was
    figure = card("turning-direction", crowded).figure
    assert figure is not None
    assert [gear["id"] for gear in figure["gears"]] == ["crank", "idler", "fuel"]
    bolts = card("tightening", crowded).figure
    assert bolts is not None
    assert len(bolts["bolts"]) <= 24
