from __future__ import annotations

import json
import stat
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from trainkit import packs
from trainkit.errors import FormError, NotReadyError
from trainkit.forms import Forms, person_digest
from trainkit.items.asking import asked
from trainkit.items.kinds import ChoiceResponse
from trainkit.items.marking import mark
from trainkit.pools import filling
from trainkit_grading.course.roster import Apprentice, Roster
from trainkit_grading.course.seeds import Seed
from trainkit_grading.errors import DrawingError
from trainkit_grading.forms import generation
from trainkit_grading.forms.generation import Drawing

from .makers import MODULE, PEOPLE, Bench, keep, kept, module_toml, set_to


def roster_of(number: int) -> Roster:
    return Roster(tuple(Apprentice(f"p{n:03d}", f"Person {n}") for n in range(number)))


def drawn(
    bench: Bench, roster: Roster | None = None, attempt: int = 1, seed: Seed | None = None, **more: Any
) -> Drawing:
    course = bench.course
    entry = course.module(MODULE).model_copy(update={"attempt": attempt})
    blueprint = course.workbook(entry).blueprint
    pack = packs.load(course.pack_of(entry, blueprint))
    return generation.draw(course, entry, blueprint, pack, roster or course.roster(), seed or course.seed(), **more)


def test_one_form_each_with_the_blueprints_items(bench: Bench) -> None:
    made = drawn(bench)
    assert len(made.forms.forms) == len(made.keys.forms) == len(PEOPLE)
    for identifier, _ in PEOPLE:
        form = made.forms.of(identifier)
        assert [(entry.id, entry.item.points) for entry in form.items] == [("A1", 1.0), ("A2", 2.0), ("A3", 3.0)]
        assert made.keys.form_of(identifier) == form.code
        assert made.forms.people[person_digest("saltmere", identifier)] == form.code
        keys = made.keys.forms[form.code].keys
        assert [keys[entry.id].kind for entry in form.items] == [entry.item.kind for entry in form.items]
    assert made.keys.pack_digest == made.forms.pack_digest == packs.load("dunlin").digest


def test_every_key_opens_its_item(bench: Bench) -> None:
    """The option that the key calls right earns all points, and no other does."""
    made = drawn(bench, roster_of(20))
    tried = 0
    for form in made.forms.forms:
        for entry in form.items:
            key = made.keys.forms[form.code].keys[entry.id]
            if entry.item.kind != "choice" or key.kind != "choice":
                continue
            full = [
                option.id
                for option in entry.item.options
                if mark(entry.item, key, ChoiceResponse(option=option.id)).points == entry.item.points
            ]
            assert full == [key.right]
            tried += 1
    assert tried >= 20


def test_the_same_inputs_give_the_same_bytes(bench: Bench) -> None:
    one, other = drawn(bench), drawn(bench)
    assert one.forms.model_dump_json() == other.forms.model_dump_json()
    assert one.keys.model_dump_json() == other.keys.model_dump_json()
    elsewhere = drawn(bench, seed=Seed(bytes(32)))
    assert {form.code for form in elsewhere.forms.forms}.isdisjoint(form.code for form in one.forms.forms)


def test_who_else_is_on_the_roster_changes_nobodys_form(bench: Bench) -> None:
    few, many = drawn(bench, roster_of(3)), drawn(bench, roster_of(12))
    for person in roster_of(3):
        assert few.forms.of(person.id) == many.forms.of(person.id)


def test_forms_and_attempts_differ(bench: Bench) -> None:
    first, second = drawn(bench, roster_of(30)), drawn(bench, roster_of(30), attempt=2)
    digests = [generation.form_digest(form) for made in (first, second) for form in made.forms.forms]
    assert len(set(digests)) == 60
    contents = Counter(
        json.dumps([entry.item.model_dump(mode="json") for entry in form.items]) for form in first.forms.forms
    )
    assert len(contents) > 20  # few templates and one pack; two forms may chance to be alike, most are not


def test_codes_give_nothing_away(bench: Bench) -> None:
    """Sorted by code, as they are released, forms stand in no order of the people."""
    made = drawn(bench, roster_of(30))
    order = [made.keys.forms[form.code].apprentice for form in made.forms.forms]
    assert [form.code for form in made.forms.forms] == sorted(form.code for form in made.forms.forms)
    assert order != sorted(order)


def test_the_order_of_options_has_a_stream_of_its_own(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """With another shuffling stream the same things are asked, in another order."""
    before = drawn(bench, roster_of(6))
    stream = Seed.stream
    monkeypatch.setattr(
        Seed, "stream", lambda seed, purpose, *names: stream(seed, "other" if purpose == "shuffle" else purpose, *names)
    )
    after = drawn(bench, roster_of(6))
    assert before.forms != after.forms
    for one, other in zip(before.forms.forms, after.forms.forms, strict=True):
        for first, second in zip(one.items, other.items, strict=True):
            assert asked(first.item) == asked(second.item)


def released(bench: Bench, *people: str) -> Drawing:
    """Draw forms and give out those of these people, or all."""
    made = drawn(bench)
    generation.write(bench.course, made)
    out = [made.forms.of(person) for person in people] or made.forms.forms
    generation.record_release(bench.course, MODULE, 1, out)
    return made


def test_a_released_form_stays_as_it_is(bench: Bench) -> None:
    first = released(bench)
    bench.write_roster((*PEOPLE, ("zoë", "Zoë")))
    second = drawn(bench)
    assert second.findings == ()
    assert len(second.forms.forms) == 4
    for identifier, _ in PEOPLE:
        assert second.forms.of(identifier) == first.forms.of(identifier)


def test_a_form_that_is_out_is_kept_also_when_its_apprentice_has_left(bench: Bench) -> None:
    gone = released(bench, "amir").forms.of("amir")
    bench.write_roster(PEOPLE[1:])
    second = drawn(bench)
    assert second.forms.of("amir") == gone
    assert second.keys.form_of("amir") == gone.code


def test_a_changed_blueprint_or_pack_is_refused_once_forms_are_out(bench: Bench) -> None:
    first = drawn(bench)
    generation.write(bench.course, first)
    path = bench.module / "module.toml"
    path.write_text(module_toml().replace("points = 3", "points = 4"), "utf-8")
    drawn(bench)  # before anything is out, a blueprint may change
    generation.record_release(bench.course, MODULE, 1, first.forms.forms)
    with pytest.raises(DrawingError, match=r"items of the blueprint.*attempt = 2"):
        drawn(bench)
    assert drawn(bench, attempt=2).forms.forms[0].items[2].item.points == 4.0
    ours = bench.course.folder / "ours.toml"
    dunlin = Path(packs.__file__).parent / "data/dunlin.toml"
    ours.write_bytes(dunlin.read_bytes() + b"\n# another edition\n")
    path.write_text(module_toml(), "utf-8")
    with pytest.raises(DrawingError, match="the pack changed"):
        drawn(Bench(set_to(bench.course, attempt='1\npack = "ours.toml"')))


def newer(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Seed.stream
    monkeypatch.setattr(Seed, "stream", lambda seed, *names: stream(seed, "newer", *names))


def balanced_otherwise(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(filling, "WIDTH", 0.3)
    monkeypatch.setattr(filling, "CHOICE", 2)


@pytest.mark.parametrize("change", [newer, balanced_otherwise])
def test_another_way_of_drawing_never_replaces_a_form_that_is_out(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, change: Callable[[pytest.MonkeyPatch], None]
) -> None:
    """Pools and features may change with the software: what is out stays, and it is said that it would differ."""
    first = released(bench, "amir")
    change(monkeypatch)
    second = drawn(bench)
    assert second.forms.of("amir") == first.forms.of("amir")
    assert second.keys.form_of("amir") == first.keys.form_of("amir")
    assert second.forms.of("o'brien") != first.forms.of("o'brien")
    assert [(finding.severity, finding.place) for finding in second.findings] == [("warning", f"{MODULE} amir")]


def test_a_lost_copy_is_drawn_again_only_where_that_gives_the_same(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = released(bench)
    bench.course.forms_file(MODULE, 1).unlink()
    bench.course.key_file(MODULE, 1).unlink()
    assert drawn(bench) == first
    newer(monkeypatch)
    with pytest.raises(DrawingError, match="backup"):
        drawn(bench)


def test_keys_are_their_owners_alone_and_read_back(bench: Bench) -> None:
    made = drawn(bench)
    assert generation.write(bench.course, made)
    assert not generation.write(bench.course, made)
    path = bench.course.key_file(MODULE, 1)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
    assert generation.read_keys(path) == made.keys
    assert generation.read_forms(bench.course.forms_file(MODULE, 1)) == made.forms
    assert generation.read_keys(path.with_name("attempt-9.jsonl")) is None
    path.write_text('{"format": 1}', "utf-8")
    with pytest.raises(DrawingError, match=r"attempt-1\.jsonl.*backup"):
        generation.read_keys(path)


def test_one_form_is_read_without_the_others(bench: Bench) -> None:
    made = drawn(bench)
    generation.write(bench.course, made)
    for opened, all_of in (
        (generation.open_keys(bench.course.key_file(MODULE, 1)), made.keys.forms),
        (generation.open_forms(bench.course.forms_file(MODULE, 1)), {form.code: form for form in made.forms.forms}),
    ):
        assert opened is not None
        assert set(opened.codes) == set(all_of)
        assert {code: opened.read(code) for code in all_of} == all_of
        with pytest.raises(KeyError):
            opened.read("nobody's")
    forms = generation.open_forms(bench.course.forms_file(MODULE, 1))
    assert forms is not None
    assert forms.only("amir") == made.only("amir")
    with pytest.raises(FormError, match="nobody"):
        forms.only("nobody")


def test_a_file_that_is_not_as_it_was_written_is_refused(bench: Bench) -> None:
    made = drawn(bench)
    generation.write(bench.course, made)
    path = bench.course.key_file(MODULE, 1)
    opened = generation.open_keys(path)
    assert opened is not None
    content = path.read_bytes()
    first, second, *_ = made.keys.forms
    head, keys = kept(path)
    # Somebody's keys under another's code; a line too few; a form that is no form: each is told, with the remedy.
    keep(path, head, keys | {first: keys[second]})
    with pytest.raises(DrawingError, match=f"form {first} is not where.*backup"):
        generation.read_keys(path)
    with pytest.raises(DrawingError, match="written anew"):
        opened.read(first)
    path.write_bytes(content[: content.rindex(b"{")])
    with pytest.raises(DrawingError, match=r"not as long as.*backup"):
        generation.open_keys(path)
    keep(path, head, keys | {first: {"apprentice": keys[first]["apprentice"], "keys": 1}})
    again = generation.open_keys(path)
    assert again is not None
    assert again.read(second) == made.keys.forms[second]
    with pytest.raises(DrawingError, match=r"keys: .*backup"):
        again.read(first)


def test_one_apprentices_part_names_nobody_else(bench: Bench) -> None:
    made = drawn(bench)
    own = made.only("o'brien")
    assert len(own.forms) == len(own.people) == 1
    assert own.of("o'brien") == made.forms.of("o'brien")
    with pytest.raises(FormError):
        own.of("amir")
    with pytest.raises(FormError):
        made.only("nobody")
    assert Forms.model_validate_json(own.model_dump_json(), strict=False) == own


def test_the_same_template_twice_asks_two_things(bench: Bench) -> None:
    bench.module.joinpath("module.toml").write_text(module_toml(("sequence/why-before",) * 4), "utf-8")
    for form in drawn(bench, roster_of(25)).forms.forms:
        asked = [
            (entry.item.prompt, tuple(sorted(option.text for option in getattr(entry.item, "options", ()))))
            for entry in form.items
        ]
        assert len(set(asked)) == 4


def test_a_template_that_runs_dry_is_refused(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.module.joinpath("module.toml").write_text(module_toml(("sequence/why-before",) * 2), "utf-8")
    stream = Seed.stream
    # The same draw for every item and every try: the second item can only repeat the first.
    monkeypatch.setattr(Seed, "stream", lambda seed, purpose, *_: stream(seed, purpose))
    with pytest.raises(NotReadyError, match="A1: more different values for the question"):
        drawn(bench)


def test_progress_is_told(bench: Bench) -> None:
    told: list[tuple[int, int, str]] = []
    drawn(bench, progress=lambda *step: told.append(step))
    assert told == [(n, 3, name) for n, (_, name) in enumerate(PEOPLE, start=1)]
