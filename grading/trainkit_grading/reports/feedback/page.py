"""One page of feedback: put together from marks, gradebook and blueprint, and rendered as self-contained HTML.

Nothing in it asks anything of any server, and no script is needed; the policy in its head forbids both. The same
marks always give the same bytes.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from trainkit import figures, journal
from trainkit.errors import FormError
from trainkit.items import scenarios
from trainkit.items.hints import discussed
from trainkit.items.kinds import ActionsItem, ObservedItem
from trainkit.widgets.compared import compared
from trainkit.widgets.paper import paragraphs, task
from trainkit_grading.errors import CourseError
from trainkit_grading.forms import generation
from trainkit_grading.ledger.book import Ledger
from trainkit_grading.ledger.kinds import Marked
from trainkit_grading.marking.score import Scorer
from trainkit_grading.nbgrader_bridge import gradebook
from trainkit_grading.reports.feedback import words
from trainkit_grading.reports.feedback.answers import right_answer
from trainkit_grading.reports.feedback.practice import Lost, Practice, next_practice
from trainkit_grading.results.proof import prove
from trainkit_grading.results.results import Results, gather
from trainkit_grading.signoff import filling
from trainkit_grading.support.jinja import template
from trainkit_grading.support.markup import said

if TYPE_CHECKING:
    from trainkit.items.kinds import Item, Key, Response
    from trainkit.packs import Pack
    from trainkit_grading.course.folder import Course, CourseModule
    from trainkit_grading.ledger.kinds import Observed
    from trainkit_grading.nbgrader_bridge.gradebook import GradeRow, SubmissionRow
    from trainkit_grading.record.marked_submission import MarkedItem, MarkedSubmission
    from trainkit_grading.results.results import Result


# What can be chosen at the bench stands in the answer already.
_SHOW_AGAIN = ("Practise under supervision what was prompted, left out or stopped. Then show the work again.",)
_SERIAL = re.compile(r"\btkf-(?=[0-9a-f]{10}-[td]\b)")


@dataclass(frozen=True, slots=True)
class Answered:
    """One item as the page shows it; everything is plain text but ``picture``, which the renderer drew.

    ``told`` is what the answer shows and the cure, ``right`` and ``working`` are empty unless answers are revealed;
    ``comment`` is what a person wrote beside it.
    """

    id: str
    state: str
    word: str
    unsafe: bool
    critical: bool
    prompt: tuple[str, ...]
    given: tuple[tuple[str, str], ...]
    picture: str
    task: str
    choices: tuple[str, ...]
    answer: tuple[str, ...]
    told: tuple[str, ...]
    points: str
    rule: str
    right: tuple[str, ...] = ()
    working: tuple[str, ...] = ()
    comment: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FeedbackPage:
    """Everything that one page says; ``proven`` tells whether its marks are, ``written`` when their entry was."""

    course: str
    module: str
    result: Result
    cut_score: float
    pack: Pack
    answers: bool
    items: tuple[Answered, ...]
    practice: tuple[Practice, ...]
    proven: bool = True
    written: str = ""

    @property
    def unsafe(self) -> tuple[Answered, ...]:
        """Answers that could injure a person or damage the engine."""
        return tuple(item for item in self.items if item.unsafe)

    @property
    def missed(self) -> tuple[Answered, ...]:
        """What else was not right."""
        return tuple(item for item in self.items if not item.unsafe and item.state not in ("right", "waiting"))

    @property
    def waiting(self) -> tuple[Answered, ...]:
        """What a person still marks."""
        return tuple(item for item in self.items if not item.unsafe and item.state == "waiting")

    @property
    def right(self) -> tuple[Answered, ...]:
        """What was right."""
        return tuple(item for item in self.items if not item.unsafe and item.state == "right")


class Pages:
    """The pages of a course; what they share is read once.

    Parameters
    ----------
    course : Course
        The course folder.
    results : Results, optional
        What the course has come to, where it is known already.
    clock : callable, optional
        Returns the time with its time zone; it decides whether a module is past due.

    Raises
    ------
    CourseError
        If the roster cannot be read.
    """

    def __init__(
        self, course: Course, results: Results | None = None, clock: Callable[[], datetime] = journal.now
    ) -> None:
        self.course = course
        self.results = gather(course) if results is None else results
        self.proof = prove(course, clock=clock)
        self.now = clock()
        self._modules: dict[str, _Module] = {}

    def sheet(self, module: str, apprentice: str) -> FeedbackPage:
        """Put one apprentice's marks together.

        Raises
        ------
        CourseError
            If the latest hand-in has not been marked, or there is none.
        """
        result = next((r for r in self.results.rows if (r.apprentice, r.module) == (apprentice, module)), None)
        if result is None or result.state != "handed in":
            missing = result is not None and result.state == "missing"
            raise CourseError(
                apprentice,
                place=module,
                rule="Nothing was handed in." if missing else "The marks of the latest hand-in are not there.",
                remedy="Collect it first." if missing else f"Run: trainkit-course mark {module}",
            )
        if module not in self._modules:
            self._modules[module] = _Module(self.course, self.course.module(module))
        made = self._modules[module].sheet(self.course, result, self.now)
        return replace(made, proven=self.proof.of(apprentice, module))

    def page(self, module: str, apprentice: str) -> str:
        """Return one page; errors as for :meth:`sheet`."""
        return html_text(self.sheet(module, apprentice))


class _Module:
    """What all pages of a module share."""

    def __init__(self, course: Course, entry: CourseModule) -> None:
        self.entry = entry
        self.workbook = course.workbook(entry)
        self.pack = course.pack(entry)
        self.rows = gradebook.read(course, entry.name)
        self._comments = gradebook.comments(course, entry.name)
        self._scorer = Scorer(course, entry.name)
        with gradebook.opened(course) as engine, engine.begin() as connection:
            ledger = Ledger(connection, course.seed())
            shown = ledger.shown(entry.name)
            entries = ledger.read(Marked, shown.values())
            self._seen = filling.seen(ledger, entry.name)
        # The marks that stand, of the attempt that counts: the same that the gradebook and the report show.
        self._shown = {apprentice: entries[number] for apprentice, number in shown.items()}

    def sheet(self, course: Course, result: Result, now: datetime) -> FeedbackPage:
        scored = self._scorer.restore(self._shown[result.apprentice])
        row = self.rows[result.apprentice]
        answers = words.reveals_answers(course, self.entry, scored.attempt, now)
        # Without leave to tell the answers, the keys are not even read.
        keys = _keys(course, scored) if answers else {}
        comments = self._comments.get(result.apprentice, {})
        items = tuple(
            _answered(
                marked,
                row.grades[marked.id],
                result,
                keys.get(marked.id),
                comments.get(marked.id, ""),
                self._seen.get((result.apprentice, scored.attempt, marked.id)),
            )
            for marked in scored.items
        )
        return FeedbackPage(
            course.title,
            self.workbook.blueprint.title,
            result,
            self.workbook.blueprint.cut_score,
            self.pack,
            answers,
            items,
            next_practice(self.workbook, _losses(scored, row, items)),
            written=self._shown[result.apprentice].at[:16].replace("T", " "),
        )


def _keys(course: Course, scored: MarkedSubmission) -> Mapping[str, Key]:
    path = course.key_file(scored.module, scored.attempt)
    keys = generation.open_keys(path)
    if keys is None or scored.form not in keys.codes:
        raise CourseError(str(path), rule="The keys of this form are not there.", remedy="Fetch keys/ from a backup.")
    return keys.read(scored.form).keys


def _losses(scored: MarkedSubmission, row: SubmissionRow, items: tuple[Answered, ...]) -> list[Lost]:
    return [
        Lost(
            marked.id,
            marked.template,
            max(0.0, row.grades[marked.id].max_score - row.grades[marked.id].score),
            marked.mark.misconception is not None,
            answered.unsafe,
        )
        for marked, answered in zip(scored.items, items, strict=True)
        if answered.state not in ("right", "waiting")
    ]


def _answered(
    marked: MarkedItem,
    grade: GradeRow,
    result: Result,
    key: Key | None,
    comment: str = "",
    seen: Observed | None = None,
) -> Answered:
    """Return an item as it is shown; without a key neither the right answer nor its working can be told.

    What is unsafe, and what bars a pass, is what ``result`` says.

    Of practical work, what was ``seen`` stands in the place of the answer.
    """
    item, state = marked.item, words.verdict(marked.mark, grade)
    to_do, choices = task(item)
    missed = state not in ("right", "waiting")
    watched = filling.became(seen, item) if seen is not None and isinstance(item, ObservedItem) else ()
    return Answered(
        id=marked.id,
        state=state,
        word=words.word(state),
        unsafe=marked.id in result.unsafe,
        critical=marked.id in result.critical,
        prompt=tuple(paragraphs(item.prompt)),
        given=tuple((line.label, line.value) for line in item.given),
        picture=both_answers(item, key, marked.response, marked.id)
        if key is not None and missed
        else drawn_picture(item, marked.id),
        task=to_do,
        choices=() if isinstance(item, ActionsItem) else tuple(choices),
        answer=watched or said(item, marked.response),
        told=() if state == "right" else _SHOW_AGAIN if watched else words.told(marked.mark, answers=key is not None),
        points=words.points(grade, state),
        rule=words.rule(item.kind, grade),
        right=right_answer(item, key) if key is not None and missed else (),
        working=discussed(item, key) if key is not None and missed else (),
        comment=tuple(comment.splitlines()),
    )


def drawn_picture(item: Item, name: str) -> str:
    """Return the picture of an item, with identifiers of its own: two items may show the same one.

    Of a played scenario it is what the eye saw first.
    """
    figure = scenarios.begin(item.model, item.scene).view if isinstance(item, ActionsItem) else item.figure
    if figure is None:
        return ""
    try:
        return _SERIAL.sub(f"tkf-{name}-", figures.draw(figure, styled=False))
    except FormError:
        return ""  # the words of the question stand without it


def both_answers(item: Item, key: Key, given: Response | None, name: str) -> str:
    """Return the picture with the answer that was given and the right one, if it was asked on a picture."""
    drawn = drawn_picture(item, name)
    both = compared(item, key, given, drawn)
    # A hand that was set has a scale of its own; what it was read from stays above it.
    return both if item.kind == "point" else drawn + _SERIAL.sub(f"tkf-{name}-both-", both)


def html_text(sheet: FeedbackPage) -> str:
    """Return a sheet as one self-contained page."""
    return template("reports/feedback/feedback.html.j2").render(
        sheet=sheet, sign=figures.warning_sign(24), figure_css=figures.CSS
    )
