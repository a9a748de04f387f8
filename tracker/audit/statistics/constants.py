"""The constants of control charts, worked out from the range and the spread of normal samples.

Formulae as in the CRAN vignette "Shewhart Constants for Control Charts" and SAS/QC, "Deriving Control
Chart Constants".
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from tracker.audit.statistics.enough import Floats
from tracker.audit.statistics.libraries import special

_REACH = 9.0
_CELLS = 3_000


@dataclass(frozen=True, slots=True)
class ChartConstants:
    """Expected range `d2` and its deviation `d3`, expected sample deviation `c4`, for samples of `n`.

    The rest follow for limits at three deviations: `a2`, `a3` for means, `e2` for single values,
    `low_range`, `high_range` (D3, D4) for ranges, `low_sd`, `high_sd` (B3, B4) for deviations.
    """

    n: int
    d2: float
    d3: float
    c4: float

    @property
    def a2(self) -> float:
        """Give the factor from mean range to the limits of a mean."""
        return 3 / (self.d2 * math.sqrt(self.n))

    @property
    def a3(self) -> float:
        """Give the factor from mean deviation to the limits of a mean."""
        return 3 / (self.c4 * math.sqrt(self.n))

    @property
    def e2(self) -> float:
        """Give the factor from mean range to the limits of a single value."""
        return 3 / self.d2

    @property
    def low_range(self) -> float:
        """Give D3, the factor from mean range to its lower limit."""
        return max(0.0, 1 - 3 * self.d3 / self.d2)

    @property
    def high_range(self) -> float:
        """Give D4, the factor from mean range to its upper limit."""
        return 1 + 3 * self.d3 / self.d2

    @property
    def low_sd(self) -> float:
        """Give B3, the factor from mean deviation to its lower limit."""
        return max(0.0, 1 - 3 * math.sqrt(1 - self.c4**2) / self.c4)

    @property
    def high_sd(self) -> float:
        """Give B4, the factor from mean deviation to its upper limit."""
        return 1 + 3 * math.sqrt(1 - self.c4**2) / self.c4


@lru_cache
def chart_constants(n: int) -> ChartConstants:
    """Work out the constants for samples of `n` (2 to 25).

    Raises ValueError outside that.
    """
    if not 2 <= n <= 25:
        raise ValueError(f"constants are worked out for samples of 2 to 25, not {n}")
    d2, second = _range_moments(n)
    c4 = math.sqrt(2 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))
    return ChartConstants(n, d2, math.sqrt(second - d2**2), c4)


def _range_moments(n: int) -> tuple[float, float]:
    # E(R) = integral of 1 - F^n - (1-F)^n, and E(R^2) = 2 integrals over x < y of
    # 1 - F(y)^n - (1-F(x))^n + (F(y)-F(x))^n (Tippett, Biometrika 1925;17:364).
    x = np.linspace(-_REACH, _REACH, _CELLS + 1)
    step = x[1] - x[0]
    below: Floats = special().ndtr(x)
    above: Floats = special().ndtr(-x)
    first = float((1 - below**n - above**n).sum() * step)
    second = 0.0
    for i in range(x.size):
        inner = 1 - below[i:] ** n - above[i] ** n + (below[i:] - below[i]) ** n
        second += float(inner.sum() - (inner[0] + inner[-1]) / 2)
    return first, 2 * second * step**2
