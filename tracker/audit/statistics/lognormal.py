"""Lengths as lognormal spreads: identities, fits from published figures, and bounds from few cases.

Surgical times fit a lognormal better than a normal: Strum, May and Vargas, Anesthesiology 2000;92:1160;
May, Strum and Vargas, Decision Sciences 2000;31:129.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final, Literal

import numpy as np

from tracker.audit.statistics.enough import Floats, logs, present, too_few
from tracker.audit.statistics.libraries import special

SKEWNESS_LIMIT: Final = 0.35
FEWEST_FOR_FORM: Final = 31

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

    @classmethod
    def from_mean_sd(cls, mean: float, sd: float) -> Lognormal:
        """Match a printed mean and standard deviation in minutes (method of moments)."""
        variance = math.log1p((sd / mean) ** 2)
        return cls(math.log(mean) - variance / 2, math.sqrt(variance))

    @property
    def median(self) -> float:
        """Give the median in minutes."""
        return math.exp(self.mu)

    @property
    def mean(self) -> float:
        """Give the mean in minutes, above the median by half the variance on the log scale."""
        return math.exp(self.mu + self.sigma**2 / 2)

    @property
    def mode(self) -> float:
        """Give the commonest length in minutes."""
        return math.exp(self.mu - self.sigma**2)

    @property
    def cv(self) -> float:
        """Give the coefficient of variation, standard deviation over mean."""
        return math.sqrt(math.expm1(self.sigma**2))

    @property
    def sd(self) -> float:
        """Give the standard deviation in minutes."""
        return self.mean * self.cv

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


@dataclass(frozen=True, slots=True)
class UpperBound:
    """The length in minutes that the next case keeps within with probability `share`, from n past ones."""

    n: int
    share: float
    refused: str
    minutes: float | None = None


@dataclass(frozen=True, slots=True)
class Form:
    """Which lognormal describes a set of lengths better, by the skewness rule; n below 31 is refused."""

    n: int
    refused: str
    skewness: float | None = None
    form: Literal["two-parameter", "three-parameter"] | None = None


def upper_bound(minutes: Iterable[float | None], share: float, *, fewest: int = 5) -> UpperBound:
    """Give the bound that the next length keeps within with probability `share`; refuses below `fewest`."""
    kept = present(minutes)
    kept = kept[kept > 0]
    if refused := too_few(kept.size, fewest):
        return UpperBound(kept.size, share, refused)
    return UpperBound(kept.size, share, "", NO_BELIEF.predict(kept).quantile(share))


def sum_of_lognormals(parts: Iterable[Lognormal]) -> Lognormal:
    """Approximate the sum of independent lengths by one lognormal with its mean and variance.

    Fenton, IRE Trans Comm Sys 1960;8:57.
    """
    held = list(parts)
    mean = sum(part.mean for part in held)
    return Lognormal.from_mean_sd(mean, math.sqrt(sum(part.sd**2 for part in held)))


def lognormal_form(minutes: Iterable[float | None]) -> Form:
    """Say whether the lengths call for a lognormal with a least length (a third parameter).

    "If the skewness is greater than 0.35 use the three-parameter lognormal, otherwise the two-parameter
    model", found on samples of more than 30: May, Strum and Vargas, Decision Sciences 2000;31:129.
    """
    kept = present(minutes)
    if refused := too_few(kept.size, FEWEST_FOR_FORM):
        return Form(kept.size, refused)
    away = kept - kept.mean()
    spread = float((away**2).mean())
    if not spread:
        return Form(kept.size, "no spread: every length is the same")
    skewness = float((away**3).mean()) / spread**1.5
    return Form(kept.size, "", skewness, "three-parameter" if skewness > SKEWNESS_LIMIT else "two-parameter")
