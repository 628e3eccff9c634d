"""What is shown: one read-only value for each kind of item, and how it is read.

An item holds what the screen or the page shows and nothing else. Its template, its parameters and everything that
tells right from wrong live in the key, which never leaves the course side. Text is plain: paragraphs are separated
by an empty line, and no markup is interpreted anywhere.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, TypeAdapter, ValidationError

from trainkit.errors import FormError
from trainkit.items.kinds import *  # noqa: F403 - so that a kind's types are found here without a list of them
from trainkit.items.kinds import Item

_ADAPTER: TypeAdapter[Item] = TypeAdapter(Annotated[Item, Field(discriminator="kind")])


def read_item(data: object) -> Item:
    """Read an item out of plain JSON data.

    Raises
    ------
    FormError
        If it is not well formed.

    Examples
    --------
    >>> item = ChoiceItem(prompt="Which way?", options=(Option(id="a", text="on"), Option(id="b", text="back")))
    >>> read_item(item.model_dump(mode="json")) == item
    True
    """
    try:
        return _ADAPTER.validate_python(data, strict=False)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        raise FormError(
            ".".join(str(part) for part in first["loc"]),
            rule=f"A form holds well-formed items ({first['msg']}).",
            remedy="Fetch the module again, or build it again on the course side.",
        ) from None
