"""Charts that add up: a small lasting shift shows sooner in a sum than in single points.

Each of these speaks from its first case, since target, spread and limit come from outside the series;
so only an empty series is refused. A limit reached asks for a look at the cases, and says no more.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate

from tracker.audit.statistics.enough import present, too_few


@dataclass(frozen=True, slots=True)
class Ewma:
    """An exponentially weighted mean after each case, its steady limits, and the narrower early ones."""

    n: int
    refused: str
    weight: float
    series: tuple[float, ...] = ()
    low: float | None = None
    high: float | None = None
    early_reach: tuple[float, ...] = ()
    """Half the width of the limits after each case, growing to the steady one."""
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
class OutcomeCusum:
    """Sum of log-likelihood weights of outcomes, not below 0; places from 0 where it is at or beyond h."""

    n: int
    events: int
    refused: str
    series: tuple[float, ...] = ()
    reached: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Weights:
    """What one case adds to an outcome sum: when the event happened, and when it did not."""

    event: float
    none: float


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
    early = tuple(steady * math.sqrt(1 - (1 - weight) ** (2 * i)) for i in range(1, len(x) + 1))
    beyond = tuple(i for i, mean in enumerate(series) if abs(mean - target) > steady)
    return Ewma(len(x), "", weight, series, target - steady, target + steady, early, beyond)


def cumulative_sum(values: Iterable[float | None], target: float) -> tuple[float, ...]:
    """Add up the differences from the target."""
    return tuple(accumulate(value - target for value in present(values).tolist()))


def tabular_cusum(values: Iterable[float | None], target: float, slack: float, limit: float) -> TabularCusum:
    """Add up what passes target + slack, and what falls short of target - slack, neither below 0."""
    x = present(values).tolist()
    if refused := too_few(len(x), 1):
        return TabularCusum(len(x), refused)
    upper = _floored(value - target - slack for value in x)
    lower = _floored(target - slack - value for value in x)
    return TabularCusum(len(x), "", upper, lower, _above(upper, limit), _above(lower, limit))


def outcome_weights(usual: float, shifted: float) -> Weights:
    """Give the log-likelihood weights for an event rate `shifted` (p1) against the `usual` (p0).

    Raises ValueError unless both lie within 0 and 1 and differ.
    """
    if not (0 < usual < 1 and 0 < shifted < 1) or usual == shifted:
        raise ValueError("two different rates between 0 and 1 are needed")
    return Weights(math.log(shifted / usual), math.log((1 - shifted) / (1 - usual)))


def adjusted_weights(risk: float, odds_ratio: float = 2.0) -> Weights:
    """Give the weights of a case whose own expected risk is known, for odds `odds_ratio` times as large.

    Steiner, Cook, Farewell and Treasure, Biostatistics 2000;1:441. Raises ValueError for a risk not
    between 0 and 1, or an odds ratio that is not above 0 or is 1.
    """
    if not 0 < risk < 1 or odds_ratio <= 0 or odds_ratio == 1:
        raise ValueError("a risk between 0 and 1 and an odds ratio above 0, not 1, are needed")
    spread = math.log(1 - risk + odds_ratio * risk)
    return Weights(math.log(odds_ratio) - spread, -spread)


def outcome_cusum(events: Sequence[bool], usual: float, shifted: float, limit: float) -> OutcomeCusum:
    """Follow outcomes against two event rates, one weight for all cases."""
    return _outcomes(events, [outcome_weights(usual, shifted)] * len(events), limit)


def adjusted_cusum(
    events: Sequence[bool], risks: Sequence[float], limit: float, odds_ratio: float = 2.0
) -> OutcomeCusum:
    """Follow outcomes against each case's own risk.

    Raises ValueError if the two sequences differ in length.
    """
    return _outcomes(events, [adjusted_weights(risk, odds_ratio) for risk in risks], limit)


def _outcomes(events: Sequence[bool], weights: Sequence[Weights], limit: float) -> OutcomeCusum:
    n, happened = len(events), sum(map(bool, events))
    if refused := too_few(n, 1):
        return OutcomeCusum(n, happened, refused)
    series = _floored(w.event if event else w.none for event, w in zip(events, weights, strict=True))
    return OutcomeCusum(n, happened, "", series, tuple(i for i, s in enumerate(series) if s >= limit))


def _floored(steps: Iterable[float]) -> tuple[float, ...]:
    return tuple(accumulate(steps, lambda held, step: max(0.0, held + step), initial=0.0))[1:]


def _above(series: tuple[float, ...], limit: float) -> tuple[int, ...]:
    return tuple(i for i, value in enumerate(series) if value > limit)
