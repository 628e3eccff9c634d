"""A hand or a scale that is set."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainkit import quantities
from trainkit.errors import ResponseError
from trainkit.gears import Clock
from trainkit.items.kinds.setting import Scale, SetItem, SetKey, SetResponse
from trainkit.widgets.kinds.look import Exercise, Look, drawn

if TYPE_CHECKING:
    from trainkit.items.kinds import Item


def clock(hours: float) -> str:
    """Return the position of a clock's hand as people tell it.

    Examples
    --------
    >>> clock(2.75), clock(0)
    ('2:45', '12:00')
    """
    return str(Clock.at(hours * 30))


def step_words(scale: Scale) -> str:
    """Return the step of a scale in words."""
    return _measured(scale.step * 60, "minutes") if scale.is_clock else _measured(scale.step, scale.unit)


def _measured(value: float, unit: str) -> str:
    return f"{quantities.plain(value)}{quantities.THIN}{unit}"


def _task(item: SetItem) -> tuple[str, tuple[()]]:
    scale = item.scale
    steps = f"in steps of {step_words(scale)}"
    if scale.is_clock:
        return f"Set the hand of the clock, {steps}.", ()
    return f"Set the scale, from {quantities.plain(scale.low)} to {_measured(scale.high, scale.unit)} {steps}.", ()


def _words(item: SetItem, response: SetResponse) -> str:
    return clock(response.value) if item.scale.is_clock else _measured(response.value, item.scale.unit)


def _said(item: Item, response: SetResponse, _: object) -> tuple[str]:
    return (_words(item, response) if isinstance(item, SetItem) else f"{response.value:g}",)


def _fit(item: SetItem, response: SetResponse) -> SetResponse:
    if not item.scale.low <= response.value <= item.scale.high:
        raise ResponseError(response.value, rule="A setting lies on the scale.", remedy="Set it again.")
    return response


LOOK: Look[SetItem, SetKey, SetResponse] = Look(
    "set",
    task=_task,
    words=_words,
    said=_said,
    right=lambda _, key: (key.shown.rstrip(" ,"),),
    wrong=lambda _, key: ((f"{rule.value:.4g}", rule.misconception, False) for rule in key.rules),
    control=lambda item: {"scale": item.scale.model_dump(mode="json"), "figure": drawn(item)},
    fit=_fit,
    exercise=lambda _: Exercise(
        "a hand to be set",
        SetItem(prompt="Set the hand to 3:00.", scale=Scale(low=0.0, high=12.0, step=0.25, unit="o'clock", round=True)),
        mouse="Click on the face, or drag the hand. − and + move it one step.",
        finger="Tap on the face, or drag the hand. − and + move it one step.",
        keys="Tab goes to the face. The arrows move one step, Page Up one hour. Enter tries it.",
        done=lambda given: given == SetResponse(value=3.0),
    ),
    draws=True,
)
