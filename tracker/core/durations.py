"""How long things took. Durations come from spans only, in seconds, pauses taken out.

Intervals are half-open, `[start, stop)`: two that only touch do not overlap, and their union has no seam.
The time between two ticks is never a step's time; it is given apart, under its own name.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

from msgspec import Struct

from tracker.core import events as ev
from tracker.core.case import Case, Tick
from tracker.core.entries import Entry
from tracker.core.protocol import Stage, Step


class Interval(Struct, frozen=True, order=True, gc=False):
    """Case seconds from `start` up to, not including, `stop`."""

    start: float
    stop: float

    @property
    def seconds(self) -> float:
        """Its length."""
        return self.stop - self.start


def union(intervals: Iterable[Interval]) -> tuple[Interval, ...]:
    """The same set of instants as disjoint intervals in order; empty ones vanish, touching ones join."""
    joined: list[Interval] = []
    for interval in sorted(i for i in intervals if i.stop > i.start):
        if joined and interval.start <= joined[-1].stop:
            joined[-1] = Interval(joined[-1].start, max(joined[-1].stop, interval.stop))
        else:
            joined.append(interval)
    return tuple(joined)


def intersection(some: Iterable[Interval], others: Iterable[Interval]) -> tuple[Interval, ...]:
    """The instants that both sets hold, as disjoint intervals in order."""
    others = union(others)
    meets = (Interval(max(a.start, b.start), min(a.stop, b.stop)) for a in union(some) for b in others)
    return union(i for i in meets if i.stop > i.start)


def measure(intervals: Iterable[Interval]) -> float:
    """The length of the union, in seconds (Klee's measure in one dimension)."""
    return _length(union(intervals))


def _length(disjoint: Iterable[Interval]) -> float:
    return sum(i.seconds for i in disjoint)


def without(some: Iterable[Interval], removed: Iterable[Interval]) -> tuple[Interval, ...]:
    """The instants of `some` that are not in `removed`."""
    left = union(some)
    for gone in union(removed):
        pieces = (
            (Interval(i.start, gone.start), Interval(gone.stop, i.stop))
            if i.start < gone.stop and gone.start < i.stop
            else (i,)
            for i in left
        )
        left = union(piece for pair in pieces for piece in pair)
    return left


def until_t(case: Case, now_t: float) -> float:
    """Up to when something without a stop runs: `now_t`, or when the patient left."""
    return case.end.when.t if case.end and case.end.left else now_t


def pauses(case: Case, now_t: float) -> tuple[Interval, ...]:
    """When the operation stood still."""
    until = until_t(case, now_t)
    return union(Interval(a.t, b.t if b else max(until, a.t)) for a, b in case.pauses)


def tick_interval(tick: Tick, now_t: float) -> Interval:
    """From the start of a span to its stop, or to `now_t` while it runs."""
    return Interval(tick.start.t, tick.stop.t if tick.stop else max(now_t, tick.start.t))


def _ran(case: Case, step: Step, now_t: float) -> list[Interval]:
    if step.shape != "span":
        return []
    until = until_t(case, now_t)
    return [tick_interval(t, until) for t in case.state(step.id).ticks]


def step_intervals(case: Case, step: Step, now_t: float) -> tuple[Interval, ...]:
    """When a span step ran, pauses taken out; nothing for steps of another shape."""
    return without(_ran(case, step, now_t), pauses(case, now_t))


def step_seconds(case: Case, step: Step, now_t: float) -> float | None:
    """How long a span step took in all, to the millisecond; None if it has no span.

    A span that nobody stopped runs until the patient left.
    """
    ran = _ran(case, step, now_t)
    return round(_length(without(ran, pauses(case, now_t))), 3) if ran else None


def operators(case: Case, tick: Tick, now_t: float) -> tuple[tuple[str | None, Interval], ...]:
    """Who operated during a span, in order, by role; None before anyone was named."""
    whole = tick_interval(tick, until_t(case, now_t))
    changes = [p for p in case.posts if p.post == "operator" and whole.start < p.since.t < whole.stop]
    roles = [tick.operator, *(p.role for p in changes)]
    edges = [whole.start, *(p.since.t for p in changes), whole.stop]
    return tuple((role, Interval(*edge)) for role, edge in zip(roles, pairwise(edges), strict=True))


def stage_interval(case: Case, stage: Stage, now_t: float) -> Interval | None:
    """From the first start to the last stop of a stage's spans; None if it has none."""
    ran = [i for s in stage.steps for i in _ran(case, s, now_t)]
    return Interval(min(i.start for i in ran), max(i.stop for i in ran)) if ran else None


def stage_seconds(case: Case, stage: Stage, now_t: float) -> float | None:
    """How long a stage took, first start to last stop, pauses taken out, to the millisecond."""
    whole = stage_interval(case, stage, now_t)
    return None if whole is None else round(_length(without([whole], pauses(case, now_t))), 3)


def end_t(case: Case, now_t: float) -> float:
    """The case second at which a case ended, or `now_t`."""
    return case.end.when.t if case.end else now_t


def case_seconds(case: Case, now_t: float) -> float | None:
    """From the step that starts the case to its end or `now_t`, pauses included; None before the start."""
    return None if case.started is None else round(max(0.0, end_t(case, now_t) - case.started.t), 3)


def since_previous_tick(case: Case) -> Iterator[tuple[Entry, float]]:
    """Each tick or start with the seconds since the one before: an interval, not a step's time."""
    ticks = [e for e in case.log if isinstance(e.event, ev.Tick | ev.Start)]
    for before, after in pairwise(ticks):
        yield after, round(after.t - before.t, 3)
