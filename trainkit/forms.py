"""Forms as they are released, and the identity that picks one.

``forms.json`` lies beside the notebook. It holds items only: no key, no seed, no template. ``identity.json`` comes
with a course zip and says whose folder this is; on a hub the hub says it.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, SerializerFunctionWrapHandler, ValidationError, model_serializer

from trainkit.errors import FormError
from trainkit.items.kinds import Item
from trainkit.sentences import NEWER, newer_format

__all__ = ["FORMS_FILE", "IDENTITY_FILE", "Form", "FormDates", "FormItem", "Forms", "Identity", "person_digest"]

FORMS_FILE = "forms.json"
IDENTITY_FILE = "identity.json"
NO_DUE = "none"


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class _Beside(_Entry):
    """What stands in a file of its own beside the notebook."""

    _file: ClassVar[str]

    @classmethod
    def read(cls, folder: Path) -> Self | None:
        """Read the file in ``folder``, or return None where there is none.

        Raises
        ------
        FormError
            If it is there but cannot be used.
        """
        data = _read_json(folder / cls._file)
        if data is None:
            return None
        try:
            # Lists stand for tuples in JSON, which the strict values inside would refuse.
            return cls.model_validate(data, strict=False)
        except ValidationError as error:
            errors = error.errors(include_url=False)
            if newer := newer_format(errors):
                raise FormError(cls._file, rule=newer, remedy=NEWER) from None
            first = errors[0]
            raise FormError(
                ".".join(str(part) for part in first["loc"]) or cls._file,
                place=cls._file,
                rule=f"The file is not well formed ({first['msg']}).",
                remedy="Fetch the module again.",
            ) from None

    def write(self, folder: Path) -> Path:
        """Write the file into ``folder`` and return its path."""
        path = folder / self._file
        path.write_text(self.model_dump_json(indent=1) + "\n", "utf-8")
        return path


class FormItem(_Entry):
    """One item of a form under its identifier, as the notebook asks for it."""

    id: str
    item: Annotated[Item, Field(discriminator="kind")]


class Form(_Entry):
    """One apprentice's form: its code, which is printed and recorded, and its items in order."""

    code: str
    items: tuple[FormItem, ...]

    def item(self, name: str) -> Item:
        """Return the item with this identifier.

        Raises
        ------
        FormError
            If the form has none.
        """
        for entry in self.items:
            if entry.id == name:
                return entry.item
        raise FormError(
            name,
            rule=f"Form {self.code} has the items {', '.join(entry.id for entry in self.items)}.",
            remedy="Fetch the module again.",
        )


class FormDates(_Entry):
    """What is different for one form: until when it is due (ISO date and time, or ``"none"``), and extra time."""

    due: str = ""
    extra_percent: Annotated[float, Field(ge=0)] = 0.0


class Forms(_Beside):
    """All forms in one release: of one apprentice in a zip, of the whole course on a shared disk.

    ``people`` maps :func:`person_digest` of each apprentice to the code of their form, so that the file names
    nobody. ``dates`` has what is different for a form, by its code; on a shared disk, where anybody may read it, that
    is never anybody's extra time.
    """

    _file = FORMS_FILE
    format: Literal[1] = 1
    course: str
    module: str
    title: str
    pack: str
    pack_digest: str
    attempt: Annotated[int, Field(ge=1)]
    due: str = ""  # ISO date and time, or empty
    forms: tuple[Form, ...]
    people: dict[str, str]
    dates: dict[str, FormDates] = Field(default_factory=dict)

    @model_serializer(mode="wrap")
    def _plainly(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        # Where everybody has the same dates, the file says nothing of them.
        said: dict[str, Any] = handler(self)
        return said if self.dates else {name: value for name, value in said.items() if name != "dates"}

    def due_of(self, code: str) -> str:
        """Return until when a form is due: ISO date and time, or nothing."""
        own = self.dates[code].due if code in self.dates else ""
        return "" if own == NO_DUE else own or self.due

    def extra_of(self, code: str) -> float:
        """Return the extra time of a form in per cent, as far as this copy tells it."""
        return self.dates[code].extra_percent if code in self.dates else 0.0

    def of(self, apprentice: str) -> Form:
        """Return the form of an apprentice.

        Raises
        ------
        FormError
            If this release holds no form for them.
        """
        code = self.people.get(person_digest(self.course, apprentice))
        for form in self.forms:
            if form.code == code:
                return form
        raise FormError(
            apprentice,
            rule=f"This copy of {self.title} holds no form for this name.",
            remedy="Ask the instructor for your own copy.",
        )


class Identity(_Beside):
    """Whose folder this is: the course, the apprentice's identifier and name, and a personal code."""

    _file = IDENTITY_FILE
    format: Literal[1] = 1
    course: str
    apprentice: Annotated[str, Field(min_length=1, max_length=80)]
    name: str
    code: str


def person_digest(course: str, apprentice: str) -> str:
    """Return what stands for an apprentice in a file that goes to everybody.

    Examples
    --------
    >>> len(person_digest("saltmere", "amir"))
    20
    """
    return hashlib.sha256(f"{course}\n{apprentice}".encode()).hexdigest()[:20]


def _read_json(path: Path) -> Any:
    try:
        return json.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, ValueError, RecursionError) as error:
        raise FormError(
            path.name, rule=f"The file cannot be read ({error}).", remedy="Fetch the module again."
        ) from None
