"""A case as a drawing: lanes of bars and marks on one time axis, and the same drawn in plain text.

Positions are case seconds (`t`), beside each the time told (`at`). Nothing here knows of a screen or a page:
a live screen, a page and a record draw the same `Timeline`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

from tracker.core import durations
from tracker.core.case import Case, ClockRun, Moment, PairState, Tick
from tracker.core.deviations import deviations
from tracker.core.durations import Interval, measure
from tracker.core.entries import shifted
from tracker.core.protocol import Clock, Pair, Step

LaneKind = Literal[
    "stage", "anytime", "clock", "pair", "operator", "pause", "gap", "deviation", "complication", "bookmark"
]
MarkKind = Literal["tick", "safety", "order", "note", "complication", "bookmark"]

SHORTEST_S: Final = 60.0
"""No axis is shorter, so that one tick alone still has somewhere to stand."""
_SAME_CLOCK_S: Final = 1.0


@dataclass(frozen=True, slots=True)
class Bar:
    """A length of time. Without `stop_at` no end is logged, and it reaches as far as it may have lasted."""

    ident: str
    label: str
    seq: int
    start_t: float
    stop_t: float
    start_at: datetime
    stop_at: datetime | None

    @property
    def open(self) -> bool:
        """Whether no end of it is logged."""
        return self.stop_at is None


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment."""

    kind: MarkKind
    ident: str
    label: str
    seq: int
    t: float
    at: datetime


@dataclass(frozen=True, slots=True)
class Lane:
    """One line of the drawing; `seconds` is what its bars come to, None where that means nothing.

    For a stage that is first start to last stop, pauses out; for every other lane the union of its bars.
    """

    kind: LaneKind
    ident: str
    label: str
    bars: tuple[Bar, ...] = ()
    marks: tuple[Mark, ...] = ()
    seconds: float | None = None


@dataclass(frozen=True, slots=True)
class Timeline:
    """A whole drawing. `anchors` are (case second, time told) wherever the two part company."""

    lanes: tuple[Lane, ...]
    start_t: float
    stop_t: float
    anchors: tuple[tuple[float, datetime], ...]

    @property
    def blank(self) -> bool:
        """Whether there is nothing to draw."""
        return not any(lane.bars or lane.marks for lane in self.lanes)

    def at(self, t: float) -> datetime:
        """The time told at case second `t`; a blank timeline of an empty log has none.

        Raises:
            IndexError: nothing was ever logged, so no time of day is known.
        """
        return _told(self.anchors, t)


def timeline(case: Case, now_t: float) -> Timeline:
    """The drawing of a case as of `now_t`, or as of when the patient left.

    Every stage has its lane, in file order; other lanes are there only if something is on them.
    """
    end_t = durations.until_t(case, now_t)
    others = [lane for lane in _other_lanes(case, end_t) if lane.bars or lane.marks]
    lanes = (*_stages(case, end_t), *others)
    reached = [t for lane in lanes for b in lane.bars for t in (b.start_t, b.stop_t)]
    reached += [m.t for lane in lanes for m in lane.marks]
    start_t = min(reached, default=0.0)
    stop_t = max([*reached, start_t + SHORTEST_S])
    return Timeline(lanes, start_t, stop_t, anchors(case))


# -- case seconds and times told


def anchors(case: Case) -> tuple[tuple[float, datetime], ...]:
    """(case second, time told) of the first entry, and of each where a clock was set or changed zone."""
    found: list[tuple[float, datetime]] = []
    for entry in case.log:
        if not found or _parted(found[-1], (entry.t, entry.at)):
            found.append((entry.t, entry.at))
    return tuple(found)


def _parted(anchor: tuple[float, datetime], here: tuple[float, datetime]) -> bool:
    drift = (here[1] - anchor[1]).total_seconds() - (here[0] - anchor[0])
    return abs(drift) >= _SAME_CLOCK_S or anchor[1].utcoffset() != here[1].utcoffset()


def _told(known: tuple[tuple[float, datetime], ...], t: float) -> datetime:
    anchor_t, at = next((a for a in reversed(known) if a[0] <= t), known[0])
    return shifted(at, t - anchor_t)


# -- lanes


def _stages(case: Case, end_t: float) -> Iterator[Lane]:
    for stage in case.protocol.stages:
        seconds = durations.stage_seconds(case, stage, end_t)
        yield _steps_lane(case, end_t, Lane("stage", stage.id, stage.label, seconds=seconds), stage.steps)


def _steps_lane(case: Case, end_t: float, lane: Lane, steps: Iterable[Step]) -> Lane:
    ticks = [(s, t) for s in steps for t in case.state(s.id).ticks]
    bars = tuple(_tick_bar(s, t, end_t) for s, t in ticks if s.shape == "span")
    marks = tuple(_mark("tick", s.id, s.label, t.start) for s, t in ticks if s.shape != "span")
    return Lane(lane.kind, lane.ident, lane.label, bars, marks, lane.seconds)


def _tick_bar(step: Step, tick: Tick, end_t: float) -> Bar:
    return _bar(step.id, step.label, tick.start, tick.stop, end_t)


def _bar(ident: str, label: str, start: Moment, stop: Moment | None, end_t: float) -> Bar:
    stop_t = stop.t if stop else max(end_t, start.t)
    return Bar(ident, label, start.seq, start.t, stop_t, start.at, stop.at if stop else None)


def _until(ident: str, label: str, start: Moment, stop: Moment, unsure: bool) -> Bar:
    # Stopped by something done but not logged: by then, and nobody knows since when.
    return _bar(ident, label, start, None if unsure else stop, stop.t)


def _clock_bar(clock: Clock, run: ClockRun, end_t: float) -> Bar:
    if run.stop is None:
        return _bar(clock.id, clock.label, run.start, None, end_t)
    return _until(clock.id, clock.label, run.start, run.stop, run.unsure)


def _mark(kind: MarkKind, ident: str, label: str, when: Moment) -> Mark:
    return Mark(kind, ident, label, when.seq, when.t, when.at)


def _barred(kind: LaneKind, ident: str, label: str, bars: tuple[Bar, ...]) -> Lane:
    seconds = measure(Interval(b.start_t, b.stop_t) for b in bars) if bars else None
    return Lane(kind, ident, label, bars, seconds=seconds)


def _other_lanes(case: Case, end_t: float) -> Iterator[Lane]:
    yield _steps_lane(case, end_t, Lane("anytime", "anytime", "At any time"), case.protocol.anytime)
    for clock in case.protocol.clocks:
        runs = [r for r in case.clocks if r.clock == clock.id]
        bars = tuple(_clock_bar(clock, r, end_t) for r in runs)
        yield _barred("clock", clock.id, clock.label, bars)
    for pair in case.protocol.pairs:
        bars = tuple(_pair_bars(pair, case.pairs[pair.id], end_t))
        yield _barred("pair", pair.id, f"{pair.label}: {pair.open_word}", bars)
    yield from _operators(case, end_t)
    pauses = tuple(_bar("pause", "Paused", a, b, end_t) for a, b in case.pauses)
    yield _barred("pause", "pause", "Paused", pauses)
    gaps = tuple(_bar("gap", "Log not open", g.start, g.stop, end_t) for g in case.gaps)
    yield _barred("gap", "gap", "Log not open", gaps)
    yield from _mark_lanes(case, end_t)


def _pair_bars(pair: Pair, state: PairState, end_t: float) -> Iterator[Bar]:
    opened: Moment | None = None
    for n, movement in enumerate(state.movements, start=1):
        is_open = PairState(state.movements[:n]).open
        if is_open and opened is None:
            opened = movement.when
        elif opened is not None and not is_open:
            yield _until(pair.id, pair.label, opened, movement.when, movement.unsure)
            opened = None
    if opened is not None:
        yield _bar(pair.id, pair.label, opened, None, end_t)


def _operators(case: Case, end_t: float) -> Iterator[Lane]:
    posts = [p for p in case.posts if p.post == "operator"]
    stops = [*(after.since for after in posts[1:]), case.end.when if case.end else None]
    held = list(zip(posts, stops, strict=False))
    for role in dict.fromkeys(p.role for p in posts):
        label = f"Operator: {case.protocol.label(role)}"
        bars = tuple(_bar(role, label, p.since, stop, end_t) for p, stop in held if p.role == role)
        yield _barred("operator", role, label, bars)


def _mark_lanes(case: Case, end_t: float) -> Iterator[Lane]:
    found = [
        _mark(d.level, d.step, case.protocol.label(d.step), d.when)
        for d in deviations(case, end_t)
        if d.code != "complication"
    ]
    yield Lane("deviation", "deviation", "Deviations", marks=tuple(found))
    named = [(t.complication or "complication", t) for t in case.troubles]
    bars = tuple(_bar(i, case.protocol.label(i), t.start, t.stop, end_t) for i, t in named if t.stop)
    marks = tuple(_mark("complication", i, case.protocol.label(i), t.start) for i, t in named)
    yield Lane("complication", "complication", "Complications", bars, marks)
    said = tuple(
        _mark("bookmark", "bookmark", s.text or "bookmark", s.when) for s in case.said if s.kind == "bookmark"
    )
    yield Lane("bookmark", "bookmark", "Bookmarks", marks=said)
