"""The coordinator's page: it filters, sorts and opens evidence by itself, and asks nothing of any server.

What it shows travels in it as JSON; its one script is named in the page's policy by its digest, so that nothing else
could run. Details of single answers travel along for a class; for more people than that they are told by the command
for one person.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Collection, Mapping
from datetime import UTC, datetime, timedelta
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit.sentences import decimal
from trainkit_grading.reports.basis import LISTED
from trainkit_grading.reports.coordinator.chart import chart
from trainkit_grading.results.readiness import EVIDENCE_RULES, READINESS, READY_RULES
from trainkit_grading.statistics import wilson
from trainkit_grading.support.jinja import template
from trainkit_grading.support.plaintext import plain

if TYPE_CHECKING:
    from trainkit_grading.record.sessions import Session
    from trainkit_grading.reports.coordinator.evidence import ModuleEvidence
    from trainkit_grading.reports.coordinator.overview import CohortModule, Overview, PersonStanding
    from trainkit_grading.results.proof import Proof
    from trainkit_grading.results.results import Result
    from trainkit_grading.signoff.judging import ObservedStep
    from trainkit_grading.signoff.observations import SignOff


SIGNS = {"ready": "●", "nearly": "◐", "not yet": "○", "no evidence": "–"}
"""Shape beside the word, for those who see no colour and for print in black."""


def html_text(
    view: Overview,
    cautions: Mapping[str, Any],
    details: Mapping[str, Mapping[str, ModuleEvidence]] | None = None,
    proof: Proof | None = None,
) -> str:
    """Return the view as one self-contained page.

    Parameters
    ----------
    view : Overview
        What it says.
    cautions : mapping
        ``hazards`` and ``notices`` of the course's packs.
    details : mapping, optional
        What stands behind the results, by apprentice and module.
    proof : Proof, optional
        How far what it says is proven; without, the page says nothing of it.
    """
    script = _script()
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    count = view.count()
    return template("reports/coordinator/coordinator.html.j2").render(
        view=view,
        proof=proof,
        written=view.written.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC"),
        policy=f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'",
        script=script,
        data=_as_json(_data(view, details or {})),
        cautions=cautions,
        sign=figures.warning_sign(24),
        signs=SIGNS,
        readiness=READINESS,
        count=count,
        criteria=view.criteria,
        forward=[each for each in view.people if each.forward],
        fared=_fared(view),
        attention=_attention(view),
        unsafe=[(each, row) for each in view.people for row in each.results.values() if row.unsafe][:LISTED],
        unsafe_count=sum(bool(row.unsafe) for each in view.people for row in each.results.values()),
        listed=LISTED,
        chart=chart(view.weeks, view.cohorts),
        weeks=view.weeks,
        here=sum(not each.gone for each in view.people),
        titles={module.name: module.title for module in view.modules},
    )


@cache
def _script() -> str:
    return resources.files(__package__).joinpath("static", "coordinator.js").read_text("utf-8")


def _as_json(data: object) -> str:
    """Return JSON that can stand in a script element: no sign of it can end the element or begin another."""
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _data(view: Overview, details: Mapping[str, Mapping[str, ModuleEvidence]]) -> dict[str, Any]:
    sessions: dict[Session, int] = {}
    reasons: dict[str, int] = {}
    said: dict[Any, int] = {}
    cohorts = {name: place for place, name in enumerate((*view.cohorts, ""))}
    people = [
        _person(view, each, cohorts, sessions, reasons, said, details.get(each.person.id, {})) for each in view.people
    ]
    return {
        "criteria": [[each.number, plain(each.text), [*each.modules], [*each.steps]] for each in view.criteria],
        "modules": [[each.name, plain(each.title), each.cut_score, each.out_of] for each in view.modules],
        "cohorts": [plain(view.cohorts.get(name, "")) for name in cohorts],
        "readiness": [[word, SIGNS[word]] for word in READINESS],
        "rules": {code: text for code, (_, text) in {**EVIDENCE_RULES, **READY_RULES}.items()},
        "reasons": list(reasons),
        "said": list(said),
        "sessions": [
            [plain(each.invigilator), plain(each.room), _minute(each.begin), _minute(each.end), plain(each.aids)]
            for each in sessions
        ],
        "people": people,
        "detailed": bool(details),
    }


def _person(
    view: Overview,
    each: PersonStanding,
    cohorts: Mapping[str, int],
    sessions: dict[Session, int],
    reasons: dict[str, int],
    said: dict[Any, int],
    details: Mapping[str, ModuleEvidence],
) -> list[Any]:
    """Return one person as a list; the script says which place holds what."""
    return [
        plain(each.person.id),
        plain(each.person.name),
        cohorts.get(each.person.cohort, len(cohorts) - 1),
        int(each.gone),
        "".join([_VERDICTS[of.verdict] for of in each.readiness]),
        # Of a rule's code the number is enough: the script knows whether it speaks of a module or a sign-off.
        "".join([of.code[1] for of in each.readiness]),
        "".join([piece.code[1] for of in each.readiness for piece in of.evidence]),
        int(each.forward),
        reasons.setdefault(each.reason, len(reasons)),
        [_result(each.results.get(module.name), sessions, details.get(module.name)) for module in view.modules],
        [_signed(of, said) for of in each.signed.values()],
    ]


_VERDICTS = {word: str(place) for place, word in enumerate(READINESS)}
_EPOCH = datetime(2020, 1, 1)
# What most results are in the last places of their list is left out there; the script knows it.
_USUAL: tuple[Any, ...] = (1, 1, 0, "", 0, [], None, "", "")


def _result(row: Result | None, sessions: dict[Session, int], detail: ModuleEvidence | None) -> Any:
    if row is None or not row.entry:
        return 0
    found: list[Any] = [
        round(row.points, 2),
        -1 if row.arrived is None else (row.arrived - _EPOCH) // _MINUTE,
        -1 if row.session is None else sessions.setdefault(row.session, len(sessions)),
        row.entry,
        row.form,
    ]
    more = [
        row.attempt,
        row.attempts,
        round(row.seconds_late / 60),
        " ".join(row.critical),
        int(row.medium == "paper"),
        [plain(flag.text) for flag in row.flags],
        None if detail is None else _detail(detail, row.unsafe),
        " ".join(row.unsafe),
        row.spoken,
    ]
    while more and more[-1] == _USUAL[len(more) - 1]:
        more.pop()
    return found + more


_MINUTE = timedelta(minutes=1)


def _detail(detail: ModuleEvidence, unsafe: Collection[str]) -> list[Any]:
    return [
        detail.at[:16].replace("T", " "),
        plain(detail.by),
        [f"{name} {digest}" for name, digest in detail.versions.items()],
        [
            [
                of.item,
                plain(of.asked),
                [plain(line) for line in of.answer],
                of.verdict,
                round(of.points, 2),
                of.out_of,
                plain(of.reason),
                int(of.item in unsafe),
            ]
            for of in detail.answers
        ],
    ]


def _signed(of: SignOff, said: dict[Any, int]) -> list[Any]:
    """Return one piece of work; what many people have alike is told once, by its place among ``said``."""

    def place(*values: Any) -> int:
        return said.setdefault(values, len(said))

    steps = tuple((plain(step.id), plain(step.text), int(step.critical)) for step in of.steps)
    became = tuple(_became(of, step) for step in of.steps)
    return [
        place(of.checklist, plain(of.title), of.competence.verdict, of.competence.rule),
        place(*steps),
        place(*became),
        place(plain(of.observer), plain(of.trainer), plain(of.engine), of.medium),
        of.at[:16].replace("T", " "),
        of.entry,
        int(of.same_person),
    ]


def _became(of: SignOff, step: ObservedStep) -> str:
    """Return what became of a step, and how it was when it was shown again."""
    again = [each.outcome for each in of.shown_again if each.id == step.id]
    return f"{step.outcome}, shown again {again[-1]}" if again else step.outcome


def _minute(when: datetime | None) -> str:
    if when is None:
        return ""
    return (when.astimezone(UTC) if when.tzinfo is not None else when).strftime("%Y-%m-%d %H:%M")


def _fared(view: Overview) -> list[tuple[str, list[dict[str, Any]]]]:
    """Return a table for everybody, then one for each cohort, with an interval for the part that passed."""
    titles = {"*": "Everybody", "": "In no cohort", **view.cohorts}
    groups: dict[str, list[dict[str, Any]]] = {}
    for of in view.fared:
        groups.setdefault(of.cohort, []).append({"of": of, "rate": _rate(of)})
    if len(groups) == 2:
        del groups[next(name for name in groups if name != "*")]  # one group of people is everybody once more
    return [(titles.get(name, name), rows) for name, rows in groups.items()]


def _rate(of: CohortModule) -> str:
    """Return what part has passed with its interval; of fewer than five people no part says anything."""
    if of.marked < 5:
        return f"{of.passed} of {of.marked}"
    interval = wilson(of.passed, of.marked)
    share = 100 * of.passed / of.marked
    return f"{share:.0f}\u2009% ({100 * interval.low:.0f} to {100 * interval.high:.0f}) of {of.marked}"


def _attention(view: Overview) -> list[tuple[PersonStanding, str]]:
    """Return who has not handed in what is expected, is late, or has a matter waiting, with the words for it."""
    titles = {module.name: module.title for module in view.modules}
    found = []
    for each in view.people:
        words = []
        if each.missing:
            words.append("missing: " + ", ".join(titles[name] for name in each.missing))
        if each.late:
            words.append("late: " + ", ".join(titles[name] for name in each.late))
        if each.pending:
            words.append(f"{decimal(each.pending)} waiting for a decision")
        if words and not each.gone:
            found.append((each, "; ".join(words)))
    return found
