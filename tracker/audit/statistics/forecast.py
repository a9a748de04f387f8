"""Were the forecasts any good: one figure for sharpness and truth together, and the promised shares kept.

The continuous ranked probability score (CRPS) is the mean distance of the draws from what happened, less
half their distance from each other: minutes, 0 is perfect, and for a single guess it is the plain
absolute difference. Gneiting and Raftery, J Am Stat Assoc 2007;102:359.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from tracker.audit.statistics.enough import Floats, too_few
from tracker.audit.statistics.rates import Rate, rate

FEWEST_FORECASTS: Final = 10


@dataclass(frozen=True, slots=True)
class ForecastRecord:
    """How n forecasts fared. `within_80` and `within_90` are the shares of cases that ended by the p80 and
    the p90 that had been given: near 0.8 and 0.9 if the forecasts were true. `bias` is the median of
    forecast median minus actual, minutes.
    """  # noqa: D205

    n: int
    refused: str
    mean_crps: float | None = None
    bias: float | None = None
    within_80: Rate | None = None
    within_90: Rate | None = None


def crps(draws: Floats, actual: float) -> float:
    """Score one forecast, given as draws in minutes, by what happened; minutes, smaller is better.

    Raises ValueError without draws.
    """
    x = np.sort(draws)
    if not x.size:
        raise ValueError("no draws to compare with")
    ranks = 2 * np.arange(1, x.size + 1) - x.size - 1
    return float(np.abs(x - actual).mean() - (ranks * x).sum() / x.size**2)


def forecast_record(forecasts: Sequence[Floats], actuals: Sequence[float]) -> ForecastRecord:
    """Hold forecasts, each given as draws in minutes, against what happened; refuses below 10.

    Raises ValueError if the two differ in number.
    """
    pairs = list(zip(forecasts, actuals, strict=True))
    if refused := too_few(len(pairs), FEWEST_FORECASTS, "forecasts"):
        return ForecastRecord(len(pairs), refused)
    cuts = np.array([np.quantile(draws, [0.5, 0.8, 0.9]) for draws, _ in pairs])
    happened = np.array(actuals, dtype=float)
    by_80, by_90 = (int((happened <= cuts[:, column]).sum()) for column in (1, 2))
    return ForecastRecord(
        len(pairs),
        "",
        float(np.mean([crps(draws, actual) for draws, actual in pairs])),
        float(np.median(cuts[:, 0] - happened)),
        rate(by_80, len(pairs)),
        rate(by_90, len(pairs)),
    )
