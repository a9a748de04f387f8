"""Whether a step grows quicker with experience: ln minutes against ln case number."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from tracker.audit.statistics.drivers import CASES_PER_TERM, INSEPARABLE, complete_rows, least_squares
from tracker.audit.statistics.enough import too_few

FEWEST_CASES: Final = 20


@dataclass(frozen=True, slots=True)
class Learning:
    """Slope of ln minutes on ln case number, with a 95% t interval.

    It describes one operator's cases; it does not say why.
    """

    n: int
    dropped: int
    refused: str
    slope: float | None = None
    low: float | None = None
    high: float | None = None


def learning_slope(
    minutes: Sequence[float | None],
    numbers: Sequence[float],
    terms: Mapping[str, Sequence[float | None]] | None = None,
) -> Learning:
    """Fit ln minutes on ln case number (1 is the first), holding any case-mix terms.

    Refuses below 20 complete cases, below 10 to a term, or where the terms cannot be told apart.
    Raises ValueError if the columns differ in length.
    """
    others = tuple((terms or {}).values())
    rows = complete_rows([minutes, numbers, *others], positive=2)
    n, dropped = len(rows), len(minutes) - len(rows)
    if refused := too_few(n, max(FEWEST_CASES, CASES_PER_TERM * (1 + len(others))), "complete cases"):
        return Learning(n, dropped, refused)
    fit = least_squares(np.log(rows[:, 0]), np.column_stack([np.log(rows[:, 1]), rows[:, 2:]]))
    if fit is None:
        return Learning(n, dropped, INSEPARABLE)
    slope, (low, high) = float(fit.params[1]), map(float, fit.conf_int(alpha=0.05)[1])
    return Learning(n, dropped, "", slope, low, high)
