"""Plays of the bench that are copied: those with detours are named, the shortest never."""

from __future__ import annotations

import random
from pathlib import Path

from trainkit.items.kinds import ActionsItem, ActionsResponse
from trainkit_grading.diagnosis.detours import LEVEL, Play, alike
from trainkit_grading.marking.mark import mark
from trainkit_grading.reports.instructor.overview import instructors_view
from trainkit_grading.reports.instructor.page import html_text
from trainkit_grading.reports.status import status

from .copied_plays import benches, detoured, full_marks, shortest
from .makers import ANSWERED, COLLECTED, PEOPLE, form_in, found, give_out, journal_in, still

# What each of ten people decides behind the same two actions: eight each something usual, two the same odd things.
_ODD = (("a", "b", "x"), ("b", "x", "y"), ("x", "y", "z"), ("y", "z", "w"))


def _play(person: str, decisions: tuple[tuple[str, str, str], ...], detours: tuple[tuple[str, str, str], ...]) -> Play:
    after: dict[tuple[str, str], int] = {}
    for first, second, _ in decisions:
        after[first, second] = after.get((first, second), 0) + 1
    return Play(person, decisions, frozenset(detours), after)


def test_the_chance_is_that_of_the_model_worked_out_by_hand() -> None:
    plays = [_play("one", _ODD, _ODD), _play("two", _ODD, _ODD)]
    # Nobody else decided anything: each detour has the chance 1/14, all four happen, one pair is compared.
    (found,) = alike(plays)
    assert (found.people, found.shared) == (("one", "two"), tuple(sorted(_ODD)))
    assert abs(found.chance - (1 / 14) ** 4) < 1e-12
    # Where eight others make the very same detours, they are a habit of the class: 9/22 each, of 45 pairs.
    assert alike([*plays, *(_play(f"p{number}", _ODD, _ODD) for number in range(8))]) == ()


def test_shortest_plays_are_never_named_copied_or_not() -> None:
    items = benches(12)
    mine = [Play.of(str(number), item.scene, shortest(item)) for number, item in enumerate(items)]
    assert all(not play.detours for play in mine)
    copied = [Play.of("copy", items[1].scene, shortest(items[1])), *mine]
    assert alike(copied) == ()


def test_a_neighbours_play_with_detours_is_named_and_nobody_elses() -> None:
    items = benches(12)
    rng = random.Random(11)
    # The neighbour's own play, of all that are tried the one with most detours; the rest play the shortest way.
    theirs = max((detoured(items[0], rng, 8) for _ in range(15)), key=lambda way: _detours(items[0], way))
    plays = [Play.of(str(number), item.scene, shortest(item)) for number, item in enumerate(items[2:], 2)]
    honest = Play.of("neighbour", items[0].scene, theirs)
    assert alike([*plays, honest]) == ()
    named = alike([*plays, honest, Play.of("copier", items[0].scene, theirs)])
    assert [each.people for each in named] == [("neighbour", "copier")]
    assert named[0].chance <= LEVEL


def test_a_copied_list_of_actions_seldom_takes_full_points() -> None:
    """Of 870 pairs of forms 649 took full points from a neighbour's shortest play when benches had few starts."""
    items = benches(12)
    ways = [shortest(item) for item in items]
    taken = sum(full_marks(item, way) for item in items for way in ways if way is not ways[items.index(item)])
    assert taken < 132 * 0.3


def test_the_instructor_is_shown_a_copied_play(tmp_path: Path) -> None:
    bench = found(tmp_path / "course", ("lock-pin/pin-the-engine",))
    give_out(bench.course)
    names = [name for name, _ in PEOPLE]
    folders = {name: bench.unpack(name, tmp_path / name) for name in names}
    forms = {name: form_in(folder).items[0].item for name, folder in folders.items()}
    neighbour, copier, other = (forms[name] for name in names)
    assert isinstance(neighbour, ActionsItem)
    assert isinstance(copier, ActionsItem)
    assert isinstance(other, ActionsItem)
    rng = random.Random(3)
    tried = [detoured(neighbour, rng, 10) for _ in range(20)]
    copied = max(tried, key=lambda way: len(_play_of(neighbour, way) & _play_of(copier, way)))
    assert len(_play_of(neighbour, copied) & _play_of(copier, copied)) >= 3
    for name, way in zip(names, (copied, copied, shortest(other)), strict=True):
        written = journal_in(folders[name], clock=still(ANSWERED))
        written.append("A1", ActionsResponse(actions=tuple(way)))
        bench.send(folders[name], before=name)
    course = bench.collect()
    mark(course)
    view = instructors_view(course, clock=still(COLLECTED))
    (shown,) = view.alike
    assert set(shown.found.people) == set(names[:2])
    assert "Plays of the bench that are alike" in html_text(view, {"hazards": (), "notices": ()})
    assert [each.text for each in status(course).findings if shown.text in each.text] == [
        " and ".join(dict(PEOPLE)[name] for name in shown.found.people) + f": {shown.text}"
    ]


def _play_of(item: ActionsItem, way: list[str]) -> frozenset[tuple[str, str, str]]:
    return Play.of("", item.scene, way).detours


def _detours(item: ActionsItem, way: list[str]) -> int:
    return len(Play.of("", item.scene, way).detours)
