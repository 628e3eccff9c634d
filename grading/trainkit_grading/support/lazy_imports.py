"""A library that is slow to load, loaded late and without the part that nothing here uses."""

from __future__ import annotations

import importlib
import sys
from types import ModuleType

# jsonschema, which nbformat checks notebooks with, compiles grammars for addresses in every script while it loads.
# That takes a second or more, and notebooks have no such address; the library is an optional one.
_GRAMMARS = "rfc3987_syntax"


def nbformat() -> ModuleType:
    """Return the module ``nbformat``.

    Examples
    --------
    >>> nbformat().current_nbformat
    4
    """
    if "nbformat" not in sys.modules and _GRAMMARS not in sys.modules:
        sys.modules[_GRAMMARS] = None  # type: ignore[assignment]  # Python's own way to say: not to be found
        try:
            importlib.import_module("jsonschema")
        finally:
            del sys.modules[_GRAMMARS]
    return importlib.import_module("nbformat")
