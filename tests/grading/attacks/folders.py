"""Folders under ``submitted/`` that try something, as if they had been laid there as they came."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import socket
from collections.abc import Callable
from pathlib import Path
from typing import Any

from .base import Attack, Given, Scene
from .payloads import TEXTS

__all__ = ["FOLDERS"]

NOTHING: Callable[[Scene], Given] = lambda _: {}  # noqa: E731 - a named constant of the data below
_ODD = "folder"


def _code(source: str, **more: Any) -> dict[str, Any]:
    cell: dict[str, Any] = {"cell_type": "code", "metadata": {}, "outputs": [], "execution_count": None}
    return {**cell, "source": source, "id": f"odd-{abs(hash(source)) % 10**8}", **more}


def _graded(notebook: dict[str, Any]) -> list[dict[str, Any]]:
    return [cell for cell in notebook["cells"] if cell["metadata"].get("nbgrader", {}).get("grade")]


def _notebook(change: Callable[[dict[str, Any], Scene], None]) -> Callable[[Scene], None]:
    def lay(scene: Scene) -> None:
        path = scene.folder / f"{scene.module}.ipynb"
        notebook = json.loads(path.read_bytes())
        change(notebook, scene)
        path.write_text(json.dumps(notebook), "utf-8")

    return lay


def _first(source: str) -> Callable[[Scene], None]:
    """A cell before all others, and again in each graded cell; ``EVIL`` stands for the program."""

    def change(notebook: dict[str, Any], scene: Scene) -> None:
        made = source.replace("EVIL", scene.evil)
        for cell in _graded(notebook):
            cell["source"] = made
        notebook["cells"].insert(0, _code(made))

    return _notebook(change)


def _output(text: str) -> Callable[[Scene], None]:
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


def _file(name: str, content: str = "EVIL") -> Callable[[Scene], None]:
    def lay(scene: Scene) -> None:
        path = scene.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(content.replace("EVIL", scene.evil), "utf-8")

    return lay


def _several(*steps: Callable[[Scene], None]) -> Callable[[Scene], None]:
    def lay(scene: Scene) -> None:
        for step in steps:
            step(scene)

    return lay


def _gone(path: Path) -> None:
    if path.is_symlink() or path.is_file():
        path.unlink()
    elif path.is_dir():
        shutil.rmtree(path)


def _link(name: str, target: Callable[[Scene], Path | str]) -> Callable[[Scene], None]:
    """A link in the place of ``name``, relative to the folder of the submission."""

    def lay(scene: Scene) -> None:
        path = Path(os.path.normpath(scene.folder / name))
        _gone(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.symlink_to(target(scene))

    return lay


def _hard(name: str, target: Callable[[Scene], Path]) -> Callable[[Scene], None]:
    def lay(scene: Scene) -> None:
        _gone(scene.folder / name)
        os.link(target(scene), scene.folder / name)

    return lay


def _elsewhere(scene: Scene) -> None:
    path = scene.outside / f"{os.getpid()}-{scene.folder.parents[2].parent.name}.jsonl"
    path.write_bytes(scene.theirs)
    _hard("answers.jsonl", lambda _: path)(scene)


def _pipe(name: str) -> Callable[[Scene], None]:
    def lay(scene: Scene) -> None:
        _gone(scene.folder / name)
        os.mkfifo(scene.folder / name)

    return lay


def _device(scene: Scene) -> None:
    """A device that never ends; whoever may not make one links to it."""
    path = scene.folder / "answers.jsonl"
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
    _gone(scene.folder / "answers.jsonl")
    (scene.folder / "answers.jsonl").mkdir()
    (scene.folder / "answers.jsonl" / "answers.jsonl").write_bytes(scene.theirs)


def _shut(scene: Scene) -> None:
    (scene.folder / "answers.jsonl").chmod(0)


def _read_all_the_same(scene: Scene) -> Given:
    # The right to read is nothing to the administrator of a machine.
    return scene.honest if os.access(scene.folder / "answers.jsonl", os.R_OK) else {}


def _many(scene: Scene) -> None:
    for number in range(400):
        (scene.folder / f"{number}.txt").touch()


def _deep(scene: Scene) -> None:
    with contextlib.chdir(scene.folder):
        for _ in range(700):
            os.mkdir("d")  # noqa: PTH102 - a path of this length cannot be named, only entered step by step
            os.chdir("d")


def _hole(scene: Scene) -> None:
    """A file of three gigabytes that takes no room."""
    with (scene.folder / "video.mp4").open("wb") as stream:
        stream.truncate(3_000_000_000)


def _byte_names(scene: Scene) -> None:
    (Path(os.fsdecode(os.fsencode(scene.folder) + b"/\xff\xfe.txt"))).touch()
    (scene.folder / "a\nb\x1b[31m\u202e.txt").touch()
    (scene.folder / "<img src=x onerror=window.hurt=1>").touch()


def _theirs(scene: Scene) -> Given:
    return {line["item"]: line["response"] for line in map(json.loads, scene.theirs.splitlines())}


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
    *(Attack(name, tries, lay=_several(*map(_file, files)), flagged=_ODD) for name, tries, files in PROGRAMS),
    Attack(
        "own-path", "Brings a line of a path file that runs.", lay=_file("evil.pth", "import os; EVIL"), flagged=_ODD
    ),
    Attack(
        "own-templates",
        "Brings templates of pages.",
        lay=_several(_file("templates/report.html.j2", TEXTS["script"]), _file("formgrade.tpl", TEXTS["template"])),
        flagged=_ODD,
    ),
    Attack("own-forms", "Brings easier questions.", lay=_file("forms.json", '{"format": 1, "forms": []}')),
    Attack("doubled-cells", "Has every graded cell twice.", lay=_notebook(_double)),
    Attack("deleted-cells", "Has no graded cell.", lay=_notebook(_delete)),
    Attack("renamed-cells", "Gives every graded cell another name.", lay=_notebook(_rename)),
    Attack("priced-cells", "Raises the points of every item.", lay=_notebook(_price)),
    Attack("own-kernel", "Names a kernel of its own.", lay=_notebook(_kernel), flagged=_ODD),
    Attack("attachments", "Hides scripts in pictures, titles and states of controls.", lay=_notebook(_attachments)),
    Attack(
        "no-notebook", "Has no notebook at all.", lay=lambda scene: (scene.folder / f"{scene.module}.ipynb").unlink()
    ),
    Attack("broken-notebook", "Has a notebook that is none.", lay=lambda scene: _file(f"{scene.module}.ipynb")(scene)),
    Attack(
        "deep-notebook",
        "Has a notebook nested until a reader falls over.",
        lay=lambda scene: _file(f"{scene.module}.ipynb", "[" * 200_000)(scene),
    ),
    Attack(
        "more-notebooks",
        "Has more notebooks than were given out.",
        lay=_several(_file("extra.ipynb", "{}"), _file("deep/lock-pin.ipynb", "{}")),
        flagged=_ODD,
    ),
    Attack(
        "set-back",
        "Dates its arrival a year back.",
        lay=_file("timestamp.txt", "2026-03-01 08:00:00.000000 UTC"),
        flagged="times",
    ),
    Attack("no-time", "Has a time of arrival that is none.", lay=_file("timestamp.txt", "EVIL"), flagged=_ODD),
    Attack(
        "own-secret", "Names a path where a secret word stands.", lay=_file("submission_secret.txt", "../../../keys")
    ),
    Attack(
        "link-notebook",
        "Has a link to a secret for a notebook.",
        lay=lambda scene: _link(f"{scene.module}.ipynb", _secret)(scene),
        flagged=_ODD,
    ),
    Attack("link-forms", "Has a link to a secret for the questions.", lay=_link("forms.json", _secret), flagged=_ODD),
    Attack("link-time", "Has a link to a secret for the time.", lay=_link("timestamp.txt", _secret), flagged=_ODD),
    Attack("link-extra", "Has a link to a secret beside the notebook.", lay=_link("notes.html", _secret), flagged=_ODD),
    Attack(
        "link-left-behind",
        "Gives a link to a secret the name of a file that file managers leave behind.",
        lay=_several(_link("Thumbs.db", _secret), _link(".DS_Store", _secret)),
        flagged=_ODD,
    ),
    Attack(
        "link-checkpoints",
        "Gives a link to a folder the name of the notebook's own folder of copies.",
        lay=_link(".ipynb_checkpoints", lambda scene: scene.outside),
        flagged=_ODD,
    ),
    Attack(
        "link-journal",
        "Has a relative link to somebody else's journal.",
        lay=_link("answers.jsonl", lambda scene: os.path.relpath(scene.victim / "answers.jsonl", scene.folder)),
        counts=NOTHING,
        flagged="place",
    ),
    Attack("link-nowhere", "Has a link that leads nowhere.", lay=_link("x.png", lambda _: "not-there"), flagged=_ODD),
    Attack(
        "link-round",
        "Has links that lead round in a circle.",
        lay=_several(_link("a", lambda _: "b"), _link("b", lambda _: "a"), _link("up", lambda _: "..")),
        flagged=_ODD,
    ),
    Attack(
        "link-folder", "Has a link to a folder outside.", lay=_link("data", lambda scene: scene.outside), flagged=_ODD
    ),
    Attack(
        "link-submission",
        "Is a link to somebody else's submission.",
        lay=_link(".", lambda scene: scene.victim),
        counts=NOTHING,
        flagged="place",
    ),
    Attack(
        "link-person",
        "Is a link to somebody else's folder.",
        lay=_link("..", lambda scene: scene.victim.parent),
        counts=NOTHING,
        flagged="place",
    ),
    Attack(
        "hard-forms", "Has a second name of a secret for the questions.", lay=_hard("forms.json", _secret), flagged=_ODD
    ),
    Attack(
        "hard-left-behind",
        "Has a second name of a secret beside the notebook.",
        lay=_hard("desktop.ini", _secret),
        flagged=_ODD,
    ),
    Attack(
        "hard-journal",
        "Has a second name of a journal that lies elsewhere.",
        lay=_elsewhere,
        counts=_theirs,
        flagged=_ODD,
    ),
    Attack("pipe-journal", "Has a pipe for a journal.", lay=_pipe("answers.jsonl"), counts=NOTHING, flagged="place"),
    Attack("pipe-time", "Has a pipe for the time.", lay=_pipe("timestamp.txt"), flagged=_ODD),
    Attack("socket", "Has a socket beside the notebook.", lay=_socket, flagged=_ODD),
    Attack("device", "Has a device without end for a journal.", lay=_device, counts=NOTHING, flagged="place"),
    Attack("folder-journal", "Has a folder for a journal.", lay=_folder_for_journal, counts=NOTHING, flagged="place"),
    Attack("shut", "Has a journal that may not be read.", lay=_shut, counts=_read_all_the_same),
    Attack("many-files", "Has four hundred files.", lay=_many, flagged=_ODD),
    Attack("deep-folders", "Has folders seven hundred deep.", lay=_deep, flagged=_ODD),
    Attack("hole", "Has a file of three gigabytes.", lay=_hole, flagged=_ODD),
    Attack("odd-names", "Has names that are no text, steer a terminal, or are markup.", lay=_byte_names, flagged=_ODD),
)
