"""Broken packs never crash the checker, and whatever it lets pass can be used."""

from __future__ import annotations

import json
import math
import random
import string
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.trainkit.plain_engine import plain
from trainkit import packs
from trainkit.packs.check import Examination, examine_bytes

START = plain()


def usable(examined: Examination) -> None:
    """Hold what every examination promises, and use the pack if it was let pass."""
    for finding in examined.findings:
        assert finding.code in packs.CODES
        assert finding.rule
        assert finding.remedy
        assert finding.line >= 0
        json.dumps(finding.as_data())
    refused = any(finding.severity == "refuse" for finding in examined.findings)
    pack = examined.pack
    assert (pack is None) == refused
    if pack is None:
        return
    assert pack.train.ratio(pack.crank, pack.gears[-1].id)
    assert pack.lock_pin.passings
    assert not pack.lock_pin.untold
    assert pack.bar.tool(90, seen_from="front").turns
    assert pack.notice
    assert pack.cautions
    for name in ("", *(configuration.id for configuration in pack.configurations)):
        procedure = pack.procedure(name)
        order = procedure.random_valid_order(random.Random(1))
        assert procedure.judge(order).valid
    for fastener in pack.fasteners:
        assert len(fastener.positions) in (0, 1, fastener.count)


def written(value: Any) -> str:
    """Write a value as TOML on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(key)} = {written(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(written, value)) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return "nan" if math.isnan(value) else ("inf" if value > 0 else "-inf") if math.isinf(value) else repr(value)
    # JSON and TOML escape text alike, as long as no lone surrogates and no DEL are in it.
    return json.dumps(value) if isinstance(value, str) else str(value)


def toml(data: dict[str, Any]) -> str:
    return "".join(f"{json.dumps(key)} = {written(value)}\n" for key, value in data.items())


def test_the_writer_of_these_tests_writes_what_was_read() -> None:
    data = tomllib.loads(START)
    assert tomllib.loads(toml(data)) == data
    assert packs.examine_text(toml(data)).findings == ()


def places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    yield path
    entries = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, each in entries:
        yield from places(each, (*path, key))


PLACES = [path for path in places(tomllib.loads(START)) if path]
WORDS = sorted({word for word in START.replace('"', " ").split() if word.isascii()} | {"flywheel", "witness", "final"})

text = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x7f"), max_size=30)
simple = st.one_of(
    st.integers(-(2**63), 2**63 - 1),
    st.integers(-3, 200),
    st.floats(),
    st.booleans(),
    text,
    st.sampled_from(WORDS),
    st.sampled_from(["2:10", "12:59", "0:00", "13:00", "40 N·m", "30 lbf·ft", "1e9 N·m", "M10", "1/2-13 UNC", "5.8"]),
)
values = st.recursive(simple, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(text, inner, max_size=3))
changes = st.lists(
    st.tuples(st.sampled_from(PLACES), st.sampled_from(["set", "delete", "copy"]), values), min_size=1, max_size=4
)


def changed(data: Any, path: tuple[Any, ...], how: str, value: Any) -> None:
    """Change the data at a path, if it is still there after the changes before."""
    for key in path[:-1]:
        try:
            data = data[key]
        except (KeyError, IndexError, TypeError):
            return
    try:
        old = data[path[-1]]
    except (KeyError, IndexError, TypeError):
        return
    if how == "set":
        data[path[-1]] = value
    elif how == "copy" and isinstance(data, list):
        data.append(old)
    elif how == "delete":
        del data[path[-1]]


@settings(max_examples=120, deadline=None)
@given(changes)
@example([(("lock_pin", "seats"), "set", "12:60")])
@example([(("lock_pin", "press_from_deg"), "set", 180.0)])
@example([(("lock_pin", "back_off_deg"), "set", 359.9)])
@example([(("lock_pin", "component"), "set", "crank")])
@example([(("gears", 0, "teeth"), "set", 997)])
@example([(("gears", 1, "on_shaft"), "set", "crank")])
@example([(("gears", 0, "role"), "set", "idler")])
@example([(("meshes", 0, "kind"), "set", "shaft")])
@example([(("fasteners", 0, "at"), "set", [[1.0, 2.0]] * 200)])
@example([(("configurations", 0, "id"), "set", "x"), (("configurations", 0), "copy", 0)])
def test_changed_values_never_crash_and_what_passes_works(made: list[tuple[tuple[Any, ...], str, Any]]) -> None:
    data = tomllib.loads(START)
    for path, how, value in made:
        changed(data, path, how, value)
    usable(examine_bytes(toml(data).encode(), "mine.toml"))


@settings(max_examples=60, deadline=None)
@given(st.randoms(use_true_random=False), st.integers(1, 6))
def test_shuffled_lines_and_letters_never_crash(rng: random.Random, count: int) -> None:
    lines = START.split("\n")
    for _ in range(count):
        number = rng.randrange(len(lines))
        match rng.randrange(5):
            case 0:
                del lines[number]
            case 1:
                lines.insert(number, lines[rng.randrange(len(lines))])
            case 2:
                lines[number] = lines[number].replace('"', "", 1)
            case 3:
                lines[number] = lines[number][: rng.randrange(len(lines[number]) + 1)]
            case _:
                at = rng.randrange(len(lines[number]) + 1)
                lines[number] = lines[number][:at] + rng.choice(string.printable) + lines[number][at:]
    usable(examine_bytes("\n".join(lines).encode(), "mine.toml"))


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=400))
def test_any_bytes_are_told_from_a_pack(content: bytes) -> None:
    usable(examine_bytes(content, "mine.toml"))


@pytest.mark.parametrize(
    "hostile",
    [
        "a = " + "[" * 100_000,
        "a = " + "{a = " * 5_000,
        ".".join(["a"] * 3_000) + " = 1",
        "[" + ".".join(["a"] * 3_000) + "]",
        "gears = " + "9" * 6_000,
        "gears = 1e" + "9" * 6_000,
        "[[gears]]\n" * 3_000,
        '"' + "x" * 100_000 + '" = 1',
        "a\x00 = 1",
        "engine = 1\n[engine]\n",
        "\ufeff\ufeff",
        "steps = [" + "{}, " * 3_000 + "]",
        'a = "\\ud800"',
        "[notice]\nvalues = [[[[[[]]]]]]\n",
    ],
    ids=lambda text: text[:12].encode("unicode_escape").decode(),
)
def test_hostile_files_are_refused_quietly(hostile: str) -> None:
    examined = examine_bytes(hostile.encode("utf-8", "surrogatepass"), "mine.toml")
    usable(examined)
    assert examined.pack is None
    assert all(len(str(finding)) < 1_000 for finding in examined.findings)
