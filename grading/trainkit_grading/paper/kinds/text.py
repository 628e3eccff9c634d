"""An answer in the apprentice's own words: lines to write on."""

from __future__ import annotations

import math
import re

from trainkit.items.kinds import TextItem, TextResponse
from trainkit_grading.paper.kinds.blank import Blank, say

# So many letters of a hand stand on a line that is as wide as the sheet.
_ON_A_LINE = 60


def _html(item: TextItem, _: str) -> str:
    lines = "<i></i>" * math.ceil(item.limit / _ON_A_LINE)
    to_do = say(f"Write at most {item.limit} characters; the lines are enough for that. A person reads them.")
    return f'{to_do}<div class="lines">{lines}</div>'


def _read(_: TextItem, typed: str) -> TextResponse:
    lines = (re.sub(r"[^\S\n]+", " ", line).strip() for line in typed.splitlines())
    return TextResponse(text="\n".join(lines)[:4000])


BLANK: Blank[TextItem, TextResponse] = Blank(
    "text",
    html=_html,
    hint=lambda item: f"the words, at most {item.limit} characters",
    read=_read,
    write=lambda _, response: response.text,
    long="your answer",
)
