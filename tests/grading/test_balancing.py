"""Forms are equally hard by what templates state, and still differ; nobody's hangs on anybody else's."""

from __future__ import annotations

import math
import random
import statistics
from collections import Counter
from functools import cache

import pytest

from trainkit import packs
from trainkit.errors import ItemError
from trainkit.items.asking import asked
from trainkit.items.facts import Draw
from trainkit.items.kinds import ChoiceItem, ChoiceKey
from trainkit.items.template import Template, find, names
from trainkit.modules import Blueprint, PlannedItem, Skill
from trainkit.packs import Pack
from trainkit.pools.filling import LEAST, POOL, WIDTH, Pools
from trainkit.pools.reference import REFERENCE, yardstick
from trainkit_grading.course import packs as course_packs
from trainkit_grading.course.seeds import Seed

SEED = Seed(bytes(range(32)))
ENGINES = ("dunlin", "curlew")
# A mix with all sorts of answers, some of it worth more than the rest, one template twice.
MIX = (
    ("torque-units/convert", 2),
    ("torque-units/convert", 2),
    ("torque-units/master-column", 1),
    ("turning-direction/shaft-sense", 1),
    ("turning-direction/turn-alike", 2),
    ("lash-and-timing/key-at-dead-centre", 1),
    ("tightening/after-history", 2),
    ("sequence/forgotten-step", 2),
)


@cache
def pack(engine: str) -> Pack:
    return packs.load(course_packs.find_pack(engine))


def blueprint(*templates: tuple[str, float], module: str = "mix") -> Blueprint:
    items = tuple(
        PlannedItem(id=f"A{number}", template=name, points=points)
        for number, (name, points) in enumerate(templates, start=1)
    )
    skill = Skill(id="all", name="All", templates=tuple(name for name, _ in templates))
    return Blueprint(
        format=1, module=module, title="Mix", pack="dunlin", minutes=20, cut_score=70, objectives=("All of it.",),
        skills=(skill,), items=items,
    )  # fmt: skip


@cache
def pools(attempt: int = 1, course: str = "saltmere") -> Pools:
    return Pools.fill(SEED, course, blueprint(*MIX), pack("dunlin"), attempt)


def hardness(form: list[tuple[PlannedItem, Draw]]) -> float:
    return math.fsum(planned.points * find(planned.template).difficulty(drawn.features) for planned, drawn in form)


def forms(count: int, attempt: int = 1) -> list[list[tuple[PlannedItem, Draw]]]:
    return [list(pools(attempt).form(f"apprentice {number}")) for number in range(count)]


def asks(template: Template, engine: str) -> bool:
    try:
        template.draw(random.Random(0), pack(engine))
    except ItemError:
        return False
    return True


# What templates state


@pytest.mark.parametrize("name", names())
def test_every_template_states_features_of_its_own(name: str) -> None:
    template = find(name)
    assert "Difficulty: " in (type(template).__doc__ or "")
    for engine in ENGINES:
        if not asks(template, engine):
            continue
        for seed in range(25):
            found = template.draw(random.Random(seed), pack(engine)).features
            assert set(found) == set(template.weights)
            assert all(math.isfinite(count) and count >= 0 for count in found.values())
            expected = sum(template.weights[feature] * count for feature, count in found.items())
            assert template.difficulty(found) == pytest.approx(expected)


@pytest.mark.parametrize("name", names())
def test_features_do_not_hang_on_the_order_of_options(name: str) -> None:
    template = find(name)
    for seed in range(10):
        one, other = (
            template.draw(random.Random(seed), pack("dunlin"), shuffle=random.Random(shuffle)) for shuffle in (1, 2)
        )
        assert one.features == other.features


def test_no_feature_is_there_for_show() -> None:
    """Each feature of each template takes more than one value somewhere, unless the packs have nothing else."""
    constant = []
    for name in names():
        template = find(name)
        values: dict[str, set[float]] = {}
        for engine in ENGINES:
            if asks(template, engine):
                for seed in range(60):
                    drawn = template.draw(random.Random(seed), pack(engine))
                    for feature, count in drawn.features.items():
                        values.setdefault(feature, set()).add(count)
        constant += [(name, feature) for feature, found in values.items() if len(found) == 1]
    # What these two engines and the templates themselves set once for all; another engine may have other gears.
    assert {feature for _, feature in constant} <= {
        "gears",
        "lines",
        "reasons",
        "pairs",
        "plans",
        "parts",
        "meshes",
        "other pace",
    }


# Pools


def test_a_pool_keeps_what_lies_near_the_mean_and_no_draw_twice() -> None:
    for pool in pools().pools:
        assert len({draw.asked for draw in pool.draws}) == len(pool.draws) <= POOL
        assert len(pool.draws) >= LEAST
        off = [abs(draw.difficulty - pool.aim.mean) for draw in pool.draws]
        assert off == sorted(off)
        assert all(each <= WIDTH * pool.aim.spread + 1e-6 for each in off[LEAST:])
        assert {pooled.draw.item.points for pooled in pool.draws} == {pool.planned.points}


def test_the_yardstick_hangs_on_template_and_pack_alone() -> None:
    convert = find("torque-units/convert")
    by_hand = [
        convert.difficulty(convert.draw(random.Random(f"{convert.name} {number}"), pack("dunlin")).features)
        for number in range(REFERENCE)
    ]
    found = yardstick(convert, pack("dunlin"))
    assert (found.mean, found.spread) == (statistics.fmean(by_hand), statistics.pstdev(by_hand))
    work = find("sequence/find-fault")
    assert yardstick(work, pack("curlew")) != yardstick(work, pack("dunlin"))
    aims = [
        [pool.aim for pool in Pools.fill(seed, course, blueprint(*MIX[:3]), pack("dunlin"), attempt).pools]
        for seed, course, attempt in ((SEED, "saltmere", 1), (Seed(bytes(32)), "elsewhere", 7))
    ]
    assert aims[0] == aims[1]


@pytest.mark.parametrize("name", names())
@pytest.mark.parametrize("engine", ENGINES)
def test_what_half_of_the_draws_have_is_not_crowded_out(name: str, engine: str) -> None:
    """A feature that is there or not, each in four draws of ten at least, is there or not in the pool too."""
    template = find(name)
    if not asks(template, engine):
        return
    reference = [template.draw(random.Random(number), pack(engine)).features for number in range(60)]
    if not any(len({found[feature] for found in reference}) == 2 for feature in template.weights):
        return
    (pool,) = Pools.fill(SEED, "saltmere", blueprint((name, 1)), pack(engine), 1).pools
    kept = [pooled.draw.features for pooled in pool.draws]
    for feature in template.weights:
        shares = Counter(float(found[feature]) for found in reference)
        if len(shares) == 2 and min(shares.values()) >= 0.4 * len(reference):
            assert len({float(found[feature]) for found in kept}) == 2, feature


def test_trimming_leaves_every_sort_of_answer() -> None:
    """Features must not tell the answer: in the pool of master columns each verdict is still right somewhere."""
    (pool,) = Pools.fill(SEED, "saltmere", blueprint(("torque-units/master-column", 1)), pack("dunlin"), 1).pools
    right: Counter[str] = Counter()
    for item, key in (pooled.draw for pooled in pool.draws):
        assert isinstance(item, ChoiceItem)
        assert isinstance(key, ChoiceKey)
        (text,) = [option.text for option in item.options if option.id == key.right]
        right[text.split()[0].rstrip(":")] += 1
    assert set(right) == {"The", "Either", "Neither", "Nobody"}
    assert max(right.values()) < 0.5 * len(pool.draws)


# Forms


def test_forms_are_equally_hard_by_what_templates_state() -> None:
    """A form as a whole varies by much less than it would if the first draws were taken."""
    drawn = [hardness(form) for form in forms(120)]
    plan = blueprint(*MIX).items
    plain = [
        hardness(
            [
                (planned, find(planned.template).draw(random.Random(f"{number} {planned.id}"), pack("dunlin")))
                for planned in plan
            ]
        )
        for number in range(120)
    ]
    assert statistics.pstdev(drawn) < 0.15 * statistics.pstdev(plain)
    aim = math.fsum(pool.planned.points * pool.aim.mean for pool in pools().pools)
    assert abs(statistics.fmean(drawn) - aim) < 0.1 * statistics.pstdev(plain)


def test_a_later_attempt_is_as_hard_and_asks_other_things() -> None:
    first, second = forms(60), forms(60, attempt=2)
    means = [statistics.fmean(hardness(form) for form in found) for found in (first, second)]
    assert means[0] == pytest.approx(means[1], rel=0.01)
    assert pools(1).pools[0].draws[0] not in pools(2).pools[0].draws
    here, there = ({asked(item) for form in found for _, (item, _) in form} for found in (first, second))
    assert len(here & there) < 0.5 * len(here)


def test_forms_differ_and_no_form_asks_anything_twice() -> None:
    drawn = [[asked(item) for _, (item, _) in form] for form in forms(80)]
    assert len({tuple(form) for form in drawn}) == 80
    for form in drawn:
        assert len(set(form)) == len(form)
    used = Counter(question for form in drawn for question in form)
    assert max(used.values()) < 0.5 * len(drawn)
    # Both items of one template are asked from the whole of their pools: nearly as many differ as if each form took one
    # by chance, less what balancing prefers.
    for place in (0, 1):
        many = len(pools().pools[place].draws)
        assert len({form[place] for form in drawn}) > 0.6 * many * (1 - (1 - 1 / many) ** 80)


def test_a_form_hangs_on_its_own_name_alone() -> None:
    again = list(Pools.fill(SEED, "saltmere", blueprint(*MIX), pack("dunlin"), 1).form("apprentice 3"))
    assert again == forms(5)[3]
    other = list(Pools.fill(Seed(bytes(32)), "saltmere", blueprint(*MIX), pack("dunlin"), 1).form("apprentice 3"))
    elsewhere = list(pools(course="elsewhere").form("apprentice 3"))
    for changed in (other, elsewhere):
        assert [asked(item) for _, (item, _) in changed] != [asked(item) for _, (item, _) in again]


def test_one_draw_stands_in_other_orders_in_other_forms() -> None:
    """The order of options is each form's own: the letter that is right for one tells another nothing."""
    letters: dict[str, set[str]] = {}
    for form in forms(150):
        for _, (item, key) in form:
            if isinstance(item, ChoiceItem) and isinstance(key, ChoiceKey):
                letters.setdefault(asked(item), set()).add(key.right)
    often = [found for question, found in letters.items() if len(found) > 1]
    assert len(often) > 0.3 * len(letters)
