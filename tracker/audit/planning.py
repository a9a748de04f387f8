"""Lists that do not overrun: many invented runs of a planned list, and what would change its end.

Cases, gaps and the late start are drawn independently. A slow day slows every case on it, so a real
p90 lies somewhat later than the one given here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import Final

import numpy as np

from tracker.audit.statistics.enough import SEED, Floats
from tracker.audit.statistics.lengths import Basis, Length, Spread

DRAWS: Final = 100_000
ORDER_DRAWS: Final = 20_000
MOST_TO_PERMUTE: Final = 5

START_ON_TIME: Final = "start on time"


@dataclass(frozen=True, slots=True)
class PlannedCase:
    """A case on the list; `turnover` only where the gap before this case is not like the others."""

    length: Length
    turnover: Length | None = None


@dataclass(frozen=True, slots=True)
class PlannedList:
    """Cases in order, the booked session in minutes, the usual gap, and the late start (None: none)."""

    cases: tuple[PlannedCase, ...]
    session: float
    turnover: Length
    start_delay: Length | None = None


@dataclass(frozen=True, slots=True)
class CaseOutlook:
    """One case of the list: when it may end (minutes after the planned start), and P(ended in session)."""

    label: str
    n: int
    basis: Basis
    ends_median: float
    ends_p80: float
    finished: float


@dataclass(frozen=True, slots=True)
class ListForecast:
    """When the list may end, in minutes after its planned start.

    `overrun` is the probability of ending after the session and `overrun_give` one standard deviation of
    it from the number of draws alone. `sum_of_medians` is what adding up usual times would have said.
    `fewest` is the smallest n that any drawn case rests on.
    """

    draws: int
    seed: int
    session: float
    refused: str
    fewest: int = 0
    median: float | None = None
    p80: float | None = None
    p90: float | None = None
    overrun: float | None = None
    overrun_give: float | None = None
    expected_finished: float | None = None
    sum_of_medians: float | None = None
    cases: tuple[CaseOutlook, ...] = ()


@dataclass(frozen=True, slots=True)
class Change:
    """The list with one thing changed: a case left out, with its gap, or a start on time.

    The changes are against the whole list on the same draws; below 0 is sooner, or less likely.
    """

    label: str
    median: float
    overrun: float
    median_change: float
    overrun_change: float


@dataclass(frozen=True, slots=True)
class OrderOutlook:
    """One order of the cases: expected number ended in the session, and the end of the list.

    `tied`: the difference from the best order is within two standard deviations of the draws.
    """

    labels: tuple[str, ...]
    expected_finished: float
    median: float
    overrun: float
    tied: bool


@dataclass(frozen=True, slots=True)
class Orders:
    """Orders of a list, most cases ended in the session first. Clinical grounds for an order come first.

    `end_unchanged`: no case has a gap of its own, so that the end of the list is the same whatever the
    order, and only what is over by then differs. `complete`: all orders were tried; else the planned
    one, shortest first and longest first.
    """

    n: int
    refused: str
    end_unchanged: bool
    complete: bool
    rows: tuple[OrderOutlook, ...] = ()


@dataclass(frozen=True, slots=True)
class _Runs:
    """The draws of a list: delay of each run, minutes of each case, gap before each case or place."""

    delay: Floats
    minutes: Floats
    gaps: Floats
    own_gaps: bool

    def ends(self, order: Sequence[int]) -> Floats:
        gaps = self.gaps[:, list(order)] if self.own_gaps else self.gaps[:, : len(order)]
        steps = self.minutes[:, list(order)] + gaps
        steps[:, 0] += self.delay - gaps[:, 0]
        ends: Floats = np.cumsum(steps, axis=1)
        return ends

    def without(self, left_out: int, whole: Floats) -> Floats:
        """The end of the list without one case and a gap: its own, or that of the case which is first then."""
        own, last = left_out or 1, self.minutes.shape[1] - 1
        return whole - self.minutes[:, left_out] - self.gaps[:, own if self.own_gaps else last]


def forecast_list(plan: PlannedList, *, draws: int = DRAWS, seed: int = SEED) -> ListForecast:
    """Run the list `draws` times and say when it may end; the same seed gives the same answer.

    Refuses an empty list, or one with a length that itself was refused.
    """
    if refused := _refusal(plan):
        return ListForecast(draws, seed, plan.session, refused)
    ends = _run(plan, draws, seed).ends(range(len(plan.cases)))
    median, p80, p90 = np.quantile(ends[:, -1], [0.5, 0.8, 0.9]).tolist()
    overrun = float((ends[:, -1] > plan.session).mean())
    finished = (ends <= plan.session).mean(axis=0)
    return ListForecast(
        draws, seed, plan.session, "", min(case.length.n for case in plan.cases),
        median, p80, p90, overrun, math.sqrt(overrun * (1 - overrun) / draws),
        float(finished.sum()), sum(spread.median for spread in _spreads(plan)), _outlooks(plan, ends),
    )  # fmt: skip


def leave_out(plan: PlannedList, *, draws: int = DRAWS, seed: int = SEED) -> tuple[Change, ...]:
    """Try the list without each case in turn, if there are others, and with a start on time.

    The largest gain first. Empty if the list is refused, or if there is nothing to leave out.
    """
    if _refusal(plan):
        return ()
    runs, several = _run(plan, draws, seed), len(plan.cases) > 1
    whole = runs.ends(range(len(plan.cases)))[:, -1]
    cases = enumerate(plan.cases) if several else ()
    ends = [(case.length.label, runs.without(i, whole)) for i, case in cases]
    if plan.start_delay is not None:
        ends.append((START_ON_TIME, whole - runs.delay))
    changes = [_change(label, end, whole, plan.session) for label, end in ends]
    return tuple(sorted(changes, key=lambda each: (each.overrun, each.median)))


def changing_most(changes: Sequence[Change], draws: int = DRAWS) -> tuple[Change, ...]:
    """The first of the changes and those that the draws do not tell from it: within 1 min and 0.01 at most.

    Of two changes that are alike, three standard deviations of the draws may lie between the probabilities.
    """
    within = min(0.01, 3 * math.sqrt(2 * 0.25 / draws))
    return tuple(
        each
        for each in changes
        if each.overrun - changes[0].overrun <= within and abs(each.median - changes[0].median) <= 1
    )


def try_orders(plan: PlannedList, *, draws: int = ORDER_DRAWS, seed: int = SEED) -> Orders:
    """Compare orders of the cases by how many are over when the session ends, on the same draws.

    All orders up to 5 cases. Refuses what `forecast_list` refuses.
    """
    n = len(plan.cases)
    own_gaps, complete = any(case.turnover for case in plan.cases), n <= MOST_TO_PERMUTE
    if refused := _refusal(plan):
        return Orders(n, refused, not own_gaps, complete)
    runs = _run(plan, draws, seed)
    ends = {order: runs.ends(order) for order in _orders(plan, complete)}
    finished = {order: (end <= plan.session).sum(axis=1) for order, end in ends.items()}
    best = max(finished.values(), key=lambda counts: float(counts.mean()))
    rows = [
        OrderOutlook(
            tuple(plan.cases[i].length.label for i in order),
            float(finished[order].mean()),
            float(np.median(end[:, -1])),
            float((end[:, -1] > plan.session).mean()),
            _tied(best - finished[order]),
        )
        for order, end in ends.items()
    ]
    return Orders(n, "", not own_gaps, complete, tuple(sorted(rows, key=lambda row: -row.expected_finished)))


def _spreads(plan: PlannedList) -> list[Spread]:
    gaps = [case.turnover or plan.turnover for case in plan.cases[1:]]
    start = [] if plan.start_delay is None else [plan.start_delay]
    lengths = [*start, *(case.length for case in plan.cases), *gaps]
    return [length.spread for length in lengths if length.spread is not None]


def _refusal(plan: PlannedList) -> str:
    if not plan.cases:
        return "no cases on the list"
    needed = [case.length for case in plan.cases]
    if len(needed) > 1:
        # Another order may put any case second, so every gap is needed, the first case's too.
        needed += [case.turnover or plan.turnover for case in plan.cases]
    if plan.start_delay is not None:
        needed.append(plan.start_delay)
    return "; ".join(dict.fromkeys(length.refused for length in needed if length.refused))


def _run(plan: PlannedList, draws: int, seed: int) -> _Runs:
    rng = np.random.default_rng(seed)
    delay = np.zeros(draws) if plan.start_delay is None else _drawn(plan.start_delay, rng, draws)
    minutes = np.column_stack([_drawn(case.length, rng, draws) for case in plan.cases])
    gaps = np.column_stack([_drawn(case.turnover or plan.turnover, rng, draws) for case in plan.cases])
    return _Runs(delay, minutes, gaps, any(case.turnover for case in plan.cases))


def _drawn(length: Length, rng: np.random.Generator, draws: int) -> Floats:
    return np.zeros(draws) if length.spread is None else length.spread.draw(rng, draws)


def _outlooks(plan: PlannedList, ends: Floats) -> tuple[CaseOutlook, ...]:
    cuts = np.quantile(ends, [0.5, 0.8], axis=0)
    finished = (ends <= plan.session).mean(axis=0)
    return tuple(
        CaseOutlook(case.length.label, case.length.n, case.length.basis or "typed in", *map(float, figures))
        for case, *figures in zip(plan.cases, *cuts, finished, strict=True)
    )


def _change(label: str, end: Floats, whole: Floats, session: float) -> Change:
    median, overrun = float(np.median(end)), float((end > session).mean())
    return Change(
        label, median, overrun, median - float(np.median(whole)), overrun - float((whole > session).mean())
    )


def _orders(plan: PlannedList, complete: bool) -> list[tuple[int, ...]]:
    planned = tuple(range(len(plan.cases)))
    if complete:
        return list(permutations(planned))
    medians = [case.length.spread.median if case.length.spread else 0.0 for case in plan.cases]
    by_length = tuple(sorted(planned, key=lambda i: medians[i]))
    return list(dict.fromkeys([planned, by_length, by_length[::-1]]))


def _tied(behind: Floats) -> bool:
    return float(behind.mean()) <= 2 * float(behind.std()) / math.sqrt(behind.size)
