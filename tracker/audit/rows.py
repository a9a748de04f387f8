"""From one case and its follow-up to the rows of every table. Pure; an open case is measured to its last entry."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence, Set
from typing import NamedTuple

from tracker.audit.columns import (
    CaseRow,
    ClockRow,
    DeviationRow,
    EntryRow,
    FactRow,
    PairRow,
    ReadingRow,
    SpanRow,
    StageRow,
    StepRow,
    VisitRow,
)
from tracker.audit.rows_of_case import case_row, fact_rows, number_of, text_of
from tracker.audit.rows_of_visits import visit_rows
from tracker.core import durations
from tracker.core.case import Case, ClockRun, StepState, Tick
from tracker.core.completeness import back_stamped, is_told, required
from tracker.core.day import Day
from tracker.core.deviations import LATE_S, LOW_CONFIDENCE_S, Deviation, deviations, in_caution, stage_over
from tracker.core.durations import Interval
from tracker.core.entries import entry_of, struck
from tracker.core.follow_up import NO_FOLLOW_UP, FollowUp
from tracker.core.protocol import Protocol, Step


class Rows(NamedTuple):
    """What a case gives to each table; the fields have the tables' names."""

    cases: Sequence[CaseRow]
    facts: Sequence[FactRow]
    stages: Sequence[StageRow]
    steps: Sequence[StepRow]
    spans: Sequence[SpanRow]
    entries: Sequence[EntryRow]
    deviations: Sequence[DeviationRow]
    readings: Sequence[ReadingRow]
    clocks: Sequence[ClockRow]
    pairs: Sequence[PairRow]
    visits: Sequence[VisitRow]


def rows_of(
    case: Case, follow_up: FollowUp = NO_FOLLOW_UP, *, torn: bool = False, on_list: Day | None = None
) -> Rows:
    """The rows of every table that a case and its follow-up give; `torn` if its last line was unfinished.

    Raises:
        IndexError: the case has no entry at all.
    """
    end_t = durations.until_t(case, case.last_t)
    found = deviations(case, end_t)
    asked = frozenset(s.id for s in case.protocol.all_steps() if required(case, s))
    return Rows(
        cases=(case_row(case, end_t, torn=torn, on_list=on_list),),
        facts=tuple(fact_rows(case)),
        stages=tuple(_stages(case, asked, end_t)),
        steps=tuple(_steps(case, asked, end_t)),
        spans=tuple(_spans(case, end_t)),
        entries=tuple(_entries(case)),
        deviations=tuple(_deviations(case, found)),
        readings=tuple(_readings(case)),
        clocks=tuple(_clocks(case)),
        pairs=tuple(_pairs(case, found)),
        visits=tuple(visit_rows(case.code, case.events[0].at.date(), follow_up)),
    )


# -- stages, steps, spans


def _late(ticks: Sequence[Tick]) -> bool:
    """Whether a time of `ticks` is one to be taken with care: entered late, or chosen by the program."""
    return _late_s(ticks) > LATE_S or any(t.spread for t in ticks)


def _late_s(ticks: Iterable[Tick]) -> float:
    """How late the latest of both ends of all `ticks` was entered."""
    return max((max(t.late_s, t.stop_late_s) for t in ticks), default=0.0)


def _stages(case: Case, asked: Set[str], end_t: float) -> Iterator[StageRow]:
    for stage in case.protocol.stages:
        spans = [s for s in stage.steps if s.shape == "span"]
        if not spans:
            continue
        ticks = [t for s in spans for t in case.state(s.id).ticks]
        if not ticks and not any(s.id in asked and not case.state(s.id).not_needed for s in spans):
            continue
        is_open = any(t.stop is None for t in ticks)
        seconds = durations.stage_seconds(case, stage, end_t)
        stops = [t.stop.t for t in ticks if t.stop]
        yield StageRow(
            code=case.code,
            stage=stage.id,
            spans_n=len(ticks),
            open=is_open,
            first_minute=min(t.start.t for t in ticks) / 60 if ticks else None,
            last_minute=max(stops) / 60 if stops and not is_open else None,
            minutes=None if seconds is None or is_open else seconds / 60,
            late=_late(ticks),
        )


def _steps(case: Case, asked: Set[str], end_t: float) -> Iterator[StepRow]:
    for step in case.protocol.all_steps():
        state = case.state(step.id)
        if step.id not in asked and not (state.done or state.not_needed or state.struck):
            continue
        is_open, seconds = False, None
        if step.shape == "span":
            is_open = any(t.stop is None for t in state.ticks)
            seconds = durations.step_seconds(case, step, end_t)
        yield StepRow(
            code=case.code,
            stage=case.protocol.stage_of.get(step.id),
            step=step.id,
            shape=step.shape,
            required=step.id in asked,
            status=_status(case, step, state),
            ticks_n=len(state.ticks),
            first_minute=min(t.start.t for t in state.ticks) / 60 if state.ticks else None,
            minutes=None if seconds is None or is_open else seconds / 60,
            open=is_open,
            late=_late(state.ticks),
        )


def _status(case: Case, step: Step, state: StepState) -> str:
    if state.ticks:
        return "ticked"
    if state.not_needed:
        return "not_needed"
    if state.not_logged:
        return "not_logged"
    if state.struck:
        return "struck"
    return "no_tick" if stage_over(case, step) else "not_reached"


def _spans(case: Case, end_t: float) -> Iterator[SpanRow]:
    pauses = durations.pauses(case, end_t)
    for step in case.protocol.all_steps():
        if step.shape == "span":
            for tick in case.state(step.id).ticks:
                yield _span(case, step, tick, pauses, end_t)


def _span(case: Case, step: Step, tick: Tick, pauses: Sequence[Interval], end_t: float) -> SpanRow:
    stop, paused, late_s = tick.stop, None, _late_s([tick])
    if stop:
        paused = durations.measure(durations.intersection([Interval(tick.start.t, stop.t)], pauses))
    return SpanRow(
        code=case.code,
        seq=tick.seq,
        stage=case.protocol.stage_of.get(step.id),
        step=step.id,
        nth=tick.nth,
        start_minute=tick.start.t / 60,
        stop_minute=stop.t / 60 if stop else None,
        minutes=round(stop.t - tick.start.t - (paused or 0.0), 3) / 60 if stop else None,
        paused_minutes=None if paused is None else round(paused, 3) / 60,
        open=stop is None,
        operator=tick.operator,
        operators_n=len(durations.operators(case, tick, end_t)),
        expected=tick.expected,
        late=_late([tick]),
        low_confidence=late_s > LOW_CONFIDENCE_S,
        back_stamped=back_stamped(tick.late_s) or back_stamped(tick.stop_late_s),
    )


# -- the log and what was said


def _entries(case: Case) -> Iterator[EntryRow]:
    standing, odd = {e.seq: e for e in case.log}, {e.seq for e in case.odd}
    void = struck(case.events) if len(standing) < len(case.events) else frozenset()
    for event in case.events:
        entry = standing.get(event.seq) or entry_of(event, case.bases)
        late_s = round(entry.late_s, 3)
        yield EntryRow(
            code=case.code,
            seq=event.seq,
            run=event.run,
            kind=event.kind,
            stage=case.protocol.stage_of.get(entry.step or ""),
            step=entry.step,
            choice=entry.choice,
            role=event.role,
            minute=entry.t / 60,
            late_s=late_s,
            late=entry.late_s > LATE_S,
            low_confidence=entry.late_s > LOW_CONFIDENCE_S,
            back_stamped=late_s != 0,
            told=event.seq in standing and is_told(event),
            struck=event.seq in void,
            unknown=event.seq in odd,
        )


def _deviations(case: Case, found: Sequence[Deviation]) -> Iterator[DeviationRow]:
    for d in found:
        yield DeviationRow(
            code=case.code,
            seq=d.seq,
            deviation=d.code,
            level=d.level,
            about=d.step,
            stage=case.protocol.stage_of.get(d.step),
            key=d.key,
            minute=d.when.t / 60,
            reason=d.given.reason if d.given else None,
            how=d.given.how if d.given else None,
        )


def _readings(case: Case) -> Iterator[ReadingRow]:
    owner, known = {e.seq: e.step for e in case.log}, case.protocol.reading
    for value in case.readings:
        reading = known[value.reading]
        yield ReadingRow(
            code=case.code,
            seq=value.when.seq,
            step=owner.get(value.tick or 0),
            reading=reading.id,
            minute=value.when.t / 60,
            text=text_of(value.value),
            number=number_of(value.value),
            unit=reading.unit,
            outside=in_caution(reading, value.value) is not None,
        )


def _clocks(case: Case) -> Iterator[ClockRow]:
    end_t = durations.until_t(case, case.last_t)
    for run in case.clocks:
        yield _clock(case, run, case.protocol, end_t)


def _clock(case: Case, run: ClockRun, protocol: Protocol, end_t: float) -> ClockRow:
    clock, seconds = protocol.clock[run.clock], run.seconds(end_t)
    unsure = run.unsure or run.spread
    known = run.stop is not None and not unsure
    least, amber, red = (None if s is None else s / 60 for s in (clock.min_s, clock.amber_s, clock.red_s))

    def reached(limit_s: float | None) -> bool:
        return limit_s is not None and seconds >= limit_s and not unsure

    return ClockRow(
        code=case.code,
        seq=run.start.seq,
        clock=clock.id,
        level=clock.level,
        start_minute=run.start.t / 60,
        minutes=seconds / 60 if known else None,
        open=run.stop is None,
        unsure=unsure,
        least=least,
        amber=amber,
        red=red,
        reached="red" if reached(clock.red_s) else "amber" if reached(clock.amber_s) else "",
        short=known and clock.min_s is not None and seconds < clock.min_s,
    )


def _pairs(case: Case, found: Sequence[Deviation]) -> Iterator[PairRow]:
    unmatched = {
        d.step for line in found for d in line.all if d.code == "unmatched"
    } - case.protocol.step.keys()
    for pair in case.protocol.pairs:
        state = case.pairs[pair.id]
        if state.ever_open:
            yield PairRow(
                code=case.code,
                pair=pair.id,
                level=pair.level,
                counted=pair.counted,
                number_in=state.total(+1) if pair.counted else None,
                number_out=state.total(-1) if pair.counted else None,
                unmatched=pair.id in unmatched,
                resolved=pair.id in unmatched and not state.open,
            )
