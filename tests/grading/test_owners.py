"""Who handed in: the owner of a file against a folder's name and a personal code, and what a person decides then."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from trainkit_grading.course.folder import Course
from trainkit_grading.decisions import pending
from trainkit_grading.decisions.appeals import decide
from trainkit_grading.errors import SignOffError
from trainkit_grading.intake import receipts
from trainkit_grading.intake.collect import collect
from trainkit_grading.intake.owners import instructors
from trainkit_grading.keeping.verify import prove, still_open
from trainkit_grading.ledger.kinds import Doubted
from trainkit_grading.marking.mark import mark
from trainkit_grading.reports.status import status
from trainkit_grading.support.outcome import Outcome
from trainkit_grading.support.sharing import owner_of

from .accounts import AS_ROOT, NOBODYS, OTHERS, POSIX, give, log_in, mine
from .attacks import OWNERS, Disk, Impostor
from .attacks.zips import zipped
from .makers import COLLECTED, FIRST, MODULE, SECOND, THIRD, Bench, entries, laid, marks_of, set_to

pytestmark = POSIX
ROOT = mine() == "root"
# Who is who on this computer: as root everybody has an account of the system's, else whoever attacks is at work here.
ACCOUNTS = dict(zip((FIRST, SECOND, THIRD), (OTHERS[0], OTHERS[1] if ROOT else mine(), OTHERS[2]), strict=True))
OWNER: dict[str, str | int] = {"victim": ACCOUNTS[FIRST], "thief": ACCOUNTS[SECOND], "unknown": NOBODYS, "root": "root"}


def on_a_disk(bench: Bench, **accounts: str) -> Path:
    """Give a course a shared disk and people's accounts; return the folder in which they hand in."""
    home = bench.course.folder.parent / "disk" / "saltmere" / "inbound"
    home.mkdir(parents=True)
    set_to(bench.course, root='"../disk"')
    log_in(bench.course, **accounts)
    return home


def parts_of(bench: Bench, person: str, into: Path, **how: object) -> dict[str, bytes]:
    """Return what somebody's hand-in holds."""
    folder = bench.unpack(person, into)
    bench.answer(folder, **how)  # type: ignore[arg-type]  # the keywords of answering
    return {name: (folder / name).read_bytes() for name in ("answers.jsonl", "identity.json")}


@dataclass(frozen=True)
class Tried:
    """Everything that was left, after it was collected and marked."""

    course: Course
    outcome: Outcome
    disk: Disk


@pytest.fixture(scope="module")
def tried(_given_out: Path, tmp_path_factory: pytest.TempPathFactory) -> Tried:
    home = tmp_path_factory.mktemp("owners")
    bench = Bench(Course.load(shutil.copytree(_given_out, home / "course")))
    inbound = on_a_disk(bench, **ACCOUNTS)
    course = Course.load(bench.course.folder)
    victim, thief = (parts_of(bench, person, home / person) for person in (FIRST, SECOND))
    worse = parts_of(bench, FIRST, home / "worse", items=("A1",))["answers.jsonl"]
    disk = Disk(
        inbound,
        course.inbox,
        ACCOUNTS[FIRST],
        worse,
        victim["answers.jsonl"],
        thief["answers.jsonl"],
        victim["identity.json"],
        thief["identity.json"],
    )
    # Honest ones: an instructor drops a zip of the victim's in, whoever attacks has handed in over the disk as well.
    disk.zip("honest", victim)
    own = disk.folder(SECOND, "honest", disk.own)
    if ROOT:
        give(own, ACCOUNTS[SECOND])
    for number, impostor in enumerate(OWNERS, start=1):
        if impostor.root and not ROOT:
            continue
        # Journals of their own, so that none is taken for another one that came before.
        own_disk = replace(disk, worse=disk.worse + b"\n" * number, better=disk.better + b"\n" * number)
        for path, owner in impostor.leave(own_disk, impostor.name).items():
            if ROOT:
                give(path, OWNER[owner])
    outcome = collect(course, clock=lambda: COLLECTED)
    assert mark(course, [MODULE]).ok
    return Tried(course, outcome, disk)


EACH = pytest.mark.parametrize(
    "impostor", [pytest.param(each, id=each.name, marks=[AS_ROOT] if each.root else []) for each in OWNERS]
)


@EACH
def test_a_hand_in_under_another_name_is_kept_and_counts_for_nothing(tried: Tried, impostor: Impostor) -> None:
    told = [finding for finding in tried.outcome.findings if impostor.name in finding.place]
    waiting = [each for each in tried.outcome.data["waiting"] if impostor.name in each["place"]]
    if impostor.refused:
        assert any(impostor.refused in finding.text for finding in told)
        assert waiting == []
        return
    (kept,) = waiting
    assert kept["waits"] == impostor.doubt
    assert [finding.severity for finding in told] == ["warning"]
    assert "does not count until you decide" in told[0].text
    # Nothing is lost: its bytes are kept, and a person is asked.
    receipt = receipts.Receipt.model_validate(kept, strict=False)
    assert receipts.content_digest(receipts.journal_of(tried.course, receipt)) == receipt.digest
    (entry,) = (each for each in entries(tried.course, Doubted) if each.journal == receipt.digest)
    assert (entry.apprentice, entry.doubt) == (receipt.apprentice, impostor.doubt)
    assert entry.number in {each.entry for each in pending.of_course(tried.course) if each.kind == "origin"}


def test_what_counts_is_what_was_handed_in_honestly(tried: Tried) -> None:
    assert (laid(tried.course, FIRST) / "answers.jsonl").read_bytes() == tried.disk.better
    assert (laid(tried.course, SECOND) / "answers.jsonl").read_bytes() == tried.disk.own
    assert not laid(tried.course, THIRD).exists()
    assert marks_of(tried.course).keys() == {FIRST, SECOND}
    assert {each["apprentice"] for each in tried.outcome.data["taken"]} == {FIRST, SECOND}
    assert tried.outcome.data["missing"] == {MODULE: [THIRD]}
    # What waits is kept and proven as everything else is.
    assert prove(tried.course).ok


def test_there_are_attacks_by_owners_of_every_kind() -> None:
    assert len({each.name for each in OWNERS}) == len(OWNERS) >= 12
    assert all(each.tries.endswith(".") and bool(each.doubt) != bool(each.refused) for each in OWNERS)
    assert {each.doubt for each in OWNERS} == {"", "owner unknown", "owner is another", "code is another's"}


# ---- what a person decides


@pytest.fixture
def waiting(assigned: Bench, parts: dict[str, bytes]) -> Callable[..., Course]:
    """A course with a folder on its disk that is named for Amir and belongs to an account that is not his."""

    def made(*, journal: bytes = b"") -> Course:
        inbound = on_a_disk(assigned, amir=OTHERS[0])
        folder = inbound / f"{FIRST}+{MODULE}+2027-03-01 12:00:00 UTC+x"
        folder.mkdir()
        (folder / "answers.jsonl").write_bytes(journal or parts["answers.jsonl"])
        return Course.load(assigned.course.folder)

    return made


def only_matter(course: Course) -> pending.PendingDecision:
    (matter,) = (each for each in pending.of_course(course) if each.kind == "origin")
    return matter


def test_it_counts_once_a_person_says_so(waiting: Callable[..., Course], parts: dict[str, bytes]) -> None:
    course = waiting()
    outcome = collect(course, clock=lambda: COLLECTED)
    assert outcome.ok
    assert "1 hand-in waits for your decision." in outcome.done
    assert not course.submitted.exists()
    (standing,) = (each for each in status(course).data["standing"] if each["apprentice"] == FIRST)
    assert standing["state"] == "out"
    matter = only_matter(course)
    assert "Amir Shah (amir)" in matter.text
    assert repr(mine()) in matter.text
    assert f"decide {matter.entry} --outcome counted|excluded" in matter.next
    assert any(f"decide {matter.entry} " in line for line in still_open(course).done)
    assert any("1 hand-in in doubt" in finding.text for finding in status(course).findings)
    decided = decide(course, matter.entry, "counted", why="He was at that desk.")
    assert "trainkit-course collect" in decided.next_step
    outcome = collect(course, clock=lambda: COLLECTED)
    (taken,) = outcome.data["taken"]
    assert (taken["apprentice"], taken["told_by"], taken["waits"]) == (FIRST, "instructor", "")
    assert (laid(course, FIRST) / "answers.jsonl").read_bytes() == parts["answers.jsonl"]
    # It arrived when it lay there, not when it was decided about.
    first, second = receipts.kept(course, FIRST, MODULE, waiting=True)
    assert receipts.kept(course, FIRST, MODULE) == (second,)
    assert (first.arrived, first.digest, first.waits) == (second.arrived, second.digest, "owner unknown")
    assert mark(course, [MODULE]).ok
    assert FIRST in marks_of(course)
    assert prove(course).ok
    assert [each for each in pending.of_course(course) if each.kind == "origin"] == []
    # Neither collecting nor deciding once more changes anything; taking it back is refused, as it may be marked.
    again = collect(course, clock=lambda: COLLECTED)
    assert (again.data["taken"], again.data["waiting"], len(receipts.kept(course, FIRST, MODULE))) == ([], [], 1)
    with pytest.raises(SignOffError, match="was let count"):
        decide(course, matter.entry, "excluded", why="It was not him.")


def test_it_stays_out_where_a_person_says_so(waiting: Callable[..., Course]) -> None:
    course = waiting()
    collect(course, clock=lambda: COLLECTED)
    matter = only_matter(course)
    with pytest.raises(SignOffError, match="counted or excluded"):
        decide(course, matter.entry, "settled", why="Looked at.")
    decide(course, matter.entry, "excluded", why="Amir was not there.")
    outcome = collect(course, clock=lambda: COLLECTED)
    assert (outcome.data["taken"], outcome.data["waiting"]) == ([], [])
    assert not course.submitted.exists()
    assert len(receipts.kept(course, FIRST, MODULE, waiting=True)) == 1
    assert receipts.kept(course, FIRST, MODULE) == ()
    assert [each for each in pending.of_course(course) if each.kind == "origin"] == []


def test_the_same_put_there_first_keeps_nobody_from_handing_in(
    waiting: Callable[..., Course], parts: dict[str, bytes]
) -> None:
    course = waiting()
    collect(course, clock=lambda: COLLECTED)
    (course.inbox / "amir.zip").write_bytes(zipped(parts))
    outcome = collect(course, clock=lambda: COLLECTED)
    (taken,) = outcome.data["taken"]
    assert (taken["apprentice"], taken["told_by"]) == (FIRST, "personal code")
    assert (laid(course, FIRST) / "answers.jsonl").read_bytes() == parts["answers.jsonl"]
    # Letting the other one count as well adds nothing.
    decide(course, only_matter(course).entry, "counted", why="Both are his.")
    assert collect(course, clock=lambda: COLLECTED).data["taken"] == []


def test_mending_the_roster_is_a_decision_too(waiting: Callable[..., Course]) -> None:
    course = waiting()
    collect(course, clock=lambda: COLLECTED)
    log_in(course, amir=mine())
    outcome = collect(course, clock=lambda: COLLECTED)
    assert [each["told_by"] for each in outcome.data["taken"]] == ["folder on the shared disk"]
    assert mark(course, [MODULE]).ok
    assert [each for each in pending.of_course(course) if each.kind == "origin"] == []


def test_an_instructor_vouches_for_what_waits(waiting: Callable[..., Course], tmp_path: Path) -> None:
    course = waiting()
    collect(course, clock=lambda: COLLECTED)
    folder = next(iter((tmp_path / "disk" / "saltmere" / "inbound").iterdir()))
    outcome = collect(course, folder, FIRST, clock=lambda: COLLECTED)
    assert [each["told_by"] for each in outcome.data["taken"]] == ["instructor"]
    assert laid(course, FIRST).is_dir()


def test_cut_off_before_it_was_kept_it_stands_in_the_ledger_once(
    waiting: Callable[..., Course], monkeypatch: pytest.MonkeyPatch
) -> None:
    course = waiting()

    def cut(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(receipts, "keep", cut)
        with pytest.raises(KeyboardInterrupt):
            collect(course, clock=lambda: COLLECTED)
    assert len(entries(course, Doubted)) == 1
    assert len(collect(course, clock=lambda: COLLECTED).data["waiting"]) == 1
    assert len(entries(course, Doubted)) == 1
    lines = [json.loads(line) for line in course.arrivals_log.read_text("utf-8").splitlines()]
    assert [line["waits"] for line in lines] == ["owner unknown"]


# ---- accounts


def test_a_number_without_a_name_is_an_account_of_its_own() -> None:
    assert owner_of(NOBODYS) == str(NOBODYS)
    assert owner_of(0) == "root"


def test_members_of_the_group_are_instructors_where_it_shares_the_course(tmp_path: Path) -> None:
    assert {"root", mine()} <= instructors(tmp_path, group=False) <= instructors(tmp_path, group=True)


def test_the_account_is_whom_a_folder_is_named_for(assigned: Bench, parts: dict[str, bytes]) -> None:
    """nbgrader names it for the user name; the roster says whose that is."""
    inbound = on_a_disk(assigned, amir=mine())
    folder = inbound / f"{mine()}+{MODULE}+2027-03-01 12:00:00 UTC+x"
    folder.mkdir()
    (folder / "answers.jsonl").write_bytes(parts["answers.jsonl"])
    outcome = collect(Course.load(assigned.course.folder), clock=lambda: COLLECTED)
    assert [each["apprentice"] for each in outcome.data["taken"]] == [FIRST]
