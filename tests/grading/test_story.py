"""A course from roster to record, and every figure of both reports worked out a second time from the ledger's rows."""

from __future__ import annotations

import html
import json
import re
from collections import Counter
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from openpyxl import load_workbook

from trainkit.items.facts import met_by_chance
from trainkit.items.misconceptions import misconception
from trainkit.items.reading import read_response
from trainkit_grading.keeping import verify
from trainkit_grading.reports.coordinator import report as coordinators
from trainkit_grading.reports.coordinator.evidence import Evidences
from trainkit_grading.reports.coordinator.overview import Overview, overview
from trainkit_grading.reports.coordinator.page import SIGNS
from trainkit_grading.reports.instructor import report as instructors
from trainkit_grading.reports.instructor.overview import InstructorsView, instructors_view
from trainkit_grading.reports.score_sheet import report
from trainkit_grading.results.readiness import EVIDENCE_RULES, READINESS, READY_RULES
from trainkit_grading.statistics import wilson
from trainkit_grading.support.markup import said

from .makers import ledger_of
from .recount import EVERYBODY, Recount
from .story import (
    APPEALS,
    FORGOTTEN,
    FORWARD,
    JOINER,
    LATE,
    LEAVER,
    MISSED,
    MOVER,
    NOW,
    PAPER,
    PROMPTED,
    SAME,
    TWICE,
    Story,
    clock,
    close,
    page_of,
    tables,
    tell,
)
from .story_exported import (  # noqa: F401 - tests of the same course
    test_everything_else_is_that_of_a_course_without_them,
    test_exports_add_up_to_the_same,
    test_reports_name_them_no_more,
    test_statistics_are_the_same_without_a_name,
    without,
)

pytestmark = pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning:nbgrader")  # of nbgrader's own relations


@pytest.fixture(scope="module")
def story(tmp_path_factory: pytest.TempPathFactory) -> Story:
    """The course, with both reports written."""
    told = tell(tmp_path_factory.mktemp("the story"))
    assert coordinators.write_coordinator_report(told.course, clock=clock).ok
    assert instructors.write_instructor_report(told.course, clock=clock).ok
    return told


@pytest.fixture(scope="module")
def again(story: Story) -> Recount:
    return Recount(story.course.folder, NOW)


@pytest.fixture(scope="module")
def view(story: Story) -> Overview:
    return overview(story.course, clock=clock)


@pytest.fixture(scope="module")
def klass(story: Story) -> InstructorsView:
    return instructors_view(story.course, clock=clock)


def test_all_of_it_has_happened(story: Story, again: Recount) -> None:
    kinds = Counter(entry["kind"] for entry in again.entries.values())
    assert set(kinds) >= {"marked", "changed", "session", "moved", "observed", "second", "appealed", "decided"}
    assert set(again.modules) == {module.name for module in story.course.modules}
    assert len(again.modules) == 7
    assert len({row["cohort"] for row in again.people.values()} - {""}) == 2
    assert again.due(JOINER, "capstone") is None
    assert again.due(TWICE, "capstone") != again.due(FORWARD, "capstone")
    cohorts = [entry["said"]["cohort"] for entry in again.of_kind("moved") if entry["who"] == MOVER]
    assert len(set(cohorts)) == 2
    assert again.results[TWICE, "lock-pin"]["attempts"] == 2
    assert again.results[LATE, "capstone"]["late"] > 0
    assert again.results[LATE, "capstone"]["penalty"] > 0
    assert again.gone(LEAVER)
    module, form, item = story.corrected
    (before, after) = [e for e in again.of_kind("marked") if e["form"] == form and e["module"] == module]
    points = [
        next(row["points"] for row in again.marks[entry["number"]] if row["item"] == item) for entry in (before, after)
    ]
    assert points[0] != points[1]
    assert after["why"] == f"The key of {item} was wrong."
    assert again.results[PAPER, "torque-units"]["medium"] == "paper"
    assert {of.get("medium") for of in again.results.values()} == {"paper", "screen", None}
    person, module, item = story.overridden
    assert item in again.results[person, module]["overridden"]
    assert again.signed[MISSED]["dunlin"]["rule"] == "K"
    assert sum(entry["who"] == MISSED and entry["module"] == "" for entry in again.of_kind("observed")) == 2
    assert again.signed[PROMPTED]["dunlin"]["rule"] == "K"
    assert again.signed[SAME]["dunlin"]["same"]
    verdicts = Counter(of["verdict"] for of in again.results.values())
    assert set(verdicts) == {"passed", "not yet", "waiting"}
    codes = {code for who in again.people for _, some in again.evidence(who) for code in some}
    assert codes >= {"M1", "M8", "M3", "M4", "M5", "M6", "S1", "S2", "S3", "S5", "S6"}
    assert {code for who in again.people for code, _ in again.evidence(who)} == set(READY_RULES)
    assert verify.prove(story.course).ok


def test_every_result(view: Overview, again: Recount) -> None:
    assert [each.person.id for each in view.people] == list(again.people)
    for each in view.people:
        for module, row in each.results.items():
            of = again.results[each.person.id, module]
            where = (each.person.id, module)
            assert (row.state, row.verdict, row.entry) == (of["state"], of["verdict"], of["entry"]), where
            assert row.points == close(of["points"]), where
            assert row.out_of == of["out_of"]
            assert list(row.critical) == of["critical"], where
            assert (list(row.unsafe), row.spoken) == (of["unsafe"], of["spoken"]), where
            assert row.seconds_late == close(of["late"]), where
            assert row.penalty == close(of["penalty"]), where
            assert (row.attempt, row.attempts) == (of["attempt"], of["attempts"]), where
            assert (row.expected, row.due, row.cohort) == (of["expected"], of["due"], of["cohort"]), where
            assert row.watched == (of["session"] is not None), where
            if of["entry"]:
                assert row.arrived is not None
                assert row.arrived.replace(tzinfo=UTC) == of["arrived"]
                assert (row.form, row.medium) == (of["form"], of["medium"])
                assert sorted(row.overridden) == of["overridden"], where
                assert [flag.text for flag in row.flags] == of["flags"]


def test_readiness_of_each_person_with_its_rules(view: Overview, again: Recount) -> None:
    for each in view.people:
        found = [(of.code, [piece.code for piece in of.evidence]) for of in each.readiness]
        assert found == again.evidence(each.person.id), each.person.id
        assert (each.forward, each.reason) == again.forward(each.person.id), each.person.id
        assert each.pending == again.matters[each.person.id]
        assert each.gone == again.gone(each.person.id)
        assert each.missing == tuple(
            name
            for name in again.modules
            if (of := again.results[each.person.id, name])["expected"] and of["state"] == "missing"
        )
        assert each.late == tuple(name for name in again.modules if again.results[each.person.id, name]["late"] > 0)
    assert [each.person.id for each in view.people if each.forward] == [FORWARD, MISSED, FORGOTTEN]
    assert again.forward(APPEALS) == (False, "1 matter waits for a decision.")


def counted(again: Recount) -> dict[str, Counter[str]]:
    """How many stand where, by criterion, of those who have not left."""
    found = {criterion["number"]: Counter[str]() for criterion in again.criteria}
    for who in again.people:
        if not again.gone(who):
            for number, (code, _) in zip(found, again.evidence(who), strict=True):
                found[number][READY_RULES[code][0]] += 1
    return found


def test_counts_for_each_criterion(story: Story, view: Overview, again: Recount) -> None:
    expected = counted(again)
    assert {number: dict(of) for number, of in view.count().items()} == {n: dict(of) for n, of in expected.items()}
    shown = tables(page_of(story, "readiness.html"), "standing")[0][1:]
    assert [[int(cell) for cell in row[1:]] for row in shown] == [
        [of[word] for word in READINESS] for of in expected.values()
    ]


def test_how_modules_and_cohorts_fare(story: Story, view: Overview, again: Recount) -> None:
    for of in view.fared:
        found = (of.expected, of.handed_in, of.late, of.marked, of.passed, of.critical, of.percent)
        *counts, mean = again.fared(of.cohort, of.module)
        assert found == (*counts, close(mean)), (of.cohort, of.module)
    assert {of.cohort for of in view.fared} == {EVERYBODY, "pumping", "power", ""}
    shown = tables(page_of(story, "readiness.html"), "modules")
    for cohort, rows in zip((EVERYBODY, "pumping", "power", ""), shown, strict=True):
        for module, row in zip(again.modules, rows[1:], strict=True):
            expected, handed, late, marked, passed, critical, mean = again.fared(cohort, module)
            assert [int(row[place]) for place in (1, 2, 3, 6)] == [expected, handed, late, critical]
            assert row[5] == (f"{mean:.0f} %" if marked else "–")
            if marked < 5:
                assert row[4] == f"{passed} of {marked}"
            else:
                limits = wilson(passed, marked)
                part = f"{100 * passed / marked:.0f} % ({100 * limits.low:.0f} to {100 * limits.high:.0f}) of {marked}"
                assert row[4] == part


def test_week_by_week(view: Overview, again: Recount) -> None:
    for cohort in ("pumping", "power", ""):
        own = [of for of in view.weeks if of.cohort == cohort]
        assert [of.week for of in own] == list(range(1, len(own) + 1))
        assert [of.passed for of in own] == close(0) or [of.passed for of in own] == [
            close(part) for part in again.weeks(cohort)
        ]
        assert {of.people for of in own} == {sum(row["cohort"] == cohort for row in again.people.values())}


def test_who_is_named_for_late_missing_waiting_and_unsafe_answers(story: Story, again: Recount) -> None:
    page = page_of(story, "readiness.html")
    part = {
        name: page[page.index(f'<section id="{name}"') :].split("</section>")[0] for name in ("attention", "unsafe")
    }
    lines = {
        name: [html.unescape(re.sub(r"<[^>]+>", "", li)) for li in re.findall(r"<li>(.*?)</li>", text)]
        for name, text in part.items()
    }
    expected = []
    for who, row in again.people.items():
        missing, late = again.missing(who), again.late(who)
        words = [f"missing: {', '.join(missing)}"] if missing else []
        words += [f"late: {', '.join(late)}"] if late else []
        words += [f"{again.matters[who]} waiting for a decision"] if again.matters[who] else []
        if words and not again.gone(who):
            expected.append(f"{row['name']}: {'; '.join(words)}")
    assert lines["attention"] == expected
    unsafe = [
        f"▲ {row['name']}: {title}, {', '.join(of['unsafe'])}{bars(of, 'critical error')}"
        for who, row in again.people.items()
        for title, of in again.own(who).items()
        if of["unsafe"]
    ]
    assert lines["unsafe"] == unsafe
    assert sum("critical error" in line for line in unsafe) >= 2


def bars(of: dict[str, Any], word: str, form: str = "; {}") -> str:
    """Say what an unsafe answer does to a result, as the pages say it."""
    said = {"waiting": "a spoken check waits", "confirmed": "spoken check: confirmed", "slip": "spoken check: slip"}
    told = said.get(of["spoken"]) or (f"{word}: {', '.join(of['critical'])}" if of["critical"] else "")
    return form.format(told) if told else ""


def test_evidence_down_to_the_single_answer(story: Story, view: Overview, again: Recount) -> None:
    with ledger_of(story.course) as ledger:
        evidences = Evidences(story.course, ledger)
        seen = 0
        for each in view.people:
            found = evidences.of(each.person.id, {name: row.entry for name, row in each.results.items()})
            assert set(found) == {name for name in again.modules if again.results[each.person.id, name]["entry"]}
            for module, of in found.items():
                entry = again.entries[again.results[each.person.id, module]["entry"]]
                assert (of.entry, of.at, of.by) == (entry["number"], entry["at"], entry["by"])
                rows = again.marks[entry["number"]]
                assert [answer.item for answer in of.answers] == [row["item"] for row in rows]
                for answer, row in zip(of.answers, rows, strict=True):
                    given = again.given.get((entry["person"], module, entry["attempt"], row["item"]))
                    assert answer.judged == (given is not None)
                    assert answer.points == (again.earned(entry, row) or 0.0)
                    assert (answer.out_of, answer.reason) == (row["out_of"], row["reason"])
                    item, _ = again.drawn.get((module, entry["form"], row["item"]), (None, None))
                    if row["response"] is None:
                        assert answer.answer == ()
                    else:
                        assert answer.answer == said(item, read_response(json.loads(row["response"])))
                    seen += 1
        assert seen == sum(len(again.marks[entry["number"]]) for entry in again.counting.values())


def test_what_a_cell_of_the_page_opens(story: Story, again: Recount) -> None:
    page = page_of(story, "readiness.html")
    data = json.loads(re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.S)[1])  # type: ignore[index]
    assert [person[0] for person in data["people"]] == list(again.people)
    assert data["rules"] == {code: text for code, (_, text) in {**EVIDENCE_RULES, **READY_RULES}.items()}
    epoch = datetime(2020, 1, 1, tzinfo=UTC)
    for who, name, cohort, gone, verdicts, codes, pieces, forward, reason, results, signed in data["people"]:
        evidence = again.evidence(who)
        assert name == again.people[who]["name"]
        assert data["cohorts"][cohort] == again.cohorts.get(again.people[who]["cohort"], {}).get("title", "")
        assert bool(gone) == again.gone(who)
        assert [f"C{code}" for code in codes] == [code for code, _ in evidence]
        assert [READINESS[int(place)] for place in verdicts] == [READY_RULES[code][0] for code, _ in evidence]
        assert pieces == "".join(code[1] for _, some in evidence for code in some)
        assert (bool(forward), data["reasons"][reason]) == again.forward(who)
        for module, row in zip(again.modules, results, strict=True):
            of = again.results[who, module]
            if not row:
                assert of["entry"] == 0
                continue
            points, minute, session, entry, form = row[:5]
            usual: list[Any] = [1, 1, 0, "", 0, [], None, "", ""]
            attempt, attempts, late, critical, paper, flags, detail, unsafe, spoken = row[5:] + usual[len(row) - 5 :]
            assert points == pytest.approx(of["points"], abs=0.005)
            assert epoch + timedelta(minutes=minute) <= of["arrived"] < epoch + timedelta(minutes=minute + 1)
            assert (entry, form, attempt, attempts) == (of["entry"], of["form"], of["attempt"], of["attempts"])
            assert late == round(of["late"] / 60)
            assert critical == " ".join(of["critical"])
            assert (unsafe, spoken) == (" ".join(of["unsafe"]), of["spoken"])
            assert bool(paper) == (of["medium"] == "paper")
            assert flags == of["flags"]
            if of["session"] is None:
                assert session == -1
            else:
                assert data["sessions"][session][:2] == [of["session"]["invigilator"], of["session"]["room"]]
            rows = again.marks[entry]
            assert [answer[0] for answer in detail[3]] == [row["item"] for row in rows]
            total = sum(answer[4] for answer in detail[3])
            assert total == pytest.approx(of["points"] + of["penalty"], abs=0.05)
        for what, named, became, who_and_where, at, entry, same in signed:
            sheet, _, verdict, _ = data["said"][what]
            observer, trainer, engine, medium = data["said"][who_and_where]
            steps = [(*step, outcome) for step, outcome in zip(data["said"][named], data["said"][became], strict=True)]
            of = again.signed[who][sheet]
            assert verdict == ("competent" if of["rule"] == "K" else "not yet competent")
            assert (observer, trainer) == (of["said"]["observer"], of["said"]["trainer"])
            assert (engine, medium) == (of["said"]["engine"], of["said"]["medium"])
            assert at == of["said"]["at"][:16].replace("T", " ")
            assert (entry, bool(same)) == (of["entry"], of["same"])
            # A step that was shown again says both.
            assert [(step[0], step[3].split(", shown again ")[-1]) for step in steps] == list(of["outcomes"].items())
        assert {data["said"][what][0] for what, *_ in signed} == set(again.signed.get(who, {}))


def test_the_spreadsheet_says_the_same(story: Story, again: Recount) -> None:
    book = load_workbook(story.course.report / "readiness.xlsx", read_only=True)
    _, *rows = book["Readiness"].iter_rows(values_only=True)
    for who, row in zip(again.people, rows, strict=True):
        forward, reason = again.forward(who)
        words = [READY_RULES[code][0] for code, _ in again.evidence(who)]
        assert row[:6] == (
            again.people[who]["name"],
            who,
            again.cohorts.get(again.people[who]["cohort"], {}).get("title"),
            "yes" if again.gone(who) else None,
            "yes" if forward else "no",
            reason,
        )
        assert list(row[6 : 6 + len(words)]) == [f"{SIGNS[word]} {word}" for word in words]
        assert row[-3:-1] == (", ".join(again.missing(who)) or None, ", ".join(again.late(who)) or None)
        assert row[-1] == (", ".join(again.unsupervised(who)) or None)
    counts = counted(again)
    _, *rows = book["Criteria"].iter_rows(values_only=True)
    assert [list(row[4:]) for row in rows] == [[of[word] for word in READINESS] for of in counts.values()]
    _, *rows = book["Modules"].iter_rows(values_only=True)
    expected = [(cohort, name) for cohort in (EVERYBODY, "pumping", "power", "") for name in again.modules]
    for (cohort, name), row in zip(expected, rows, strict=True):
        *whole, mean = again.fared(cohort, name)
        assert list(row[2:8]) == whole
        assert row[8] == (round(mean, 1) if whole[3] else None)


# The instructor's view.


def test_what_the_class_gets_wrong(story: Story, klass: InstructorsView, again: Recount) -> None:
    assert {each.code for each in klass.mistakes} == set(again.shows)
    for each in klass.mistakes:
        of = again.shows[each.code]
        assert (each.shown, each.chances, each.unsafe) == (of["shown"], of["chances"], of["unsafe"]), each.code
        assert each.people.n == len(of["could"]), each.code
        if each.people.shown:
            assert each.people.value == close(len(of["times"]) / len(of["could"]))
        else:
            assert len(of["could"]) < 5
        assert set(each.who) == set(of["times"])
        assert list(each.who) == sorted(of["times"], key=lambda who: (-of["times"][who], who))
        assert set(each.again) == {who for who, times in of["times"].items() if times > 1}
        assert set(each.modules) == of["modules"]
    many = {
        each.code: (len(of["times"]), len(of["could"])) for each in klass.mistakes if (of := again.shows[each.code])
    }
    order = [(-times / could, -again.shows[code]["shown"]) for code, (times, could) in many.items()]
    assert order == sorted(order)
    wide = [code for code, (times, could) in many.items() if times >= max(2, 0.15 * could)]
    assert [each.code for each in klass.teach] == wide[:5]
    assert klass.teach
    (table,) = tables(page_of(story, "class.html"), "wrong")
    assert [row[1] for row in table[1:]] == [
        f"{of['shown']} of {of['chances']}" + (f" ▲ unsafe: {of['unsafe']}" if of["unsafe"] else "")
        for of in (again.shows[each.code] for each in klass.mistakes)
    ]
    assert any(of["unsafe"] for of in again.shows.values())


def test_who_needs_a_talk(klass: InstructorsView, again: Recount) -> None:
    expected: dict[str, list[str]] = {}
    for who in again.people:
        if again.gone(who):
            continue
        own, missing = again.own(who), again.missing(who)
        unsafe = [
            f"{title} {', '.join(of['unsafe'])}{bars(of, 'critical', ' ({})')}"
            for title, of in own.items()
            if of["unsafe"]
        ]
        about = [f"Unsafe answers: {'; '.join(unsafe)}."] if unsafe else []
        about += [f"Same mistake more than once: {misconception(code).shows}" for code in again.holds(who)]
        about += [f"Nothing handed in: {', '.join(missing)}."] if len(missing) >= 2 else []
        tried = {title: of for title, of in own.items() if of["entry"] and of["verdict"] == "not yet"}
        about += [f"Not yet passed: {', '.join(tried)}."] if len(tried) >= 3 else []
        twice = [title for title, of in tried.items() if of["attempts"] > 1]
        about += [f"Tried more than once without passing: {', '.join(twice)}."] if twice else []
        if about:
            expected[who] = about
    assert {talk.person.id: list(talk.about) for talk in klass.talks} == expected
    assert [talk.urgent for talk in klass.talks] == sorted((talk.urgent for talk in klass.talks), reverse=True)
    assert any("Same mistake" in line for about in expected.values() for line in about)


def test_what_waits(story: Story, klass: InstructorsView, again: Recount) -> None:
    assert Counter((matter.kind, matter.apprentice) for matter in klass.pending) == again.waiting
    assert {kind for kind, _ in again.waiting} >= {"appeal", "disagreement", "same person", "override", "text"}
    (table,) = tables(page_of(story, "class.html"), "waiting")
    assert len(table) - 1 == sum(again.waiting.values())


def test_the_score_sheet_counts_what_waits(story: Story, again: Recount) -> None:
    assert report(story.course, clock=clock).ok
    page = page_of(story, "index.html")
    part = page[page.index("<h2>Waiting for a person</h2>") :].split("</ul>")[0]
    told = dict(line.split(" ", 1)[::-1] for line in re.findall(r"<li>(.*?)</li>", part))
    kinds = Counter({kind: 0 for kind, _ in again.waiting})
    for (kind, _), count in again.waiting.items():
        kinds[kind] += count
    assert sorted(map(int, told.values())) == sorted(kinds.values())
    assert int(told["texts"]) == kinds["text"]
    assert int(told["pieces of practical work"]) == kinds["observation"]
    assert "<code>trainkit-course ledger --open</code>" in page


def test_how_templates_work(klass: InstructorsView, again: Recount) -> None:
    assert {each.template for each in klass.working} == set(again.shares)
    shown = 0
    for each in klass.working:
        parts = [part for _, _, part, _ in again.shares[each.template]]
        assert each.difficulty.n == len(parts)
        if each.difficulty.shown:
            assert each.difficulty.value == close(sum(parts) / len(parts))
        people, n, value = again.point_biserial(each.template)
        if people < 30:
            assert not each.point_biserial.shown
            assert f"{people} people are too few" in each.point_biserial.why
        elif value is None:
            assert not each.point_biserial.shown
        else:
            shown += 1
            assert each.point_biserial.shown
            assert (each.point_biserial.n, each.point_biserial.value) == (n, close(value)), each.template
    assert shown > 20
    assert any(not each.point_biserial.shown for each in klass.working)


def test_options_that_nobody_takes(klass: InstructorsView, again: Recount) -> None:
    kinds = {row["template"]: row["kind"] for _, row in again.answers()}
    offered: Counter[tuple[str, str]] = Counter()
    taken: Counter[tuple[str, str]] = Counter()
    for entry, row in again.answers():
        if row["response_hash"] and kinds[row["template"]] in ("choice", "several", "grid", "insert", "point"):
            item, key = again.drawn[entry["module"], entry["form"], row["item"]]
            for code in {*met_by_chance(item, key), row["misconception"]} - {""}:
                offered[row["template"], code] += 1
                taken[row["template"], code] += code == row["misconception"]
    # From 35 answers on, none of which took it, the upper limit of Wilson's interval lies below a tenth.
    idle = {place for place, count in offered.items() if count >= 35 and not taken[place]}
    assert {(each.template, option.label) for each in klass.working for option in each.idle} == idle
    assert idle


def test_bands_and_cut_scores(klass: InstructorsView, again: Recount) -> None:
    for module in klass.modules:
        name = module.facts.name
        own = [of for (_, of_module), of in again.results.items() if of_module == name and of["state"] == "handed in"]
        settled = [of for of in own if of["verdict"] != "waiting" and not of["unread"]]
        percents = [(100 * of["points"] / of["out_of"], bool(of["critical"])) for of in settled]
        assert (module.handed_in, module.marked) == (len(own), len(settled))
        assert module.passed == sum(of["verdict"] == "passed" for of in settled)
        bands = Counter(min(int(percent // 10), 10) for percent, _ in percents)
        assert list(module.bands) == [bands[place] for place in range(11)]
        assert sum(module.bands) == len(settled)
        assert [row.cut for row in module.cuts] == sorted({*range(40, 101, 5), again.cut(name)})
        for row in module.cuts:
            reach = [barred for percent, barred in percents if round(percent, 6) >= row.cut]
            assert (row.passing, row.barred, row.n) == (reach.count(False), reach.count(True), len(settled))
        # Of a class of this size nothing is said that rests on more people.
        assert not module.alpha.shown
