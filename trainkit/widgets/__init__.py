"""Controls for questions: a thin skin in the browser over state that needs no Jupyter to be tested.

=======================  ==================================================================================
:mod:`.state`            what is shown, and what each message of the screen leads to
:mod:`.hearing`      answers to messages of the screen, and refusals
:mod:`.assessed`         a question of the assessment: it records and tells no verdict
:mod:`.practised`        practice: endless, explained at once, nothing recorded
:mod:`.completed`        a half-worked example: its working is begun, the apprentice does the rest
:mod:`.warming`          the warm-up: every control is tried out, nothing is recorded
:mod:`.kinds`            how each kind of answer is asked, understood and told, and what is tried out with its control
:mod:`.printed`          the summary card, which prints alone
:mod:`.understanding`    how what was entered is understood before it is recorded
:mod:`.benchplay`        a scenario played one action at a time
:mod:`.watched`          practical work, which a person watches and nobody answers here
:mod:`.finishing`        what is answered, what is not, and the hand-in
:mod:`.kernel_messages`  what the page round the workbook is told: whose it is, how far it is
:mod:`.paper`            questions and answers as words and as static HTML
:mod:`.instruments`      things to move freely, in the explanation part
:mod:`.movable`          an instrument on the screen
:mod:`.control`          the control itself; its browser part is written in ``browser/``
=======================  ==================================================================================
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit.doors import lazily

# The control needs ipywidgets, which costs time; whoever prints a question does not need it.
if TYPE_CHECKING:
    from trainkit.widgets.assessed import Assessed
    from trainkit.widgets.control import Control
    from trainkit.widgets.finishing import Finishing
    from trainkit.widgets.instruments import Instrument
    from trainkit.widgets.movable import Movable
    from trainkit.widgets.paper import answer_words
    from trainkit.widgets.practised import Practised
    from trainkit.widgets.state import QuestionState
    from trainkit.widgets.understanding import Understood, fit, understood
    from trainkit.widgets.watched import Watched
else:
    __getattr__, __dir__ = lazily(
        __name__,
        assessed=("Assessed",),
        control=("Control",),
        finishing=("Finishing",),
        instruments=("Instrument",),
        movable=("Movable",),
        paper=("answer_words",),
        practised=("Practised",),
        state=("QuestionState",),
        understanding=("Understood", "fit", "understood"),
        watched=("Watched",),
    )

__all__ = [
    "Assessed",
    "Control",
    "Finishing",
    "Instrument",
    "Movable",
    "Practised",
    "QuestionState",
    "Understood",
    "Watched",
    "answer_words",
    "fit",
    "understood",
]
