"""A scenario that is played: a row for each action, answered out of the bench book."""

from __future__ import annotations

from html import escape

from trainkit.items.kinds import ActionsItem, ActionsResponse
from trainkit_grading.paper.bench import read_actions, spelt
from trainkit_grading.paper.kinds.blank import BOX, Blank, lettered, say


def _html(item: ActionsItem, _: str) -> str:
    listed = "".join(f"<li><b>{mark}</b> {escape(text)}</li>" for mark, text in lettered(item.actions))
    rows = "".join(
        f'<li><b>{row}</b><i class="place"></i><i class="place told"></i><i class="note"></i></li>'
        for row in range(1, item.limit + 1)
    )
    return (
        say(
            "Write the letter of one action in the next row. Your invigilator then tells you what eye and hand get, "
            "and writes the number of that sentence beside it. Go on row by row. What is written stands; an action "
            "that cannot be done is struck out and does not count."
        )
        + f'<ul class="actions">{listed}</ul>'
        + '<p class="heads">Row, <b>action</b>, sentence (invigilator), what you noted</p>'
        + f'<ol class="rows">{rows}</ol>'
        + f'<p class="stop">{BOX} <b>STOP</b> I stop here, as it stands.</p>'
    )


BLANK: Blank[ActionsItem, ActionsResponse] = Blank(
    "actions",
    html=_html,
    hint=lambda _: "the rows in turn, letter and sentence number, like C12 F3; STOP at the end if ticked",
    read=read_actions,
    write=spelt,
    fit=lambda _, response: response,  # the bench has proved itself by being played
    long="your actions",
)
