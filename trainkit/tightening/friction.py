"""What another condition of the thread does to preload at the same torque."""

from __future__ import annotations

from numbers import Real

from trainkit.errors import TighteningError


def preload_change(specified: float, actual: float) -> float:
    """Return by what factor preload changes when a thread meets the same torque in another condition.

    Preload is torque / (nut factor × diameter), so at the same torque and thread it goes as one over the nut factor.

    Parameters
    ----------
    specified : float
        Nut factor of the condition that the torque was given for.
    actual : float
        Nut factor of the condition the thread is in. Both 0.03 to 1; 0.20 dry and 0.15 oiled are usual assumptions
        (common practice, no source).

    Returns
    -------
    float
        More than 1 where the bolt is stretched further than meant. A stage by angle is hardly affected.

    Raises
    ------
    TighteningError
        For a nut factor outside that range.

    Examples
    --------
    >>> round(preload_change(0.20, 0.15), 3)  # oil on a thread specified dry: one third more
    1.333
    """
    for factor in (specified, actual):
        if not _is_nut_factor(factor):
            raise TighteningError(
                factor,
                rule="A nut factor is a number from 0.03 to 1.",
                remedy="Give it as a decimal fraction, such as 0.20 for a dry thread.",
            )
    return float(specified) / float(actual)


def _is_nut_factor(value: object) -> bool:
    return not isinstance(value, bool) and isinstance(value, Real) and 0.03 <= float(value) <= 1
