"""From a course's zip to the gradebook: an apprentice answers by keyboard alone, and gets what the keys say."""

from __future__ import annotations

import os
import shutil
import signal
import sys
import zipfile
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from lab import (
    Chrome,
    Lab,
    Server,
    answer_choice,
    answer_insert,
    answer_number,
    answer_order,
    answer_several,
    expect_status,
    play_actions,
    tab_to,
)
from playwright.sync_api import Page, expect

from trainkit.forms import Form, Forms
from trainkit.items import Item, Key, mark, scenarios
from trainkit.items.item import ActionsItem, ChoiceItem, InsertItem, NumberItem, OrderItem, SeveralItem
from trainkit.items.key import ActionsKey, ChoiceKey, InsertKey, NumberKey, OrderKey, SeveralKey
from trainkit_grading.assign import assign
from trainkit_grading.bridge import gradebook
from trainkit_grading.build import build
from trainkit_grading.collect import collect
from trainkit_grading.course import Course
from trainkit_grading.drawing import read_keys
from trainkit_grading.founding import create
from trainkit_grading.marking import mark as mark_course

pytestmark = [
    pytest.mark.browser,
    # From nbgrader's own queries; nothing of ours causes or can cure it.
    pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning"),
]

APPRENTICE = "siobhán o'brannock"
MODULES = ("torque-units", "lock-pin", "sequence")


@pytest.fixture(scope="module")
def course(tmp_path_factory: pytest.TempPathFactory) -> Course:
    folder = tmp_path_factory.mktemp("chain") / "Saltmere's course"
    made = create(folder, "saltmere-chain", "Standby sets")
    made.roster_file.write_text(f"apprentice,name\n{APPRENTICE},Siobhán O'Brannock\nbo,Bo Skellow\n", "utf-8")
    made = Course.load(folder)
    assert build(made, MODULES).ok
    assert assign(made, MODULES).ok
    return made


@dataclass(frozen=True)
class Given:
    """What is going to be answered to one item, and how a keyboard says it."""

    response: dict[str, object]
    text: str = ""


def pinned_safely(item: ActionsItem) -> tuple[str, ...]:
    """Find a shortest way that earns everything by plain search over what can be played, not by the solver."""
    offered = {option.id for option in item.actions}
    start = scenarios.begin(item.model, item.scene)
    seen, front = {start}, deque([(start, ())])
    while front:
        play, done = front.popleft()
        if play.finished:
            if play.verdict().share == 1:
                return done
            continue
        for action in play.actions:
            after, _felt = play.act(action)
            if action in offered and after not in seen and len(done) < item.limit:
                seen.add(after)
                front.append((after, (*done, action)))
    raise AssertionError("no safe way found")


def right_order(key: OrderKey) -> list[str]:
    """Put cards in order by taking, again and again, the first one that waits for nothing that is left."""
    left, order = list(key.cards), []
    while left:
        free = next(c for c in left if not any(b.after == c and b.before in left for b in key.bonds))
        order.append(free)
        left.remove(free)
    return order


def right_answer(item: Item, key: Key) -> Given:
    match item, key:
        case NumberItem(), NumberKey():
            # As a person writes it: the number of the shown answer, with a comma where that cannot be taken for
            # thousands, and the unit beside it.
            number = key.shown.split("\u2009")[0].split()[0]
            if len(number.partition(".")[2]) != 3:
                number = number.replace(".", ",")
            return Given({"kind": "number", "text": number, "unit": key.unit})
        case ChoiceItem(), ChoiceKey():
            return Given({"kind": "choice", "option": key.right})
        case SeveralItem(), SeveralKey():
            return Given({"kind": "several", "options": list(key.right)})
        case OrderItem(), OrderKey():
            return Given({"kind": "order", "cards": right_order(key)})
        case InsertItem(), InsertKey():
            return Given({"kind": "insert", "place": key.right[0]})
        case ActionsItem(), ActionsKey():
            return Given({"kind": "actions", "actions": list(pinned_safely(item))})
        case _:
            raise AssertionError(f"no keyboard for {item.kind}")


def wrong_answer(item: Item, key: Key) -> Given:
    """Answer as somebody with a wrong idea does: another option, or the cards the wrong way round."""
    match item, key:
        case ChoiceItem(), ChoiceKey():
            return Given({"kind": "choice", "option": next(o.id for o in item.options if o.id != key.right)})
        case OrderItem(), OrderKey():
            return Given({"kind": "order", "cards": right_order(key)[::-1]})
        case NumberItem(), NumberKey():
            return Given({"kind": "number", "text": "1", "unit": key.unit})
        case _:
            return right_answer(item, key)


def give(page: Page, lab: Lab, name: str, item: Item, given: Given) -> None:
    """Give an answer by keyboard alone."""
    question = lab.question(name)
    answer = given.response
    match answer["kind"]:
        case "number":
            # Where only one unit is asked there is none to pick.
            unit = str(answer["unit"]) if isinstance(item, NumberItem) and len(item.units) > 1 else ""
            answer_number(page, question, str(answer["text"]), unit)
        case "choice":
            answer_choice(page, question, str(answer["option"]))
        case "several":
            answer_several(page, question, list(answer["options"]))  # type: ignore[call-overload] # a list, see above
        case "insert":
            answer_insert(page, question, int(str(answer["place"])))
        case "order":
            assert isinstance(item, OrderItem)
            texts = {card.id: card.text for card in item.cards}
            answer_order(page, question, [texts[card] for card in answer["cards"]])  # type: ignore[attr-defined] # a list
        case "actions":
            play_actions(page, question, list(answer["actions"]))  # type: ignore[call-overload] # a list, see above


@pytest.fixture
def workbook(course: Course, server: Server, request: pytest.FixtureRequest) -> Iterator[tuple[str, Path]]:
    """An apprentice's zip, unpacked where they work."""
    module = str(request.param)
    home = server.root / f"{module} of Siobhán"
    with zipfile.ZipFile(course.zips / module / f"{APPRENTICE}.zip") as archive:
        archive.extractall(home)
    yield module, home / module
    server.close_kernels()
    shutil.rmtree(home)


@pytest.mark.parametrize("workbook", MODULES, indirect=True)
def test_answered_by_keyboard_handed_in_and_marked(
    course: Course, workbook: tuple[str, Path], server: Server, chrome: Chrome
) -> None:
    module, home = workbook
    forms = Forms.read(home)
    assert forms is not None
    assert len(forms.forms) == 1, "a zip holds its own apprentice's form only"
    form: Form = forms.of(APPRENTICE)
    keys = read_keys(course.key_file(module, 1))
    assert keys is not None
    known = keys.forms[form.code].keys
    page = chrome.page
    chrome.errors.clear()
    lab = Lab(page, server)
    lab.open(f"{home.relative_to(server.root).as_posix()}/{module}.ipynb")
    lab.run_all()
    before = lab.cells()

    plan: dict[str, Given] = {}
    for place, entry in enumerate(form.items):
        make = wrong_answer if place % 4 == 3 else right_answer
        plan[entry.id] = make(entry.item, known[entry.id])
    # A scenario needs a kernel for every action, so something else is answered while there is none.
    last = [entry for entry in form.items if not isinstance(entry.item, ActionsItem)][-1]
    for entry in form.items:
        if entry is last:
            continue
        give(page, lab, entry.id, entry.item, plan[entry.id])
        expect_status(lab.question(entry.id), "saved")

    if sys.platform != "win32":
        os.kill(lab.kernel_pid(), signal.SIGKILL)
        # JupyterLab says that the kernel has died; somebody without a mouse closes that with Escape.
        expect(page.locator(".jp-Dialog")).to_be_visible(timeout=30_000)
        page.keyboard.press("Escape")
        expect(page.locator(".jp-Dialog")).to_be_hidden()
        lab.wait_idle()  # a new kernel, which knows nothing of the controls on the page
        give(page, lab, last.id, last.item, plan[last.id])
        expect_status(lab.question(last.id), "failed")
        expect(lab.question(last.id).locator(".tk-status")).to_contain_text("NOT SAVED")
        lab.restart()
    else:
        give(page, lab, last.id, last.item, plan[last.id])
    expect_status(lab.question(last.id), "saved")

    finish = lab.question("finish")
    tab_to(page, finish.locator(".tk-hand"))
    page.keyboard.press("Enter")
    expect_status(finish, "packed")
    name = finish.locator(".tk-file").text_content()
    assert name
    shutil.copy(home / name, course.inbox / name)
    assert lab.cells() == before, "keys typed in the controls must not change the notebook"
    assert chrome.errors == []
    page.goto("about:blank")

    assert collect(course).ok
    assert mark_course(course, [module]).ok
    row = gradebook.read(course, module)[APPRENTICE]
    expected = {
        entry.id: mark(entry.item, known[entry.id], plan[entry.id].response).points  # type: ignore[arg-type] # JSON data
        for entry in form.items
    }
    assert {item: grade.auto_score for item, grade in row.grades.items()} == pytest.approx(expected)
    # Something was answered wrongly on purpose, and most of it rightly.
    assert 0.4 < sum(expected.values()) / sum(entry.item.points for entry in form.items) < 1
