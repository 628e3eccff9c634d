"""Read items, keys and responses out of plain JSON data.

An item holds what the screen or the page shows and nothing else. Its template, its parameters and everything that
tells right from wrong live in the key, which never leaves the course side. Text is plain: paragraphs are separated
by an empty line, and no markup is interpreted anywhere.

A key says what counts as right, what each recognised wrong answer shows, and how the answer comes about
(``working``). Keys are drawn and kept on the course side; in practice, which counts for nothing, they are drawn on
the apprentice's own machine.

A response comes out of a file that somebody else wrote. It is read strictly: unknown keys, wrong types, absurd
sizes and non-finite numbers are refused with a reason, and nothing in it is ever executed or rendered as markup.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, TypeAdapter, ValidationError

from trainkit.errors import FormError, ResponseError
from trainkit.items.kinds import Item, Key, Response

_ITEM: TypeAdapter[Item] = TypeAdapter(Annotated[Item, Field(discriminator="kind")])
_KEY: TypeAdapter[Key] = TypeAdapter(Annotated[Key, Field(discriminator="kind")])
_RESPONSE: TypeAdapter[Response] = TypeAdapter(Annotated[Response, Field(discriminator="kind")])


def read_item(data: object) -> Item:
    """Read an item out of plain JSON data.

    Raises
    ------
    FormError
        If it is not well formed.

    Examples
    --------
    >>> from trainkit.items.kinds import ChoiceItem, Option
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> read_item(item.model_dump(mode="json")) == item
    True
    """
    try:
        return _ITEM.validate_python(data, strict=False)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        raise FormError(
            ".".join(str(part) for part in first["loc"]),
            rule=f"A form holds well-formed items ({first['msg']}).",
            remedy="Fetch the module again, or build it again on the course side.",
        ) from None


def read_key(data: object) -> Key:
    """Read a key out of plain JSON data that the course side wrote itself.

    Raises
    ------
    pydantic.ValidationError
        If it is not well formed: keys are our own files, so this is a fault, not bad input.
    """
    return _KEY.validate_python(data, strict=False)


def read_response(data: object) -> Response:
    """Read a response strictly out of plain JSON data.

    Parameters
    ----------
    data : object
        What ``json.loads`` made of the journal's ``response``.

    Returns
    -------
    Response
        One of the response values of :mod:`trainkit.items.kinds`.

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
        return _RESPONSE.validate_json(_as_json(data))
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
