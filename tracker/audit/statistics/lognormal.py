"""Lengths as lognormal spreads, and predictions from few cases.

Surgical times fit a lognormal better than a normal: Strum, May and Vargas, Anesthesiology 2000;92:1160;
May, Strum and Vargas, Decision Sciences 2000;31:129.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np

from tracker.audit.statistics.enough import Floats, logs
from tracker.audit.statistics.libraries import special

_STANDARD: Final = NormalDist()


@dataclass(frozen=True, slots=True)
class Lognormal:
    """A length whose natural log is normal with mean `mu` and standard deviation `sigma`; minutes."""

    mu: float
    sigma: float

    @classmethod
    def from_median(cls, median: float, sigma: float) -> Lognormal:
        """Take the median in minutes and the standard deviation on the log scale."""
        return cls(math.log(median), sigma)

    @property
    def median(self) -> float:
        """Give the median in minutes."""
        return math.exp(self.mu)

    def quantile(self, share: float) -> float:
        """Give the length in minutes that the share (between 0 and 1) does not pass."""
        return math.exp(self.mu + self.sigma * _STANDARD.inv_cdf(share))

    def beyond(self, minutes: float) -> float:
        """Give the probability of a length above `minutes`."""
        return 1.0 if minutes <= 0 else _STANDARD.cdf((self.mu - math.log(minutes)) / self.sigma)

    def draw(self, rng: np.random.Generator, size: int) -> Floats:
        """Draw `size` lengths in minutes."""
        return rng.lognormal(self.mu, self.sigma, size)


@dataclass(frozen=True, slots=True)
class LogStudent:
    """A length whose natural log is Student t: what a few past cases say of the next one; minutes.

    It has no finite mean, so only its quantiles and probabilities are to be read.
    """

    location: float
    scale: float
    df: float

    @property
    def median(self) -> float:
        """Give the median in minutes."""
        return math.exp(self.location)

    def quantile(self, share: float) -> float:
        """Give the length in minutes that the share (between 0 and 1) does not pass."""
        return math.exp(self.location + self.scale * float(special().stdtrit(self.df, share)))

    def beyond(self, minutes: float) -> float:
        """Give the probability of a length above `minutes`."""
        if minutes <= 0:
            return 1.0
        return float(special().stdtr(self.df, (self.location - math.log(minutes)) / self.scale))

    def draw(self, rng: np.random.Generator, size: int) -> Floats:
        """Draw `size` lengths in minutes."""
        drawn: Floats = np.exp(self.location + self.scale * rng.standard_t(self.df, size))
        return drawn


@dataclass(frozen=True, slots=True)
class NormalGamma:
    """What is believed of ln minutes: mean about `location` with the weight of `weight` cases, and
    precision gamma(`shape`, rate `rate`).

    After n logs with mean y and squares S about it, the next log is Student t with
    df = 2 (shape + n/2), location (weight location + n y) / (weight + n) and
    scale^2 = B/A (1 + 1/(weight + n)), where A = shape + n/2 and
    B = rate + S/2 + n weight (y - location)^2 / (2 (n + weight)).
    The idea of weighing few cases against an expectation: Dexter and Ledolter, Anesthesiology
    2005;103:1259. The conjugate form is textbook; the weights used here are this program's own.
    """  # noqa: D205

    location: float
    weight: float
    shape: float
    rate: float

    def predict(self, minutes: Iterable[float | None] = ()) -> LogStudent:
        """Give the spread of the next length after these past ones, in minutes.

        Raises ValueError if there is neither belief nor enough cases for a spread.
        """
        seen = logs(minutes)
        n = seen.size
        held = self.weight + n
        a = self.shape + n / 2
        if held <= 0 or a <= 0:
            raise ValueError("neither belief nor cases enough to predict from")
        y = float(seen.mean()) if n else self.location
        squares = float(((seen - y) ** 2).sum())
        b = self.rate + squares / 2 + n * self.weight * (y - self.location) ** 2 / (2 * held)
        centre = (self.weight * self.location + n * y) / held
        return LogStudent(centre, math.sqrt(b / a * (1 + 1 / held)), 2 * a)


NO_BELIEF: Final = NormalGamma(0.0, 0.0, -0.5, 0.0)
"""The belief that adds nothing: from n past lengths it gives the plain log-normal prediction bound,
exp(mean + t(q, n-1) s sqrt(1 + 1/n)); Zhou and Dexter, Anesthesiology 1998;89:1228."""
