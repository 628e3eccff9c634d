"""What people are worth, as a beta distribution, and what a test of some length makes of it: arrays of such models.

The integrals are sums over Gauss-Jacobi nodes, which belong to the beta distribution itself (G. H. Golub & J. H. Welsch
1969, *Mathematics of Computation* 23, 221-230): exact for polynomials up to twice their number, whatever the shape.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


_NODES = 48
# A test that measures more sharply than this decides as one that does not err at all.
_LONGEST = 500.0


@dataclass(frozen=True, slots=True)
class ModelDecisions:
    """Of each model: who passes, who gets the same decision twice, and that beyond chance."""

    passing: NDArray[np.float64]
    same: NDArray[np.float64]
    kappa: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Mixture:
    """Models, one a row: effective length, and nodes and weights for what people are worth."""

    length: NDArray[np.float64]
    nodes: NDArray[np.float64]
    weights: NDArray[np.float64]

    @classmethod
    def of(
        cls,
        mean: NDArray[np.float64],
        variance: NDArray[np.float64],
        reliability: NDArray[np.float64],
        nodes: int = _NODES,
    ) -> Mixture:
        """Return the models with these moments; not a number where none is possible.

        Examples
        --------
        >>> import numpy as np
        >>> found = Mixture.of(np.array([0.7]), np.array([0.03]), np.array([0.6]))
        >>> found.length.round(6).tolist()
        [16.0]
        >>> round(float((found.weights * found.nodes).sum()), 9)
        0.7
        """
        import numpy as np

        with np.errstate(all="ignore"):
            true = reliability * variance
            length = (mean * (1 - mean) - true) / (variance - true)
            both = mean * (1 - mean) / true - 1
        # Where nothing varies beyond chance, or more than 0 and 1 could, there is no such model.
        there = np.isfinite(both) & (both > 0) & (reliability > 0) & (reliability <= 1) & (variance > 0)
        length = np.where(there, np.clip(np.nan_to_num(length, nan=_LONGEST, posinf=_LONGEST), 1.0, _LONGEST), np.nan)
        a = np.where(there, mean * both, 1.0)
        b = np.where(there, (1 - mean) * both, 1.0)
        places, weights = _gauss_jacobi(a, b, nodes)
        return cls(length, places, np.where(there[:, None], weights, np.nan))

    def passes(self, boundary: float) -> NDArray[np.float64]:
        """Return how likely somebody at each node gets past the boundary, a part of all points."""
        import numpy as np

        length = np.nan_to_num(self.length, nan=1.0)[:, None]
        wanted = boundary * length + 0.5
        return beta_parts(self.nodes, wanted, np.maximum(length - wanted + 1, 1e-9))

    def decided(self, boundary: float) -> ModelDecisions:
        """Return what two forms decide."""
        import numpy as np

        p = self.passes(boundary)
        passing = (self.weights * p).sum(axis=1)
        same = (self.weights * (p * p + (1 - p) ** 2)).sum(axis=1)
        chance = passing**2 + (1 - passing) ** 2
        with np.errstate(divide="ignore", invalid="ignore"):
            return ModelDecisions(passing, same, np.where(chance < 1 - 1e-12, (same - chance) / (1 - chance), np.nan))

    def again(self, boundary: float, reached: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how likely somebody who reached this part of all points gets past the boundary another time."""
        import numpy as np

        p = self.passes(boundary)
        right = self.length[:, None] * reached
        wrong = self.length[:, None] - right
        # On the logarithm, as both powers can be too small for a number.
        log, log_not = np.log(self.nodes), np.log1p(-self.nodes)
        likely = right[:, :, None] * log[:, None, :] + wrong[:, :, None] * log_not[:, None, :]
        with np.errstate(invalid="ignore"):
            likely = np.exp(likely - likely.max(axis=2, keepdims=True)) * self.weights[:, None, :]
            return np.asarray((likely * p[:, None, :]).sum(axis=2) / likely.sum(axis=2))


def _gauss_jacobi(
    a: NDArray[np.float64], b: NDArray[np.float64], nodes: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return nodes in 0 to 1 and weights of beta distributions, one a row."""
    import numpy as np

    alpha, beta = (b - 1)[:, None], (a - 1)[:, None]
    step = np.arange(1, nodes)[None, :].astype(np.float64)
    both = alpha + beta
    twice = 2 * step + both
    middle = np.empty((len(a), nodes))
    middle[:, :1] = (beta - alpha) / (both + 2)
    middle[:, 1:] = (beta**2 - alpha**2) / (twice * (twice + 2))
    with np.errstate(divide="ignore", invalid="ignore"):
        beside = 4 * step * (step + alpha) * (step + beta) * (step + both) / (twice**2 * (twice + 1) * (twice - 1))
    beside[:, :1] = 4 * (1 + alpha) * (1 + beta) / ((2 + both) ** 2 * (3 + both))
    system = np.zeros((len(a), nodes, nodes))
    at = np.arange(nodes)
    system[:, at, at] = middle
    system[:, at[1:], at[:-1]] = np.sqrt(beside)  # eigh reads the lower half
    values, vectors = np.linalg.eigh(system)
    # Rounding may put an outermost node past the end.
    return np.clip((1 + values) / 2, 1e-15, 1 - 1e-15), vectors[:, 0, :] ** 2


def beta_parts(x: NDArray[np.float64], a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the regularised incomplete beta function of arrays, ``a`` and ``b`` one a row, by its continued fraction.

    Examples
    --------
    >>> import numpy as np
    >>> beta_parts(np.array([[0.5, 0.75]]), np.array([[2.0]]), np.array([[2.0]])).round(6).tolist()
    [[0.5, 0.84375]]
    """
    import numpy as np

    pairs = zip(a[:, 0].tolist(), b[:, 0].tolist(), strict=True)
    scale = np.array([[math.lgamma(p) + math.lgamma(q) - math.lgamma(p + q)] for p, q in pairs])
    turned = x > (a + 1) / (a + b + 2)
    y = np.where(turned, 1 - x, x)
    p, q = np.where(turned, b, a), np.where(turned, a, b)
    front = np.exp(p * np.log(y) + q * np.log1p(-y) - scale) / p
    c = np.ones_like(y)
    d = 1 / _away(1 - (p + q) * y / (p + 1))
    fraction = d.copy()
    for m in range(1, 10_000):
        for term in (
            m * (q - m) * y / ((p + 2 * m - 1) * (p + 2 * m)),
            -(p + m) * (p + q + m) * y / ((p + 2 * m) * (p + 2 * m + 1)),
        ):
            d = 1 / _away(1 + term * d)
            c = _away(1 + term / c)
            change = c * d
            fraction *= change
        if np.abs(change - 1).max(initial=0.0) < 1e-14:
            break
    below = front * fraction
    return np.asarray(np.where(turned, 1 - below, below))


def _away(value: NDArray[np.float64]) -> NDArray[np.float64]:
    import numpy as np

    return np.where(np.abs(value) > 1e-300, value, 1e-300)
