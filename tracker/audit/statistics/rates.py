"""How often: a rate with its interval, rare events by the cases between them, and what makes up most."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist
from typing import Final

from tracker.audit.statistics.enough import FEWEST, too_few

FEWEST_GAPS: Final = 5


@dataclass(frozen=True, slots=True)
class Rate:
    """Events among `n` cases, with Wilson's interval (no continuity correction); shares from 0 to 1."""

    n: int
    events: int
    level: float
    refused: str
    share: float | None = None
    low: float | None = None
    high: float | None = None

    @property
    def per_100(self) -> float | None:
        """Give the events in 100 cases."""
        return None if self.share is None else 100 * self.share


@dataclass(frozen=True, slots=True)
class Gaps:
    """Cases without the event between one event and the next, for events too rare for a rate.

    `since` counts the cases after the last event: a gap that is still open and belongs to no mean.
    """

    n: int
    events: int
    since: int
    refused: str
    gaps: tuple[int, ...] = ()
    mean: float | None = None


@dataclass(frozen=True, slots=True)
class ParetoRow:
    """One kind of deviation: how many, in 100 cases, its share of all, and the shares down to it added."""

    code: str
    step: str
    reason: str
    count: int
    per_100: float
    share: float
    cumulative: float


@dataclass(frozen=True, slots=True)
class Pareto:
    """Deviations of `n` cases, the commonest first; `total` counts deviations, not cases."""

    n: int
    total: int
    refused: str
    rows: tuple[ParetoRow, ...] = ()


def rate(events: int, n: int, *, level: float = 0.95, fewest: int = FEWEST) -> Rate:
    """Give events in n cases with Wilson's score interval; refuses below `fewest`, 5 unless told.

    Newcombe, Stat Med 1998;17:857, method 3. Raises ValueError unless 0 <= events <= n.
    """
    if not 0 <= events <= n:
        raise ValueError(f"{events} events in {n} cases")
    if refused := too_few(n, fewest):
        return Rate(n, events, level, refused)
    z = NormalDist().inv_cdf((1 + level) / 2)
    share, spread = events / n, z * z / n
    middle = (share + spread / 2) / (1 + spread)
    reach = z * math.sqrt(share * (1 - share) / n + spread / (4 * n)) / (1 + spread)
    low = middle - reach if events else 0.0
    high = middle + reach if events < n else 1.0
    return Rate(n, events, level, "", share, low, high)


def cases_between(events: Sequence[bool]) -> Gaps:
    """Count the cases between events in the order they were done; refuses below 5 gaps.

    The cases before the first event are not a gap: nobody knows when the one before it was.
    """
    places = [i for i, event in enumerate(events) if event]
    since = len(events) - 1 - places[-1] if places else len(events)
    gaps = tuple(later - sooner - 1 for sooner, later in pairwise(places))
    if refused := too_few(len(gaps), FEWEST_GAPS, "gaps between events"):
        return Gaps(len(events), len(places), since, refused)
    return Gaps(len(events), len(places), since, "", gaps, sum(gaps) / len(gaps))


def pareto(deviations: Iterable[tuple[str, str, str]], cases: int, *, fewest: int = FEWEST) -> Pareto:
    """Count deviations by (code, step, reason) over this many cases; refuses below `fewest` cases.

    Equal counts stand in the order of their words.
    """
    counts = Counter(deviations)
    total = counts.total()
    if refused := too_few(cases, fewest):
        return Pareto(cases, total, refused)
    rows: list[ParetoRow] = []
    so_far = 0
    for kind, count in sorted(counts.items(), key=lambda item: (-item[1], item[0])):
        so_far += count
        rows.append(ParetoRow(*kind, count, 100 * count / cases, count / total, so_far / total))
    return Pareto(cases, total, "", tuple(rows))
