"""From a course's zip to the gradebook: an apprentice answers by keyboard alone, and gets what the keys say."""

from __future__ import annotations

import os
import shutil
import signal
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.answers import give
from tests.browser.by_keyboard import tab_to
from tests.browser.lab import Chrome, Lab, Server, expect_status
from tests.grading.makers import sow
from tests.trainkit.answers import Given, right_answer, wrong_answer
from trainkit.forms import Form, Forms
from trainkit.items.kinds import ActionsItem, ObservedItem
from trainkit.items.marking import mark
from trainkit_grading.course.folder import Course
from trainkit_grading.forms.generation import read_keys
from trainkit_grading.intake.collect import collect
from trainkit_grading.marking.mark import mark as mark_course
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import build
from trainkit_grading.release.init import create

pytestmark = [
    pytest.mark.browser,
    # From nbgrader's own queries; nothing of ours causes or can cure it.
    pytest.mark.filterwarnings("ignore::sqlalchemy.exc.SAWarning"),
]

APPRENTICE = "siobhán o'brannock"
# In these the kernel is killed before the last answer.
KILLED = ("torque-units", "lock-pin", "sequence")
MODULES = (*KILLED, "turning-direction", "tightening", "lash-and-timing", "capstone")


@pytest.fixture(scope="module")
def course(tmp_path_factory: pytest.TempPathFactory) -> Course:
    folder = tmp_path_factory.mktemp("chain") / "Saltmere's course"
    made = create(sow(folder), "saltmere-chain", "Standby sets")
    made.roster_file.write_text(f"apprentice,name\n{APPRENTICE},Siobhán O'Brannock\nbo,Bo Skellow\n", "utf-8")
    return Course.load(folder)


@pytest.fixture
def workbook(course: Course, server: Server, request: pytest.FixtureRequest) -> Iterator[tuple[str, Path]]:
    """An apprentice's zip, unpacked where they work."""
    module = str(request.param)
    assert build(course, [module]).ok
    assert assign(course, [module]).ok
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
    lab = Lab(page, server).run(f"{home.relative_to(server.root).as_posix()}/{module}.ipynb")
    before = lab.cells()

    plan: dict[str, Given] = {}
    asked = [entry for entry in form.items if not isinstance(entry.item, ObservedItem)]  # the others are watched
    for place, entry in enumerate(asked):
        make = wrong_answer if place % 4 == 3 else right_answer
        plan[entry.id] = make(entry.item, known[entry.id])
    # A scenario needs a kernel for every action, so something else is answered while there is none.
    last = [entry for entry in asked if not isinstance(entry.item, ActionsItem)][-1]
    for entry in asked:
        if entry is last:
            continue
        give(page, lab, entry.id, entry.item, plan[entry.id])
        expect_status(lab.question(entry.id), "saved")

    if module in KILLED and sys.platform != "win32":
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
    marks = {entry.id: mark(entry.item, known[entry.id], plan[entry.id]) for entry in asked}
    # What a person marks or watches has no points yet.
    expected = dict.fromkeys((entry.id for entry in form.items), None) | {
        item: None if found.verdict == "waiting" else found.points for item, found in marks.items()
    }
    assert {item: grade.auto_score for item, grade in row.grades.items()} == pytest.approx(expected)
    # Something was answered wrongly on purpose, and most of it rightly.
    judged = [found for found in marks.values() if found.verdict != "waiting"]
    assert 0.4 < sum(found.points for found in judged) / sum(found.out_of for found in judged) < 1
