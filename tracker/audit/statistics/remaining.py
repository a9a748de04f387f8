"""How long a running case may still last, given how long it has lasted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from tracker.audit.statistics.enough import present, too_few
from tracker.audit.statistics.lognormal import NO_BELIEF, Lognormal, LogStudent

FEWEST_FOR_REMAINING: Final = 10


@dataclass(frozen=True, slots=True)
class Remaining:
    """Minutes a case has still to go, given how long it has lasted, from n past cases.

    `longer` of them went on beyond that.
    """

    n: int
    longer: int
    refused: str
    basis: Literal["past cases that went on longer", "lognormal fit cut at the time spent"] | None = None
    p10: float | None = None
    median: float | None = None
    p80: float | None = None
    p90: float | None = None


def time_remaining(history: Iterable[float | None], elapsed: float) -> Remaining:
    """Say how long a running case may still last, from past lengths in minutes and the minutes spent.

    From 10 past cases that went on longer: those. Below: the log-Student fit of all n, cut at the time
    spent. Refuses below 10 past cases, or when no past case went on so long.
    """
    seen = present(history)
    seen = seen[seen > 0]
    n, beyond = seen.size, seen[seen > elapsed]
    if refused := too_few(n, FEWEST_FOR_REMAINING, "past cases"):
        return Remaining(n, beyond.size, refused)
    if not beyond.size:
        return Remaining(n, 0, f"longer already than all {n} past cases")
    if beyond.size >= FEWEST_FOR_REMAINING:
        # Type 6 promises a further case what it says; type 7 of ten would keep an 0.8 in 0.75 of cases.
        cuts = np.quantile(beyond - elapsed, [0.1, 0.5, 0.8, 0.9], method="weibull").tolist()
        return Remaining(n, beyond.size, "", "past cases that went on longer", *cuts)
    fit = NO_BELIEF.predict(seen)
    cuts = [remaining_quantile(fit, elapsed, share) for share in (0.1, 0.5, 0.8, 0.9)]
    return Remaining(n, beyond.size, "", "lognormal fit cut at the time spent", *cuts)


def remaining_quantile(spread: Lognormal | LogStudent, elapsed: float, share: float) -> float:
    """Give the minutes beyond `elapsed` that the share of lengths longer than `elapsed` does not pass."""
    return spread.quantile(1 - (1 - share) * spread.beyond(elapsed)) - elapsed
