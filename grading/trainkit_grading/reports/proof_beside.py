"""How far a table is proven, beside the table: a file of text, or a sheet of its own.

A line more in a table would stop programs that read it; what a page shows as a bar stands beside it instead.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from trainkit_grading.results.proof import Proof
from trainkit_grading.support.files import write_atomically
from trainkit_grading.support.plaintext import plain
from trainkit_grading.support.xlsx import Worksheet, cell

PROOF_FILE = "proof.txt"
_MORE = "And {count} more."
_SEE = "See all of it, with what to do: trainkit-course verify"


def proof_lines(proof: Proof, *, named: bool = True) -> Iterator[str]:
    """Yield what the bar of a page says, line by line.

    Parameters
    ----------
    proof : Proof
        What proving the course came to.
    named : bool
        Whether faults are told, whose places may name people.
    """
    yield proof.sentence
    if proof.faults and named:
        yield from (f"{plain(fault.place)}: {plain(fault.text)}" for fault in proof.told)
        if proof.more:
            yield _MORE.format(count=proof.more)
    if proof.faults:
        yield _SEE


def write_proof(folder: Path, proof: Proof, tables: Sequence[Path], *, named: bool = True) -> Path:
    """Write how far tables are proven beside them, with the SHA-256 of each, and return the path.

    Parameters
    ----------
    folder : Path
        Where the tables lie.
    proof : Proof
        What proving the course came to.
    tables : sequence of Path
        The tables as they were written.
    named : bool
        Whether faults are told, whose places may name people.
    """
    sums = [f"{table.name}: SHA-256 {hashlib.sha256(table.read_bytes()).hexdigest()}" for table in tables]
    path = folder / PROOF_FILE
    write_atomically(path, "\n".join([*proof_lines(proof, named=named), "", *sums]) + "\n")
    return path


def proof_sheet(proof: Proof, *, named: bool = True) -> Worksheet:
    """Return the same as a sheet of a spreadsheet, to stand behind the others."""
    return Worksheet("proof", [["proof"], *([cell(line)] for line in proof_lines(proof, named=named))], (100,))
