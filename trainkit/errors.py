"""The one base error of trainkit and its tree.

Every error says three things: the value that was met, the rule it breaks and the remedy::

    TrainkitError
    ├── QuantityError (ValueError)      a torque, length or number that cannot be read or used
    ├── ProcedureError (ValueError)     steps and precedence edges that make no procedure
    ├── FastenerError (ValueError)      threads, classes, wrenches and adapters
    ├── GearError (ValueError)          trains, viewpoints, clock positions, lash
    ├── CycleError (ValueError)         firing orders, dead centres, crank angles
    ├── TighteningError (ValueError)    stages, joints and bolt patterns
    ├── LockPinError (ValueError)       the barring and pinning model
    ├── PackError (ValueError)          a pack that does not load; carries all findings at once
    ├── ItemError (ValueError)          a template that cannot draw from this pack
    │   └── NotReadyError               a module whose pools a pack cannot fill; carries all that is missing
    ├── DrawFault (RuntimeError)        a template that failed by a fault of its own
    ├── ResponseError (ValueError)      an answer that is not well formed
    ├── JournalError (ValueError)       answers on disk that cannot be read or written
    ├── ModuleError (ValueError)        a blueprint that cannot be used
    └── FormError (ValueError)          forms or an identity that cannot be used
"""

from __future__ import annotations

__all__ = [
    "CycleError",
    "DrawFault",
    "FastenerError",
    "FormError",
    "GearError",
    "ItemError",
    "JournalError",
    "LockPinError",
    "ModuleError",
    "NotReadyError",
    "PackError",
    "ProcedureError",
    "QuantityError",
    "ResponseError",
    "TighteningError",
    "TrainkitError",
]


class TrainkitError(Exception):
    """What every error of trainkit is.

    Parameters
    ----------
    value : object
        The value that was met, as it was given.
    rule : str
        The rule that it breaks, a whole sentence.
    remedy : str
        What to do about it, a whole sentence.
    place : str, optional
        Where it was met: a file, a line, a key.

    Examples
    --------
    >>> error = TrainkitError("lb", rule="A pound alone is a mass.", remedy="Write lbf·ft or lbf·in.")
    >>> print(error)
    'lb': A pound alone is a mass. Write lbf·ft or lbf·in.
    """

    def __init__(self, value: object, *, rule: str, remedy: str, place: str = "") -> None:
        self.value = value
        self.rule = rule
        self.remedy = remedy
        self.place = place
        super().__init__(value, rule, remedy, place)

    def __str__(self) -> str:
        shown = repr(self.value)
        if len(shown) > 120:
            # Both ends are kept: of a long path it is the end that tells.
            shown = shown[:50] + "…" + shown[-69:]
        where = f"{self.place}: " if self.place else ""
        return f"{where}{shown}: {self.rule} {self.remedy}"

    def __reduce__(self) -> tuple[object, ...]:
        # The keyword-only parameters would be lost when an error crosses a process boundary.
        return _rebuild, (type(self), self.value, self.rule, self.remedy, self.place)


def _rebuild(kind: type[TrainkitError], value: object, rule: str, remedy: str, place: str) -> TrainkitError:
    return kind(value, rule=rule, remedy=remedy, place=place)


class QuantityError(TrainkitError, ValueError):
    """A torque, length or number that cannot be read or used."""


class ProcedureError(TrainkitError, ValueError):
    """Steps and precedence edges that make no procedure."""


class FastenerError(TrainkitError, ValueError):
    """A thread, property class, wrench or adapter that cannot be."""


class GearError(TrainkitError, ValueError):
    """A gear train, viewpoint, clock position or lash that cannot be."""


class CycleError(TrainkitError, ValueError):
    """A firing order, dead centre or crank angle that cannot be."""


class TighteningError(TrainkitError, ValueError):
    """A tightening stage, joint or bolt pattern that cannot be."""


class LockPinError(TrainkitError, ValueError):
    """A setup, state or action that the barring and pinning model does not have."""


class PackError(TrainkitError, ValueError):
    """A pack that does not load. ``findings`` holds everything that is wrong with it, not only the first."""

    findings: tuple[object, ...] = ()


class ItemError(TrainkitError, ValueError):
    """A template that cannot draw from this pack. ``needs`` says what the pack lacks, in the instructor's words."""

    needs: str = ""


class NotReadyError(ItemError):
    """A module whose pools a pack cannot fill. ``missing`` holds everything that is missing, not only the first."""

    missing: tuple[object, ...] = ()


class DrawFault(TrainkitError, RuntimeError):  # noqa: N818 - no error of whoever draws: a fault of a template
    """A template that failed by a fault of its own while it drew; it costs this draw and no other."""


class ResponseError(TrainkitError, ValueError):
    """An answer that is not well formed."""


class JournalError(TrainkitError, ValueError):
    """Answers on disk that cannot be read or written."""


class ModuleError(TrainkitError, ValueError):
    """A module blueprint that cannot be used."""


class FormError(TrainkitError, ValueError):
    """Forms or an identity that cannot be used."""
