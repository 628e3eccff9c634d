"""Build the JupyterLab extension into ``trainkit/labextension/``, and note which source it was built from.

``python labextension/build.py`` needs node and npm, ``npm ci`` done in this folder, and JupyterLab's builder, which
comes with the extra ``lab``. What it makes is committed, so that nobody who installs trainkit needs any of them.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

HERE = Path(__file__).resolve().parent
BUILT = HERE.parent / "trainkit" / "labextension" / "trainkit-workbooks"
NOTE = "built-from.json"


def source_files() -> list[Path]:
    """Return what the extension is built from."""
    return [HERE / "package.json", HERE / "package-lock.json", *HERE.glob("src/*.js"), *HERE.glob("style/*.css")]


def built_files() -> list[Path]:
    """Return what was built, without the note."""
    return [path for path in BUILT.rglob("*") if path.is_file() and path.name != NOTE]


def digest(files: Iterable[Path], root: Path) -> str:
    """Return the SHA-256 of files with their names, whichever way their lines end."""
    whole = hashlib.sha256()
    for name, path in sorted((path.relative_to(root).as_posix(), path) for path in files):
        content = path.read_bytes().replace(b"\r\n", b"\n")
        whole.update(f"{name}\0{len(content)}\0".encode() + content)
    return whole.hexdigest()


def digests() -> dict[str, str]:
    """Return the digests of the source and of what is built, as they are now."""
    return {"source": digest(source_files(), HERE), "built": digest(built_files(), BUILT)}


def build() -> None:
    """Build everything anew."""
    shutil.rmtree(BUILT, ignore_errors=True)
    subprocess.run([sys.executable, "-m", "jupyter_builder.main", "build", str(HERE)], check=True)  # noqa: S603 - a fixed command
    install = {
        "packageManager": "python",
        "packageName": "trainkit-workbooks",
        "uninstallInstructions": "pip uninstall trainkit-workbooks",
    }
    (BUILT / "install.json").write_text(json.dumps(install, indent=2) + "\n", "utf-8")
    (BUILT / NOTE).write_text(json.dumps({"format": 1, **digests()}, indent=2) + "\n", "utf-8")


if __name__ == "__main__":
    build()
