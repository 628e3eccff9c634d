"""Who works on a copy of a workbook.

That comes from ``identity.json`` beside the notebook, else from the hub, else from the name under which they are logged
in on this computer, if the course knows that name. It is never typed.
"""

from __future__ import annotations

import getpass
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainkit.errors import FormError
from trainkit.forms import Forms, Identity, person_digest

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

__all__ = ["Person", "person"]


@dataclass(frozen=True, slots=True)
class Person:
    """Who works on a workbook: the name the course knows them by, and the name they are called."""

    apprentice: str
    name: str


def person(folder: Path, forms: Forms, environment: Mapping[str, str] | None = None) -> Person:
    """Return who works in a folder.

    Parameters
    ----------
    folder : Path
        The folder of the notebook.
    forms : Forms
        What was released there.
    environment : mapping, optional
        Instead of that of the process.

    Raises
    ------
    FormError
        If it is not known, or the identity belongs to another course.
    """
    environment = os.environ if environment is None else environment
    identity = Identity.read(folder)
    if identity is not None:
        if identity.course != forms.course:
            raise FormError(
                identity.course,
                rule=f"The identity in this folder belongs to the course {identity.course}, not {forms.course}.",
                remedy="Fetch the module again, or ask your instructor for your own copy.",
            )
        return Person(identity.apprentice, identity.name)
    # On a hub the login is the identity; a name that the course does not know is refused later, not passed over.
    user = environment.get("JUPYTERHUB_USER", "")
    if user:
        return Person(user, user)
    try:
        user = getpass.getuser()
    except (OSError, KeyError, ImportError):  # a computer that does not tell, in the ways of different systems
        user = ""
    if user and person_digest(forms.course, user) in forms.people:
        return Person(user, user)
    raise FormError(
        user,
        rule="This copy does not say whose it is, and the course does not know your login name.",
        remedy="Ask your instructor for your own copy; practice works meanwhile.",
    )
