"""What the pictures have in common: the end they are seen from, clock positions, and how data is checked."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Annotated, Any, Literal, TypeVar

from pydantic import Field, ValidationError

from trainkit import gears
from trainkit.errors import FormError
from trainkit.items.kinds import Value

End = Literal["front", "flywheel"]
Sense = Literal["clockwise", "anticlockwise"]
Name = Annotated[str, Field(max_length=80)]
# A clock position, "2:10".
At = Annotated[str, Field(pattern=r"^(1[0-2]|[0-9]):[0-5][0-9]$")]

V = TypeVar("V", bound=Value)


def seen(end: str) -> str:
    """Return the viewpoint in words.

    Examples
    --------
    >>> seen("flywheel")
    'seen from the flywheel end'
    """
    return "seen from the front" if end == "front" else "seen from the flywheel end"


@lru_cache(maxsize=1024)  # there are 780 ways to write one, and a picture reads each of its marks several times
def degrees(at: str) -> float:
    """Return a clock position as degrees clockwise from twelve.

    Examples
    --------
    >>> degrees("9:00")
    270.0
    """
    return float(gears.Clock.parse(at).degrees)


def checked(kind: type[V], data: Mapping[str, Any]) -> V:
    """Read the data of a picture.

    Raises
    ------
    FormError
        If it is not well formed.
    """
    try:
        # Lists stand for tuples in data that comes out of JSON.
        return kind.model_validate(dict(data), strict=False)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        raise FormError(
            ".".join(str(part) for part in first["loc"]) or "picture",
            rule=f"The data of a picture is well formed ({first['msg']}).",
            remedy="Fetch the module again.",
        ) from None
