"""Did the change work: one point a case or a month, and whether the points stopped behaving by chance.

Three signals and no others: a point outside the limits, a run too long, crossings too few. A trend rule
is left out: "virtually useless" (Anhoej, PLoS One 2014;9:e113825).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tracker.audit.statistics.enough import logs, present, too_few
from tracker.audit.statistics.libraries import special
from tracker.audit.statistics.summary import moments

D2: Final = 1.128
"""Expected range of two normal values, as printed in tables; exactly 2 / sqrt(pi) = 1.12838."""

D4: Final = 3.267
"""Factor from mean moving range to its upper limit, as printed in tables; exactly 1 + 3 sqrt(2 - 4 / pi) / d2 = 3.2665."""

FEWEST_FOR_LIMITS: Final = 12
"""The least baseline; 20 is better."""

FEWEST_FOR_RUNS: Final = 12
"""The smallest n that Anhoej tabulates here."""


@dataclass(frozen=True, slots=True)
class Runs:
    """Runs about a centre by Anhoej's two rules; points on the centre do not count towards `n`."""

    n: int
    refused: str
    longest: int | None = None
    longest_usual: int | None = None
    crossings: int | None = None
    crossings_usual: int | None = None


@dataclass(frozen=True, slots=True)
class Individuals:
    """An individuals and moving-range chart on consecutive cases.

    `values`, `centre`, `low`, `high` and the moving ranges are on the charted scale. `n` points, the first
    `baseline` of which set centre and limits. `outside` and `ranges_outside` are places in `values` and in
    `ranges`, from 0. The limits suppose independent cases: `autocorrelation` (lag 1) well away from 0 says
    that they are not.
    """

    n: int
    dropped: int
    baseline: int
    refused: str
    values: tuple[float, ...] = ()
    ranges: tuple[float, ...] = ()
    centre: float | None = None
    low: float | None = None
    high: float | None = None
    mean_range: float | None = None
    high_range: float | None = None
    outside: tuple[int, ...] = ()
    ranges_outside: tuple[int, ...] = ()
    runs: Runs | None = None
    autocorrelation: float | None = None


def individuals(
    minutes: Sequence[float | None],
    *,
    log_scale: bool = True,
    baseline: int | None = None,
    fewest: int = FEWEST_FOR_LIMITS,
) -> Individuals:
    """Chart consecutive cases: limits at 3 mean moving ranges / d2 either side of the baseline's mean.

    `baseline` is how many of the first cases set the limits, all unless told; on the log scale lengths
    of 0 are left out and counted. Refuses a baseline below `fewest`.
    """
    x = logs(minutes) if log_scale else present(minutes)
    dropped, base = len(minutes) - x.size, min(x.size, baseline if baseline is not None else x.size)
    if refused := too_few(base, fewest, "cases in the baseline"):
        return Individuals(x.size, dropped, base, refused)
    ranges = np.abs(np.diff(x))
    centre, mean_range = float(x[:base].mean()), float(ranges[: base - 1].mean())
    reach, high_range = 3 * mean_range / D2, D4 * mean_range
    return Individuals(
        x.size, dropped, base, "",
        tuple(x.tolist()), tuple(ranges.tolist()),
        centre, centre - reach, centre + reach, mean_range, high_range,
        _places(np.abs(x - centre) > reach), _places(ranges > high_range),
        runs(x.tolist(), centre), moments(x.tolist()).autocorrelation,
    )  # fmt: skip


def runs(values: Sequence[float | None], centre: float, *, fewest: int = FEWEST_FOR_RUNS) -> Runs:
    """Count the longest run on one side of the centre and the crossings of it.

    Usual for n useful points: a longest run up to round(log2 n + 3), crossings from the 5th percentile of
    Binomial(n - 1, 1/2); Anhoej, PLoS One 2014;9:e113825. Refuses below `fewest`.
    """
    sides = [value > centre for value in present(values).tolist() if value != centre]
    n = len(sides)
    if refused := too_few(n, fewest, "points off the centre"):
        return Runs(n, refused)
    longest = max(len(list(run)) for _, run in groupby(sides))
    crossings = sum(a != b for a, b in pairwise(sides))
    return Runs(n, "", longest, longest_run_usual(n), crossings, crossings_usual(n))


def longest_run_usual(n: int) -> int:
    """Give the longest run that chance usually allows among n useful points."""
    return round(math.log2(n) + 3)


def crossings_usual(n: int) -> int:
    """Give the fewest crossings that chance usually allows among n useful points."""
    upto = np.arange(n)
    return int(upto[special().bdtr(upto, n - 1, 0.5) >= 0.05][0])


def _places(flags: NDArray[np.bool_]) -> tuple[int, ...]:
    return tuple(np.flatnonzero(flags).tolist())
