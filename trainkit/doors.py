"""Public names that load when they are first used, so that importing a package stays fast.

A package names them twice, each time module by module: as imports for readers and type checkers, and for Python::

    if TYPE_CHECKING:
        from trainkit.items.reading import read_item, read_key
    else:
        __getattr__, __dir__ = lazily(__name__, reading=("read_item", "read_key"))

To a type checker a name that is not declared is an error, as it is at run time.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable


def lazily(
    package: str, *modules: str, **names: tuple[str, ...]
) -> tuple[Callable[[str], object], Callable[[], list[str]]]:
    """Return the two functions by which a package loads its public names when they are asked for (PEP 562).

    Parameters
    ----------
    package : str
        The package, ``__name__`` where it calls.
    *modules : str
        Modules of the package that are public themselves.
    **names : tuple of str
        For each module of the package, the public names that it holds.

    Returns
    -------
    tuple of callables
        ``__getattr__`` and ``__dir__`` of the package.

    Examples
    --------
    >>> load, listed = lazily("trainkit", "gears", errors=("TrainkitError",))
    >>> load("gears").__name__, load("TrainkitError").__name__
    ('trainkit.gears', 'TrainkitError')
    >>> load("gear")
    Traceback (most recent call last):
    AttributeError: module 'trainkit' has no attribute 'gear'
    """
    homes = {name: module for module, held in names.items() for name in held}

    def load(name: str) -> object:
        if name in homes:
            return getattr(importlib.import_module(f"{package}.{homes[name]}"), name)
        if name in modules:
            return importlib.import_module(f"{package}.{name}")
        raise AttributeError(f"module {package!r} has no attribute {name!r}")

    def listed() -> list[str]:
        return sorted({*vars(sys.modules[package]), *modules, *homes})

    return load, listed
