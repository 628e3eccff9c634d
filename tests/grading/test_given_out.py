"""What was given out stays: pack and blueprint as they were, whatever becomes of their files and of the software."""

from __future__ import annotations

import tarfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from trainkit import modules, packs
from trainkit_grading.course import given_out
from trainkit_grading.course import packs as own_packs
from trainkit_grading.course.folder import Course
from trainkit_grading.forms import generation
from trainkit_grading.intake.collect import collect
from trainkit_grading.keeping.verify import prove
from trainkit_grading.marking.mark import mark
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import build
from trainkit_grading.release.check import check
from trainkit_grading.reports.answer_key import answers

from .makers import (
    MODULE,
    PEOPLE,
    Bench,
    copy_of,
    edited,
    form_of,
    give_out,
    key_file,
    module_toml,
    refused,
    set_to,
    tree,
)

LATE = (*PEOPLE, ("zoë", "Zoë"))
OURS = (Path(packs.__file__).parent / "data" / "dunlin.toml").read_text("utf-8") + "\n# our edition\n"
FROZEN = Path(__file__).parent / "frozen" / "course-1.tar.xz"


@pytest.fixture
def ours(bench: Bench) -> Bench:
    """Return a course with a pack of its own, given out."""
    (bench.course.folder / "ours.toml").write_text(OURS, "utf-8")
    bench = Bench(set_to(bench.course, attempt='1\npack = "ours.toml"'))
    give_out(bench.course)
    return bench


def edited_pack(bench: Bench) -> None:
    path = bench.course.folder / "ours.toml"
    path.write_text(OURS.replace('title = "', 'title = "Another ', 1), "utf-8")


def broken_pack(bench: Bench) -> None:
    (bench.course.folder / "ours.toml").write_text("format = 1\n", "utf-8")


def no_pack(bench: Bench) -> None:
    (bench.course.folder / "ours.toml").unlink()


def other_items(bench: Bench) -> None:
    path = bench.module / "module.toml"
    path.write_text(module_toml().replace("points = 2", "points = 5"), "utf-8")


@pytest.mark.parametrize("change", [edited_pack, broken_pack, no_pack, other_items])
def test_who_joins_late_gets_what_they_would_have_got(ours: Bench, tmp_path: Path, change: object) -> None:
    same = Bench(copy_of(ours.course, tmp_path / "as it was"))
    assert callable(change)
    change(ours)
    for bench in (same, ours):
        bench.write_roster(LATE)
        assert build(bench.course).ok
        assert assign(bench.course).ok
    assert form_of(ours.course, "zoë") == form_of(same.course, "zoë")
    assert [form_of(ours.course, person) for person, _ in PEOPLE] == [form_of(same.course, p) for p, _ in PEOPLE]
    told = [finding.text for finding in build(ours.course).findings]
    assert any("Attempt 1 keeps pack and blueprint as they were given out" in text for text in told)
    assert build(same.course).findings == ()


@pytest.mark.parametrize("change", [edited_pack, broken_pack, no_pack])
def test_marking_reports_and_verifying_go_on(ours: Bench, tmp_path: Path, change: object) -> None:
    assert callable(change)
    ours.hand_in("amir", tmp_path / "laptop")
    change(ours)
    assert collect(ours.course).ok
    assert mark(ours.course).ok
    assert answers(ours.course, MODULE, "amir", html=True).ok
    assert prove(ours.course).ok
    # What is wrong with the pack as it is now counts from the next attempt.
    assert check(ours.course.folder).ok


def test_the_next_attempt_takes_the_pack_as_it_is_then(ours: Bench) -> None:
    edited_pack(ours)
    course = edited(ours.course, ("attempt = 1", "attempt = 2"))
    give_out(course)
    first, second = (packs.load_accepted(course.given_folder(MODULE, n) / "pack.toml") for n in (1, 2))
    assert first.digest == packs.load_text(OURS).digest
    assert second.digest == packs.load(course.folder / "ours.toml").digest != first.digest
    assert key_file(course, attempt=2).pack_digest == second.digest


def test_before_anything_is_out_an_edit_counts(bench: Bench) -> None:
    (bench.course.folder / "ours.toml").write_text(OURS, "utf-8")
    bench = Bench(set_to(bench.course, attempt='1\npack = "ours.toml"'))
    assert build(bench.course).ok
    edited_pack(bench)
    assert build(bench.course).findings == ()
    assert key_file(bench.course).pack_digest == packs.load(bench.course.folder / "ours.toml").digest


def test_the_copies_stay_on_the_course_side(ours: Bench) -> None:
    """No line that tells the pack lies anywhere that apprentices can see."""
    course = ours.course
    assert {path.name for path in course.given_folder(MODULE, 1).iterdir()} == {"pack.toml", "module.toml"}
    telling = [line for line in OURS.encode().splitlines() if len(line) > 40]
    for home in (course.source, course.release, course.zips):
        for path, content in tree(home).items():
            assert not path.endswith(".toml")
            assert sum(line in content for line in telling) < 3, path


def test_a_copy_that_was_changed_is_refused(ours: Bench) -> None:
    copy = ours.course.given_folder(MODULE, 1) / "pack.toml"
    copy.write_text(OURS + "\n# changed\n", "utf-8")
    assert "the pack changed" in refused(build(ours.course))


def without_copies(course: Course) -> None:
    for path in course.folder.glob("forms/*/attempt-*/*"):
        path.unlink()


def test_a_course_without_copies_gets_them_where_nothing_changed(ours: Bench) -> None:
    before = tree(ours.course.folder)
    without_copies(ours.course)
    assert build(ours.course).ok
    assert tree(ours.course.folder) == before


@pytest.mark.parametrize("change", [edited_pack, other_items])
def test_without_copies_a_change_is_refused_with_a_remedy(ours: Bench, change: object) -> None:
    without_copies(ours.course)
    assert callable(change)
    change(ours)
    assert "set attempt = 2" in refused(build(ours.course))
    assert "set attempt = 2" in refused(check(ours.course.folder))


@pytest.fixture
def live(tmp_path: Path) -> Course:
    """Return a running course that was begun with a release that kept no copies."""
    with tarfile.open(FROZEN) as packed:
        packed.extractall(tmp_path, filter="tar")
    course = Course.load(tmp_path / "course")
    with course.roster_file.open("a", encoding="utf-8") as lines:
        lines.write("zoe,Zoe Tern\n")
    return course


def now() -> datetime:
    return datetime(2025, 11, 19, tzinfo=UTC)


def test_a_course_of_an_earlier_release_takes_a_late_joiner(live: Course, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where this release brings other editions of the packs and other blueprints."""
    another = live.folder.parent / "another.toml"
    another.write_text(packs.starting_point(), "utf-8")
    monkeypatch.setattr(Course, "pack_of", lambda *_: another)
    load = modules.load

    def upgraded(name: str | Path) -> modules.Module:
        module = load(name)
        items = module.blueprint.items[:-1]
        return module.model_copy(update={"blueprint": module.blueprint.model_copy(update={"items": items})})

    monkeypatch.setattr(modules, "load", upgraded)
    digests = {entry.name: key_file(live, entry.name, entry.attempt).pack_digest for entry in live.modules}
    out = {
        entry.name: generation.read_released(live.released_file(entry.name, entry.attempt)) for entry in live.modules
    }
    built = build(live, clock=now)
    assert built.ok, built.findings
    assert assign(live, clock=now).ok
    for entry in live.modules:
        form_of(live, "zoe", entry.name, entry.attempt)
        keys = key_file(live, entry.name, entry.attempt)
        assert (keys.pack_digest, len(keys.plan)) == (digests[entry.name], 12)
        kept = given_out.kept(live, entry)
        assert kept is not None
        assert (kept.pack.digest, kept.blueprint.items) == (keys.pack_digest, keys.plan)
        released = generation.read_released(live.released_file(entry.name, entry.attempt))
        assert released.items() > out[entry.name].items()


def test_packs_of_the_packages_are_at_hand_in_the_editions_of_running_courses() -> None:
    """Before one of these changes, its last edition goes to ``course/packs/earlier``."""
    with tarfile.open(FROZEN) as packed:
        heads = [
            packed.extractfile(member).readline()  # type: ignore[union-attr]  # these are files
            for member in packed.getmembers()
            if member.name.startswith("course/keys/") and member.name.endswith(".jsonl")
        ]
    known = own_packs.earlier().keys()
    assert len(heads) == 4
    assert all(any(digest.encode() in head for digest in known) for head in heads)
