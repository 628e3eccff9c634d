"""What an apprentice gives: one read-only value for each kind of response.

A response comes out of a file that somebody else wrote. It is read strictly: unknown keys, wrong types, absurd
sizes and non-finite numbers are refused with a reason, and nothing in it is ever executed or rendered as markup.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from trainkit.errors import ResponseError

__all__ = [
    "ActionsResponse",
    "ChoiceResponse",
    "GridResponse",
    "InsertResponse",
    "NumberResponse",
    "ObservedResponse",
    "OrderResponse",
    "PointResponse",
    "Response",
    "SetResponse",
    "SeveralResponse",
    "TextResponse",
    "read_response",
]

Token = Annotated[str, Field(min_length=1, max_length=40)]


class Value(BaseModel):
    """A read-only value that refuses keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class NumberResponse(Value):
    """A number as it was typed, and the unit that was picked beside it.

    ``text`` may hold a unit of its own (``"31 lbf·ft"``); it then goes before the picked one.
    """

    kind: Literal["number"] = "number"
    text: Annotated[str, Field(min_length=1, max_length=60)]
    unit: Annotated[str, Field(max_length=20)] = ""


class ChoiceResponse(Value):
    """One option out of those offered, by its identifier."""

    kind: Literal["choice"] = "choice"
    option: Token


class OrderResponse(Value):
    """All cards, by their identifiers, first to last."""

    kind: Literal["order"] = "order"
    cards: Annotated[tuple[Token, ...], Field(min_length=1, max_length=8)]


class SeveralResponse(Value):
    """Any number of the options offered, by their identifiers; the order says nothing."""

    kind: Literal["several"] = "several"
    options: Annotated[tuple[Token, ...], Field(max_length=12)]


class InsertResponse(Value):
    """Where the missing card goes: before the written card with this number, counted from 0; at the end for all."""

    kind: Literal["insert"] = "insert"
    place: Annotated[int, Field(ge=0, le=12)]


class GridResponse(Value):
    """For each row, by its identifier, the column it was put into."""

    kind: Literal["grid"] = "grid"
    rows: Annotated[dict[Token, Token], Field(max_length=12)]


class PointResponse(Value):
    """One place on a picture, by its identifier."""

    kind: Literal["point"] = "point"
    target: Token


class SetResponse(Value):
    """A hand or a scale as it was set, in the unit of the item's scale."""

    kind: Literal["set"] = "set"
    value: Annotated[float, Field(ge=-1e6, le=1e6)]


class TextResponse(Value):
    """A text in the apprentice's own words; a person marks it."""

    kind: Literal["text"] = "text"
    text: Annotated[str, Field(min_length=1, max_length=4000)]


class ObservedResponse(Value):
    """Practical work as it was observed, step by step, by the person named."""

    kind: Literal["observed"] = "observed"
    steps: Annotated[
        dict[Token, Literal["unprompted", "prompted", "not done", "stopped for safety"]], Field(max_length=60)
    ]
    observer: Annotated[str, Field(min_length=1, max_length=80)]


class ActionsResponse(Value):
    """A scenario as it was played: the actions in turn, and whether it was given up."""

    kind: Literal["actions"] = "actions"
    actions: Annotated[tuple[Token, ...], Field(max_length=200)]
    gave_up: bool = False


Response = (
    NumberResponse
    | ChoiceResponse
    | SeveralResponse
    | OrderResponse
    | InsertResponse
    | GridResponse
    | PointResponse
    | SetResponse
    | ActionsResponse
    | TextResponse
    | ObservedResponse
)
_ADAPTER: TypeAdapter[Response] = TypeAdapter(Annotated[Response, Field(discriminator="kind")])


def read_response(data: object) -> Response:
    """Read a response strictly out of plain JSON data.

    Parameters
    ----------
    data : object
        What ``json.loads`` made of the journal's ``response``.

    Returns
    -------
    Response
        One of the response values of this module.

    Raises
    ------
    ResponseError
        If it is not well formed; the rule names the first few places.

    Examples
    --------
    >>> read_response({"kind": "choice", "option": "b"})
    ChoiceResponse(kind='choice', option='b')
    """
    try:
        # Lists stand for tuples in JSON, so the JSON rules apply, not those of Python values.
        return _ADAPTER.validate_json(_as_json(data))
    except ValidationError as error:
        places = "; ".join(
            f"{'.'.join(str(part) for part in found['loc']) or 'answer'}: {found['msg']}"
            for found in error.errors(include_url=False, include_input=False)[:3]
        )
        raise ResponseError(
            _short(data),
            rule=f"An answer has one of the known shapes ({places}).",
            remedy="Give the answer again.",
        ) from None


def _as_json(data: object) -> bytes:
    import json

    try:
        return json.dumps(data, allow_nan=False).encode("utf-8", "strict")
    except (TypeError, ValueError, RecursionError):
        raise ResponseError(
            _short(data),
            rule="An answer is plain JSON data with finite numbers.",
            remedy="Give the answer again.",
        ) from None


def _short(data: object) -> str:
    try:
        text = repr(data)
    except RecursionError:
        return "deeply nested data"
    return text if len(text) <= 80 else text[:79] + "…"
