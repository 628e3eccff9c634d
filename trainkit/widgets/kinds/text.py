"""An answer in the apprentice's own words."""

from __future__ import annotations

from trainkit.errors import ResponseError
from trainkit.items.kinds.text import TextItem, TextKey, TextResponse
from trainkit.widgets.kinds.look import Exercise, Look


def _fit(item: TextItem, response: TextResponse) -> TextResponse:
    if not 0 < len(response.text.strip()) <= len(response.text) <= item.limit:
        raise ResponseError(
            response.text, rule=f"A text has 1 to {item.limit} characters.", remedy="Write it within these."
        )
    return response


LOOK: Look[TextItem, TextKey, TextResponse] = Look(
    "text",
    task=lambda item: (f"Write at most {item.limit} characters. A person reads them.", ()),
    words=lambda _, response: response.text,
    said=lambda _, response, __: tuple(response.text.splitlines()),
    right=lambda _, key: tuple(line.looks_for for line in key.rubric),
    worked=lambda _, __: (),  # the rubric says it
    control=lambda item: {"limit": item.limit},
    fit=_fit,
    exercise=lambda _: Exercise(
        "words of your own",
        TextItem(prompt="Write a few words, any you like.", limit=120),
        mouse="Click the box and write.",
        finger="Tap the box and write.",
        keys="Tab goes to the box. Tab again leaves it, as Enter begins a new line there.",
        done=lambda given: isinstance(given, TextResponse),
    ),
)
