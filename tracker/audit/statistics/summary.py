"""How long things take: quantiles, spread, and a difference with its interval.

Quantiles are type 7 of Hyndman and Fan, Am Stat 1996;50:361.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from tracker.audit.statistics.enough import FEWEST, SEED, Floats, present, too_few

RESAMPLES: Final = 2_000
FEWEST_TO_COMPARE: Final = 10
AT_ONCE: Final = 1_000_000
"""So many resampled values are held together, since of large groups all would take half a gigabyte."""


@dataclass(frozen=True, slots=True)
class Moments:
    """Mean, standard deviation (n - 1) and lag-1 autocorrelation of a series in its own order."""

    n: int
    refused: str
    mean: float | None = None
    sd: float | None = None
    autocorrelation: float | None = None


@dataclass(frozen=True, slots=True)
class Summary:
    """The usual length of a stage or a case, in minutes.

    `missing` counts the cases without a length, `late` those of the n whose tick was a late entry.
    """

    n: int
    missing: int
    late: int
    refused: str
    median: float | None = None
    p25: float | None = None
    p75: float | None = None
    p10: float | None = None
    p90: float | None = None

    @property
    def iqr(self) -> float | None:
        """Give the distance from p25 to p75 in minutes."""
        return None if self.p25 is None or self.p75 is None else self.p75 - self.p25


@dataclass(frozen=True, slots=True)
class MedianDifference:
    """Median of the first group minus that of the second, minutes, with a percentile bootstrap interval."""

    n_first: int
    n_second: int
    resamples: int
    seed: int
    level: float
    refused: str
    difference: float | None = None
    low: float | None = None
    high: float | None = None


def moments(values: Iterable[float | None]) -> Moments:
    """Give mean, standard deviation and lag-1 autocorrelation; refuses below 3 values.

    Sums are exact (`math.fsum`) so that long series of nearly equal lengths lose no digits.
    """
    kept = present(values).tolist()
    n = len(kept)
    if refused := too_few(n, 3, "values"):
        return Moments(n, refused)
    mean = math.fsum(kept) / n
    away = [value - mean for value in kept]
    squares = math.fsum(d * d for d in away)
    lagged = math.fsum(a * b for a, b in pairwise(away))
    return Moments(n, "", mean, math.sqrt(squares / (n - 1)), lagged / squares if squares else None)


def summarise(minutes: Sequence[float | None], late: Iterable[bool] = (), *, fewest: int = FEWEST) -> Summary:
    """Summarise lengths in minutes; None is a case without one. Refuses below `fewest`, 5 unless told.

    `late` says of each which rests on a late entry; without it none does.
    """
    kept = present(minutes)
    n, missing = kept.size, len(minutes) - kept.size
    late_n = sum(late for value, late in zip(minutes, late, strict=False) if value is not None)
    if refused := too_few(n, fewest):
        return Summary(n, missing, late_n, refused)
    cuts = np.quantile(kept, [0.5, 0.25, 0.75, 0.1, 0.9])
    return Summary(n, missing, late_n, "", *map(float, cuts))


def median_difference(
    first: Iterable[float | None],
    second: Iterable[float | None],
    *,
    resamples: int = RESAMPLES,
    seed: int = SEED,
    level: float = 0.95,
) -> MedianDifference:
    """Compare two groups by their medians, in minutes, each group resampled on its own.

    Refuses if either group has fewer than 10: a bootstrap of fewer repeats the same few values.
    """
    a, b = present(first), present(second)
    if refused := too_few(min(a.size, b.size), FEWEST_TO_COMPARE, "cases in the smaller group"):
        return MedianDifference(a.size, b.size, resamples, seed, level, refused)
    rng = np.random.default_rng(seed)
    drawn = _resampled_medians(rng, a, resamples) - _resampled_medians(rng, b, resamples)
    low, high = np.quantile(drawn, [(1 - level) / 2, (1 + level) / 2])
    difference = float(np.median(a) - np.median(b))
    return MedianDifference(a.size, b.size, resamples, seed, level, "", difference, float(low), float(high))


def _resampled_medians(rng: np.random.Generator, values: Floats, resamples: int) -> Floats:
    some = max(1, AT_ONCE // values.size)
    sizes = [min(some, resamples - done) for done in range(0, resamples, some)]
    return np.concatenate([np.median(rng.choice(values, (size, values.size)), axis=1) for size in sizes])
