"""What feedback tells while another attempt is open never gives the right answer away.

What is held, over draws of every template from both packs and over wrong answers of all sorts:

1. **Nothing drawn is told.** The text of a wrong answer is made of sentences that stand in the code (the catalogue of
   misconceptions, the ends of a scenario) and of counts that the points tell as well. Take these away and nothing is
   left. So the text is the same whatever the right answer is. The one thing of the pack that may stand in it: why an
   order would do harm, where the answer is one that would.
2. **The page repeats only what was shown.** In the whole card of an item the right option stands no more often than
   question and answer name it, and no number of the card is the right one unless it stands in the question, the
   picture, the answer given or a sentence of 1. This is looked for in the rendered page, however it was made.

3. **Reading helps nobody who does not think.** Whoever takes, of the options left, the one that has most words in
   common with what is told is right as often as by chance.

What cannot be kept back is not held: that an answer is wrong leaves only one of two; a quarter of the points for a
number says that it is right in another unit; what a misconception is called narrows down what is right.

With ``answers`` the same checks fail, as they must.
"""

from __future__ import annotations

import html
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import pytest

from trainkit import lockpin, packs
from trainkit.errors import ItemError
from trainkit.items.kinds import ChoiceItem, ChoiceKey, ChoiceResponse, Item, Key, Option, Response, SetItem, SetKey
from trainkit.items.kinds.orders import HARMS
from trainkit.items.lock_pin_scenario import _GO_BY
from trainkit.items.marking import UNRECOGNISED, Mark, mark
from trainkit.items.marks import RIGHT
from trainkit.items.misconceptions import MANUAL, all_misconceptions
from trainkit.items.template import find, names
from trainkit.packs import Pack
from trainkit_grading.cli.simulate.ways import WAYS, showing
from trainkit_grading.course import packs as course_packs
from trainkit_grading.nbgrader_bridge.gradebook import GradeRow
from trainkit_grading.record.marked_submission import MarkedItem
from trainkit_grading.reports.feedback import page, words
from trainkit_grading.reports.feedback.answers import right_answer
from trainkit_grading.results.results import Result

DRAWS = 4
PACKS = ("dunlin", "curlew")

_FIXED = sorted(
    {
        MANUAL,
        UNRECOGNISED,
        UNRECOGNISED.removesuffix(MANUAL).strip(),
        HARMS,
        RIGHT,
        _GO_BY,
        "Two things come together here.",
        "You stopped before the component was tight.",
        "The component is not tight yet.",
        "Something that was taken does not belong, and something that belongs was left out.",
        "Something that was taken does not belong.",
        "Something that belongs was left out.",
        "Think what has to be done first, and what waits for this step.",
        *lockpin.OUTCOMES.values(),
        *(text for entry in all_misconceptions().values() for text in (entry.shows, entry.cure, entry.veiled) if text),
    },
    key=len,
    reverse=True,
)
_COUNTS = re.compile(
    r"\d+ of \d+ rows are where they belong\.|(One move|\d+ moves) would put the order right\.|"
    r"(One action|Several actions|\d+ actions) took you further away first\."
)


@dataclass(frozen=True)
class Wrong:
    """A wrong answer to a draw, and its mark."""

    template: str
    item: Item
    key: Key
    response: Response
    mark: Mark


def pack_of(name: str) -> Pack:
    return packs.load(course_packs.find_pack(name))


def wrong_answers(template: str, pack: Pack, seed: str) -> Iterator[Wrong]:
    """Yield wrong answers to one draw: each misconception that it can show, slips and guesses."""
    rng = random.Random(f"{template} {pack.name} {seed}")
    item, key = find(template).draw(rng, pack)
    ways = WAYS[item.kind]
    could = sorted(code for code in all_misconceptions() if code in key.model_dump_json())
    tried = [showing(item, key, code, rng) for code in could]
    tried += [ways.slipped(item, key, rng) for _ in range(3)] + [ways.guessed(item, rng) for _ in range(4)]
    if item.kind in ("choice", "point"):
        shown = item.options if item.kind == "choice" else item.targets
        field = "option" if item.kind == "choice" else "target"
        tried += [type(ways.guessed(item, rng)).model_validate({field: option.id}) for option in shown]
    for response in tried:
        if response is not None and (got := mark(item, key, response)).verdict in ("not yet", "in part"):
            yield Wrong(template, item, key, response, got)


@cache
def drawn(template: str) -> list[Wrong]:
    found: list[Wrong] = []
    for name in PACKS:
        pack = pack_of(name)
        try:
            for number in range(DRAWS):
                found += wrong_answers(template, pack, str(number))
        except ItemError:
            continue  # this engine has nothing of the sort
    return found


MARKED = [name for name in names() if find(name).kind not in ("text", "observed")]


def left_over(told: str, wrong: Wrong) -> str:
    """Return what remains of a text without sentences that stand in the code, counts, and the reason of a harm.

    That a number could not be read is said in words of the answer alone: with another key they are the same.
    """
    if told.startswith("The number could not be read."):
        other = wrong.key.model_copy(update={"answer": 987.6, "tolerance": 0.1, "rules": (), "pairs": ()})
        return "" if mark(wrong.item, other, wrong.response).method == told else told
    if wrong.mark.critical and wrong.item.kind in ("order", "insert"):
        # The longest first: a reason can begin with another one.
        bonds = wrong.key.bonds  # type: ignore[union-attr]  # both kinds of keys have them
        for bond in sorted(bonds, key=lambda each: -len(each.reason)):
            if bond.dangerous:
                told = told.replace(f"{HARMS} {bond.reason}", "")
    for sentence in _FIXED:
        told = told.replace(sentence, "")
    return _COUNTS.sub("", told).strip()


def shown_by(wrong: Wrong, key: Key | None) -> page.Answered:
    """Return an item as a page of feedback shows it."""
    entry = MarkedItem("A1", wrong.item, wrong.response, "", wrong.mark, False, wrong.template)
    grade = GradeRow(wrong.mark.points, None, None, wrong.mark.out_of, False)
    unsafe = ("A1",) if wrong.mark.critical else ()
    result = Result("amir", "Amir", "m", "handed in", "F1", grade.score, grade.max_score, "not yet", unsafe=unsafe)
    return page._answered(entry, grade, result, key)


def card(wrong: Wrong, *, answers: bool) -> str:
    """Return the rendered card of one item as text."""
    answered = shown_by(wrong, wrong.key if answers else None)
    result = Result("amir", "Amir", "m", "handed in", "F", 0.0, 1.0, "not yet")
    sheet = page.FeedbackPage("Course", "Module", result, 60.0, pack_of("dunlin"), answers, (answered,), ())
    article = page.html_text(sheet).partition("<article")[2].partition("</article>")[0]
    # What a screen reader is told of a picture counts too; what draws it, coordinates, does not.
    return html.unescape(re.sub(r"<[^>]*>", " ", article.partition(">")[2]))


def shown_words(wrong: Wrong) -> str:
    """Return everything that was shown or answered, in words."""
    one = shown_by(wrong, None)
    given = [word for pair in one.given for word in pair]
    picture = html.unescape(re.sub(r"<[^>]*>", " ", one.picture))
    return "\n".join([*one.prompt, *given, picture, one.task, *one.choices, *one.answer])


def numbers(text: str) -> list[float]:
    return [float(found.replace(",", ".")) for found in re.findall(r"\d+(?:[.,]\d+)?", text)]


def clock_times(text: str) -> list[float]:
    return [int(hour) % 12 + int(minute) / 60 for hour, minute in re.findall(r"\b(\d{1,2}):(\d\d)\b", text)]


@pytest.mark.parametrize("template", MARKED)
def test_nothing_that_was_drawn_is_told(template: str) -> None:
    found = drawn(template)
    assert found
    for wrong in found:
        told = " ".join(words.told(wrong.mark, answers=False))
        assert left_over(told, wrong) == "", (wrong.mark, told)


@pytest.mark.parametrize("template", MARKED)
def test_the_page_repeats_only_what_was_shown(template: str) -> None:
    fixed = " ".join(_FIXED)
    for wrong in drawn(template)[::3]:
        text, shown = card(wrong, answers=False), shown_words(wrong)
        key = wrong.key
        if key.kind == "choice" or key.kind == "point":
            options = wrong.item.options if key.kind == "choice" else wrong.item.targets  # type: ignore[union-attr]
            for option in options:
                assert text.count(option.text) <= shown.count(option.text) + fixed.count(option.text), option.text
        elif key.kind == "number":
            of_points = (wrong.mark.points, wrong.mark.out_of)
            allowed = [*numbers(shown), *numbers(fixed), *of_points, 1.0]
            near = max(key.tolerance, 1e-9)
            said = [value for value in numbers(text) if abs(value - key.answer) <= near]
            assert all(any(abs(value - known) < 1e-9 for known in allowed) for value in said), (key.shown, text)
        elif isinstance(key, SetKey) and isinstance(wrong.item, SetItem):
            said = [at for at in clock_times(text) if abs((at - key.answer + 6) % 12 - 6) <= key.tolerance]
            assert all(at in clock_times(shown) for at in said), (key.shown, text)
        elif key.kind == "order":
            for text_of_card in key.cards.values():
                assert text.count(text_of_card) == shown.count(text_of_card)


@pytest.mark.parametrize("template", MARKED)
def test_answers_tell_what_is_right(template: str) -> None:
    for wrong in drawn(template)[::4]:
        text = card(wrong, answers=True)
        for line in (*right_answer(wrong.item, wrong.key), *wrong.key.working):
            assert line in text
        right = right_answer(wrong.item, wrong.key)
        if wrong.key.kind == "choice":
            expected = next(o.text for o in wrong.item.options if o.id == wrong.key.right)  # type: ignore[union-attr]
            assert right == (expected,)
            assert mark(wrong.item, wrong.key, ChoiceResponse(option=wrong.key.right)).verdict == "right"


def test_the_check_finds_a_text_that_gives_the_answer_away() -> None:
    """The full reason of many marks does state what is right, and the checks above would say so."""
    caught = {
        template
        for template in MARKED
        for wrong in drawn(template)[:6]
        if left_over(" ".join(words.told(wrong.mark, answers=True)), wrong)
    }
    assert {"tightening/after-history", "tightening/next-bolt", "sequence/put-in-order"} <= caught
    assert len(caught) > len(MARKED) // 3


def test_answers_of_every_sort_that_would_do_harm_say_the_safe_way() -> None:
    met = 0
    for template in MARKED:
        for wrong in drawn(template):
            if wrong.mark.critical:
                met += 1
                told = " ".join(words.told(wrong.mark, answers=False))
                # What was recognised has a cure, or the reason of the harm itself is told.
                assert wrong.mark.misconception is not None or HARMS in told, (template, wrong.mark)
                assert told.endswith(MANUAL)
    assert met > 50


def test_veiled_texts_are_whole_sentences_and_used_for_single_answers_only() -> None:
    veiled = [entry for entry in all_misconceptions().values() if entry.veiled]
    assert len(veiled) >= 10
    for entry in veiled:
        assert entry.veiled.endswith((".", "?"))
        assert entry.method(single=True) == f"{entry.veiled} {MANUAL}"
        assert entry.method() == entry.advice()


def reader(*, answers: bool) -> tuple[int, float, float]:
    """Return how many wrong choices were read, how often the likest other option is right, and how often by chance."""

    def tokens(text: str) -> set[str]:
        return set(re.findall(r"[a-z]{4,}|\d+", text.lower()))

    read, right, chance = 0, 0.0, 0.0
    for template in MARKED:
        for wrong in drawn(template):
            if not isinstance(wrong.item, ChoiceItem) or not isinstance(wrong.key, ChoiceKey):
                continue
            told = tokens(" ".join(words.told(wrong.mark, answers=answers)))
            others = [option for option in wrong.item.options if option != _chosen(wrong)]
            alike = [len(tokens(option.text) & told) for option in others]
            best = [option.id for option, count in zip(others, alike, strict=True) if count == max(alike)]
            read += 1
            right += best.count(wrong.key.right) / len(best)
            chance += 1 / len(others)
    return read, right / read, chance / read


def _chosen(wrong: Wrong) -> Option | None:
    assert isinstance(wrong.item, ChoiceItem)
    assert isinstance(wrong.response, ChoiceResponse)
    return next((option for option in wrong.item.options if option.id == wrong.response.option), None)


def test_reading_what_is_told_helps_nobody_to_the_right_option() -> None:
    read, right, chance = reader(answers=False)
    assert read > 800
    assert right < chance + 0.03
    # The full reasons do help, so the reader is able to find what stands there.
    assert reader(answers=True)[1] > chance + 0.06
