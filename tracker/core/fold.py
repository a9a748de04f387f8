"""The fold: protocol and events make a case. Pure; the same events always make the same case.

`extend` is the quick way for a live screen: one more event on a case already folded. It gives exactly what
`fold` gives, and where an event changes the meaning of earlier ones it simply folds from the start.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import reduce
from typing import Any

from tracker.core import events as ev
from tracker.core.case import (
    Case,
    Change,
    ClockRun,
    CountLine,
    DueMark,
    End,
    Gap,
    Given,
    Moment,
    Movement,
    PairState,
    Post,
    Said,
    Tick,
    Trouble,
    Value,
    blank,
    need_met,
    plan,
    standing_choice,
)
from tracker.core.entries import CORRECTIONS, Entry, entry_of, standing
from tracker.core.protocol import Protocol, Step, Trigger
from tracker.core.wiring import Happening, fired


def fold(protocol: Protocol, events: Sequence[ev.Event]) -> Case:
    """The case that `events`, in the order of the file, make of `protocol`."""
    return _folded(blank(protocol), tuple(events))


def extend(case: Case, event: ev.Event) -> Case:
    """The case once `event` has happened too; the same as folding all its events afresh."""
    bases = case.bases.after(event)
    entry = entry_of(event, bases)
    events = (*case.events, event)
    if isinstance(event, CORRECTIONS) or entry.t < case.last_t or _hangs_early(case, event):
        return _folded(blank(case.protocol), events)
    return replace(_apply(case, entry), events=events, bases=bases)


def _hangs_early(case: Case, event: ev.Event) -> bool:
    # What hangs on an event that does not stand (struck, moved) needs the whole story.
    return event.ref is not None and not any(
        e.seq == event.ref and e.step == getattr(e.event, "step", None) for e in case.log
    )


def _folded(empty: Case, events: tuple[ev.Event, ...]) -> Case:
    entries = standing(events)
    marked = reduce(_mark_struck, _struck_steps(empty, events, entries), empty)
    case = reduce(_apply, entries, marked)
    bases = reduce(lambda b, e: b.after(e), events, empty.bases)
    return replace(case, events=events, bases=bases)


def _struck_steps(case: Case, events: Sequence[ev.Event], entries: Sequence[Entry]) -> Iterator[str]:
    left = {e.seq for e in entries}
    for event in events:
        if isinstance(event, ev.Tick | ev.Start) and event.seq not in left and event.step in case.steps:
            yield event.step


def _mark_struck(case: Case, step: str) -> Case:
    return _with_step(case, step, struck=True)


def _moment(entry: Entry) -> Moment:
    return Moment(entry.t, entry.seq, entry.at)


def _with_step(case: Case, step: str, **changes: Any) -> Case:
    return replace(case, steps={**case.steps, step: replace(case.state(step), **changes)})


def _apply(case: Case, entry: Entry) -> Case:
    return replace(_applied(case, entry, _moment(entry)), log=(*case.log, entry))


def _applied(case: Case, entry: Entry, when: Moment) -> Case:  # noqa: PLR0912 - one arm a kind
    match entry.event:
        case ev.Tick() | ev.Start():
            return _tick(case, entry, when)
        case ev.Stop() as event:
            return _stop(case, event, entry, when)
        case ev.Read() as event:
            return _reading(case, event, when)
        case ev.CountSaid() as event:
            return _count(case, event, entry)
        case ev.CountChanged() as event:
            return _count_change(case, event, when)
        case ev.NotNeeded() as event if entry.step in case.steps:
            return _with_step(case, event.step, not_needed=(when, event.reason), satisfied=True, due_again=())
        case ev.NotLogged() as event if entry.step in case.steps:
            return _with_step(case, event.step, not_logged=when, satisfied=True, due_again=())
        case ev.Facts() as event:
            return _facts(case, event, when)
        case ev.StageClosed() as event:
            return replace(case, closed={**case.closed, event.stage: when})
        case ev.StoppedEarly() as event:
            return replace(case, end=End(when, "stopped_early", event.reason))
        case ev.HandOver() as event:
            return _hand_over(case, event, when)
        case ev.HandOverAccepted() as event:
            return _hand_over_accepted(case, event, when)
        case ev.Operator() as event:
            posted = replace(case, posts=(*case.posts, Post("operator", event.operator, when)))
            return _happen(posted, Happening(("event", "operator")), when)
        case ev.Complicated() as event:
            troubled = replace(case, troubles=(*case.troubles, Trouble(when, event.complication)))
            return _complicated(troubled, event.complication, when)
        case ev.ComplicationDetail() as event:
            troubled = _with_trouble(case, event.ref, complication=event.complication, text=event.text)
            return _complicated(troubled, event.complication, when)
        case ev.ComplicationClosed() as event:
            return _with_trouble(case, event.ref, stop=when)
        case ev.Note() as event:
            return replace(case, said=(*case.said, Said("note", event.text, when)))
        case ev.Bookmark() as event:
            return replace(case, said=(*case.said, Said("bookmark", event.text, when)))
        case ev.ReasonGiven() as event:
            given = Given(event.reason, event.how, event.text, when)
            return replace(case, reasons={**case.reasons, event.deviation: given})
        case ev.Opened() as event:
            return _opened(case, event, when)
        case ev.Resumed() as event:
            return _resumed(case, event, when)
        case ev.Paused():
            return _paused(case, when)
        case ev.Continued():
            return _continued(case, when)
    return replace(case, odd=(*case.odd, entry))


# -- ticks, starts, stops


def _tick(case: Case, entry: Entry, when: Moment) -> Case:
    step = case.protocol.step.get(entry.step or "")
    if step is None:
        return replace(case, odd=(*case.odd, entry))
    state = case.state(step.id)
    tick = Tick(
        start=when,
        nth=len(state.ticks) + 1,
        late_s=entry.late_s,
        choice=entry.choice,
        unmet=tuple(n for n in step.needs if not need_met(case, n)),
        expected=not state.ticks or step.may_repeat or bool(state.due_again),
        operator=case.post("operator"),
    )
    case = _changed_mind(case, step, tick)
    case = _with_step(
        case,
        step.id,
        ticks=(*state.ticks, tick),
        satisfied=True,
        due_again=(),
        not_needed=None,
        not_logged=None,
    )
    case = _reached(case, step, tick)
    case = _sets(case, step)
    edges = ("start",) if step.shape == "span" else ("start", "stop")
    choice = standing_choice(case, step)
    for edge in edges:
        case = _happen(case, Happening(("step", step.id), edge, choice), tick.start)
    return case


def _changed_mind(case: Case, step: Step, tick: Tick) -> Case:
    if tick.choice is None:
        return case
    last, planned = case.state(step.id).last, plan(case, step)
    was, from_plan = (last.choice, False) if last and last.choice else (planned, True)
    if was is None or was == tick.choice:
        return case
    return replace(case, changes=(*case.changes, Change(step.id, was, tick.choice, tick.start, from_plan)))


def _reached(case: Case, step: Step, tick: Tick) -> Case:
    stage = case.protocol.stage_of.get(step.id)
    if stage is not None:
        index = case.protocol.stage_index[stage]
        closed = {s: m for s, m in case.closed.items() if s != stage}
        case = replace(case, reached=max(case.reached, index), closed=closed)
    if step.starts_case and case.started is None:
        case = replace(case, started=tick.start)
    if step.ends_case:
        case = replace(case, end=End(tick.start, "normal"))
    return case


def _sets(case: Case, step: Step) -> Case:
    if not step.sets:
        return case
    return replace(case, facts={**case.facts, **{s.fact: s.to for s in step.sets}})


def _stop(case: Case, event: ev.Stop, entry: Entry, when: Moment) -> Case:
    state = case.state(entry.step or "")
    found = [t for t in state.ticks if t.stop is None and event.ref in (None, t.seq)]
    if not found or entry.step is None:
        return replace(case, odd=(*case.odd, entry))
    ended = replace(found[-1], stop=when, stop_late_s=entry.late_s)
    ticks = tuple(ended if t.seq == ended.seq else t for t in state.ticks)
    case = _with_step(case, entry.step, ticks=ticks)
    step = case.protocol.step[entry.step]
    return _happen(case, Happening(("step", step.id), "stop", standing_choice(case, step)), when)


# -- what a happening moves


def _happen(case: Case, happening: Happening, when: Moment) -> Case:
    wires = case.wires
    for _, clock in fired(wires.clock_stops, happening):
        case = _stop_clock(case, clock.id, when)
    for _, clock in fired(wires.clock_starts, happening):
        case = _start_clock(case, clock.id, when)
    for trigger, pair in fired(wires.pair_closes, happening):
        case = _moved(case, pair.id, _movement(-1, trigger, when))
    for trigger, pair in fired(wires.pair_opens, happening):
        case = _moved(case, pair.id, _movement(+1, trigger, when))
    for again, step in fired(wires.due_again, happening):
        case = _due_again(case, step, DueMark(again.reason, when))
    return case


def _start_clock(case: Case, clock: str, when: Moment) -> Case:
    if any(r.clock == clock and r.stop is None for r in case.clocks):
        return case
    return replace(case, clocks=(*case.clocks, ClockRun(clock, when)))


def _stop_clock(case: Case, clock: str, when: Moment) -> Case:
    runs = tuple(replace(r, stop=when) if r.clock == clock and r.stop is None else r for r in case.clocks)
    return replace(case, clocks=runs)


def _movement(sign: int, trigger: Trigger, when: Moment) -> Movement:
    return Movement(sign, when, trigger.amount, trigger.amount_from)


def _moved(case: Case, pair: str, movement: Movement) -> Case:
    state = case.pairs[pair]
    # A second way out of something already out, or a reading repeated while open, moves nothing.
    uncounted = movement.amount is None and movement.amount_from is None
    if uncounted and state.open == (movement.sign > 0):
        return case
    return replace(case, pairs={**case.pairs, pair: PairState((*state.movements, movement))})


def _due_again(case: Case, step: str, mark: DueMark) -> Case:
    state = case.state(step)
    if not state.satisfied or (state.last and state.last.seq == mark.since.seq):
        return case
    return _with_step(case, step, satisfied=False, due_again=(*state.due_again, mark))


# -- readings and counts


def _reading(case: Case, event: ev.Read, when: Moment) -> Case:
    # A second value for the same tick is the one that stands.
    earlier = tuple(
        v for v in case.readings if event.ref is None or (v.reading, v.tick) != (event.reading, event.ref)
    )
    case = replace(case, readings=(*earlier, Value(event.reading, event.value, when, event.ref)))
    case = _amounts(case, event)
    return _happen(case, Happening(("reading", event.reading), value=event.value), when)


def _amounts(case: Case, event: ev.Read) -> Case:
    if event.ref is None or isinstance(event.value, bool) or not isinstance(event.value, int | float):
        return case
    pairs = dict(case.pairs)
    for ident, state in case.pairs.items():
        moved = tuple(
            replace(m, amount=int(event.value))
            if m.when.seq == event.ref and m.amount_from == event.reading
            else m
            for m in state.movements
        )
        pairs[ident] = PairState(moved)
    return replace(case, pairs=pairs)


def _count(case: Case, event: ev.CountSaid, entry: Entry) -> Case:
    owner = next((e.step for e in reversed(case.log) if e.seq == event.ref), None)
    step = case.protocol.step.get(owner or "")
    if step is None or step.count is None:
        return replace(case, odd=(*case.odd, entry))
    counts = dict(case.counts)
    for line, number in event.lines.items():
        had = counts.get(line, CountLine())
        opening = step.count == "opening" or had.start is None
        counts[line] = replace(had, start=number) if opening else replace(had, final=number)
    return replace(case, counts=counts)


def _count_change(case: Case, event: ev.CountChanged, when: Moment) -> Case:
    had = case.counts.get(event.line, CountLine())
    now = (
        replace(had, added=had.added + event.delta)
        if event.delta > 0
        else replace(had, removed=had.removed - event.delta)
    )
    case = replace(case, counts={**case.counts, event.line: now})
    return _happen(case, Happening(("event", "count_changed")), when)


# -- plans and decisions against


def _facts(case: Case, event: ev.Facts, when: Moment) -> Case:
    first = not case.asked
    changes = (
        ()
        if first
        else tuple(
            Change(k, case.facts[k], v, when)
            for k, v in event.values.items()
            if k in case.facts and case.facts[k] != v
        )
    )
    facts = {**case.facts, **event.values}
    return replace(case, facts=facts, asked=facts if first else case.asked, changes=(*case.changes, *changes))


# -- people, trouble, words


def _hand_over(case: Case, event: ev.HandOver, when: Moment) -> Case:
    post = Post("circulating", event.incoming, when, counts_confirmed=event.counts_confirmed)
    case = replace(case, posts=(*case.posts, post))
    if event.counts_confirmed:
        return case
    return _happen(case, Happening(("event", "handover_unconfirmed")), when)


def _hand_over_accepted(case: Case, event: ev.HandOverAccepted, when: Moment) -> Case:
    posts = tuple(replace(p, accepted=when) if p.since.seq == event.ref else p for p in case.posts)
    return replace(case, posts=posts)


def _complicated(case: Case, complication: str | None, when: Moment) -> Case:
    if complication is None:
        return case
    return _happen(case, Happening(("complication", complication)), when)


def _with_trouble(case: Case, ref: int | None, **changes: Any) -> Case:
    told = {k: v for k, v in changes.items() if v}
    troubles = tuple(replace(t, **told) if t.start.seq == ref else t for t in case.troubles)
    return replace(case, troubles=troubles)


# -- the frame of the case


def _opened(case: Case, event: ev.Opened, when: Moment) -> Case:
    post = Post("circulating", event.role, when)
    return replace(
        case, code=event.code, digest=event.digest, program=event.program, invented=event.invented,
        posts=(*case.posts, post),
    )  # fmt: skip


def _resumed(case: Case, event: ev.Resumed, when: Moment) -> Case:
    before = _moment(case.log[-1]) if case.log else when
    return replace(case, gaps=(*case.gaps, Gap(before, when, event.torn)))


def _paused(case: Case, when: Moment) -> Case:
    if case.pauses and case.pauses[-1][1] is None:
        return case
    return replace(case, pauses=(*case.pauses, (when, None)))


def _continued(case: Case, when: Moment) -> Case:
    if not case.pauses or case.pauses[-1][1] is not None:
        return case
    *before, (start, _) = case.pauses
    return replace(case, pauses=(*before, (start, when)))
