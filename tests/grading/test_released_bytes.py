"""Nothing that leaves the course gives an answer away: every byte of it, and where things stand."""

from __future__ import annotations

import base64
import io
import json
import math
import os
import random
import re
from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator
from pathlib import Path
from typing import Any

import pytest
from scipy import stats

from trainkit import modules, packs
from trainkit.forms import Form
from trainkit.items.kinds import (
    ChoiceItem,
    ChoiceKey,
    GridItem,
    InsertItem,
    InsertKey,
    Item,
    Key,
    NumberKey,
    OrderItem,
    OrderKey,
    SeveralItem,
    SeveralKey,
)
from trainkit_grading.course import packs as assessment
from trainkit_grading.course.folder import Course
from trainkit_grading.course.seeds import Seed
from trainkit_grading.forms import generation
from trainkit_grading.release import assign as assigning
from trainkit_grading.release import init

from .makers import GIVEN_OUT, MODULE, PEOPLE, Bench, forms_in, give_out, key_file, set_to, sow, tree
from .packed import members_of

MODULES = ("torque-units", "turning-direction", "capstone")
NAMES = ("amir", "bo", "cleo")
# Each of some forty tests below may fail one time in a hundred thousand by chance alone; the seed is fixed.
CHANCE = 1e-5


@pytest.fixture(scope="module")
def course(tmp_path_factory: pytest.TempPathFactory) -> Course:
    """A course with a shared disk, everything of it given out."""
    folder = tmp_path_factory.mktemp("released") / "course"
    made = init.create(sow(folder), "saltmere", "Saltmere")
    Bench(made).write_roster(tuple((one, one) for one in NAMES))
    (folder.parent / "disk").mkdir()
    return give_out(set_to(made, root='"../disk"'), GIVEN_OUT, *MODULES)


def members(name: str, content: bytes) -> Iterator[tuple[str, bytes]]:
    """Yield a file, and everything in it where it is a zip."""
    yield name, content
    if content.startswith(b"PK\x03\x04"):
        for member, inside in members_of(io.BytesIO(content)).items():
            yield from members(f"{name} › {member}", inside)


def given_out(course: Course) -> Iterator[tuple[str, bytes]]:
    assert course.exchange_root is not None
    for home in (course.release, course.zips, course.exchange_root):
        for path in sorted(home.rglob("*")):
            if path.is_file():
                yield from members(path.relative_to(course.folder.parent).as_posix(), path.read_bytes())


def strings(value: Any) -> Iterator[str]:
    """Yield every text in plain JSON data."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from strings(inner)


def names(value: Any) -> Iterator[str]:
    """Yield every key in plain JSON data."""
    if isinstance(value, dict):
        yield from value
    if isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from names(inner)


def test_zips_and_folders_are_all_looked_at(course: Course) -> None:
    seen = [name for name, _ in given_out(course)]
    for module in MODULES:
        assert f"course/release/{module}/forms.json" in seen
        for person in NAMES:
            assert f"course/zips/{module}/{person}.zip › {module}/forms.json" in seen
    assert any("/outbound/" in name for name in seen)


def spelt(course: Course) -> set[bytes]:
    """Return the seed in every dress that it might wear."""
    secret = course.seed().secret
    return {
        secret,
        secret[::-1],
        secret.hex().encode(),
        secret.hex().upper().encode(),
        base64.b64encode(secret).rstrip(b"="),
        base64.urlsafe_b64encode(secret).rstrip(b"="),
        base64.b32encode(secret).rstrip(b"="),
        str(int.from_bytes(secret, "big")).encode(),
        ", ".join(str(byte) for byte in secret).encode(),
    }


def test_no_byte_holds_the_seed(course: Course) -> None:
    dresses = spelt(course)
    for name, content in given_out(course):
        assert not [text for text in dresses if text in content], name


def test_no_text_of_a_key_is_given_out(course: Course) -> None:
    """What only a key says: worked solutions, reasons, names of misconceptions and templates."""
    for module in MODULES:
        keys = key_file(course, module, 1)
        forms = generation.read_forms(course.forms_file(module, 1))
        assert forms is not None
        shown = "\n".join(strings(forms.model_dump(mode="json")))
        told = set()
        for form in keys.forms.values():
            for key in form.keys.values():
                plain = key.model_dump(mode="json")
                told |= {key.template, *strings(plain.get("shows", {})), *strings(plain["working"])}
                told |= {text for text in strings(plain.get("reasons", {})) if len(text) > 25}
        # A worked solution may repeat a sentence of the question; what the form shows is known to everybody.
        secret = {text for text in told if text and text not in shown}
        assert len(secret) > 50
        for name, content in given_out(course):
            if name.endswith("forms.json"):
                told_there = "\n".join(strings(json.loads(content)))
                assert not [text for text in secret if text in told_there], name


_NUMBER = re.compile(r"\d+(?:[.:/×]\d+)*")


def numbers_in(*texts: str) -> set[str]:
    return {number for text in texts for number in _NUMBER.findall(text)}


def works(note: str, item: Item, key: Key) -> bool:
    """Tell whether what a workbook shows in one place holds the data of a question and its answer."""
    assert isinstance(key, NumberKey)
    asked = numbers_in(item.prompt, *(line.value for line in item.given))
    return asked | numbers_in(key.shown) <= numbers_in(note)


def test_no_note_of_a_workbook_works_a_question_of_a_form(course: Course) -> None:
    met = 0
    for module in MODULES:
        cells = json.loads((modules.load(module).folder / f"{module}.ipynb").read_text("utf-8"))["cells"]
        notes = ["\n".join(strings([cell.get("outputs", []), "".join(cell["source"])])) for cell in cells]
        keys = key_file(course, module, 1)
        forms = generation.read_forms(course.forms_file(module, 1))
        assert forms is not None
        for form in forms.forms:
            for entry in form.items:
                key = keys.forms[form.code].keys[entry.id]
                if isinstance(key, NumberKey):
                    met += 1
                    told = f"{entry.item.prompt} {entry.item.given} {key.working} {key.shown}"
                    assert works(told, entry.item, key)
                    assert not [note for note in notes if works(note, entry.item, key)], entry.item
    assert met > 10


def test_forms_serialise_nothing_but_what_is_shown(course: Course) -> None:
    """Every name in a form is one that the screen has a use for; a new one is looked at by a person first."""
    known = {
        *("format", "course", "module", "title", "pack", "pack_digest", "attempt", "due", "forms", "people"),
        *("code", "items", "id", "item"),
        *("kind", "prompt", "given", "label", "value", "figure", "points", "units", "to_nearest", "options", "text"),
        *("cards", "written", "missing", "rows", "columns", "targets", "scale", "low", "high", "step", "unit", "round"),
        *("model", "scene", "actions", "limit", "steps", "critical"),
    }
    for name, content in given_out(course):
        if not name.endswith("forms.json"):
            continue
        forms = json.loads(content)
        for form in forms["forms"]:
            assert set(form) == {"code", "items"}
            for entry in form["items"]:
                item = dict(entry["item"])
                assert {"figure", "scene"} <= known
                item.pop("figure"), item.pop("scene", None)  # drawn and played: looked at below
                assert set(names(item)) <= known, name
                assert not {"right", "answer", "key", "working", "template", "shows", "seed", "reasons"} & set(
                    names(entry)
                ), name


def test_a_zip_holds_the_form_of_its_own_apprentice_alone(course: Course) -> None:
    keys = generation.read_keys(course.key_file(MODULES[0], 1))
    assert keys is not None
    codes = {form.apprentice: code for code, form in keys.forms.items()}
    for person, code in codes.items():
        content = b"".join(inner for name, inner in given_out(course) if f"zips/{MODULES[0]}/{person}.zip ›" in name)
        assert code.encode() in content
        assert not [other for other in codes.values() if other != code and other.encode() in content]


def test_no_line_of_an_assessment_pack_is_given_out(course: Course) -> None:
    theirs = distinct_lines()
    assert len(theirs) > 50
    for name, content in given_out(course):
        assert not [line for line in theirs if line in content], name


def distinct_lines() -> set[bytes]:
    """Return the lines that only packs for assessment have."""
    own = {
        line.strip()
        for name in assessment.names()
        for line in Path(assessment.find_pack(name)).read_bytes().splitlines()
    }
    open_to_all = b"\n".join(path.read_bytes() for path in Path(str(packs.__file__)).parent.rglob("*.toml"))
    return {line for line in own if len(line) > 20 and line not in open_to_all}


# ---- where things stand


@pytest.fixture(scope="module")
def drawn() -> list[tuple[Form, dict[str, Key]]]:
    """Forms of every module for many people."""
    seed, made = Seed(bytes(range(7, 39))), []
    people = [f"p{number}" for number in range(100)]
    for name in modules.names():
        blueprint = modules.load(name).blueprint
        pack = packs.load(assessment.find_pack(blueprint.assessed_on or blueprint.pack))
        made += [
            (form, known.keys) for form, known in generation.draw_forms(seed, "figures", blueprint, pack, 1, people)
        ]
    return made


def choices(drawn: list[tuple[Form, dict[str, Key]]]) -> Iterator[tuple[Form, str, ChoiceItem, int]]:
    """Yield each choice with the place of the right option, counted from 0."""
    for form, keys in drawn:
        for entry in form.items:
            item, key = entry.item, keys[entry.id]
            if isinstance(item, ChoiceItem) and isinstance(key, ChoiceKey):
                yield form, entry.id, item, [option.id for option in item.options].index(key.right)


def uniform(counts: Counter[int], places: int) -> float:
    return float(stats.chisquare([counts[place] for place in range(places)]).pvalue)


def independent(pairs: Counter[tuple[Hashable, int]]) -> float:
    """Return how probable such a table is if the place hangs on nothing (chi-squared, sparse rows put together)."""
    places = sorted({place for _, place in pairs})
    table: dict[Hashable, list[int]] = defaultdict(lambda: [0] * len(places))
    for (feature, place), count in pairs.items():
        table[feature][places.index(place)] += count
    dense = [row for row in table.values() if sum(row) >= 5 * len(places)]
    sparse = [sum(column) for column in zip(*(row for row in table.values() if row not in dense), strict=True)]
    rows = [*dense, *([sparse] if sum(sparse) >= 5 * len(places) else [])]
    return float(stats.chi2_contingency(rows).pvalue) if len(rows) > 1 else 1.0


def test_the_right_option_stands_anywhere_alike(drawn: list[tuple[Form, dict[str, Key]]]) -> None:
    by_size: dict[int, Counter[int]] = defaultdict(Counter)
    for _, _, item, place in choices(drawn):
        by_size[len(item.options)][place] += 1
    assert sum(sum(counts.values()) for counts in by_size.values()) > 2000
    for size, counts in by_size.items():
        assert uniform(counts, size) > CHANCE, (size, counts)


def test_where_the_right_option_stands_hangs_on_nothing_else_in_the_file(
    drawn: list[tuple[Form, dict[str, Key]]],
) -> None:
    """Whatever else a form serialises, alone: none of it tells the place of the right option."""
    tables: dict[tuple[str, int], Counter[tuple[Hashable, int]]] = defaultdict(Counter)
    before: dict[str, int] = {}
    for form, name, item, place in choices(drawn):
        size = len(item.options)
        texts = [option.text for option in item.options]
        features: dict[str, Hashable] = {
            "item": name,
            "code, first sign": form.code[0],
            "code, last sign": form.code[-1],
            "points": item.points,
            "figure": item.figure is not None,
            "length of the prompt": len(item.prompt) % 4,
            "prompt": sum(item.prompt.encode()) % 5,
            "options": sum("".join(sorted(texts)).encode()) % 5,
            "given": len(item.given),
            "place of the first option by the alphabet": texts.index(min(texts)),
            "place of the right one before": before.get(form.code, -1),
        }
        before[form.code] = place
        for feature, value in features.items():
            # By the alphabet the first option may be the right one, and then stands where that does.
            if feature.startswith("place of the first") and texts[place] == min(texts):
                continue
            if feature.startswith("place of the first"):
                value = (value - place) % size  # type: ignore[operator]  # an index
            tables[feature, size][value, place] += 1
    assert len(tables) > 15
    for (feature, size), pairs in tables.items():
        assert independent(pairs) > CHANCE, (feature, size)


def test_options_in_their_order_say_nothing_by_length_or_alphabet(drawn: list[tuple[Form, dict[str, Key]]]) -> None:
    """The order of the options is that of a shuffle: each rank by the alphabet stands at each place alike."""
    by_size: dict[int, Counter[tuple[Hashable, int]]] = defaultdict(Counter)
    for _, _, item, _ in choices(drawn):
        ranked = sorted(option.text for option in item.options)
        for place, option in enumerate(item.options):
            by_size[len(item.options)][ranked.index(option.text), place] += 1
            assert option.id == "abcdefghijkl"[place]
    for size, pairs in by_size.items():
        assert independent(pairs) > CHANCE, size


def test_cards_stand_in_an_order_of_no_meaning(drawn: list[tuple[Form, dict[str, Key]]]) -> None:
    right = total = 0
    for form, keys in drawn:
        for entry in form.items:
            key = keys[entry.id]
            if isinstance(entry.item, OrderItem) and isinstance(key, OrderKey):
                stands = {card.id: place for place, card in enumerate(entry.item.cards)}
                right += sum(stands[bond.before] < stands[bond.after] for bond in key.bonds)
                total += len(key.bonds)
    assert total > 500
    # Bonds of one item hang together: so many standard deviations of independent ones leave room for that.
    assert abs(right - total / 2) < 6 * math.sqrt(total / 4), (right, total)


def test_several_grids_and_missing_cards_are_shuffled_too(drawn: list[tuple[Form, dict[str, Key]]]) -> None:
    several: Counter[int] = Counter()
    shown: Counter[int] = Counter()
    missing: Counter[str] = Counter()
    grids: dict[str, Counter[str]] = defaultdict(Counter)
    for form, keys in drawn:
        for entry in form.items:
            item, key = entry.item, keys[entry.id]
            if isinstance(item, SeveralItem) and isinstance(key, SeveralKey) and len(item.options) == 6:
                for place, option in enumerate(item.options):
                    shown[place] += 1
                    several[place] += option.id in key.right
            elif isinstance(item, InsertItem) and isinstance(key, InsertKey):
                missing[item.missing.id] += 1
            elif isinstance(item, GridItem):
                grids[min(row.text for row in item.rows)][min(item.rows, key=lambda row: row.text).id] += 1
    if several:
        assert uniform(several, 6) > CHANCE
    assert len(missing) > 3
    letters = sorted(missing)
    assert stats.chisquare([missing[letter] for letter in letters[:4]]).pvalue > CHANCE
    assert all(len(places) > 1 for places in grids.values() if sum(places.values()) > 30)


def test_the_tests_of_place_notice_an_order_that_tells(drawn: list[tuple[Form, dict[str, Key]]]) -> None:
    """Options that stood by the alphabet, or a place that hung on the code of the form, would be seen."""
    by_alphabet: Counter[int] = Counter()
    by_code: Counter[tuple[Hashable, int]] = Counter()
    for form, _, item, _ in choices(drawn):
        if len(item.options) == 4:
            by_alphabet[len("".join(sorted(option.text for option in item.options))) % 3] += 1
            by_code[form.code[0], ord(form.code[0]) % 4] += 1
    assert uniform(by_alphabet, 4) < CHANCE
    assert independent(by_code) < CHANCE


# A small course, of which also what is in no form is looked through.


def bytes_out(course: Course) -> dict[str, bytes]:
    found = {f"release/{path}": data for path, data in tree(course.release).items()}
    for path in course.zips.rglob("*.zip"):
        found[f"zips/{path.name}"] = path.read_bytes()
        found |= {f"zips/{path.name}/{name}": content for name, content in members_of(path).items()}
    return found


def test_no_byte_given_out_holds_a_key_or_the_seed(assigned: Bench) -> None:
    course = assigned.course
    dresses = spelt(course)
    keys = key_file(course)
    secrets = [
        line.encode()
        for form in keys.forms.values()
        for key in form.keys.values()
        for line in (*key.working, *getattr(key, "reasons", {}).values())
        if len(line) > 20
    ]
    assert secrets
    found = bytes_out(course)
    assert len(found) == 2 + 3 * 4
    for path, content in found.items():
        for secret in dresses:
            assert secret not in content, path
        # JSON may escape what it carries: both spellings are looked for.
        escaped = [json.dumps(secret.decode()).strip('"').encode() for secret in secrets]
        for secret in (*secrets, *escaped):
            assert secret not in content, path
        for word in (
            "working",
            "template",
            "right",
            "bonds",
            "shows",
            "reasons",
            "answer",
            "misconception",
            "critical",
        ):
            assert f'"{word}"'.encode() not in content, path
        if path.endswith("forms.json"):
            assert not [identifier for identifier, _ in PEOPLE if identifier.encode() in content], path
        for folder in (str(course.folder), str(course.keys)):
            assert folder.encode() not in content, path


def test_the_scan_would_find_a_key(assigned: Bench) -> None:
    """The scan above sees what it looks for: planted in a copy of the release, it is found."""
    keys = key_file(assigned.course)
    known = next(iter(keys.forms.values()))
    line = next(line for key in known.keys.values() for line in key.working if len(line) > 20)
    (assigned.course.release / MODULE / "notes.md").write_text(line, "utf-8")
    assert any(line.encode() in content for content in bytes_out(assigned.course).values())


def test_a_zip_names_no_other_apprentice(assigned: Bench) -> None:
    for identifier, name in PEOPLE:
        content = b"".join(members_of(assigned.course.zips / MODULE / f"{identifier}.zip").values()).decode()
        for other, other_name in PEOPLE:
            if other != identifier:
                assert other_name not in content
                assert f'"{other}"' not in content
        assert name in content


def test_zips_are_the_same_bytes_whenever_they_are_made(assigned: Bench) -> None:
    release = assigned.course.release / MODULE
    person = random.Random(7).choice(list(assigned.course.roster()))
    forms = forms_in(release)
    who = assigning.identity(assigned.course, person, assigned.course.seed())
    own = generation.only(forms, person.id)
    os.utime(release / "forms.json", (1, 1))
    made = assigning.workbook_zip(release, own, who)
    assert made == (assigned.course.zips / MODULE / f"{person.id}.zip").read_bytes()
