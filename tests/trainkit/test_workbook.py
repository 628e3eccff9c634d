"""The notebook's one door: who it is for, what can be asked, and that it says so kindly where nothing can."""

from __future__ import annotations

import json
import os
import random
import re
import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone
from html import escape
from pathlib import Path
from typing import Any

import pytest

from tests.trainkit import given_out
from trainkit import modules, notes, packs, workbook
from trainkit.errors import FormError, ModuleError
from trainkit.forms import Form, FormItem, Forms, Identity
from trainkit.items import template
from trainkit.items.kinds import ObservedItem, Option
from trainkit.notes import Unsaid, due_words
from trainkit.persons import Person, person
from trainkit.widgets.assessed import Assessed
from trainkit.widgets.control import Control
from trainkit.widgets.finishing import Finishing
from trainkit.widgets.practised import Practised
from trainkit.widgets.watched import Watched
from trainkit.workbook import Book, NotebookNote

DUE = "2227-03-01T17:00:00+00:00"
NASTY = "<script>alert(1)</script>"


@pytest.fixture(autouse=True)
def nobody_known(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("JUPYTERHUB_USER", raising=False)
    monkeypatch.delenv("TRAINKIT_PAPER", raising=False)
    for name in ("LOGNAME", "USER", "LNAME", "USERNAME"):
        monkeypatch.setenv(name, "a-login-that-no-course-knows")


def release(folder: Path, *people: str, **changes: Any) -> Forms:
    return given_out.release(folder, people=people or ("amir",), **{"attempt": 2, "due": DUE, **changes})


def identify(folder: Path, course: str = "saltmere") -> Identity:
    return given_out.identify(folder, name="Amir O'Neill", course=course)


def opened(folder: Path) -> Book:
    return Book(modules.load("lock-pin"), folder)


def test_a_plain_copy_is_for_practice_and_says_so_kindly(tmp_path: Path) -> None:
    book = opened(tmp_path)
    assert str(book.summary()) == "Lock pin\nThis copy is for practice; nothing in it is assessed."
    why = book.ask("A1")
    assert isinstance(why, NotebookNote)
    assert str(why).startswith("Questions A1 to A12\nThe assessment comes from your instructor")
    # Once is enough: the other questions leave the page empty.
    others = [book.ask(f"A{number}") for number in range(2, 13)]
    for other in others:
        assert isinstance(other, Unsaid)
        assert Unsaid._repr_mimebundle_(other)["text/html"] == ""
    assert str(others[0]) == "Question A2: see question A1."
    assert str(book.finish()) == "Hand in\nFrom a copy for practice there is nothing to hand in."
    assert isinstance(book.practice("pinning"), Control)
    assert book.journal is None
    assert book.progress is None
    assert list(tmp_path.iterdir()) == []


def test_practical_work_is_shown_without_a_control(tmp_path: Path) -> None:
    work = ObservedItem(prompt="Pin it.", steps=(Option(id="a", text="Lock out the starter."),))
    release(tmp_path, forms=(Form(code="K7", items=(FormItem(id="A1", item=work),)),))
    identify(tmp_path)
    book = opened(tmp_path)
    shown = book.ask("A1")
    assert isinstance(shown, Watched)
    assert "Lock out the starter." in str(shown)
    assert "Practical work, watched and signed by your instructor: A1." in str(book.summary())
    assert book.progress is not None
    assert book.progress.complete


def test_opening_in_plain_python_prints_the_summary(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book = workbook.open("lock-pin", tmp_path)
    assert capsys.readouterr().out == f"{book.summary()}\n"
    with pytest.raises(ModuleError, match="The modules are"):
        workbook.open("lock-pim", tmp_path)


def test_a_course_copy_says_who_form_due_and_what_is_answered(tmp_path: Path) -> None:
    release(tmp_path)
    identify(tmp_path)
    book = opened(tmp_path)
    assert book.person == Person("amir", "Amir O'Neill")
    said = str(book.summary()).splitlines()
    assert re.fullmatch(r"Due in \d+ days \(Thursday 1 March 2227, 17:00 UTC\)\.", said.pop(3))
    assert said == [
        "Lock pin",
        "You are Amir O'Neill.",
        "Course saltmere, form K7, attempt 2.",
        "Answered and saved: 0 of 2.",
        "Not answered: A1, A2.",
    ]
    question = book.ask("A1")
    assert isinstance(question, Control)
    assert isinstance(question.state, Assessed)
    question.state.hear({"type": "save", "ticket": 1, "response": {"kind": "choice", "option": "b"}})
    assert str(opened(tmp_path).summary()).splitlines()[-2:] == ["Answered and saved: 1 of 2.", "Not answered: A2."]
    # On the page nothing is said that grows old as questions are answered.
    assert str(opened(tmp_path).greeting()).splitlines()[-2:] == [
        "When you opened it, 1 of 2 questions were answered and saved.",
        "What is still open stands under “Hand in”.",
    ]
    # The title stands above it on the page; as text it is there.
    html = opened(tmp_path).greeting()._repr_mimebundle_()["text/html"]
    assert "You are Amir O&#x27;Neill. Course saltmere" in html
    assert "Lock pin" not in html
    again = opened(tmp_path).ask("A1")
    assert isinstance(again, Control)
    assert again.shown["saved"]["response"] == {"kind": "choice", "option": "b"}
    finish = book.finish()
    assert isinstance(finish, Control)
    assert isinstance(finish.state, Finishing)
    reply = finish.state.hear({"type": "hand", "sure": True})
    assert (tmp_path / reply["file"]).is_file()


def test_answers_lie_beside_the_notebook_wherever_the_folder_is_moved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = tmp_path / "a folder"
    home.mkdir()
    release(home)
    identify(home)
    monkeypatch.chdir(home)
    book = Book(modules.load("lock-pin"), Path())
    question = book.ask("A1")
    home.rename(tmp_path / "renamed")
    assert isinstance(question, Control)
    assert question.state.hear({"type": "save", "response": {"kind": "choice", "option": "a"}})["type"] == "saved"
    assert (tmp_path / "renamed" / "answers.jsonl").is_file()


def test_an_item_that_the_form_lacks_is_said_in_its_place(tmp_path: Path) -> None:
    release(tmp_path)
    identify(tmp_path)
    note = opened(tmp_path).ask("A9")
    assert isinstance(note, NotebookNote)
    assert "A1, A2" in str(note)


@pytest.mark.parametrize(
    ("prepare", "said"),
    [
        (lambda folder: release(folder), "does not say whose it is"),
        (lambda folder: (release(folder, "bea"), identify(folder)), "no form for this name"),
        (lambda folder: (release(folder), identify(folder, course="other")), "belongs to the course other"),
        (lambda folder: (release(folder, module="sequence"), identify(folder)), "belong to the module sequence"),
        (lambda folder: (folder / "forms.json").write_text("{"), "cannot be read"),
        (lambda folder: (folder / "forms.json").write_text('{"format": 99}'), "has format 99"),
        (lambda folder: (release(folder), (folder / "identity.json").write_text("[]")), "not well formed"),
    ],
)
def test_where_nothing_can_be_assessed_the_reason_is_said_and_practice_works(
    tmp_path: Path, prepare: Any, said: str
) -> None:
    prepare(tmp_path)
    book = opened(tmp_path)
    for note in (book.summary(), book.ask("A1"), book.finish()):
        assert isinstance(note, NotebookNote)
        assert said in str(note)
    assert isinstance(book.practice("dead-centre"), Control)
    assert not (tmp_path / "answers.jsonl").exists()


def test_the_file_goes_before_the_hub_and_the_hub_before_the_login(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    forms = release(tmp_path, "amir", "bea", "carl")
    monkeypatch.setenv("LOGNAME", "carl")
    monkeypatch.setenv("USERNAME", "carl")
    assert person(tmp_path, forms).apprentice == "carl"
    monkeypatch.setenv("JUPYTERHUB_USER", "bea")
    assert person(tmp_path, forms).apprentice == "bea"
    identify(tmp_path)
    assert person(tmp_path, forms).apprentice == "amir"


def test_a_hub_name_that_the_course_does_not_know_is_not_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    forms = release(tmp_path, "carl")
    monkeypatch.setenv("LOGNAME", "carl")
    assert person(tmp_path, forms, {"JUPYTERHUB_USER": "mallory"}).apprentice == "mallory"
    monkeypatch.setenv("JUPYTERHUB_USER", "mallory")
    assert "no form for this name" in str(opened(tmp_path).summary())


def test_an_unknown_login_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FormError, match="does not know your login name"):
        person(tmp_path, release(tmp_path), {})


def test_a_skill_that_the_module_lacks_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ModuleError, match="has the skills"):
        opened(tmp_path).practice("flying")


def test_the_cautions_open_with_the_starting_system_and_say_who_decides(tmp_path: Path) -> None:
    note = opened(tmp_path).cautions()
    lines = str(note).splitlines()
    assert lines[0] == "Before any work"
    assert lines[1].startswith("- Starting system")
    assert "the manufacturer's current manual" in lines[-1]
    html = note._repr_mimebundle_()["text/html"]
    assert 'class="tk-sign"' in html  # the general warning sign
    for hazard in packs.load("dunlin").cautions:
        assert hazard.text in str(note)


def test_cautions_are_in_full_the_first_time_in_a_folder_then_one_line_opens_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    full = notes.cautions(packs.load("dunlin"))
    first = opened(tmp_path)
    # A cell that is run again shows what it showed.
    assert [first.cautions(), first.cautions()] == [full, full]
    again = opened(tmp_path).cautions()
    html = again._repr_mimebundle_()["text/html"]
    assert "<details><summary>" in html
    assert "18 cautions. Open to read them again." in html
    assert 'class="tk-sign"' in html
    # As text, and behind the line, nothing is left out.
    assert str(again) == str(full)
    assert all(escape(hazard.text) in html for hazard in packs.load("dunlin").cautions)
    # Nothing of it is an answer, and another folder knows nothing of it.
    assert [path.name for path in tmp_path.iterdir()] == [notes.CAUTIONS_SEEN_FILE]
    assert opened(tmp_path / "elsewhere").cautions() == full
    monkeypatch.setenv("TRAINKIT_PAPER", "1")
    assert opened(tmp_path).cautions() == full


def test_other_cautions_are_in_full_again(tmp_path: Path) -> None:
    dunlin, other = packs.load("dunlin"), packs.load_text(packs.starting_point("Heron"))
    assert [notes.cautions_seen(pack, tmp_path) for pack in (dunlin, other, dunlin, other)] == [
        False,
        False,
        True,
        True,
    ]


@pytest.mark.parametrize("content", ["", "[]", '{"seen": 3}', '{"seen": [[]]}', "[" * 5000])
def test_a_note_of_cautions_that_cannot_be_used_counts_as_none(tmp_path: Path, content: str) -> None:
    (tmp_path / notes.CAUTIONS_SEEN_FILE).write_text(content)
    assert [notes.cautions_seen(packs.load("dunlin"), tmp_path) for _ in range(2)] == [False, True]


def test_nothing_is_kept_in_the_folder_of_the_module_itself() -> None:
    home = modules.load("lock-pin").notebook.parent
    before = set(home.iterdir())
    assert [opened(home).cautions().folded for _ in range(2)] == ["", ""]
    assert set(home.iterdir()) == before


def test_due_and_overdue_stand_before_the_hand_in_and_at_the_top(tmp_path: Path) -> None:
    identify(tmp_path)
    now = datetime.now(UTC)
    late = "Hand in all the same: your instructor decides."
    for due, top, strip in [
        (now + timedelta(hours=50), "Due in 2 days (", ""),
        (now + timedelta(hours=5, minutes=30), "Due in 5 hours (", "Due in 5 hours."),
        (now - timedelta(hours=1), "Overdue since ", f"Overdue. {late}"),
    ]:
        release(tmp_path, due=due.isoformat(timespec="seconds"))
        book = opened(tmp_path)
        line = next(line for line in str(book.greeting()).splitlines() if line.startswith(top))
        assert line.endswith(late) == line.startswith("Overdue")
        finish = book.finish()
        assert isinstance(finish, Control)
        assert finish.state.shown()["lines"][0].startswith(top)
        assert top in finish.state.html()
        assert book.shown()["due"] == strip
    release(tmp_path, due="")
    assert opened(tmp_path).shown()["due"] == ""
    assert "Due" not in str(opened(tmp_path).greeting())


def test_a_due_time_without_a_zone_is_by_the_clock_on_the_wall() -> None:
    now = datetime(2027, 3, 1, 16, 0, tzinfo=timezone(timedelta(hours=5)))
    assert notes.due_line("2027-03-01T17:00:00", now) == "Due in 60 minutes (Monday 1 March 2027, 17:00)."
    assert notes.due_line("2027-03-01T17:00:00+00:00", now) == "Due in 6 hours (Monday 1 March 2027, 17:00 UTC)."


def test_objectives_are_those_of_the_blueprint(tmp_path: Path) -> None:
    book = opened(tmp_path)
    for objective in book.module.blueprint.objectives:
        assert objective.rstrip(".") in str(book.objectives())


def test_no_word_of_a_note_is_markup() -> None:
    html = NotebookNote(NASTY, (NASTY,), ((NASTY, NASTY),))._repr_mimebundle_()["text/html"]
    assert "<script" not in html
    assert html.count("&lt;script&gt;") == 4


@pytest.mark.parametrize("due", ["", "end of term", "2027-13-01", "2027-03-01"])
def test_any_due_time_can_be_shown(due: str) -> None:
    assert isinstance(due_words(due), str)
    assert due_words("2027-03-01T17:00:00") == "Monday 1 March 2027, 17:00"


# The control without a browser ---------------------------------------------------------------------------------------


def practised() -> Practised:
    names = [template.find("torque-units/convert")]
    return Practised("Convert a torque", names, packs.load("dunlin"), random.Random(2))


def test_a_control_is_readable_without_a_kernel(monkeypatch: pytest.MonkeyPatch) -> None:
    state = practised()
    control = Control(state)
    bundle = control._repr_mimebundle_()
    assert bundle is not None
    data, _ = bundle
    assert set(data) == {"application/vnd.jupyter.widget-view+json", "text/html", "text/plain"}
    assert state.item.prompt.split("\n\n")[0] in data["text/plain"]
    assert data["text/html"].startswith("<section>")
    monkeypatch.setenv("TRAINKIT_PAPER", "1")
    on_paper = control._repr_mimebundle_()
    assert on_paper is not None
    assert set(on_paper[0]) == {"text/html", "text/plain"}


def test_on_paper_practice_is_the_same_every_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRAINKIT_PAPER", "1")
    book = opened(tmp_path)
    first, second = book.practice("back-off"), book.practice("back-off")
    assert isinstance(first, Control)
    assert isinstance(second, Control)
    assert first.state.text() == second.state.text()


def test_a_message_of_the_browser_is_answered_with_its_ticket(monkeypatch: pytest.MonkeyPatch) -> None:
    control = Control(practised())
    sent: list[dict[str, Any]] = []
    monkeypatch.setattr(control, "send", sent.append)
    control._handle_custom_msg({"type": "read", "ticket": "q-1", "text": "12,5 N·m", "unit": ""}, [])
    assert sent[-1] == {"type": "read", "text": "12.5\u2009N·m", "ticket": "q-1"}
    assert control.shown["explained"] is None
    control._handle_custom_msg({"type": "save", "ticket": "q-2", "response": {"kind": "number", "text": "3 N·m"}}, [])
    assert sent[-1]["ticket"] == "q-2"
    # A browser that is opened again on the running kernel is shown the same.
    assert control.shown["explained"] == sent[-1]["explained"]
    json.dumps(control.get_state())


def test_the_browser_part_fetches_nothing() -> None:
    text = (Control._esm + Control._css).replace("http://www.w3.org/2000/svg", "")  # a name, not an address
    for word in ("http:", "https:", "fetch(", "XMLHttpRequest", "@import", "url(", "eval("):
        assert word not in text, word
    # As a bundler writes it: no space need follow an import, and what is exported gets its name at the end.
    assert re.search(r"\bimport\b", text) is None
    assert len(re.findall(r"\bexport\s*\{[^{}]* as default\}|\bexport default\b", text)) == 1


def test_the_door_opens_without_what_only_a_control_or_a_plot_needs() -> None:
    seen = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys, trainkit.workbook; print([name for name in "
            "('ipywidgets', 'anywidget', 'numpy', 'matplotlib', 'pint', 'jupyterlab') if name in sys.modules])",
        ],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
    )
    assert seen.stdout.strip() == "[]"
