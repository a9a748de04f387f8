"""The fold, step by step: what a tick, a start, a stop, `not needed` and `not logged` make of a step."""

from __future__ import annotations

from msgspec.structs import replace

from tracker.core import events as ev
from tracker.core.case import Change, End, Moment, StepState, Tick, need_met, plan
from tracker.core.entries import Entry
from tracker.core.fold.draft import Draft
from tracker.core.fold.moves import happen_at_step, happened_unseen
from tracker.core.protocol import Step


def apply_to_step(draft: Draft, step: Step, entry: Entry, when: Moment) -> bool:
    """Apply an entry that speaks of `step`; whether it meant something."""
    match entry.event:
        case ev.Stop() as event:
            return _stop(draft, step, event, entry, when)
        case ev.NotNeeded() as event:
            return _not_needed(draft, step, event, when)
        case ev.NotLogged():
            return _not_logged(draft, step, when)
    return _tick(draft, step, entry, when)


# -- ticks, starts, stops


def _tick(draft: Draft, step: Step, entry: Entry, when: Moment) -> bool:
    state = draft.steps[step.id]
    tick = Tick(
        start=when,
        nth=len(state.ticks) + 1,
        late_s=entry.late_s,
        choice=entry.choice,
        unmet=tuple(n for n in step.needs if not need_met(draft, n)),
        expected=not state.ticks or step.may_repeat or bool(state.due_again),
        operator=draft.operator(),
    )
    _changed_mind(draft, step, tick)
    draft.put(step.id, StepState((*state.ticks, tick), satisfied=True, struck=state.struck))
    _reached(draft, step, when)
    for change in step.sets:
        draft.facts[change.fact] = change.to
    happen_at_step(draft, step, ("start",) if step.shape == "span" else ("start", "stop"), when, tick.seq)
    return True


def _changed_mind(draft: Draft, step: Step, tick: Tick) -> None:
    if tick.choice is None:
        return
    said = draft.steps[step.id].choice
    was = plan(draft, step) if said is None else said
    if was is not None and was != tick.choice:
        change = Change(step.id, was, tick.choice, tick.start, planned=said is None)
        draft.changes = (*draft.changes, change)


def _reached(draft: Draft, step: Step, when: Moment) -> None:
    draft.reach(step.id)
    draft.closed.pop(draft.protocol.stage_of.get(step.id, ""), None)
    if step.starts_case and draft.started is None:
        draft.started = when
    if step.ends_case and draft.end is None:
        draft.end = End(when, "normal")
    elif step.ends_case and draft.end and not draft.end.left:
        # The patient leaves after a case stopped early, too: that does not make it a usual end.
        draft.end = replace(draft.end, when=when)


def _stop(draft: Draft, step: Step, event: ev.Stop, entry: Entry, when: Moment) -> bool:
    state = draft.steps[step.id]
    found = [t for t in state.ticks if t.stop is None and event.ref in (None, t.seq)]
    if not found or step.shape != "span":
        return False
    ended = replace(found[-1], stop=when, stop_late_s=entry.late_s)
    draft.put(step.id, replace(state, ticks=tuple(ended if t is found[-1] else t for t in state.ticks)))
    happen_at_step(draft, step, ("stop",), when, ended.seq)
    return True


# -- done otherwise


def _not_needed(draft: Draft, step: Step, event: ev.NotNeeded, when: Moment) -> bool:
    state = draft.steps[step.id]
    not_logged = state.not_logged if state.due_again else None
    against = replace(state, not_needed=(when, event.reason), not_logged=not_logged)
    draft.put(step.id, replace(against, satisfied=True, due_again=()))
    return True


def _not_logged(draft: Draft, step: Step, when: Moment) -> bool:
    state = draft.steps[step.id]
    draft.put(step.id, replace(state, not_logged=when, not_needed=None, satisfied=True, due_again=()))
    draft.reach(step.id)
    for change in step.sets:
        draft.facts[change.fact] = change.to
    happened_unseen(draft, step, when)
    return True
