"""Charts that add up: a small lasting shift shows sooner in a sum than in single points.

Each of these speaks from its first case, since target, spread and limit come from outside the series;
so only an empty series is refused. A limit reached asks for a look at the cases, and says no more.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import accumulate

from tracker.audit.statistics.enough import present, too_few


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


def _floored(steps: Iterable[float]) -> tuple[float, ...]:
    return tuple(accumulate(steps, lambda held, step: max(0.0, held + step), initial=0.0))[1:]


def _above(series: tuple[float, ...], limit: float) -> tuple[int, ...]:
    return tuple(i for i, value in enumerate(series) if value > limit)
