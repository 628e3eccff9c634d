"""What is right: one read-only value for each kind of key, and how it is read.

A key says what counts as right, what each recognised wrong answer shows, and how the answer comes about
(``working``). Keys are drawn and kept on the course side; in practice, which counts for nothing, they are drawn on
the apprentice's own machine.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, TypeAdapter

from trainkit.items.kinds import *  # noqa: F403 - so that a kind's types are found here without a list of them
from trainkit.items.kinds import Key

_ADAPTER: TypeAdapter[Key] = TypeAdapter(Annotated[Key, Field(discriminator="kind")])


def read_key(data: object) -> Key:
    """Read a key out of plain JSON data that the course side wrote itself.

    Raises
    ------
    pydantic.ValidationError
        If it is not well formed: keys are our own files, so this is a fault, not bad input.
    """
    return _ADAPTER.validate_python(data, strict=False)
