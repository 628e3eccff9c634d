"""A notebook for questions of the coordinator's own: a few examples that run, over the same values as the page."""

from __future__ import annotations

import json

_CELLS: tuple[tuple[str, str, str], ...] = (
    (
        "title",
        "markdown",
        "# Questions of your own\n\nThe same values as on the page, to count and draw as you like. Run a cell with "
        "Shift and Enter. Nothing here changes the course.\n\nResults are training results: for real work the "
        "manufacturer's current manual, local codes and a licensed or supervising person decide.",
    ),
    (
        "open",
        "code",
        "from collections import Counter\nfrom pathlib import Path\n\n"
        "from trainkit_grading.course.folder import Course\n"
        "from trainkit_grading.reports.coordinator.overview import overview\n\n"
        'view = overview(Course.load(Path("..")))\n'
        'f"{len(view.people)} people, {len(view.modules)} modules, {len(view.criteria)} criteria"',
    ),
    ("how-many", "markdown", "How many stand where, criterion by criterion?"),
    ("count", "code", "view.count()"),
    ("who", "markdown", "Who lacks exactly one criterion, and which?"),
    (
        "lacking-one",
        "code",
        '{\n    each.person.name: [of.criterion for of in each.readiness if of.verdict != "ready"]\n'
        "    for each in view.people\n"
        '    if sum(of.verdict != "ready" for of in each.readiness) == 1\n}',
    ),
    ("cohorts", "markdown", "What part of each cohort has passed each module?"),
    (
        "by-cohort",
        "code",
        '[(of.cohort or "none", of.module, f"{of.passed} of {of.marked}") for of in view.fared if of.marked]',
    ),
    ("points", "markdown", "How are the points of one module spread?"),
    (
        "spread",
        "code",
        'module = view.modules[0].name if view.modules else ""\n'
        "Counter(10 * int(each.results[module].percent // 10) for each in view.people "
        "if module in each.results and each.results[module].entry)",
    ),
)


def notebook_text() -> str:
    """Return the notebook as JSON."""
    cells: list[dict[str, object]] = []
    for name, kind, source in _CELLS:
        cell = {"cell_type": kind, "id": name, "metadata": {}, "source": source.splitlines(keepends=True)}
        cells.append(cell | ({"execution_count": None, "outputs": []} if kind == "code" else {}))
    spec = {"display_name": "Python 3", "language": "python", "name": "python3"}
    return (
        json.dumps(
            {"cells": cells, "metadata": {"kernelspec": spec}, "nbformat": 4, "nbformat_minor": 5},
            ensure_ascii=False,
            indent=1,
        )
        + "\n"
    )
