"""How far forecasts lie from what happened: sharpness and truth in one figure.

The continuous ranked probability score (CRPS) is the mean distance of the draws from what happened, less
half their distance from each other: minutes, 0 is perfect, and for a single guess it is the plain
absolute difference. Gneiting and Raftery, J Am Stat Assoc 2007;102:359.
"""

from __future__ import annotations

import numpy as np

from tracker.audit.statistics.enough import Floats


def crps(draws: Floats, actual: float) -> float:
    """Measure one forecast, given as draws in minutes, by what happened; minutes, smaller is better.

    Raises ValueError without draws.
    """
    x = np.sort(draws)
    if not x.size:
        raise ValueError("no draws to compare with")
    ranks = 2 * np.arange(1, x.size + 1) - x.size - 1
    return float(np.abs(x - actual).mean() - (ranks * x).sum() / x.size**2)
