"""Which releases of everything that is needed at run time were proven together, and under which licence each stands.

``python tests/supply.py`` writes both files in ``grading/trainkit_grading/supply`` anew. ``constraints.txt`` needs the
network and ``uv``; ``licences.csv`` comes from what is installed. What only other systems need is installed for that
with ``--target FOLDER --no-deps`` and named: ``python tests/supply.py --also FOLDER``.
"""

from __future__ import annotations

import argparse
import csv
import importlib.metadata
import io
import re
import subprocess
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[1]
SUPPLY = ROOT / "grading" / "trainkit_grading" / "supply"
CONSTRAINTS, LICENCES = SUPPLY / "constraints.txt", SUPPLY / "licences.csv"
OURS = {"trainkit-workbooks", "trainkit-grading"}
COLUMNS = ("name", "version", "licence")
# The oldest Python that is proven; markers in the file tell what newer ones get.
OLDEST = "3.11"


@dataclass(frozen=True)
class Pin:
    """One release, where it is needed, and the digests that its files may have."""

    name: str
    version: str
    marker: str
    hashes: tuple[str, ...]


def plain(name: str) -> str:
    """Return a name as registries compare it."""
    return re.sub(r"[-_.]+", "-", name).casefold()


def pins(text: str) -> Iterator[Pin]:
    """Yield what a file of constraints says."""
    for entry in text.replace("\\\n", " ").splitlines():
        if entry.strip() and not entry.startswith("#"):
            said, *hashes = entry.split("--hash=")
            need = Requirement(said)
            (version,) = need.specifier
            assert version.operator == "=="
            yield Pin(plain(need.name), version.version, str(need.marker or ""), tuple(each.strip() for each in hashes))


def needed() -> dict[str, Requirement]:
    """Return everything that both distributions need here at run time, and one requirement that says so."""
    waiting = [Requirement("trainkit-grading[postgresql]")]
    met: dict[tuple[str, str], Requirement] = {}
    while waiting:
        need = waiting.pop()
        for extra in ("", *sorted(need.extras)):
            if (plain(need.name), extra) in met:
                continue
            met[plain(need.name), extra] = need
            for line in importlib.metadata.requires(need.name) or ():
                more = Requirement(line)
                if more.marker is None or more.marker.evaluate({"extra": extra}):
                    waiting.append(more)
    return {name: need for (name, _), need in met.items() if name not in OURS}


def licence(of: importlib.metadata.Distribution) -> str:
    """Return what a distribution says of its licence, as briefly as it says it."""
    said = of.metadata
    if expressions := said.get_all("License-Expression"):
        return str(expressions[0])
    classes = [
        line.rpartition(" :: ")[2] for line in said.get_all("Classifier") or () if line.startswith("License :: OSI")
    ]
    text = " ".join(" ".join(said.get_all("License") or ()).split()).removeprefix("UNKNOWN")
    return text if 0 < len(text) <= 60 else "; ".join(classes) or text[:60]


def licences(found: Mapping[str, str]) -> str:
    """Return the table of all pins, with the licences that were found by name."""
    rows = sorted({(pin.name, pin.version) for pin in pins(CONSTRAINTS.read_text("utf-8"))})
    made = io.StringIO()
    table = csv.writer(made, lineterminator="\n")
    table.writerow(COLUMNS)
    table.writerows((name, version, found[name]) for name, version in rows)
    return made.getvalue()


def installed(*folders: Path) -> dict[str, str]:
    """Return the licences of what is installed here, and in these folders."""
    known = [*importlib.metadata.distributions(path=[str(folder) for folder in folders])] if folders else []
    return {plain(of.metadata["Name"]): licence(of) for of in (*known, *importlib.metadata.distributions())}


def constraints() -> str:
    """Ask the registry which releases fit together; the own distributions are built, not asked for."""
    with tempfile.TemporaryDirectory() as home:
        made = Path(home) / "constraints.txt"
        subprocess.run(["uv", "build", "-q", "--wheel", "-o", home, str(ROOT)], check=True)
        command = ["uv", "pip", "compile", "-q", "grading/pyproject.toml", "--extra", "postgresql", "--universal"]
        command += ["--generate-hashes", "--python-version", OLDEST, "--find-links", home, "--no-header"]
        command += ["--no-annotate", "--no-emit-package", "trainkit-workbooks", "-o", str(made)]
        subprocess.run(command, check=True, cwd=ROOT)
        kept = [line for line in made.read_text("utf-8").splitlines() if not line.startswith("#")]
    return "\n".join(kept).strip() + "\n"


def main() -> None:
    """Write both files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--also", type=Path, nargs="*", default=[], help="folders with what only other systems need")
    parser.add_argument("--licences", action="store_true", help="only the licences; no network")
    asked = parser.parse_args()
    if not asked.licences:
        CONSTRAINTS.write_text(constraints(), "utf-8")
    LICENCES.write_text(licences(installed(*asked.also)), "utf-8")


if __name__ == "__main__":
    main()
