from __future__ import annotations

import json
import os
import signal
import subprocess
import time
import traceback
from pathlib import Path

import pytest

from trainkit_grading.cli.questions import short_name
from trainkit_grading.intake.collect import collect
from trainkit_grading.release import check
from trainkit_grading.release.assign import assign
from trainkit_grading.release.build import build

from .makers import COMMAND, MODULE, PEOPLE, Bench, Run, found, tree
from .packed import zipped


def test_a_course_from_nothing_to_collected(command: Run, tmp_path: Path) -> None:
    """What a person types, in a folder with spaces, from inside it and from outside."""
    folder = tmp_path / "Winter course"
    made = command("new", folder, "--title", "Winter")
    assert "roster.csv" in made.stdout
    assert f'--course "{folder}"' in made.stdout
    bench = found(tmp_path / "spare")
    bench.module.parent.rename(folder / "modules")
    text = (folder / "course.toml").read_text("utf-8")
    start = text.index("[[modules]]")
    rest = text[text.index("[exchange]") :]
    one = f'[[modules]]\nname = "{MODULE}"\nfolder = "modules/{MODULE}"\n\n'
    (folder / "course.toml").write_text(text[:start] + one + rest, "utf-8")
    (folder / "roster.csv").write_text("apprentice,name\n" + "".join(f"{i},{n}\n" for i, n in PEOPLE), "utf-8")
    checked = command("check", cwd=folder)
    assert "trainkit-course build" in checked.stdout
    built = command("build", cwd=folder)
    assert "3 forms" in built.stdout
    assigned = command("assign", MODULE, "--course", folder)
    assert "3 zips" in assigned.stdout
    collected = command("collect", "--course", folder)
    assert "0 of 3 have handed in" in collected.stdout


@pytest.mark.parametrize("words", [["build"], ["assign"], ["collect"], ["check"]])
def test_outside_a_course_each_command_says_what_to_do(command: Run, tmp_path: Path, words: list[str]) -> None:
    for more in ([], ["--json"]):
        done = command(*words, *more, cwd=tmp_path, status=1)
        assert "Traceback" not in done.stderr
        told = json.loads(done.stdout)["findings"][0]["text"] if more else done.stdout
        assert "trainkit-course new" in told


def test_json_is_one_object_and_nothing_else(assigned: Bench, command: Run, tmp_path: Path) -> None:
    assigned.hand_in("さくら", tmp_path / "home")
    done = command("collect", "--json", "--course", assigned.course.folder)
    told = json.loads(done.stdout)
    assert (told["command"], told["ok"], told["format"]) == ("collect", True, 1)
    assert [taken["apprentice"] for taken in told["taken"]] == ["さくら"]
    assert done.stderr == ""


def test_what_was_refused_shows_in_the_exit_status(assigned: Bench, command: Run, tmp_path: Path) -> None:
    assigned.hand_in("o'brien", tmp_path / "home")
    (assigned.course.inbox / "[bold]not a zip[red].zip").write_bytes(b"x")
    done = command("collect", cwd=assigned.course.folder, status=1)
    assert "inbox/[bold]not a zip[red].zip" in done.stdout  # shown as it is, not read as a style
    assert "Niamh O’Brien, bench-order: 3 answers taken." in done.stdout
    command("collect", "--from", tmp_path / "absent", cwd=assigned.course.folder, status=1)


def test_no_sign_of_other_people_steers_the_terminal(assigned: Bench, command: Run) -> None:
    (assigned.course.inbox / "\x1b[31mred\x07.zip").write_bytes(b"x")
    inner = dict.fromkeys(("\x1b]0;title\x07/\u202ezip.zip", "other.zip"), b"no zip")
    zipped(assigned.course.inbox / "all.zip", inner)
    done = command("collect", cwd=assigned.course.folder, status=1)
    assert "other.zip" in done.stdout
    assert not set(done.stdout) & set("\x1b\x07\u202e")


def test_a_new_course_is_not_made_twice(command: Run, tmp_path: Path) -> None:
    command("new", tmp_path / "course")
    before = tree(tmp_path)
    again = command("new", tmp_path / "course", "--json", status=1)
    assert "already" in json.loads(again.stdout)["findings"][0]["text"]
    assert tree(tmp_path) == before


@pytest.mark.parametrize(
    ("folder", "name"),
    [
        ("Saltmère 2027", "saltmere-2027"),
        ("講座", "course"),
        ("--- ", "course"),
        ("x" * 60, "x" * 40),
        ("O'Brien's", "o-brien-s"),
    ],
)
def test_a_short_name_from_any_folder(folder: str, name: str) -> None:
    assert short_name(Path("/srv") / folder) == name


def test_check_tells_everything_at_once(bench: Bench) -> None:
    course = bench.course
    with course.roster_file.open("a", encoding="utf-8") as stream:
        stream.write("../x,Climber\n")
    if os.name == "posix":
        course.seed_file.chmod(0o644)
    course.nbgrader_config.unlink()
    (course.source / MODULE).mkdir(parents=True)
    (course.source / MODULE / "answers.jsonl").touch()
    notebook = bench.module / f"{MODULE}.ipynb"
    notebook.write_text(notebook.read_text("utf-8").replace("book.ask('A2')", "book.ask('A9')"), "utf-8")
    toml = bench.module / "module.toml"
    toml.write_text(toml.read_text("utf-8").replace('pack = "dunlin"', 'pack = "no-such"'), "utf-8")
    text = course.file.read_text("utf-8").replace('root = ""', 'root = "nowhere"')
    course.file.write_text(text + '\n[[modules]]\nname = "absent"\nfolder = "modules/absent"\n', "utf-8")
    before = tree(course.folder)
    outcome = check.check(course.folder)
    assert not outcome.ok
    told = " | ".join(f"{finding.place}: {finding.text}" for finding in outcome.findings)
    for words in (
        "roster.csv line 5",
        "nbgrader_config.py",
        "answers.jsonl",
        "A2",
        "A9",
        "no-such",
        "nowhere",
        "absent",
    ):
        assert words in told
    if os.name == "posix":
        assert "chmod 600" in told
    assert tree(course.folder) == before


def begun(assigned: Bench, home: Path, count: int) -> tuple[subprocess.Popen[str], Path, Path]:
    """Begin to collect many hand-ins of somebody's; return that once the first has arrived, where, and their work.

    Their journal grows: each time it is another hand-in, so that there is much to collect.
    """
    folder = assigned.unpack("amir", home)
    written = assigned.answer(folder, items=("A1",))
    response = written.latest()["A1"].response
    for number in range(count):
        written.append("A1", response)
        inside = {name: (folder / name).read_bytes() for name in ("answers.jsonl", "identity.json")}
        zipped(assigned.course.inbox / f"{number:03d}.zip", inside)
    running = subprocess.Popen(
        [*COMMAND, "collect"],
        cwd=assigned.course.folder,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # What a shell has started in the background is deaf to Ctrl+C, and all that it starts.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    arrived = assigned.course.arrivals / "amir" / MODULE
    until = time.monotonic() + 60
    while time.monotonic() < until and not (arrived.is_dir() and any(arrived.iterdir())):
        time.sleep(0.005)
    return running, arrived, folder


@pytest.mark.skipif(os.name != "posix", reason="signals are those of POSIX")
def test_ctrl_c_says_how_to_go_on_and_the_same_command_goes_on(assigned: Bench, tmp_path: Path, command: Run) -> None:
    running, arrived, _ = begun(assigned, tmp_path / "home", 400)
    running.send_signal(signal.SIGINT)
    _, said = running.communicate(timeout=60)
    taken = len(list(arrived.iterdir()))
    assert 0 < taken < 400
    assert running.returncode == 130
    assert "same command" in said
    assert "Traceback" not in said
    command("collect", cwd=assigned.course.folder)
    assert len(list(arrived.iterdir())) == 400
    assert len(assigned.course.arrivals_log.read_text("utf-8").splitlines()) == 400


@pytest.mark.skipif(os.name != "posix", reason="signals are those of POSIX")
def test_killed_outright_the_same_command_goes_on(assigned: Bench, tmp_path: Path, command: Run) -> None:
    running, arrived, folder = begun(assigned, tmp_path / "home", 60)
    running.kill()
    running.communicate()
    command("collect", cwd=assigned.course.folder)
    assert len(list(arrived.iterdir())) == 60
    laid = assigned.course.submitted / "amir" / MODULE / "answers.jsonl"
    assert laid.read_bytes() == (folder / "answers.jsonl").read_bytes()


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="only root can run a command as somebody else")
def test_a_user_who_is_not_root(tmp_path: Path) -> None:
    """The whole way in a process that has given up being root, in a course that is its own."""
    first, second = found(tmp_path / "first"), found(tmp_path / "second")

    def whole_way(bench: Bench) -> None:
        assert check.check(bench.course.folder).ok
        assert build(bench.course).ok
        assert assign(bench.course).ok
        bench.hand_in("amir", bench.course.folder / "desk")
        assert len(collect(bench.course).data["taken"]) == 1

    whole_way(first)  # loads all code, so that the interpreter may lie where only root can read
    for path in (second.course.folder, *second.course.folder.rglob("*")):
        os.chown(path, 65534, 65534)
    for parent in (tmp_path, *tmp_path.parents):
        if parent.stat().st_mode & 0o011 != 0o011:
            parent.chmod(parent.stat().st_mode | 0o011)
    child = os.fork()
    if child == 0:
        status = 1
        try:
            os.setgroups([])
            os.setgid(65534)
            os.setuid(65534)
            whole_way(second)
            status = 0
        except BaseException:
            traceback.print_exc()
            raise
        finally:
            os._exit(status)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    assert (second.course.zips / MODULE / "amir.zip").stat().st_uid == 65534
