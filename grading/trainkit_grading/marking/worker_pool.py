"""Scoring many submissions, in one process or several; what is wrong with one costs no other.

What is handed on is what goes into the ledger: the forms, with their texts and pictures, stay where they were read.

The processes read journals as data. They never go into a submission's folder, and import nothing from it.
"""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.connection import wait
from pathlib import Path

from trainkit.errors import TrainkitError
from trainkit_grading.course.folder import Course
from trainkit_grading.errors import CourseError
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.marking.score import Scorer
from trainkit_grading.record.marked_entry import entry_of
from trainkit_grading.support.outcome import Finding, Progress, refused

_CHUNK = 25


def score_all(
    scorer: Scorer,
    items: Mapping[str, float],
    names: Sequence[str],
    people: Container[str],
    jobs: int,
    progress: Progress,
    findings: list[Finding],
) -> Iterator[tuple[Marked, ...]]:
    """Score all attempts of each apprentice, as ledger entries, in the order of the names.

    What cannot be scored becomes a finding.

    Parameters
    ----------
    scorer : Scorer
        Of the module.
    items : mapping of str to float
        Items and most points, as the module was given out.
    names : sequence of str
        The apprentices.
    people : container of str
        Who is on the roster; nobody else is scored.
    jobs : int
        How many processes.
    progress : callable
        Told of each submission.
    findings : list of Finding
        What is refused is added here.

    Raises
    ------
    CourseError
        If a process ended by itself.
    """
    known = [name for name in names if name in people]
    results = _in_turn(scorer.module, names, known, _results(scorer, items, known, jobs))
    for done, (name, result) in enumerate(results, start=1):
        if isinstance(result, Finding):
            findings.append(result)
        else:
            yield result
        progress(done, len(names), name)


def same_items(entry: Marked, items: Mapping[str, float]) -> None:
    """Refuse marks of other items than the module has as it was given out."""
    if {row.item: row.out_of for row in entry.marks} != items:
        raise CourseError(
            entry.form,
            rule=f"Form {entry.form} of attempt {entry.attempt} has other items than the module as given out.",
            remedy="Put the blueprint back as it was for this attempt, or mark this one by hand.",
        )


def _in_turn(
    module: str, names: Sequence[str], known: Iterable[str], results: Iterator[tuple[Marked, ...] | Finding]
) -> Iterator[tuple[str, tuple[Marked, ...] | Finding]]:
    there = set(known)
    for name in names:
        yield name, next(results) if name in there else _stranger(name, module)


def _stranger(name: str, module: str) -> Finding:
    return refused(
        CourseError(
            name,
            rule="This folder's name is not on the roster; it was not marked.",
            remedy="Rename the folder to the apprentice's identifier, or add them to roster.csv.",
        ),
        f"submitted/{name}/{module}",
    )


def _results(
    scorer: Scorer, items: Mapping[str, float], names: Sequence[str], jobs: int
) -> Iterator[tuple[Marked, ...] | Finding]:
    if jobs <= 1 or len(names) <= _CHUNK:
        for name in names:
            yield _score(scorer, items, name)
        return
    # A process of its own, from a clean start on every system; nothing of what is open here goes along.
    with ProcessPoolExecutor(
        max_workers=jobs,
        mp_context=multiprocessing.get_context("spawn"),
        initializer=_begin,
        initargs=(scorer.course.folder, scorer.module, dict(items), dict(scorer.passed_over)),
    ) as pool:
        try:
            yield from pool.map(_score_here, names, chunksize=_CHUNK)
        except BrokenProcessPool:
            raise CourseError(
                jobs,
                place=scorer.module,
                rule="A process that scores submissions ended by itself; nothing of this module was marked.",
                remedy="Mark it again with --jobs 1.",
            ) from None


def _score(scorer: Scorer, items: Mapping[str, float], name: str) -> tuple[Marked, ...] | Finding:
    place = f"submitted/{name}/{scorer.module}"
    try:
        attempts = tuple(entry_of(scored) for scored in scorer.score_attempts(name))
        for entry in attempts:
            same_items(entry, items)
    except TrainkitError as error:
        return refused(error, place)
    except Exception as error:  # noqa: BLE001 - one bad submission must never stop the others; it is told of
        return Finding("refused", place, f"{type(error).__name__}: {error}. It was not marked; please report this.")
    return attempts


_AT_WORK: list[tuple[Scorer, Mapping[str, float]]] = []  # of a process that scores


def _begin(folder: Path, module: str, items: Mapping[str, float], passed_over: Mapping[str, frozenset[str]]) -> None:
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _AT_WORK[:] = [(Scorer(Course.load(folder), module).passing_over(passed_over), items)]


def _end_with_parent() -> None:
    """End this process when the one that began it does: killed, that one cannot say so any more."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def _score_here(name: str) -> tuple[Marked, ...] | Finding:
    return _score(*_AT_WORK[0], name)
