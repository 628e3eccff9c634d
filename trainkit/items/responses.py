"""What an apprentice gives: one read-only value for each kind of response, and how it is read.

A response comes out of a file that somebody else wrote. It is read strictly: unknown keys, wrong types, absurd
sizes and non-finite numbers are refused with a reason, and nothing in it is ever executed or rendered as markup.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, TypeAdapter, ValidationError

from trainkit.errors import ResponseError
from trainkit.items.kinds import *  # noqa: F403 - so that a kind's types are found here without a list of them
from trainkit.items.kinds import Response

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
