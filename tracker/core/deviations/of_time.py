"""Deviations of time: spans and clocks against the file's figures, entries made late."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from tracker.core import events as ev
from tracker.core.case import Case, ClockRun, Moment, running_tick
from tracker.core.deviations import causes
from tracker.core.deviations.found import Deviation, stage_over
from tracker.core.durations import step_intervals, step_seconds, until_t
from tracker.core.entries import Entry, shifted
from tracker.core.protocol import Clock, Step
from tracker.core.wording import SPREAD, figure, span_words

LATE_S: Final = 60.0
"""An entry later than this is marked late (time-stamp study, J Med Syst 2026, PMC12883500)."""
LOW_CONFIDENCE_S: Final = 1200.0
"""An entry later than this is of low confidence (same study: 38 % of entries over 20 min late were wrong)."""

_CLINICAL = (ev.Tick, ev.Start, ev.Stop, ev.Read, ev.CountSaid, ev.CountChanged, ev.Complicated)


# -- spans


def span_times(case: Case, now_t: float) -> Iterator[Deviation]:
    """Span steps longer than the file's range, and shorter once nothing more is to be expected.

    A span without a stop when the patient has left is unmatched and has no length to compare.
    """
    for ident, state in case.steps.items():
        step = case.protocol.step[ident]
        if step.shape != "span" or not state.ticks:
            continue
        if case.end and case.end.left and running_tick(step, state):
            yield from _no_stop(case, step)
        elif step.minutes:
            yield from _against_range(case, step, step.minutes, now_t)


def _no_stop(case: Case, step: Step) -> Iterator[Deviation]:
    for tick in case.state(step.id).ticks:
        if tick.stop is None:
            key = f"unmatched:{step.id}:{tick.seq}"
            of = (causes.running(step, tick),)
            yield Deviation(
                key, "unmatched", "note", step.id, tick.start, "a stop", "no stop ticked", causes=of
            )


def _against_range(case: Case, step: Step, minutes: tuple[float, float], now_t: float) -> Iterator[Deviation]:
    low, high = minutes
    its = case.state(step.id).ticks
    expected = f"{figure(low)} to {figure(high)} min"
    if uncertain := next((t for t in its if t.spread), None):
        yield _not_judged(f"length:{step.id}", step.id, uncertain.start, expected)
        return
    seconds = step_seconds(case, step, now_t) or 0.0
    only = its[0] if len(its) == 1 else None
    of = causes.length(only.start, only.stop) if only else ()

    def differs(code: str, when: Moment) -> Deviation:
        found = span_words(seconds)
        return Deviation(f"{code}:{step.id}", code, "note", step.id, when, expected, found, causes=of)

    if seconds > high * 60:
        yield differs("over_time", _reached(case, step, high * 60, now_t))
    stop = its[-1].stop
    if seconds < low * 60 and stop and not running_tick(step, case.state(step.id)) and stage_over(case, step):
        yield differs("under_time", stop)


def _not_judged(key: str, about: str, when: Moment, expected: str) -> Deviation:
    return Deviation(key, "time_spread", "note", about, when, expected, SPREAD, unsure=True)


def _reached(case: Case, step: Step, limit_s: float, now_t: float) -> Moment:
    """When a span step had run for `limit_s` in all; the same while it runs and afterwards."""
    left, t = limit_s, 0.0
    for interval in step_intervals(case, step, now_t):
        t = interval.start + min(left, interval.seconds)
        left -= interval.seconds
        if left <= 0:
            break
    start = [tick.start for tick in case.state(step.id).ticks if tick.start.t <= t][-1]
    return _after(start, t - start.t)


def _after(start: Moment, seconds: float) -> Moment:
    return Moment(round(start.t + seconds, 3), start.seq, shifted(start.at, seconds))


# -- clocks


def clocks(case: Case, now_t: float) -> Iterator[Deviation]:
    """Clocks that reached the file's figure, or were stopped before it."""
    for run in case.clocks:
        clock = case.protocol.clock[run.clock]
        if run.spread:
            if expected := _figures(clock):
                yield _not_judged(f"clock:{clock.id}:{run.start.seq}", clock.id, run.start, expected)
        elif not run.unsure:
            yield from _against_figures(clock, run, run.seconds(until_t(case, now_t)))


def _against_figures(clock: Clock, run: ClockRun, seconds: float) -> Iterator[Deviation]:
    tail, found = f"{clock.id}:{run.start.seq}", span_words(seconds)
    of = causes.length(run.start, run.stop)
    if clock.min_s is not None and run.stop and seconds < clock.min_s:
        key, expected = f"clock_under:{tail}", _least(clock.min_s)
        yield Deviation(key, "clock_under", clock.level, clock.id, run.stop, expected, found, causes=of)
    reached = [s for _, s in _limits(clock) if seconds >= s]
    if reached:
        when, key = _after(run.start, min(reached)), f"clock_over:{tail}"
        expected = _marks(clock)
        yield Deviation(key, "clock_over", clock.level, clock.id, when, expected, found, causes=of)


def _figures(clock: Clock) -> str:
    """What the file says of a clock, in words; none where it says nothing."""
    least = "" if clock.min_s is None else _least(clock.min_s)
    return ", ".join(filter(None, (least, _marks(clock))))


def _least(seconds: float) -> str:
    return f"at least {span_words(seconds)}"


def _marks(clock: Clock) -> str:
    return ", ".join(f"{word} from {span_words(s)}" for word, s in _limits(clock))


def _limits(clock: Clock) -> tuple[tuple[str, float], ...]:
    both = (("amber", clock.amber_s), ("red", clock.red_s))
    return tuple((word, seconds) for word, seconds in both if seconds is not None)


# -- the record itself


def late_entries(case: Case, _now_t: float) -> Iterator[Deviation]:
    """Entries made more than a minute after what they tell, or once the case had ended."""
    for entry in case.log:
        if entry.spread:
            moment = Moment(entry.t, entry.seq, entry.at, spread=True)
            yield _not_judged(f"late:{entry.seq}", entry.step or entry.event.kind, moment, "at the time")
        elif entry.late_s > LATE_S:
            low = ", low confidence" if entry.late_s > LOW_CONFIDENCE_S else ""
            yield _late(entry, f"{span_words(entry.late_s)} after{low}")
        elif (
            case.end and case.end.left and not case.end.when.spread and _after_end(case, entry, case.end.when)
        ):
            yield _late(entry, "after the case had ended")


def _after_end(case: Case, entry: Entry, end: Moment) -> bool:
    return (
        isinstance(entry.event, _CLINICAL)
        and entry.t + entry.late_s > end.t
        and entry.event.seq > end.seq
        and entry.step not in case.wires.afterwards
    )


def _late(entry: Entry, found: str) -> Deviation:
    moment = Moment(entry.t, entry.seq, entry.at)
    about = entry.step or entry.event.kind
    return Deviation(f"late_entry:{entry.seq}", "late_entry", "note", about, moment, "at the time", found)
