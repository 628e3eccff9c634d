"""What is known of a draw is kept with its key; of a line of format 1 the same is counted off item and key."""

from __future__ import annotations

import hashlib
import json
import random

import pytest

from trainkit import packs
from trainkit.items.facts import Facts
from trainkit.items.marking import mark
from trainkit.items.template import find
from trainkit_grading.forms import generation, store
from trainkit_grading.forms.generation import Drawing
from trainkit_grading.forms.store import FormKeys, KeyFile

from .makers import MODULE, Bench
from .test_drawing import drawn


def of_format_1(keys: KeyFile) -> KeyFile:
    forms = {code: FormKeys(apprentice=own.apprentice, keys=own.keys) for code, own in keys.forms.items()}
    return keys.model_copy(update={"forms": forms})


def keep(bench: Bench, made: Drawing, keys: KeyFile) -> None:
    generation.write(bench.course, Drawing(made.forms, keys))


def lines(bench: Bench) -> tuple[dict[str, object], dict[str, bytes]]:
    """Return the head of the file of keys and the line of each form."""
    head, *rest = bench.course.key_file(MODULE, 1).read_bytes().splitlines(keepends=True)
    told = json.loads(head)
    return told, dict(zip(told["lines"], rest, strict=True))


def test_facts_are_kept_with_every_key_and_count_for_its_digest(bench: Bench) -> None:
    made = drawn(bench)
    keep(bench, made, made.keys)
    assert lines(bench)[0]["format"] == 3
    kept = store.open_keys(bench.course.key_file(MODULE, 1))
    assert kept is not None
    for form in made.forms.forms:
        own, digest = kept.read_with_digest(form.code)
        assert own.facts.keys() == own.keys.keys()
        assert all(facts.features for facts in own.facts.values())
        bare = FormKeys(apprentice=own.apprentice, keys=own.keys)
        assert digest != hashlib.sha256(bare.model_dump_json(exclude={"facts"}).encode() + b"\n").hexdigest()


def test_of_format_1_what_marking_needs_is_counted(bench: Bench) -> None:
    made = drawn(bench)
    old = of_format_1(made.keys)
    keep(bench, made, old)
    assert lines(bench)[0]["format"] == 1
    assert b"facts" not in bench.course.key_file(MODULE, 1).read_bytes()
    assert generation.read_keys(bench.course.key_file(MODULE, 1)) == old
    for form in made.forms.forms:
        now, before = made.keys.forms[form.code], old.forms[form.code]
        for shown in form.items:
            without_features = now.facts_of(shown.id, shown.item).model_copy(update={"features": {}})
            assert before.facts_of(shown.id, shown.item) == without_features


def test_a_form_of_format_1_that_is_out_keeps_its_line(bench: Bench) -> None:
    """The ledger knows the line by its hash, so facts are added for others alone."""
    made = drawn(bench)
    keep(bench, made, of_format_1(made.keys))
    _, before = lines(bench)
    out = made.forms.of("amir")
    generation.record_release(bench.course, MODULE, 1, [out])
    again = drawn(bench)
    assert again.findings == ()
    keep(bench, again, again.keys)
    head, after = lines(bench)
    assert head["format"] == 3
    assert after[out.code] == before[out.code]
    assert all(b'"facts"' in line for code, line in after.items() if code != out.code)
    # Nor is a spoken check held of what was out before there were any.
    assert b"spoken" not in after[out.code]
    assert all(b'"spoken":true' in line for code, line in after.items() if code != out.code)


@pytest.mark.parametrize("name", ["sequence/put-in-order", "tightening/stages-in-order"])
def test_an_order_is_marked_against_chance_as_it_was_kept(name: str) -> None:
    for seed in range(6):
        made = find(name).draw(random.Random(seed), packs.load("dunlin"))
        item, key = made
        facts = Facts.model_validate_json(made.facts.model_dump_json())
        names = sorted(key.cards)  # type: ignore[union-attr]  # an order
        for turn in range(12):
            given = {"kind": "order", "cards": random.Random(turn).sample(names, len(names))}
            assert mark(item, key, given, facts) == mark(item, key, given)
        half = facts.model_copy(update={"expected_moves": 1.0})
        worst = {"kind": "order", "cards": names}
        assert mark(item, key, worst, half).points <= mark(item, key, worst).points
