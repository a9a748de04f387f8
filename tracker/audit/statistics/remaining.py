"""How long a running case may still last, given how long it has lasted."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from tracker.audit.statistics.enough import Floats, present, too_few
from tracker.audit.statistics.lognormal import NO_BELIEF, Lognormal, LogStudent

FEWEST_FOR_REMAINING: Final = 10

Basis = Literal["past cases that went on longer", "lognormal fit cut at the time spent"]


@dataclass(frozen=True, slots=True)
class Remaining:
    """Minutes a case has still to go, given how long it has lasted, from n past cases.

    `longer` of them went on beyond that.
    """

    n: int
    longer: int
    refused: str
    basis: Basis | None = None
    p10: float | None = None
    median: float | None = None
    p80: float | None = None
    p90: float | None = None


def time_remaining(history: Iterable[float | None], elapsed: float) -> Remaining:
    """Say how long a running case may still last, from past lengths in minutes and the minutes spent.

    Refuses below 10 past cases, or when no past case went on so long.
    """
    seen = present(history)
    seen = seen[seen > 0]
    n, longer = seen.size, int((seen > elapsed).sum())
    if refused := too_few(n, FEWEST_FOR_REMAINING, "past cases"):
        return Remaining(n, longer, refused)
    if not longer:
        return Remaining(n, 0, f"longer already than all {n} past cases")
    return Remaining(n, longer, "", *quantiles_left(seen, elapsed, (0.1, 0.5, 0.8, 0.9)))


def quantiles_left(seen: Floats, elapsed: float, shares: Sequence[float]) -> tuple[Basis, *tuple[float, ...]]:
    """Give what the forecast is from, and the minutes left that each of the shares does not pass.

    From 10 past cases that went on longer: those. Below: the log-Student fit of all, cut at the time spent.
    """
    beyond = seen[seen > elapsed]
    if beyond.size >= FEWEST_FOR_REMAINING:
        # Type 6 promises a further case what it says; type 7 of ten would keep an 0.8 in 0.75 of cases.
        cuts = np.quantile(beyond - elapsed, shares, method="weibull").tolist()
        return "past cases that went on longer", *cuts
    fit = NO_BELIEF.predict(seen)
    return "lognormal fit cut at the time spent", *(remaining_quantile(fit, elapsed, s) for s in shares)


def remaining_quantile(spread: Lognormal | LogStudent, elapsed: float, share: float) -> float:
    """Give the minutes beyond `elapsed` that the share of lengths longer than `elapsed` does not pass."""
    return spread.quantile(1 - (1 - share) * spread.beyond(elapsed)) - elapsed
