"""Folders under ``submitted/`` that try something, as if they had been laid there as they came."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import socket
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from tests.grading.makers import MODULE
from tests.grading.packed import nest

from .base import Attack, Given, Scene, theirs
from .payloads import TEXTS

__all__ = ["FOLDERS"]

Lay = Callable[[Scene], None]
NOTEBOOK = f"{MODULE}.ipynb"
JOURNAL = "answers.jsonl"


def _code(source: str, **more: Any) -> dict[str, Any]:
    cell: dict[str, Any] = {"cell_type": "code", "metadata": {}, "outputs": [], "execution_count": None}
    return {**cell, "source": source, "id": f"odd-{abs(hash(source)) % 10**8}", **more}


def _graded(notebook: dict[str, Any]) -> list[dict[str, Any]]:
    return [cell for cell in notebook["cells"] if cell["metadata"].get("nbgrader", {}).get("grade")]


def _notebook(change: Callable[[dict[str, Any], Scene], None]) -> Lay:
    def lay(scene: Scene) -> None:
        path = scene.folder / NOTEBOOK
        notebook = json.loads(path.read_bytes())
        change(notebook, scene)
        path.write_text(json.dumps(notebook), "utf-8")

    return lay


def _first(source: str) -> Lay:
    """A cell before all others, and again in each graded cell; ``EVIL`` stands for the program."""

    def change(notebook: dict[str, Any], scene: Scene) -> None:
        made = source.replace("EVIL", scene.evil)
        for cell in _graded(notebook):
            cell["source"] = made
        notebook["cells"].insert(0, _code(made))

    return _notebook(change)


def _output(text: str) -> Lay:
    def change(notebook: dict[str, Any], _: Scene) -> None:
        for cell in _graded(notebook):
            data = {"text/plain": text, "text/html": TEXTS["script"]}
            cell["outputs"] = [
                {"output_type": "execute_result", "metadata": {}, "data": data, "execution_count": 1},
            ]

    return _notebook(change)


def _double(notebook: dict[str, Any], _: Scene) -> None:
    notebook["cells"] += [{**cell, "id": f"again-{place}"} for place, cell in enumerate(_graded(notebook))]


def _delete(notebook: dict[str, Any], _: Scene) -> None:
    notebook["cells"] = [cell for cell in notebook["cells"] if "nbgrader" not in cell["metadata"]]


def _rename(notebook: dict[str, Any], _: Scene) -> None:
    for place, cell in enumerate(_graded(notebook)):
        cell["metadata"]["nbgrader"]["grade_id"] = f"mine{place}"


def _price(notebook: dict[str, Any], _: Scene) -> None:
    for cell in _graded(notebook):
        cell["metadata"]["nbgrader"] |= {"points": 1000, "locked": False, "solution": True, "checksum": "0"}


def _kernel(notebook: dict[str, Any], scene: Scene) -> None:
    notebook["metadata"]["kernelspec"] = {"name": "mine", "display_name": "Mine", "language": "python"}
    home = scene.folder / "kernels" / "mine"
    home.mkdir(parents=True)
    start = {"argv": ["python", "-c", scene.evil, "{connection_file}"], "display_name": "Mine", "language": "python"}
    (home / "kernel.json").write_text(json.dumps(start), "utf-8")


def _attachments(notebook: dict[str, Any], scene: Scene) -> None:
    picture = {"image/svg+xml": TEXTS["svg"], "text/html": TEXTS["script"]}
    notebook["cells"].insert(
        0,
        {
            "cell_type": "markdown",
            "id": "pictures",
            "metadata": {},
            "source": "\n".join(TEXTS.values()),
            "attachments": {"../../x.svg": picture, str(scene.secret): picture},
        },
    )
    widgets = {"application/vnd.jupyter.widget-state+json": {"state": {"x": {"model_name": TEXTS["script"]}}}}
    notebook["metadata"] |= {"title": TEXTS["script"], "authors": [{"name": TEXTS["image"]}], "widgets": widgets}


def _file(name: str, content: str = "EVIL") -> Lay:
    def lay(scene: Scene) -> None:
        path = scene.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(content.replace("EVIL", scene.evil), "utf-8")

    return lay


def _odd(name: str, tries: str, *steps: Lay) -> Attack:
    """An attack by what lies in the folder and does not belong there."""

    def lay(scene: Scene) -> None:
        for step in steps:
            step(scene)

    return Attack(name, tries, lay=lay, flagged="folder")


def _misplaced(name: str, tries: str, lay: Lay) -> Attack:
    """An attack by what stands in the place of the journal, of which nothing counts."""
    return Attack(name, tries, lay=lay, counts=lambda _: {}, flagged="place")


def _gone(path: Path) -> None:
    if path.is_symlink() or path.is_file():
        path.unlink()
    elif path.is_dir():
        shutil.rmtree(path)


def _link(name: str, target: Callable[[Scene], Path | str]) -> Lay:
    """A link in the place of ``name``, relative to the folder of the submission."""

    def lay(scene: Scene) -> None:
        path = Path(os.path.normpath(scene.folder / name))
        _gone(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.symlink_to(target(scene))

    return lay


def _hard(name: str, target: Callable[[Scene], Path]) -> Lay:
    def lay(scene: Scene) -> None:
        _gone(scene.folder / name)
        os.link(target(scene), scene.folder / name)

    return lay


def _elsewhere(scene: Scene) -> None:
    path = scene.outside / f"{os.getpid()}-{scene.folder.parents[2].parent.name}.jsonl"
    path.write_bytes(scene.theirs)
    _hard(JOURNAL, lambda _: path)(scene)


def _pipe(name: str) -> Lay:
    def lay(scene: Scene) -> None:
        _gone(scene.folder / name)
        os.mkfifo(scene.folder / name)

    return lay


def _device(scene: Scene) -> None:
    """A device that never ends; whoever may not make one links to it."""
    path = scene.folder / JOURNAL
    path.unlink()
    try:
        os.mknod(path, 0o20644, os.makedev(1, 5))
    except PermissionError:
        path.symlink_to("/dev/zero")


def _socket(scene: Scene) -> None:
    # The name of a socket has at most about a hundred characters, so it is made from inside the folder.
    with socket.socket(socket.AF_UNIX) as made, contextlib.chdir(scene.folder):
        made.bind("talk")


def _folder_for_journal(scene: Scene) -> None:
    _gone(scene.folder / JOURNAL)
    (scene.folder / JOURNAL).mkdir()
    (scene.folder / JOURNAL / JOURNAL).write_bytes(scene.theirs)


def _shut(scene: Scene) -> None:
    (scene.folder / JOURNAL).chmod(0)


def _read_all_the_same(scene: Scene) -> Given:
    # The right to read is nothing to the administrator of a machine.
    return scene.honest if os.access(scene.folder / JOURNAL, os.R_OK) else {}


def _many(scene: Scene) -> None:
    for number in range(400):
        (scene.folder / f"{number}.txt").touch()


def _hole(scene: Scene) -> None:
    """A file of three gigabytes that takes no room."""
    with (scene.folder / "video.mp4").open("wb") as stream:
        stream.truncate(3_000_000_000)


def _byte_names(scene: Scene) -> None:
    (Path(os.fsdecode(os.fsencode(scene.folder) + b"/\xff\xfe.txt"))).touch()
    (scene.folder / "a\nb\x1b[31m\u202e.txt").touch()
    (scene.folder / "<img src=x onerror=window.hurt=1>").touch()


def _secret(scene: Scene) -> Path:
    return scene.secret


CELLS = (
    (
        "replaced-helper",
        "Replaces the function that marks.",
        "import trainkit.items.marking as m\nEVIL\nm.mark = print",
    ),
    (
        "faked-modules",
        "Puts a module of its own into sys.modules.",
        "import sys, types\nEVIL\nsys.modules['trainkit_grading'] = types.ModuleType('x')",
    ),
    (
        "input-transformer",
        "Rewrites every cell before it runs.",
        "EVIL\nget_ipython().input_transformers_cleanup.append(lambda lines: ['20.0'])",
    ),
    ("silent-nodes", "Lets no last line be shown.", "EVIL\nget_ipython().ast_node_interactivity = 'none'"),
    (
        "output-hook",
        "Forges what is shown after every cell.",
        "EVIL\nget_ipython().events.register('post_run_cell', lambda r: display(20.0))",
    ),
    (
        "hidden-tests",
        "Reads the hidden tests back out of the gradebook.",
        "EVIL\nprint(base.execute('select source from source_cell').fetchall())",
    ),
    ("gradebook-query", "Writes its own marks into the gradebook.", "EVIL"),
    (
        "stays-behind",
        "Leaves a process behind that edits the gradebook later.",
        "import os\nif not os.fork():\n os.setsid()\n EVIL",
    ),
    ("magic", "Runs commands by the notebook's own signs.", "!touch /tmp/ran\n%run evil.py\n%%bash\ntouch ran"),
)

OUTPUTS = (
    ("output-none", "None"),
    ("output-nan", "nan"),
    ("output-minus", "-1"),
    ("output-numpy", "np.float64(20.0)"),
    ("output-over", "21.0"),
    ("output-full", "20.0"),
    ("output-quantity", "<Quantity(20, 'dimensionless')>"),
)

PROGRAMS = (
    ("own-launcher", "Brings its own launcher of kernels.", ("ipykernel_launcher.py",)),
    ("own-json", "Brings its own json.", ("json.py", "sqlite3.py", "unicodedata.py")),
    ("own-site", "Brings what Python runs at its start.", ("sitecustomize.py", "usercustomize.py")),
    ("own-conftest", "Brings what pytest runs at its start.", ("conftest.py", "setup.py")),
    (
        "own-settings",
        "Brings settings of nbgrader, Jupyter and nbconvert.",
        ("nbgrader_config.py", "jupyter_config.py", "jupyter_nbconvert_config.py"),
    ),
    (
        "own-profile",
        "Brings what IPython runs at its start.",
        (".ipython/profile_default/startup/00.py", "ipython_config.py"),
    ),
    (
        "shadow-package",
        "Brings a package of the helper's name.",
        ("trainkit/__init__.py", "trainkit_grading/__init__.py", "nbgrader/__init__.py"),
    ),
)

FOLDERS = (
    *(Attack(name, tries, lay=_first(source)) for name, tries, source in CELLS),
    *(Attack(name, f"Shows {text} as the points of every item.", lay=_output(text)) for name, text in OUTPUTS),
    *(_odd(name, tries, *map(_file, files)) for name, tries, files in PROGRAMS),
    _odd("own-path", "Brings a line of a path file that runs.", _file("evil.pth", "import os; EVIL")),
    _odd(
        "own-templates",
        "Brings templates of pages.",
        _file("templates/report.html.j2", TEXTS["script"]),
        _file("formgrade.tpl", TEXTS["template"]),
    ),
    Attack("own-forms", "Brings easier questions.", lay=_file("forms.json", '{"format": 1, "forms": []}')),
    Attack("doubled-cells", "Has every graded cell twice.", lay=_notebook(_double)),
    Attack("deleted-cells", "Has no graded cell.", lay=_notebook(_delete)),
    Attack("renamed-cells", "Gives every graded cell another name.", lay=_notebook(_rename)),
    Attack("priced-cells", "Raises the points of every item.", lay=_notebook(_price)),
    _odd("own-kernel", "Names a kernel of its own.", _notebook(_kernel)),
    Attack("attachments", "Hides scripts in pictures, titles and states of controls.", lay=_notebook(_attachments)),
    Attack("no-notebook", "Has no notebook at all.", lay=lambda scene: _gone(scene.folder / NOTEBOOK)),
    Attack("broken-notebook", "Has a notebook that is none.", lay=_file(NOTEBOOK)),
    Attack("deep-notebook", "Has a notebook nested until a reader falls over.", lay=_file(NOTEBOOK, "[" * 200_000)),
    _odd(
        "more-notebooks",
        "Has more notebooks than were given out.",
        _file("extra.ipynb", "{}"),
        _file("deep/lock-pin.ipynb", "{}"),
    ),
    Attack(
        "set-back",
        "Dates its arrival a year back.",
        lay=_file("timestamp.txt", "2026-03-01 08:00:00.000000 UTC"),
        flagged="times",
    ),
    _odd("no-time", "Has a time of arrival that is none.", _file("timestamp.txt")),
    Attack(
        "own-secret", "Names a path where a secret word stands.", lay=_file("submission_secret.txt", "../../../keys")
    ),
    _odd("link-notebook", "Has a link to a secret for a notebook.", _link(NOTEBOOK, _secret)),
    _odd("link-forms", "Has a link to a secret for the questions.", _link("forms.json", _secret)),
    _odd("link-time", "Has a link to a secret for the time.", _link("timestamp.txt", _secret)),
    _odd("link-extra", "Has a link to a secret beside the notebook.", _link("notes.html", _secret)),
    _odd(
        "link-left-behind",
        "Gives a link to a secret the name of a file that file managers leave behind.",
        _link("Thumbs.db", _secret),
        _link(".DS_Store", _secret),
    ),
    _odd(
        "link-checkpoints",
        "Gives a link to a folder the name of the notebook's own folder of copies.",
        _link(".ipynb_checkpoints", lambda scene: scene.outside),
    ),
    _misplaced(
        "link-journal",
        "Has a relative link to somebody else's journal.",
        _link(JOURNAL, lambda scene: os.path.relpath(scene.victim / JOURNAL, scene.folder)),
    ),
    _odd("link-nowhere", "Has a link that leads nowhere.", _link("x.png", lambda _: "not-there")),
    _odd(
        "link-round",
        "Has links that lead round in a circle.",
        _link("a", lambda _: "b"),
        _link("b", lambda _: "a"),
        _link("up", lambda _: ".."),
    ),
    _odd("link-folder", "Has a link to a folder outside.", _link("data", lambda scene: scene.outside)),
    _misplaced("link-submission", "Is a link to somebody else's submission.", _link(".", lambda scene: scene.victim)),
    _misplaced("link-person", "Is a link to somebody else's folder.", _link("..", lambda scene: scene.victim.parent)),
    _odd("hard-forms", "Has a second name of a secret for the questions.", _hard("forms.json", _secret)),
    _odd("hard-left-behind", "Has a second name of a secret beside the notebook.", _hard("desktop.ini", _secret)),
    replace(_odd("hard-journal", "Has a second name of a journal that lies elsewhere.", _elsewhere), counts=theirs),
    _misplaced("pipe-journal", "Has a pipe for a journal.", _pipe(JOURNAL)),
    _odd("pipe-time", "Has a pipe for the time.", _pipe("timestamp.txt")),
    _odd("socket", "Has a socket beside the notebook.", _socket),
    _misplaced("device", "Has a device without end for a journal.", _device),
    _misplaced("folder-journal", "Has a folder for a journal.", _folder_for_journal),
    Attack("shut", "Has a journal that may not be read.", lay=_shut, counts=_read_all_the_same),
    _odd("many-files", "Has four hundred files.", _many),
    _odd("deep-folders", "Has folders seven hundred deep.", lambda scene: nest(scene.folder)),
    _odd("hole", "Has a file of three gigabytes.", _hole),
    _odd("odd-names", "Has names that are no text, steer a terminal, or are markup.", _byte_names),
)
