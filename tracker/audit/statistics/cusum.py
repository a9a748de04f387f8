"""Charts that add up: a small lasting shift shows sooner in a sum than in single points.

Each of these speaks from its first case, since target, spread and limit come from outside the series;
so only an empty series is refused. A limit reached asks for a look at the cases, and says no more.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import accumulate
from typing import Final

from tracker.audit.statistics.enough import present, too_few

LEAST_RUN: Final = 400
"""Cases that a sum of outcomes should run on average before chance alone takes it beyond its limit."""
_GONE: Final = 1e-12


@dataclass(frozen=True, slots=True)
class Ewma:
    """An exponentially weighted mean after each case, and its steady limits."""

    n: int
    refused: str
    weight: float
    series: tuple[float, ...] = ()
    low: float | None = None
    high: float | None = None
    reached: tuple[int, ...] = ()
    """Places, from 0, beyond the steady limits."""


@dataclass(frozen=True, slots=True)
class TabularCusum:
    """Upper and lower sums about a target with slack k; places from 0 where either is beyond h."""

    n: int
    refused: str
    upper: tuple[float, ...] = ()
    lower: tuple[float, ...] = ()
    reached_above: tuple[int, ...] = ()
    reached_below: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Weights:
    """What a failure adds to a sum of outcomes, and what a success adds, which is below 0."""

    failure: float
    success: float


@dataclass(frozen=True, slots=True)
class OutcomeCusum:
    """The sum of the weights of consecutive outcomes after each; places from 0 where it is beyond the limit."""

    n: int
    refused: str
    series: tuple[float, ...] = ()
    reached: tuple[int, ...] = ()


def ewma(
    values: Iterable[float | None], target: float, sd: float, *, weight: float = 0.3, reach: float = 3.0
) -> Ewma:
    """Weigh each value by `weight` against the mean so far, starting at the target.

    Limits are `reach` deviations of the mean, sd sqrt(weight / (2 - weight)) once steady.
    """
    x = present(values).tolist()
    if refused := too_few(len(x), 1):
        return Ewma(len(x), refused, weight)
    means = accumulate(x, lambda mean, value: weight * value + (1 - weight) * mean, initial=target)
    series = tuple(means)[1:]
    steady = reach * sd * math.sqrt(weight / (2 - weight))
    beyond = tuple(i for i, mean in enumerate(series) if abs(mean - target) > steady)
    return Ewma(len(x), "", weight, series, target - steady, target + steady, beyond)


def tabular_cusum(values: Iterable[float | None], target: float, slack: float, limit: float) -> TabularCusum:
    """Add up what passes target + slack, and what falls short of target - slack, neither below 0."""
    x = present(values).tolist()
    if refused := too_few(len(x), 1):
        return TabularCusum(len(x), refused)
    upper = _floored(value - target - slack for value in x)
    lower = _floored(target - slack - value for value in x)
    return TabularCusum(len(x), "", upper, lower, _above(upper, limit), _above(lower, limit))


def weights(expected: float, noticed: float) -> Weights:
    """The log-likelihood ratio of one outcome, a share `noticed` of failures against the share `expected`.

    Steiner, Cook, Farewell, Treasure, Biostatistics 2000;1:441; whoever knows the risk of a case gives its own shares,
    as of odds that are doubled. Raises ValueError unless 0 < expected < noticed < 1.
    """
    if not 0 < expected < noticed < 1:
        raise ValueError(f"{expected} and {noticed} are not 0 < expected < noticed < 1")
    return Weights(math.log(noticed / expected), math.log((1 - noticed) / (1 - expected)))


def outcome_cusum(failed: Sequence[bool], its: Weights, limit: float) -> OutcomeCusum:
    """Add up the weights of consecutive outcomes, never below 0."""
    if refused := too_few(len(failed), 1):
        return OutcomeCusum(len(failed), refused)
    series = _floored(its.failure if each else its.success for each in failed)
    return OutcomeCusum(len(failed), "", series, _above(series, limit))


def average_run(its: Weights, limit: float, share: float) -> float:
    """Cases on average until the sum, from 0, is beyond the limit, where `share` of cases fail.

    Page, Biometrika 1954;41:100: the cases of one excursion from 0, over the chance that it ends beyond the limit. An
    excursion is followed exactly, by how many of its cases failed, until less than 1e-12 of its chance is left.
    """
    alive, n = {0: 1.0}, 0
    cases = beyond = 0.0
    while (left := sum(alive.values())) > _GONE:
        n, cases = n + 1, cases + left
        sums = {k: (k * its.failure + (n - k) * its.success, chance) for k, chance in _next(alive, share)}
        beyond += sum(chance for held, chance in sums.values() if held > limit)
        alive = {k: chance for k, (held, chance) in sums.items() if 0 < held <= limit}
    return cases / beyond


def _next(alive: Mapping[int, float], share: float) -> Iterable[tuple[int, float]]:
    """The chances of so many failures with one case more."""
    told: dict[int, float] = defaultdict(float)
    for k, chance in alive.items():
        told[k + 1] += chance * share
        told[k] += chance * (1 - share)
    return told.items()


def limit_step(its: Weights) -> float:
    """The step of the grid of limits: a tenth of the power of ten up to the weight of a failure."""
    return 10.0 ** (math.floor(math.log10(its.failure)) - 1)


@cache
def limit_of(its: Weights, expected: float) -> float:
    """The smallest limit of its grid at which the average run, with the `expected` share, is `LEAST_RUN` or more."""
    step, high = limit_step(its), 1
    while average_run(its, high * step, expected) < LEAST_RUN:
        high *= 2
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        enough = average_run(its, middle * step, expected) >= LEAST_RUN
        low, high = (low, middle) if enough else (middle, high)
    return high * step


def _floored(steps: Iterable[float]) -> tuple[float, ...]:
    return tuple(accumulate(steps, lambda held, step: max(0.0, held + step), initial=0.0))[1:]


def _above(series: tuple[float, ...], limit: float) -> tuple[int, ...]:
    return tuple(i for i, value in enumerate(series) if value > limit)
