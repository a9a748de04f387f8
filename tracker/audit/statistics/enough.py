"""What every statistic shares: how a length is read, and how a result says that it has too few.

A result never raises for want of cases. It carries `n`, and a text `refused` that is empty where the
figures may be read and says what is wanting where they are None. Where no source stands beside a least
number of cases, in any of these modules, it is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FEWEST: Final = 5
"""Below this many cases nothing but n is shown."""

SEED: Final = 12
"""The seed of every resampling that is given no other, so that a report repeats itself."""


def too_few(n: int, needed: int, what: str = "cases") -> str:
    """Say that `n` is less than `needed`, or nothing."""
    return "" if n >= needed else f"too few: {n} {what}, at least {needed} needed"


def present(values: Iterable[float | None]) -> Floats:
    """Keep the numbers, in order, leaving out None and NaN.

    Raises ValueError for an infinite value, which no clock gives.
    """
    kept = np.array([value for value in values if value is not None and not math.isnan(value)], dtype=float)
    if not np.isfinite(kept).all():
        raise ValueError("an infinite value is not a measurement")
    return kept


def logs(values: Iterable[float | None]) -> Floats:
    """Take natural logs of the lengths above 0, leaving out the rest; the caller counts what is left out."""
    kept = present(values)
    return np.log(kept[kept > 0])
