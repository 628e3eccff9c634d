"""The rows of each table of an export, one after another: a table of a million marks is never in memory at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from trainkit_grading.ledger.kinds import Marked

if TYPE_CHECKING:
    from trainkit_grading.ledger.book import Ledger
    from trainkit_grading.reports.coordinator.overview import Overview
    from trainkit_grading.reports.exports.people import PeopleShown


Row = Mapping[str, Any]
_AT_ONCE = 400


def _same(of: object, *names: str) -> Row:
    """Return what is called in a table as it is in the value."""
    return {name: getattr(of, name) for name in names}


def results(course: str, view: Overview, shown: PeopleShown) -> Iterator[Row]:
    """Yield one row for each person and module."""
    cuts = {module.name: module.cut_score for module in view.modules}
    for each in shown.in_order(view.people):
        about = shown.about(course, each.person)
        for of in each.results.values():
            yield {
                **about,
                **_same(
                    of, "module", "state", "expected", "form", "attempt", "attempts", "out_of", "verdict", "watched"
                ),
                "points": round(of.points, 2),
                "percent": round(of.percent, 1),
                "cut_score": cuts[of.module],
                "critical": " ".join(of.critical),
                "overridden": " ".join(of.overridden),
                "flags": len(of.flags),
                "arrived": shown.moment(of.arrived),
                "due": shown.moment(of.due),
                "seconds_late": round(of.seconds_late),
                "penalty": round(of.penalty, 2),
                "medium": of.medium if of.entry else "",
                "entry": of.entry or None,
                "unsafe": " ".join(of.unsafe),
                "spoken": of.spoken,
                "supervision": of.supervision,
            }


def marks(course: str, view: Overview, shown: PeopleShown, ledger: Ledger) -> Iterator[Row]:
    """Yield one row for each item of each attempt of everybody on the roster, module by module."""
    people = {each.person.id: each.person for each in view.people}
    for module in view.modules:
        judged = ledger.judged(module.name)
        counting = ledger.shown(module.name)
        standing = sorted(
            (of for of in ledger.standing(module.name).values() if of.apprentice in people),
            key=lambda of: (shown.person(of.apprentice), of.attempt),
        )
        for begin in range(0, len(standing), _AT_ONCE):
            some = standing[begin : begin + _AT_ONCE]
            entries = ledger.read(Marked, (of.number for of in some))
            for of in some:
                entry = entries[of.number]
                about = shown.about(course, people[of.apprentice])
                given = {item: one.points for item, one in judged.get((of.apprentice, of.attempt), {}).items()}
                yield from _marks(entry, about, given, counting.get(of.apprentice) == of.number, shown)


def _marks(entry: Marked, about: Row, given: Mapping[str, float], counts: bool, shown: PeopleShown) -> Iterator[Row]:
    for row in entry.marks:
        machine = None if row.verdict == "waiting" else row.points
        yield {
            **about,
            **_same(entry, "module", "attempt", "form"),
            **_same(row, "item", "template", "kind", "verdict", "out_of", "misconception", "critical", "reason"),
            "counts": counts,
            "points": given.get(row.item, machine),
            "points_machine": machine,
            "could_show": " ".join(entry.could.get(row.item, ())),
            "answered": shown.moment(row.answered),
            "response": row.response or "",
            "entry": entry.number,
        }


def readiness(course: str, view: Overview, shown: PeopleShown) -> Iterator[Row]:
    """Yield one row for each person and criterion."""
    texts = {criterion.number: criterion.text for criterion in view.criteria}
    for each in shown.in_order(view.people):
        about = shown.about(course, each.person)
        for of in each.readiness:
            yield {
                **about,
                "criterion": of.criterion,
                "text": texts[of.criterion],
                "verdict": of.verdict,
                "rule": of.code,
                "evidence": "; ".join(f"{piece.name} {piece.code}" for piece in of.evidence),
                "forward": each.forward,
            }


def observations(course: str, view: Overview, shown: PeopleShown) -> Iterator[Row]:
    """Yield one row for each step of each piece of practical work that counts."""
    for each in shown.in_order(view.people):
        about = shown.about(course, each.person)
        for of in each.signed.values():
            again = {step.id: step.outcome for step in of.shown_again}
            for step in of.steps:
                yield {
                    **about,
                    **_same(of, "checklist", "observer", "trainer", "engine", "medium", "entry"),
                    **_same(step, "text", "critical", "outcome"),
                    "verdict": of.competence.verdict,
                    "rule": of.competence.code,
                    "step": step.id,
                    "at": shown.moment(of.at),
                    "shown_again": again.get(step.id, ""),
                }
