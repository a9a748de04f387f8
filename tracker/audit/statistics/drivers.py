"""What goes with a long case, and which stage the difference between cases lies in.

Effects are associations among the cases that were done, not causes: the hard case is the long one.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from tracker.audit.statistics.enough import Floats, too_few
from tracker.audit.statistics.libraries import linear_model

CASES_PER_TERM: Final = 10
FEWEST_FOR_SHARES: Final = 10
INSEPARABLE: Final = "terms that cannot be told apart: one does not vary, or follows from others"
LEAST_SPREAD: Final = 1e-9
"""Logs of lengths that differ by less are the same length, added up in another order."""
NO_SPREAD: Final = "no spread: every length is the same"
NOTHING_VARIES: Final = "no term to go by: each is the same in every case, or unknown"
REST: Final = "overlap or unassigned"


@dataclass(frozen=True, slots=True)
class Effect:
    """How much longer, in per cent, one unit more of a term goes with, the other terms held; 95 % interval.

    It rests on the n cases in which the term is not what it is in most.
    """

    term: str
    n: int
    percent: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Effects:
    """A linear model of ln minutes. `dropped` cases lacked the length or a term."""

    n: int
    dropped: int
    refused: str
    effects: tuple[Effect, ...] = ()
    explained: float | None = None
    """Share of the variance of ln minutes that the terms account for, adjusted for their number."""


@dataclass(frozen=True, slots=True)
class StageShare:
    """A stage's part in the variance of the total, and its own quartile distance in minutes."""

    stage: str
    share: float
    iqr: float


@dataclass(frozen=True, slots=True)
class StageShares:
    """Covariance of each stage with the total over the variance of the total; the shares sum to 1.

    A share may be negative: a stage that is shorter in the longer cases.
    """

    n: int
    dropped: int
    refused: str
    shares: tuple[StageShare, ...] = ()


def indicators(
    fact: str, values: Sequence[str | None], reference: str
) -> dict[str, tuple[float | None, ...]]:
    """Turn a fact in words into one 0/1 term for each word but the reference, named `fact: word`.

    Raises ValueError if no case has the reference.
    """
    if reference not in values:
        raise ValueError(f"no case has {fact} {reference}")
    words = sorted({value for value in values if value is not None} - {reference})
    return {
        f"{fact}: {word}": tuple(None if value is None else float(value == word) for value in values)
        for word in words
    }


def percent_effects(minutes: Sequence[float | None], terms: Mapping[str, Sequence[float | None]]) -> Effects:
    """Fit ln minutes on the terms by least squares and give 100 (exp(b) - 1) with its 95% t interval.

    Refuses with fewer than 10 complete cases to a term, lengths that are all the same, or terms that cannot be
    told apart.
    Raises ValueError if there is no term, or a term's length differs from that of `minutes`.
    """
    rows, total = complete_rows([minutes, *terms.values()], positive=1), len(minutes)
    n, dropped = len(rows), total - len(rows)
    if not terms:
        raise ValueError("a model needs at least one term")
    if refused := too_few(n, CASES_PER_TERM * len(terms), f"complete cases for {len(terms)} terms"):
        return Effects(n, dropped, refused)
    logs = np.log(rows[:, 0])
    if np.ptp(logs) < LEAST_SPREAD:
        return Effects(n, dropped, NO_SPREAD)
    fit = least_squares(logs, rows[:, 1:])
    if fit is None:
        return Effects(n, dropped, INSEPARABLE)
    return Effects(n, dropped, "", _effects(tuple(terms), rows[:, 1:], fit), float(fit.rsquared_adj))


def stage_shares(stages: Mapping[str, Sequence[float | None]], totals: Sequence[float | None]) -> StageShares:
    """Share the variance of the total minutes among the stages and a last term for what they leave.

    A stage that was not done is 0 minutes; None is a stage without times, and leaves its case out.
    Refuses below 10 cases. Raises ValueError if the lengths of the columns differ.
    """
    rows = complete_rows([totals, *stages.values()])
    n, dropped = len(rows), len(totals) - len(rows)
    if refused := too_few(n, FEWEST_FOR_SHARES):
        return StageShares(n, dropped, refused)
    total, parts = rows[:, 0], rows[:, 1:]
    variance = float(total.var(ddof=1))
    if not variance:
        return StageShares(n, dropped, "no spread: every total is the same")
    columns = np.column_stack([parts, total - parts.sum(axis=1)])
    shares = (columns - columns.mean(axis=0)).T @ (total - total.mean()) / (n - 1) / variance
    quarters = np.quantile(columns, [0.25, 0.75], axis=0)
    return StageShares(
        n,
        dropped,
        "",
        tuple(
            StageShare(stage, float(share), float(iqr))
            for stage, share, iqr in zip((*stages, REST), shares, quarters[1] - quarters[0], strict=True)
        ),
    )


def complete_rows(columns: Sequence[Sequence[float | None]], positive: int = 0) -> Floats:
    """Keep the cases with every column known, and the first `positive` columns above 0; cases by columns.

    Raises ValueError if the columns differ in length.
    """
    rows = [
        row
        for row in zip(*columns, strict=True)
        if all(_known(value, above_0=place < positive) for place, value in enumerate(row))
    ]
    return np.array(rows, dtype=float).reshape(len(rows), len(columns))


def least_squares(outcome: Floats, terms: Floats) -> Any | None:
    """Fit a constant and the terms (cases by terms); None if the terms cannot be told apart."""
    design = np.column_stack([np.ones(len(terms)), terms])
    if np.linalg.matrix_rank(design) < design.shape[1]:
        return None
    return linear_model().OLS(outcome, design).fit()


def _known(value: float | None, *, above_0: bool) -> bool:
    return value is not None and math.isfinite(value) and (value > 0 or not above_0)


def _effects(names: tuple[str, ...], terms: Floats, fit: Any) -> tuple[Effect, ...]:
    bounds = np.asarray(fit.conf_int(alpha=0.05))[1:]
    return tuple(
        Effect(name, _unlike_most(values), *(100 * math.expm1(float(b)) for b in (slope, low, high)))
        for name, values, slope, (low, high) in zip(names, terms.T, fit.params[1:], bounds, strict=True)
    )


def _unlike_most(values: Floats) -> int:
    ((_, most),) = Counter(values.tolist()).most_common(1)
    return len(values) - most
