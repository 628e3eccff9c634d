"""Every workbook opened with another engine: nothing in it speaks of the engine that it was written on."""

from __future__ import annotations

import ast
import contextlib
import io
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from tests.trainkit.plain_engine import plain
from tests.workbooks.workbook_text import cells, source
from trainkit import modules, packs
from trainkit.items import examples
from trainkit.notes import NotebookNote
from trainkit_grading.course import packs as assessment

NAMES = modules.names()
DUNLIN = packs.load("dunlin")
OTHERS: Mapping[str, str] = {
    "start": packs.starting_point("Heron"),
    "plain": plain("heron"),
    # The engine of the assessment is never given out; here it is an engine like another.
    "curlew": Path(assessment.find_pack("curlew")).read_text("utf-8"),
}


def said_of(value: Any) -> str:
    """Return everything that an output would show as text, on paper."""
    if value is None:
        return ""
    if hasattr(value, "_repr_mimebundle_"):
        bundle = value._repr_mimebundle_()
        data = bundle[0] if isinstance(bundle, tuple) else bundle
        return "\n".join(str(data.get(kind, "")) for kind in ("text/plain", "text/html"))
    return str(value)


def run(name: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, tuple[Any, str]]:
    """Run the cells of a workbook as a kernel in ``folder`` would; return value and words of each, by its name."""
    monkeypatch.chdir(folder)
    monkeypatch.setenv("TRAINKIT_PAPER", "1")
    names: dict[str, Any] = {}
    found = {}
    for cell in cells(name):
        if cell["cell_type"] != "code":
            continue
        statements = ast.parse(source(cell), cell["id"]).body
        last = statements.pop() if isinstance(statements[-1], ast.Expr) else None
        printed, value = io.StringIO(), None
        with contextlib.redirect_stdout(printed):
            exec(compile(ast.Module(statements, []), cell["id"], "exec"), names)  # noqa: S102 - our own workbook
            if isinstance(last, ast.Expr):
                value = eval(compile(ast.Expression(last.value), cell["id"], "eval"), names)  # noqa: S307 - as above
        found[cell["id"]] = value, printed.getvalue() + said_of(value)
    return found


def telling(pack: packs.Pack) -> Iterator[str]:
    """Yield what a pack says and few others would: names, texts, pairs of torques, clock positions, teeth."""
    yield from (pack.engine.name, pack.title)
    named: tuple[Any, ...] = (*pack.gears, *pack.fasteners, *pack.tools, *pack.parts, *pack.configurations)
    yield from (entry.name for entry in named)
    yield from (step.text for step in pack.steps)
    yield from (edge.reason for edge in pack.precedence)
    for first, second in (stage.torque for each in pack.fasteners for stage in each.stages if stage.torque):
        yield from (f"{first} ({second})", f"{first} or {second}")
    table = pack.lock_pin_table
    yield from (clock for clock in (table.press_from, table.seats, table.give_up, table.back_off_to) if clock)
    yield from (f"{gear.teeth} teeth" for gear in pack.gears)
    yield f"{pack.barring.ring_teeth}/{pack.barring.pinion_teeth}"


def strange(text: str, other: str) -> list[str]:
    """Return what a text says that Dunlin's pack says, and the other pack, given as its file, does not."""
    own = "\n".join((*telling(packs.load_text(other)), other))
    plain = re.sub(r"[\u2009\u202f\u00a0]", " ", text)

    def stands(word: str, where: str) -> bool:
        return word in where and re.search(rf"(?<![\w.]){re.escape(word)}(?!\w)", where) is not None

    return sorted({word for word in telling(DUNLIN) if stands(word, plain) and not stands(word, own)})


def foreign_in(text: str, other: str) -> list[str]:
    """Return the same, and nothing where an example is named as one: its gears and torques may be any engine's."""
    return [] if examples.EXAMPLE in text else strange(text, other)


def test_what_is_telling_is_found() -> None:
    told = "To 31\u2009N·m (23\u2009lbf·ft), at 2:30, with the idler gear."
    assert strange(told, OTHERS["plain"]) == ["2:30", "31 N·m (23 lbf·ft)", "idler gear"]
    assert strange("The crank gear of My engine, 131 N·m (23 lbf·ft), at 12:30.", OTHERS["plain"]) == []


@pytest.mark.parametrize("name", NAMES)
def test_text_names_no_part_of_the_engine_it_was_written_on(name: str) -> None:
    blueprint = modules.load(name).blueprint
    text = "\n".join(source(cell) for cell in cells(name) if cell["cell_type"] == "markdown")
    code = "\n".join(source(cell) for cell in cells(name) if cell["cell_type"] == "code")
    objectives = "\n".join((*blueprint.objectives, *(skill.name for skill in blueprint.skills), blueprint.title))
    generic = {"lock pin", "adapter", "barring tool"}
    assert set(strange(f"{text}\n{objectives}", OTHERS["start"])) <= generic
    assert re.findall(r"\.(?:fastener|gear|tool|step|part)\(\"", code) == [], "an example asks for a role"


@pytest.mark.parametrize("other", OTHERS)
@pytest.mark.parametrize("name", NAMES)
def test_every_cell_runs_and_speaks_of_the_other_engine_alone(
    name: str, other: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / packs.PACK_FILE).write_text(OTHERS[other], "utf-8")
    own = packs.load_text(OTHERS[other])
    found = run(name, tmp_path, monkeypatch)
    foreign = {cell: words for cell, (_, text) in found.items() if (words := foreign_in(text, OTHERS[other]))}
    assert foreign == {}
    everything = "\n".join(text for _, text in found.values())
    assert own.title in everything
    assert own.cautions[0].text.split("'")[0] in everything
    # What this engine has nothing for is said in words, and the rest goes on.
    lacking = {
        cell for cell, (value, text) in found.items() if isinstance(value, NotebookNote) and "nothing to ask" in text
    }
    assert len(lacking) < len(modules.load(name).blueprint.skills)


@pytest.mark.parametrize("name", ["sequence", "turning-direction"])
def test_with_its_own_engine_it_shows_what_is_kept(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same way of running, so that what is shown above is what a notebook shows."""
    found = run(name, tmp_path, monkeypatch)
    for cell in cells(name):
        if cell["cell_type"] == "code" and cell["id"].startswith("example"):
            kept = "".join(
                "".join(output.get("text") or output.get("data", {}).get("text/plain", ""))
                for output in cell["outputs"]
            )
            assert kept.strip() in found[cell["id"]][1]
