"""Who is ready for what: a qualification's numbered criteria against results and practical sign-offs.

Each criterion names its evidence: modules that are to be passed, steps of checklists that are to be done unprompted,
whole checklists that are to be signed off. Every piece of evidence is *met*, *almost* (what is missing is formal, or
somebody else's to do), *open* (the apprentice has something to do) or *none*, and says by which written rule:

=====  ============================================================================================  ======
rule   what it says                                                                                  state
=====  ============================================================================================  ======
``M1``  The module is passed, and a session record says who watched.                                  met
``M2``  The module is passed, but not supervised: no session record says who watched.                 almost
``M3``  Something of the module waits to be marked.                                                   almost
``M4``  A critical error, an unsafe answer to a critical item, bars a pass whatever the points.       open
``M5``  The module's cut score is not reached.                                                        open
``M6``  Nothing of the module was handed in.                                                          none
``M7``  One worded answer bars a pass, and the spoken check of it waits.                              almost
``M8``  The module is passed, not supervised; the course accepts that for this module.                met
``S1``  The step was done unprompted, or the whole work is signed off as competent.                   met
``S2``  The assessor is also the trainer: somebody else is to see it.                                 almost
``S3``  The step needed a prompt.                                                                     open
``S4``  The step was not done, or the work was stopped for safety.                                    open
``S5``  The whole work is not yet competent.                                                          open
``S6``  Nobody has observed it.                                                                       none
=====  ============================================================================================  ======

What waits to be marked decides nothing where a critical error bars a pass already, or where all its points would not
reach the cut score; then ``M4`` or ``M5`` holds.

From these follows the criterion, and the first rule that holds decides:

=====  ============================================================================  ===========
``C1``  There is no evidence at all.                                                  no evidence
``C2``  Every piece of evidence is met.                                               ready
``C3``  Nothing is open, and at most one piece is missing or not formally complete.   nearly
``C4``  Something is open, or more than one piece is missing or not complete.         not yet
=====  ============================================================================  ===========

The rules are this product's own; no published source is known for them. Somebody may be put forward (:func:`forward`)
with every criterion ready, practical work signed off as competent by somebody who did not train them, and no matter
of theirs waiting for a decision.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from trainkit.sentences import counted
from trainkit_grading.course.settings import Criterion

if TYPE_CHECKING:
    from trainkit_grading.course.folder import Course
    from trainkit_grading.results.results import Result
    from trainkit_grading.signoff.observations import SignOff


State = Literal["met", "almost", "open", "none"]
READINESS = ("ready", "nearly", "not yet", "no evidence")

EVIDENCE_RULES: Mapping[str, tuple[State, str]] = {
    "M1": ("met", "The module is passed, and a session record says who watched."),
    "M2": ("almost", "The module is passed, but not supervised: no session record says who watched."),
    "M3": ("almost", "Something of the module waits to be marked."),
    "M4": ("open", "A critical error, an unsafe answer to a critical item, bars a pass whatever the points."),
    "M5": ("open", "The module's cut score is not reached."),
    "M6": ("none", "Nothing of the module was handed in."),
    "M7": ("almost", "One worded answer bars a pass, and the spoken check of it waits."),
    "M8": ("met", "The module is passed, not supervised; the course accepts that for this module."),
    "S1": ("met", "The step was done unprompted, or the whole work is signed off as competent."),
    "S2": ("almost", "The assessor is also the trainer: somebody else is to see it."),
    "S3": ("open", "The step needed a prompt."),
    "S4": ("open", "The step was not done, or the work was stopped for safety."),
    "S5": ("open", "The whole work is not yet competent."),
    "S6": ("none", "Nobody has observed it."),
}
READY_RULES: Mapping[str, tuple[str, str]] = {
    "C1": ("no evidence", "There is no evidence at all."),
    "C2": ("ready", "Every piece of evidence is met."),
    "C3": ("nearly", "Nothing is open, and at most one piece is missing or not formally complete."),
    "C4": ("not yet", "Something is open, or more than one piece is missing or not formally complete."),
}


@dataclass(frozen=True, slots=True)
class Evidence:
    """One piece of evidence.

    Parameters
    ----------
    kind : str
        ``"module"``, ``"step"`` or ``"sheet"``.
    name : str
        Name of the module, ``"checklist:step"``, or name of the checklist.
    code : str
        The rule that decided, one of :data:`EVIDENCE_RULES`.
    """

    kind: Literal["module", "step", "sheet"]
    name: str
    code: str

    @property
    def state(self) -> State:
        """Whether it is met, almost, open or none."""
        return EVIDENCE_RULES[self.code][0]

    @property
    def rule(self) -> str:
        """The rule as it is written."""
        return EVIDENCE_RULES[self.code][1]


@dataclass(frozen=True, slots=True)
class Readiness:
    """Where somebody stands with one criterion.

    Parameters
    ----------
    criterion : str
        Its number.
    code : str
        The rule that decided, one of :data:`READY_RULES`.
    evidence : tuple of Evidence
        What it rests on, in the order in which the criterion names it.
    """

    criterion: str
    code: str
    evidence: tuple[Evidence, ...]

    @property
    def verdict(self) -> str:
        """One of :data:`READINESS`."""
        return READY_RULES[self.code][0]

    @property
    def rule(self) -> str:
        """The rule as it is written."""
        return READY_RULES[self.code][1]


def criteria_of(course: Course, titles: Mapping[str, str]) -> tuple[Criterion, ...]:
    """Return the criteria of a course; where it names none, each module is one, and practical work the last.

    Parameters
    ----------
    course : Course
        The course.
    titles : mapping of str to str
        Title of each module that was given out, in their order.
    """
    if course.criteria:
        return course.criteria
    own = [
        Criterion(number=str(number), text=title, modules=(name,))
        for number, (name, title) in enumerate(titles.items(), start=1)
    ]
    return (*own, Criterion(number=str(len(own) + 1), text="Practical work, watched and signed off", steps=("any",)))


def judge(
    criterion: Criterion,
    results: Mapping[str, Result],
    signed: Mapping[str, SignOff],
    sheets: Iterable[str] = (),
    unsupervised: Container[str] = (),
) -> Readiness:
    """Judge one apprentice by one criterion.

    Parameters
    ----------
    criterion : Criterion
        What it asks for.
    results : mapping of str to Result
        Their results, by module.
    signed : mapping of str to SignOff
        What practical work of theirs shows, by checklist.
    sheets : iterable of str
        Checklists that count where the criterion says ``"any"``; those of ``signed`` by default.
    unsupervised : container of str
        Modules of which a pass counts without a session record, too (:func:`unsupervised_of`).

    Examples
    --------
    >>> found = judge(Criterion(number="1.1", text="Knows the units", modules=("torque-units",)), {}, {})
    >>> found.verdict, found.rule, found.evidence[0].rule
    ('no evidence', 'There is no evidence at all.', 'Nothing of the module was handed in.')
    """
    evidence = [
        Evidence("module", name, of_module(results.get(name), supervised=name not in unsupervised))
        for name in criterion.modules
    ]
    for named in criterion.steps:
        sheet, _, step = named.partition(":")
        if sheet == "any":
            evidence.append(_any_sheet(signed, sheets))
        elif step:
            evidence.append(Evidence("step", named, _of_step(signed.get(sheet), step)))
        else:
            evidence.append(Evidence("sheet", sheet, _of_sheet(signed.get(sheet))))
    return Readiness(criterion.number, _code(evidence), tuple(evidence))


def _code(evidence: Sequence[Evidence]) -> str:
    states = [EVIDENCE_RULES[piece.code][0] for piece in evidence]
    missing = states.count("none")
    if missing == len(states):
        return "C1"
    if states.count("met") == len(states):
        return "C2"
    return "C4" if "open" in states or missing + states.count("almost") > 1 else "C3"


def unsupervised_of(course: Course) -> frozenset[str]:
    """Return the modules of a course of which a pass counts without a session record, too.

    Only where ``course.toml`` says so: a course that says nothing keeps the rule it was made under.
    """
    return frozenset(entry.name for entry in course.modules if entry.supervised is False)


def of_module(result: Result | None, *, supervised: bool = True) -> str:
    """Return the rule by which a module's result counts as evidence.

    Parameters
    ----------
    result : Result or None
        What was reached.
    supervised : bool
        Whether a pass counts only with a session record behind it.

    Examples
    --------
    >>> of_module(None)
    'M6'
    """
    if result is None or (result.state == "missing" and not result.points):
        return "M6"
    # Before all that waits: whatever comes of it, the error stands.
    if result.critical and result.spoken != "waiting":
        return "M4"
    if result.state == "to mark" or result.verdict == "waiting":
        return "M7" if result.spoken == "waiting" else "M3"
    if result.critical:
        return "M4"
    if result.verdict != "passed":
        return "M5"
    return "M1" if result.watched else "M2" if supervised else "M8"


def _of_step(signed: SignOff | None, step: str) -> str:
    outcome = signed.outcome(step) if signed is not None else ""
    if signed is None or not outcome:
        return "S6"
    if outcome != "unprompted":
        return "S3" if outcome == "prompted" else "S4"
    return "S2" if signed.same_person else "S1"


def _of_sheet(signed: SignOff | None) -> str:
    if signed is None:
        return "S6"
    if not signed.competence.competent:
        return "S5"
    return "S2" if signed.same_person else "S1"


def _any_sheet(signed: Mapping[str, SignOff], sheets: Iterable[str]) -> Evidence:
    """Return the best of all checklists: a competent one before one that is not yet."""
    order = ("S1", "S2", "S5", "S6")
    names = list(sheets) or list(signed)
    found = [(order.index(_of_sheet(signed.get(name))), place, name) for place, name in enumerate(names)]
    if not found:
        return Evidence("sheet", "any", "S6")
    rank, _, name = min(found)
    return Evidence("sheet", name, order[rank])


def forward(standing: Sequence[Readiness], signed: Mapping[str, SignOff], waiting: int = 0) -> tuple[bool, str]:
    """Tell whether somebody may be put forward, and the written reason.

    Parameters
    ----------
    standing : sequence of Readiness
        Where they stand with every criterion.
    signed : mapping of str to SignOff
        What practical work of theirs shows, by checklist.
    waiting : int
        How many matters of theirs wait for a decision.

    Examples
    --------
    >>> forward([Readiness("1", "C2", ())], {})
    (False, 'No practical work is signed off as competent by somebody else than the trainer.')
    """
    short = [each.criterion for each in standing if each.verdict != "ready"]
    if not standing or short:
        return False, f"Not ready: {', '.join(short) or 'there are no criteria'}."
    if not any(each.competence.competent and not each.same_person for each in signed.values()):
        return False, "No practical work is signed off as competent by somebody else than the trainer."
    if waiting:
        return False, f"{counted(waiting, 'matter waits', 'matters wait')} for a decision."
    return True, "Every criterion is ready, practical work is signed off, and nothing waits for a decision."
