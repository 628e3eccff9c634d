"""A module as an apprentice would see it: a form that is nobody's, answers that count for nothing."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import threading
import time
import urllib.request
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from trainkit import handin, modules, workbook
from trainkit.forms import Forms, person_digest
from trainkit.items.kinds import ChoiceResponse
from trainkit.journal import JOURNAL_FILE, Journal
from trainkit_grading.course.folder import Course, CourseModule
from trainkit_grading.course.settings import Cohort
from trainkit_grading.errors import CourseError
from trainkit_grading.forms import generation, leaks
from trainkit_grading.intake.collect import collect
from trainkit_grading.marking.mark import mark
from trainkit_grading.release import init, preview
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import build

from .makers import COMMAND, Run, choice_in, form_in, forms_in, journal_in, sow, tree

DUE = datetime(2027, 4, 1, 15, tzinfo=UTC)


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A course with a module of trainkit's own, not built, and with one cohort."""
    folder = tmp_path_factory.mktemp("preview") / "A course"
    entries = [CourseModule(name="turning-direction"), CourseModule(name="capstone")]
    cohorts = [Cohort(name="autumn", due={"turning-direction": DUE})]
    course = init.create(sow(folder), "saltmere", "Saltmere", entries, cohorts=cohorts)
    course.roster_file.write_text("apprentice,name\namir,Amir Shah\nzoë,Zoë Skellow\n", "utf-8")
    return folder


@pytest.fixture
def course(shared: Path) -> Course:
    return Course.load(shared)


def answer(folder: Path) -> Journal:
    journal, (name, item) = journal_in(folder), choice_in(form_in(folder))
    journal.append(name, ChoiceResponse(option=item.options[0].id))
    return journal


def test_it_opens_like_an_apprentices_and_says_what_it_is(course: Course) -> None:
    notebook = preview.make_preview(course, "turning-direction", "autumn")
    assert leaks.found_in(notebook.parent.parent.parent / "absent") == ()
    cells = json.loads(notebook.read_text("utf-8"))["cells"]
    assert sum("book.ask(" in "".join(cell["source"]) for cell in cells) == len(
        course.workbook(course.module("turning-direction")).blueprint.items
    )
    book = workbook.Book(modules.load("turning-direction"), notebook.parent)
    said = str(book.summary())
    assert "You are PREVIEW, nothing counts." in said
    assert "form PREVIEW-1" in said
    assert re.search(r"(Due|Overdue) .*Thursday 1 April 2027, 15:00 UTC", said)
    shown = book.shown()
    assert (shown["person"], shown["form"], shown["closed"]) == ("PREVIEW, nothing counts", "PREVIEW-1", "")
    assert "Due" not in str(
        workbook.Book(book.module, preview.make_preview(course, "turning-direction").parent).summary()
    )


def test_its_form_is_nobodys_and_gives_no_key_away(course: Course) -> None:
    assert build(course).ok
    for module in ("turning-direction", "capstone"):
        folder = preview.make_preview(course, module).parent
        forms = forms_in(folder)
        own = generation.read_forms(course.forms_file(module, 1))
        assert own is not None
        assert forms.forms[0].items not in [form.items for form in own.forms]
        assert not {person_digest(forms.course, name) for name in ("amir", "zoë")} & forms.people.keys()
        keys = [found for found in leaks.found_in(folder, course.seed()) if "identity" not in found.place]
        assert keys == []


def test_another_form_on_request_and_answers_stay_with_theirs(course: Course) -> None:
    folder = preview.make_preview(course, "turning-direction").parent
    answer(folder)
    before = (Forms.read(folder), (folder / JOURNAL_FILE).read_bytes())
    preview.make_preview(course, "turning-direction")
    assert (Forms.read(folder), (folder / JOURNAL_FILE).read_bytes()) == before
    preview.make_preview(course, "turning-direction", again=True)
    forms = forms_in(folder)
    assert before[0] is not None
    assert forms.forms[0].code == "PREVIEW-2"
    assert forms.forms[0].items != before[0].forms[0].items
    assert not (folder / JOURNAL_FILE).exists()


def test_what_is_answered_in_it_reaches_no_mark(course: Course) -> None:
    assert build(course).ok
    assert assign(course).ok
    folder = preview.make_preview(course, "turning-direction", again=True).parent
    answer(folder)
    made = handin.pack(folder)
    made.rename(course.inbox / made.name)
    taken = collect(course, clock=lambda: datetime.now(UTC) + timedelta(minutes=5))
    assert not taken.ok
    assert "preview, which counts for nothing" in taken.findings[0].text
    assert taken.data["taken"] == []
    # Not even with somebody's word for it.
    vouched = collect(course, course.inbox / made.name, "amir")
    assert not vouched.ok
    assert vouched.data["taken"] == []
    assert mark(course).data["submissions"] == []
    (course.inbox / made.name).unlink()


def test_the_command_makes_a_folder_and_changes_nothing_else(course: Course, command: Run) -> None:
    before = {path for path in tree(course.folder) if not path.startswith("preview/")}
    done = command("preview", "capstone", "--folder", cwd=course.folder)
    assert "trainkit open" in done.stdout
    assert {path for path in tree(course.folder) if not path.startswith("preview/")} - {".trainkit-lock"} <= before
    command("preview", "nope", "--folder", cwd=course.folder, status=1)
    with pytest.raises(CourseError, match="autumn"):
        preview.make_preview(course, "capstone", "winter")


@pytest.mark.skipif(os.name != "posix", reason="signals are those of POSIX")
def test_it_starts_jupyterlab_on_the_preview(course: Course) -> None:
    running = subprocess.Popen(
        [
            *COMMAND,
            "preview",
            "turning-direction",
            "--no-browser",
            "--course",
            str(course.folder),
            "--",
            "--allow-root",
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    end = threading.Timer(240, lambda: os.killpg(running.pid, signal.SIGKILL))
    end.start()
    try:
        assert running.stdout is not None
        said = ""
        for line in running.stdout:
            said += line
            found = re.search(r"(http://127\.0\.0\.1:\d+)/\S*?\?token=(\w+)", line)
            if found is not None:
                break
        else:
            pytest.fail(said)
        # The address is printed a moment before anybody listens.
        until = time.monotonic() + 60
        names: set[str] = set()
        while not names and time.monotonic() < until:
            try:
                with urllib.request.urlopen(f"{found[1]}/api/contents?token={found[2]}", timeout=30) as got:  # noqa: S310 - our own server
                    names = {entry["name"] for entry in json.load(got)["content"]}
            except OSError:
                time.sleep(0.2)
        assert {"turning-direction.ipynb", "forms.json", "identity.json"} <= names
        # A server that has answered for the first time may still be loading, and then misses Ctrl+C: one presses again.
        for _ in range(6):
            os.killpg(running.pid, signal.SIGINT)
            try:
                running.communicate(timeout=10)
                break
            except subprocess.TimeoutExpired:
                continue
        assert running.returncode == 0
    finally:
        end.cancel()
        if running.poll() is None:
            os.killpg(running.pid, signal.SIGKILL)
            running.communicate()
