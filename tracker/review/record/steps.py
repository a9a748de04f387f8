"""Stages, steps and spans as lines of a record."""

from __future__ import annotations

from collections.abc import Iterator

from tracker.core import durations
from tracker.core.case import Case, Status, Tick, status
from tracker.core.completeness import required
from tracker.core.deviations import LATE_S, LOW_CONFIDENCE_S, stage_over
from tracker.core.protocol import Need, Stage, Step
from tracker.core.usual import UsualRanges
from tracker.review.record import structure as st
from tracker.review.record.plain import choice_words, labelled, minutes, net_minutes, stamp, thousandth

_STATUS_WORDS: dict[Status, str] = {
    "not_reached": "not reached",
    "due": "due",
    "running": "running",
    "ticked": "ticked",
    "not_needed": "not needed",
    "not_logged": "not logged",
    "struck": "struck",
    "not_in_case": "not in this case",
}


def stages(case: Case, now_t: float, usual: UsualRanges) -> Iterator[st.StageLine]:
    """Stages in file order, each with its usual range if there is one."""
    for stage in case.protocol.stages:
        yield _stage(case, stage, now_t).model_copy(update={"usual": usual.get(stage.id)})


def _stage(case: Case, stage: Stage, now_t: float) -> st.StageLine:
    ticks = [(s, t) for s in stage.steps for t in case.state(s.id).ticks]
    spans = [t for s, t in ticks if s.shape == "span"]
    is_open = any(t.stop is None for t in spans)
    stops = [t.stop for t in spans if t.stop]
    seconds = durations.stage_seconds(case, stage, now_t)
    closed = case.closed.get(stage.id)
    return st.StageLine(
        stage=stage.id,
        label=stage.label,
        first_start=stamp(min(t.start for t in spans).at) if spans else None,
        last_stop=stamp(max(stops).at) if stops and not is_open else None,
        minutes=None if seconds is None or is_open else minutes(seconds),
        open=is_open,
        ticks=len(ticks),
        closed=stamp(closed.at) if closed else None,
        spread=any(t.spread for t in spans),
    )


def steps(case: Case, now_t: float) -> Iterator[st.StepLine]:
    """Steps in file order, those of no stage last."""
    for step in case.protocol.all_steps():
        yield _step(case, step, now_t)


def _step(case: Case, step: Step, now_t: float) -> st.StepLine:
    state = case.state(step.id)
    seconds = durations.step_seconds(case, step, now_t)
    is_open = any(_open(step, t) for t in state.ticks)
    low, high = step.minutes or (None, None)
    return st.StepLine(
        step=step.id,
        label=step.label,
        stage=case.protocol.stage_of.get(step.id),
        shape=step.shape,
        required=required(case, step),
        status=status_words(case, step),
        minutes=None if seconds is None or is_open else minutes(seconds),
        open=is_open,
        file_low=low,
        file_high=high,
        due_again=tuple(m.reason for m in state.due_again),
        not_needed=labelled(case, state.not_needed[1]) if state.not_needed else None,
        spread=any(t.spread for t in state.ticks),
        ticks=tuple(_tick(case, step, t) for t in state.ticks),
    )


def status_words(case: Case, step: Step) -> str:
    """How a step stands, in words that are still true once the case has ended."""
    word, state = status(case, step), case.state(step.id)
    if word == "due" and state.ticks:
        return "ticked, due again"
    if case.end and word == "running":
        return "ticked, no stop"
    if case.end and word == "due":
        return "no tick" if stage_over(case, step) else "not reached"
    return _STATUS_WORDS[word]


def _open(step: Step, tick: Tick) -> bool:
    return step.shape == "span" and tick.stop is None


def _tick(case: Case, step: Step, tick: Tick) -> st.TickLine:
    net, paused = net_minutes(case, tick.start.t, tick.stop.t if tick.stop else None)
    late_s = max(tick.late_s, tick.stop_late_s)
    return st.TickLine(
        seq=tick.seq,
        nth=tick.nth,
        start=stamp(tick.start.at),
        stop=stamp(tick.stop.at) if tick.stop else None,
        stop_seq=tick.stop.seq if tick.stop else None,
        minutes=net,
        paused_minutes=paused,
        open=_open(step, tick),
        choice=tick.choice,
        choice_words=choice_words(step, tick.choice),
        operator=tick.operator,
        expected=tick.expected,
        unmet=tuple(_need(case, n) for n in tick.unmet),
        late_s=thousandth(late_s),
        late=late_s > LATE_S,
        low_confidence=late_s > LOW_CONFIDENCE_S,
        back_stamped=any(thousandth(s) != 0 for s in (tick.late_s, tick.stop_late_s)),
        spread=tick.spread,
    )


def _need(case: Case, need: Need) -> str:
    about = need.any_step or tuple(filter(None, (need.step, need.pair_open, need.pair_closed)))
    return f"{' or '.join(map(case.protocol.label, about))}: {need.reason}"


def _spans(case: Case) -> list[tuple[Step, Tick]]:
    found = [(s, t) for s in case.protocol.all_steps() if s.shape == "span" for t in case.state(s.id).ticks]
    return sorted(found, key=lambda couple: couple[1].start)


def spans(case: Case, now_t: float) -> Iterator[st.SpanLine]:
    """Every span of every step, in order of its start."""
    for step, tick in _spans(case):
        stage = case.protocol.stage_of.get(step.id)
        low, high = step.minutes or (None, None)
        yield st.SpanLine(
            **dict(_tick(case, step, tick)),
            stage=stage,
            stage_label=labelled(case, stage),
            step=step.id,
            label=step.label,
            start_s=thousandth(tick.start.t),
            stop_s=thousandth(tick.stop.t) if tick.stop else None,
            operators=tuple(labelled(case, role) for role, _ in durations.operators(case, tick, now_t)),
            file_low=low,
            file_high=high,
        )


def operated(case: Case, now_t: float) -> Iterator[st.OperatedLine]:
    """Who operated during each span, one line for each part of it."""
    for step, tick in _spans(case):
        for role, part in durations.operators(case, tick, now_t):
            stop_t = None if tick.stop is None else part.stop
            yield st.OperatedLine(
                seq=tick.seq,
                step=step.id,
                label=step.label,
                nth=tick.nth,
                role=role,
                role_label=labelled(case, role),
                minutes=net_minutes(case, part.start, stop_t)[0],
            )
