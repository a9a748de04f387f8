"""How long the next case may take: drawn from what there is, and saying what that was.

Enough comparable cases speak for themselves. A few are drawn towards the rest of the procedure's. Fewer
still are refused, unless someone types a length in.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from tracker.audit.statistics.enough import FEWEST, Floats, logs, present, too_few
from tracker.audit.statistics.lognormal import NO_BELIEF, Lognormal, LogStudent, NormalGamma

ENOUGH_TO_RESAMPLE: Final = 30
ENOUGH_GAPS: Final = 10

WEIGHT: Final = 3.0
"""How many cases the procedure's own middle counts for, beside the comparable cases."""

MOST_SHAPE: Final = 8.0
"""The most that the procedure's own spread counts for: as much as that of 17 cases."""

Basis = Literal[
    "past cases, resampled",
    "few past cases, drawn towards the procedure",
    "few past cases alone",
    "the procedure's cases only",
    "typed in",
]


@dataclass(frozen=True, slots=True)
class Resampled:
    """The past lengths themselves, each as likely as the next; minutes."""

    minutes: tuple[float, ...]

    @property
    def median(self) -> float:
        """Give the median in minutes."""
        return self.quantile(0.5)

    def quantile(self, share: float) -> float:
        """Give the length in minutes that the share (0 to 1) does not pass (type 7)."""
        return float(np.quantile(self.minutes, share))

    def draw(self, rng: np.random.Generator, size: int) -> Floats:
        """Draw `size` lengths in minutes."""
        return rng.choice(np.array(self.minutes), size)


Spread = Resampled | Lognormal | LogStudent


@dataclass(frozen=True, slots=True)
class Length:
    """How long a case or a gap may take: from `n` comparable past ones and `others` of the procedure."""

    label: str
    n: int
    others: int
    refused: str
    basis: Basis | None = None
    spread: Spread | None = None


def typed_in(label: str, median: float, sigma: float) -> Length:
    """Take a lognormal length from a median in minutes and a spread of logs that someone typed."""
    return Length(label, 0, 0, "", "typed in", Lognormal.from_median(median, sigma))


def belief_from(others: Iterable[float | None]) -> NormalGamma:
    """Turn the procedure's other cases into a belief: their mean and variance of logs, held lightly.

    With N logs of mean m and variance s^2: location m, weight min(3, N), shape min(8, (N - 1)/2), rate
    shape s^2. Fewer than 5 give no belief. The weights are this program's own, for a department to judge.
    """
    seen = logs(others)
    if seen.size < FEWEST:
        return NO_BELIEF
    shape = min(MOST_SHAPE, (seen.size - 1) / 2)
    return NormalGamma(float(seen.mean()), min(WEIGHT, seen.size), shape, shape * float(seen.var(ddof=1)))


def length_from_history(
    label: str, comparable: Iterable[float | None], others: Iterable[float | None] = ()
) -> Length:
    """Choose how a length above 0 is drawn, from comparable cases and the rest of the procedure's.

    From 30 comparable cases: those, resampled. Below: the log-Student prediction of `NormalGamma`, drawn
    towards the procedure (`others` must not hold the comparable cases again). Refuses with fewer than 5
    of either.
    """
    seen = present(comparable)
    seen, rest = seen[seen > 0], logs(others)
    if seen.size >= ENOUGH_TO_RESAMPLE:
        return Length(
            label, seen.size, rest.size, "", "past cases, resampled", Resampled(tuple(seen.tolist()))
        )
    belief = belief_from(np.exp(rest))
    if belief is NO_BELIEF and (refused := too_few(seen.size, FEWEST, f"past cases of {label}")):
        return Length(label, seen.size, rest.size, refused)
    spread = belief.predict(seen)
    if not spread.scale:
        return Length(label, seen.size, rest.size, f"no spread: every past length of {label} is the same")
    return Length(label, seen.size, rest.size, "", _few_basis(seen.size, belief), spread)


def gap_from_history(label: str, minutes: Iterable[float | None]) -> Length:
    """Draw a late start or a gap, which may be 0 or less, from the past ones; refuses below 10."""
    seen = present(minutes)
    if refused := too_few(seen.size, ENOUGH_GAPS, f"past values of {label}"):
        return Length(label, seen.size, 0, refused)
    return Length(label, seen.size, 0, "", "past cases, resampled", Resampled(tuple(seen.tolist())))


def _few_basis(n: int, belief: NormalGamma) -> Basis:
    if belief is NO_BELIEF:
        return "few past cases alone"
    return "few past cases, drawn towards the procedure" if n else "the procedure's cases only"
