"""Typing sheets in: twice, settled where the passes differ, gone on with where it stopped, or refused."""

from __future__ import annotations

import json
import os
import random
import re
import shutil
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from trainkit.items import scenarios
from trainkit.items.kinds import ActionsItem, ActionsResponse
from trainkit_grading.course.folder import Course
from trainkit_grading.course.seeds import ALPHABET
from trainkit_grading.decisions import pending
from trainkit_grading.errors import PaperError
from trainkit_grading.intake import collect as collecting
from trainkit_grading.intake import receipts
from trainkit_grading.intake.collect import collect
from trainkit_grading.keeping.forget.forget import forget
from trainkit_grading.marking.mark import mark
from trainkit_grading.marking.score import score
from trainkit_grading.paper import bench, codes, notation
from trainkit_grading.paper.entering import enter, unfinished
from trainkit_grading.paper.medium import paper_of
from trainkit_grading.paper.passes import Typing, folder
from trainkit_grading.paper.sheets import make_sheets
from trainkit_grading.reports.status import status
from trainkit_grading.support.outcome import Outcome

from .makers import COMMAND, copy_of, edited, form_of
from .papers import (
    BEGUN,
    BOTH,
    ENDED,
    NOW,
    answer_on_screen,
    answers,
    clock,
    code_of,
    give_out,
    table,
    typed,
)

MODULE = "capstone"  # number, choice, several, order, actions and text in one form
WHO = BOTH[0]
Texts = dict[str, str]


@pytest.fixture(scope="module")
def given(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Texts, Path]:
    """A course that is given out, what somebody answered on screen as it is typed, and that hand-in."""
    home = tmp_path_factory.mktemp("entering")
    course = give_out(home / "course", (MODULE,))
    screen = copy_of(course, home / "screen")
    answer_on_screen(screen, home / "apprentices")
    made = next((home / "screen" / "inbox").glob(f"{MODULE}-{WHO}-*"))
    return course.folder, typed(form_of(course, WHO, MODULE), answers(screen, MODULE, WHO)), made


@pytest.fixture
def course(given: tuple[Path, Texts, Path], tmp_path: Path) -> Course:
    return Course.load(shutil.copytree(given[0], tmp_path / "a course"))


@pytest.fixture
def texts(given: tuple[Path, Texts, Path]) -> Texts:
    return dict(given[1])


@pytest.fixture
def code(course: Course) -> str:
    return code_of(course, MODULE, WHO)


def nothing_counts(course: Course) -> bool:
    return not (course.submitted / WHO / MODULE).exists() and not receipts.kept(course, WHO, MODULE)


def files(course: Course, first: Texts, second: Texts, by: tuple[str, str] = ("P. Tidewell", "M. Orrin")) -> Any:
    form = form_of(course, WHO, MODULE)
    home = course.folder.parent
    return {n: table(home / f"{n}.csv", form, by[n - 1], texts) for n, texts in ((1, first), (2, second))}


class Typist:
    """Somebody at the keyboard: answers what is asked, and walks away where nothing is left to say."""

    def __init__(self, *said: str) -> None:
        self.said: Iterator[str] = iter(said)
        self.heard: list[str] = []

    def __call__(self, text: str) -> str:
        self.heard.append(text)
        try:
            return next(self.said)
        except StopIteration:
            raise EOFError from None


def lines(texts: Texts, name: str = "") -> list[str]:
    """What is typed of a pass: the name, or Enter where it is known, each answer; an empty line after a text."""
    return [name] + [line for what, text in texts.items() for line in ([text, ""] if what == "A11" else [text])]


def at_keyboard(course: Course, code: str, *said: str) -> tuple[Outcome, Typist]:
    typist = Typist(*said)
    return enter(course, code, typist, clock=clock), typist


def test_two_passes_at_the_keyboard(course: Course, code: str, texts: Texts) -> None:
    half, heard = at_keyboard(course, code, *lines(texts, "P. Tidewell"))
    assert half.data["complete"] == [1]
    assert nothing_counts(course)
    whole, second = at_keyboard(course, code, *lines(texts, "M. Orrin"))
    assert whole.data["answers"] == 11
    # The second pass is asked the same, and told nothing of the first.
    assert len(second.heard) == len(heard.heard)
    assert not [text for text in second.heard if "Tidewell" in text or texts["A1"] in text]
    assert (course.submitted / WHO / MODULE).is_dir()
    assert unfinished(course) == ()
    assert mark(course, clock=clock).ok


def test_what_differs_is_asked_a_third_time_and_counts_only_then(course: Course, code: str, texts: Texts) -> None:
    slip = {
        **texts,
        "A3": "A" if texts["A3"] != "A" else "B",
        "A8": " ".join(texts["A8"].split()[::-1]),
        "A11": "No idea.",
    }
    outcome = enter(course, code, files=files(course, slip, texts), clock=clock)
    assert outcome.data["differ"] == ["A3", "A8", "A11"]
    assert nothing_counts(course)
    assert unfinished(course) == (codes.read_code(code),)
    assert any("not typed to its end" in finding.text for finding in status(course, clock=clock).findings)
    # Another letter than either pass has settles nothing; the second look does.
    other = next(letter for letter in "ABCD" if letter not in {texts["A3"], slip["A3"]})
    done, typist = at_keyboard(course, code, "M. Orrin", other, texts["A8"], "2", "", texts["A3"])
    assert done.data["differ"] == []
    assert done.data["settled"] == ["A3", "A8", "A11"]
    assert any(f"the first pass says “{slip['A3']}”, the second “{texts['A3']}”" in said for said in typist.heard)
    kept = score(course, MODULE, WHO)
    assert {of.id: notation.write(of.item, of.response) for of in kept.items if of.id in ("A3", "A8")} == {
        "A3": texts["A3"],
        "A8": texts["A8"],
    }
    assert kept.paper is not None
    assert kept.paper.settled == ("A3", "A8", "A11")


def test_a_third_table_settles(course: Course, code: str, texts: Texts, tmp_path: Path) -> None:
    slip = {**texts, "A1": "1 A"}
    assert enter(course, code, files=files(course, texts, slip), clock=clock).data["differ"] == ["A1"]
    third = table(tmp_path / "3.csv", form_of(course, WHO, MODULE), "M. Orrin", {"A1": texts["A1"]})
    assert enter(course, code, files={3: third}, clock=clock).data["settled"] == ["A1"]


def test_a_wrong_answer_is_said_at_once_and_one_can_go_back(course: Course, code: str, texts: Texts) -> None:
    said = lines(texts, "P. Tidewell")
    place = said.index(texts["A3"], 5)
    said[place:place] = ["Z", "B", "<"]
    outcome, typist = at_keyboard(course, code, *said)
    assert outcome.data["complete"] == [1]
    assert any("Z is not among them" in text for text in typist.heard)
    assert Typing(folder(course), codes.read_code(code)).passes[1].texts == texts


@pytest.mark.parametrize("seed", range(4))
def test_stopped_anywhere_it_goes_on_there(course: Course, code: str, texts: Texts, seed: int) -> None:
    """Whoever types is torn away again and again; nothing typed is asked twice, and the answers come out the same."""
    rng = random.Random(seed)
    for name in ("P. Tidewell", "M. Orrin"):
        left, begun = lines(texts, name), False
        while left:
            # A text that was begun is typed again: what is kept is a whole answer.
            some = left[: rng.randint(1, 6)]
            if len(some) < len(left) and some[-1] == texts["A11"]:
                some = some[:-1] or left[:2]
            _, typist = at_keyboard(course, code, *some)
            if begun:
                assert name in typist.heard[0]
            begun = True
            left = left[len(some) :]
            left = ["", *left] if left else []
    assert not unfinished(course)
    form = form_of(course, WHO, MODULE)
    got = {of.id: of.response for of in score(course, MODULE, WHO).items}
    assert {of.id: notation.write(of.item, got[of.id]) for of in form.items if of.id in texts and of.id != "A11"} == {
        what: text for what, text in texts.items() if what.startswith("A") and what != "A11"
    }


@pytest.mark.skipif(os.name == "nt", reason="Windows has no SIGKILL")
def test_killed_while_somebody_types(course: Course, code: str, texts: Texts) -> None:
    """A real process, killed after some answers: all that it had asked beyond is kept, a torn line costs itself."""
    start = [*COMMAND, "enter", code, "--by", "P. Tidewell", "--course", str(course.folder)]
    process = subprocess.Popen(start, stdin=subprocess.PIPE, stderr=subprocess.PIPE, text=True, bufsize=0)
    assert process.stdin is not None
    assert process.stderr is not None
    # The clock of this machine stands before the day on the sheet: only the day and times are typed wrongly then.
    today = {**texts, "date": "2026-01-05"}
    typing = lines(today)[:7]
    process.stdin.write("\n".join(typing) + "\n")
    path = folder(course) / f"{codes.read_code(code)}.jsonl"
    for _ in range(600):
        if path.exists() and path.read_bytes().count(b"\n") >= len(typing):
            break
        time.sleep(0.1)
    process.send_signal(signal.SIGKILL)
    process.wait()
    process.stderr.close()
    process.stdin.close()
    kept = Typing(folder(course), codes.read_code(code)).passes[1]
    assert list(kept.texts.values()) == typing[1:]
    with path.open("ab") as stream:
        stream.write(b'{"format": 1, "do": "typed", "num')
    rest = lines(today)[7:]
    outcome, _ = at_keyboard(course, code, "", *rest)
    assert outcome.data["complete"] == [1]
    assert Typing(folder(course), codes.read_code(code)).passes[1].texts == today


def test_cut_off_before_it_was_handed_in(
    course: Course, code: str, texts: Texts, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut(*_: object, **__: object) -> Outcome:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(collecting, "take", cut)
        with pytest.raises(KeyboardInterrupt):
            enter(course, code, files=files(course, texts, texts), clock=clock)
    assert nothing_counts(course)
    assert enter(course, code, clock=clock).data["answers"] == 11
    with pytest.raises(PaperError, match="and taken"):
        enter(course, code, clock=clock)
    assert len(receipts.kept(course, WHO, MODULE)) == 1


def test_typed_again_with_a_reason(course: Course, code: str, texts: Texts) -> None:
    wrong = {**texts, "A1": "1 A"}
    enter(course, code, files=files(course, wrong, wrong), clock=clock)
    assert mark(course, clock=clock).ok
    again = enter(course, code, files=files(course, texts, texts), why="A1 was read wrongly", clock=clock)
    assert again.data["answers"] == 11
    assert len(receipts.kept(course, WHO, MODULE)) == 2
    assert mark(course, clock=clock).ok
    scored = score(course, MODULE, WHO)
    assert scored.paper is not None
    assert scored.paper.why == "A1 was read wrongly"
    assert notation.write(scored.items[0].item, scored.items[0].response) == texts["A1"]


def test_one_person_for_both_passes_is_flagged(course: Course, code: str, texts: Texts) -> None:
    alone = files(course, texts, {**texts, "A1": f"{texts['A1']} "}, ("P. Tidewell", "p.tidewell"))
    outcome = enter(course, code, files=alone, clock=clock)
    assert any("flagged" in finding.text for finding in outcome.findings)
    assert mark(course, clock=clock).ok
    flags = [matter.text for matter in pending.of_course(course) if matter.kind == "flag"]
    assert any("typed by P. Tidewell" in text for text in flags), flags


@pytest.mark.parametrize(("hours", "counts"), [(-2, "on paper"), (2, "on screen")])
def test_on_screen_and_on_paper_the_later_counts(
    course: Course, code: str, texts: Texts, given: tuple[Path, Texts, Path], hours: int, counts: str
) -> None:
    """Whichever is typed or collected first: what was handed in later counts, and a person is told."""
    shutil.copy(given[2], course.inbox)
    assert collect(course, clock=lambda: ENDED + timedelta(hours=hours)).ok
    outcome = enter(course, code, files=files(course, texts, texts), clock=clock)
    assert any(
        f"on paper and on screen for one form. The later ones count, {counts}" in f.text for f in outcome.findings
    )
    scored = score(course, MODULE, WHO)
    assert scored.medium == counts.removeprefix("on ")
    assert any(flag.kind == "paper" and counts in flag.text for flag in scored.flags)


def table_as(content: Callable[[str], bytes]) -> Callable[[Path], bytes]:
    return lambda path: content(path.read_text("utf-8-sig"))


HOSTILE: dict[str, Callable[[Path], bytes]] = {
    "nothing": lambda _: b"",
    "a spreadsheet": lambda _: b"PK\x03\x04" + bytes(100),
    "far too long": lambda _: b"what,how,answer\r\n" + b"A1,,1\r\n" * 60_000,
    "thousands of lines": lambda _: b"what,how,answer\r\n" + b"A1,,1\r\n" * 500,
    "other columns": lambda _: b"a,b,c\r\n1,2,3\r\n",
    "no UTF-8": table_as(lambda text: text.encode("utf-16")),
    "zero bytes": table_as(lambda text: text.replace("A2", "A2\0").encode()),
    "an open quote": table_as(lambda text: text.encode() + b'A1,,"'),
    "an answer twice": table_as(lambda text: text.encode() + b"A1,,1 A\r\n"),
    "an item of another form": table_as(lambda text: text.encode() + b"A99,,1\r\n"),
    "an item left out": table_as(lambda text: "\r\n".join(x for x in text.splitlines() if x[:3] != "A2,").encode()),
    "nobody's name": table_as(lambda text: text.replace("P. Tidewell", " ").encode()),
    "the code of somebody else": table_as(
        lambda text: text.replace(text.split("form,,")[1][:13], "2222 2222 – J").encode()
    ),
    "a formula": table_as(lambda text: text.replace("A3,,", "A3,,=HYPERLINK(1)+").encode()),
    "an answer that cannot be": table_as(lambda text: text.replace("A3,,", "A3,,Q").encode()),
    "a day that is none": table_as(lambda text: text.replace("2027-03-10", "2027-02-30").encode()),
    "an end to come": table_as(lambda text: text.replace("2027-03-10", "2027-03-14").encode()),
    "an escape": table_as(lambda text: text.replace("A3,,", "A3,,\x1b[2J").encode()),
    "a field without end": table_as(lambda text: text.replace("A11,,", "A11,," + "x" * 140_000).encode()),
}


def refusals(course: Course, code: str, both: dict[int, Path]) -> list[str]:
    try:
        outcome = enter(course, code, files=both, clock=clock)
    except PaperError as error:
        return [str(error)] if error.rule and error.remedy else []
    return [finding.text for finding in outcome.findings if finding.severity == "refused"]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_table_is_refused_with_reasons_and_nothing_is_kept(
    course: Course, code: str, texts: Texts, name: str
) -> None:
    both = files(course, texts, texts)
    both[1].write_bytes(HOSTILE[name](both[1]))
    told = refusals(course, code, both)
    assert told
    assert all("\x1b" not in text and "\n" not in text for text in told)
    assert nothing_counts(course)
    assert not Typing(folder(course), codes.read_code(code)).passes[1].texts


def test_a_table_of_a_spreadsheet_in_another_country_is_taken(course: Course, code: str, texts: Texts) -> None:
    both = files(course, texts, texts)
    import csv
    import io

    rows = list(csv.reader(io.StringIO(both[1].read_text("utf-8-sig"))))
    text = io.StringIO()
    csv.writer(text, delimiter=";").writerows([*rows, ["", "", ""]])
    both[1].write_text(text.getvalue(), "utf-8-sig")
    assert enter(course, code, files=both, clock=clock).data["answers"] == 11


def test_a_copied_table_is_no_second_pass(course: Course, code: str, texts: Texts) -> None:
    both = files(course, texts, texts, ("P. Tidewell", "P. Tidewell"))
    assert not enter(course, code, files=both, clock=clock).ok
    assert nothing_counts(course)


def test_codes_that_are_refused(course: Course, code: str) -> None:
    own = codes.read_code(code)
    with pytest.raises(PaperError, match="check sign does not belong"):
        enter(course, own + next(sign for sign in ALPHABET if sign != codes.check_sign(own)), clock=clock)
    with pytest.raises(PaperError, match="eight signs and a check sign"):
        enter(course, own, clock=clock)
    with pytest.raises(PaperError, match="No form of this course"):
        enter(course, codes.to_type("22222222"), clock=clock)
    course = edited(course, ("attempt = 1\n", "attempt = 2\n"))
    with pytest.raises(PaperError, match="of attempt 1 of capstone; the current one is 2"):
        enter(course, code, clock=clock)
    with pytest.raises(PaperError, match="No form of attempt 2"):
        make_sheets(course, MODULE)


def test_a_form_that_was_not_given_out_has_no_sheet(course: Course) -> None:
    course.released_file(MODULE, 1).unlink()
    with pytest.raises(PaperError, match="not given out yet"):
        make_sheets(course, MODULE)


def test_check_signs_catch_every_slip() -> None:
    """Every single wrong sign, and every two that changed places, the check sign among them."""
    rng = random.Random(7)
    for _ in range(40):
        code = "".join(rng.choice(ALPHABET) for _ in range(8))
        whole = code + codes.check_sign(code)
        assert codes.read_code(whole) == code
        slips = {whole[:n] + sign + whole[n + 1 :] for n in range(9) for sign in ALPHABET + "0"}
        for one in range(9):
            for other in range(one):
                signs = list(whole)
                signs[one], signs[other] = signs[other], signs[one]
                slips.add("".join(signs))
        for slip in slips - {whole}:
            with pytest.raises(PaperError):
                codes.read_code(slip)


def test_the_bench_book_says_what_the_screen_says(course: Course) -> None:
    """Walks through the book, looked up as an invigilator does, give the same as the bench that is played."""
    item = next(of.item for of in form_of(course, WHO, MODULE).items if isinstance(of.item, ActionsItem))
    book = bench.book(item)
    ids = [option.id for option in item.actions]
    rng = random.Random(11)
    ends = 0
    for _ in range(300):
        row = 1
        done: list[Any] = []
        play = scenarios.begin(item.model, item.scene)
        while len(done) < item.limit:
            here = book.rows[row - 1]
            assert here.number == row
            assert here.seen[0] == play.view["tooth"]
            assert here.seen[1] == play.view["pin"]
            assert {ids[n] for n, cell in enumerate(here.cells) if cell} == set(play.actions) & set(ids)
            place = rng.choice([n for n, cell in enumerate(here.cells) if cell])
            cell = here.cells[place]
            assert cell is not None
            play, seen = play.act(ids[place])
            done.append(ids[place])
            assert book.sentences[cell[0] - 1] == seen
            assert (cell[1] == 0) == play.finished
            if play.finished:
                ends += 1
                break
            row = cell[1]
        response = ActionsResponse(actions=tuple(done), gave_up=False)
        assert notation.read(item, notation.write(item, response)) == response
    assert ends > 100


def test_a_book_that_was_misread_is_noticed(course: Course) -> None:
    item = next(of.item for of in form_of(course, WHO, MODULE).items if isinstance(of.item, ActionsItem))
    first = bench.book(item).rows[0]
    place, cell = next((n, cell) for n, cell in enumerate(first.cells) if cell and cell[1])
    letter = bench.LETTERS[place]
    with pytest.raises(PaperError, match="the book has sentence"):
        notation.read(item, f"{letter}{cell[0] + 1}")
    cannot = next(bench.LETTERS[n] for n, cell in enumerate(first.cells) if cell is None)
    with pytest.raises(PaperError, match="cannot be done at that point"):
        notation.read(item, cannot)


def test_of_who_is_forgotten_no_sheet_and_nothing_typed_is_left(course: Course, code: str, texts: Texts) -> None:
    make_sheets(course, MODULE)
    wrong = {**texts, "A1": "1 A"}
    enter(course, code, files=files(course, wrong, wrong), clock=clock)
    enter(course, code, files=files(course, texts, texts), why="read wrongly", clock=clock)
    assert mark(course, clock=clock).ok
    said = texts["A11"][:40]
    assert any(said in path.read_text("utf-8", "ignore") for path in folder(course).iterdir())
    assert forget(course, WHO, "They asked for it.").ok
    for home in (folder(course), course.folder / "sheets"):
        for path in home.rglob("*"):
            text = path.read_text("utf-8", "ignore") if path.is_file() else ""
            assert said not in text, path
            assert not re.search(r"\bAmir\b|\bamir\b", text), path
            assert path.stem != WHO


def test_practical_work_is_recorded_by_the_code_on_the_sheet(course: Course) -> None:
    from trainkit_grading.signoff.checklists import find_checklist
    from trainkit_grading.signoff.making import folder as checklists

    made = make_sheets(course, MODULE, [WHO])
    page = Path(made.data["sheets"][0]["html"]).read_text("utf-8")
    found = [json.loads(path.read_text("utf-8"))["code"] for path in checklists(course).glob("*.json")]
    assert len(found) == 1
    assert f"Sheet <strong>{found[0]}</strong>" in page
    assert find_checklist(checklists(course), found[0]).apprentice == WHO


def test_records_say_who_typed_and_when(course: Course, code: str, texts: Texts) -> None:
    enter(course, code, files=files(course, texts, texts), clock=clock)
    record = paper_of(course, codes.read_code(code))
    assert record is not None
    assert (record.begin, record.end, record.typed) == (BEGUN, ENDED, ("P. Tidewell", "M. Orrin"))
    (receipt,) = receipts.kept(course, WHO, MODULE)
    assert (receipt.how, receipt.told_by, receipt.arrived, receipt.collected) == ("paper", "form code", ENDED, NOW)
