"""Time to something that has not happened yet in every case: re-operation, oil removal."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tracker.audit.statistics.enough import Floats, too_few
from tracker.audit.statistics.libraries import survival_functions

FEWEST_TO_FOLLOW: Final = 10


@dataclass(frozen=True, slots=True)
class SurvivalStep:
    """At one event time: cases at risk just before it, events at it, and the share free of the event
    after it, with a 95% interval (Greenwood's variance on the log-log scale).
    """  # noqa: D205

    time: float
    at_risk: int
    events: int
    share: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Survival:
    """A Kaplan-Meier curve of n cases. Times are in the caller's unit, and so are `followed` and `median`.

    `median` is the first time at which the share is a half or less; None where the curve stays above.
    It takes whoever left early to be like who stayed; a case that can no longer have the event is no such.
    """

    n: int
    events: int
    followed: float
    refused: str
    steps: tuple[SurvivalStep, ...] = ()
    median: float | None = None
    times: tuple[float, ...] = ()
    """Every follow-up time, in order: what the numbers at risk are counted from."""

    def share_at(self, time: float) -> float | None:
        """Give the share free of the event at a time; None if refused or after the last follow-up."""
        if self.refused or time > self.times[-1]:
            return None
        place = bisect_right([step.time for step in self.steps], time)
        return self.steps[place - 1].share if place else 1.0

    def interval_at(self, time: float) -> tuple[float, float] | None:
        """Give the 95% interval of that share; None where there is no share, or no event yet to estimate from."""
        place = bisect_right([step.time for step in self.steps], time)
        if self.share_at(time) is None or not place:
            return None
        return self.steps[place - 1].low, self.steps[place - 1].high

    def at_risk(self, at: Sequence[float]) -> tuple[int, ...]:
        """Count the cases still followed just before each of these times, for the table under a curve."""
        return tuple(len(self.times) - bisect_left(self.times, moment) for moment in at)


def kaplan_meier(times: Sequence[float], happened: Sequence[bool]) -> Survival:
    """Follow cases to the event (True) or to the last time seen without it (False); refuses below 10.

    Raises ValueError if the lengths differ or a time is below 0.
    """
    t, event = np.asarray(times, dtype=float), np.asarray(happened, dtype=bool)
    if t.shape != event.shape or (t.size and not t.min() >= 0):
        raise ValueError("each case needs one time, 0 or more, and whether the event happened")
    n, events, followed = t.size, int(event.sum()), float(t.sum())
    if refused := too_few(n, FEWEST_TO_FOLLOW):
        return Survival(n, events, followed, refused)
    steps = _steps(t, event) if events else ()
    median = next((step.time for step in steps if step.share <= 0.5 + 1e-12), None)
    return Survival(n, events, followed, "", steps, median, tuple(sorted(t.tolist())))


def _steps(times: Floats, event: NDArray[np.bool_]) -> tuple[SurvivalStep, ...]:
    curve = survival_functions().SurvfuncRight(times, event.astype(int))
    columns = (curve.surv_times, curve.n_risk, curve.n_events, curve.surv_prob, curve.surv_prob_se)
    return tuple(
        SurvivalStep(float(time), int(risk), int(count), float(share), *_interval(float(share), float(se)))
        for time, risk, count, share, se in zip(*columns, strict=True)
        if count
    )


def _interval(share: float, se: float) -> tuple[float, float]:
    if not 0 < share < 1:
        return share, share
    reach = NormalDist().inv_cdf(0.975) * se / (share * abs(math.log(share)))
    return share ** math.exp(reach), share ** math.exp(-reach)
