"""The fold of everything but steps: readings, counts, facts and ends, people, trouble, words, the frame."""

from __future__ import annotations

from msgspec.structs import replace

from tracker.core import events as ev
from tracker.core.case import (
    Change,
    CountLine,
    Difference,
    End,
    Gap,
    Given,
    Moment,
    Post,
    Said,
    Trouble,
    Value,
)
from tracker.core.fold.draft import Draft
from tracker.core.fold.moves import happen, say_amounts
from tracker.core.protocol import Step
from tracker.core.wiring import Happening


def apply_to_case(draft: Draft, event: ev.Event, when: Moment) -> bool:
    """Apply an entry that speaks of no step; whether it meant something."""
    return _apply_to_course(draft, event, when) or _apply_to_people(draft, event, when)


def _apply_to_course(draft: Draft, event: ev.Event, when: Moment) -> bool:
    match event:
        case ev.Read():
            return _reading(draft, event, when)
        case ev.CountSaid():
            return _count(draft, event, when)
        case ev.CountChanged():
            return _count_change(draft, event, when)
        case ev.Facts():
            return _facts(draft, event, when)
        case ev.StageClosed():
            return _stage_closed(draft, event, when)
        case ev.StoppedEarly():
            return _stopped_early(draft, event, when)
        case ev.Complicated():
            return _complicated(draft, event, when)
        case ev.ComplicationDetail():
            return _complication_detail(draft, event, when)
        case ev.ComplicationClosed():
            return _complication_closed(draft, event, when)
        case ev.Paused():
            return _paused(draft, when)
        case ev.Continued():
            return _continued(draft, when)
    return False


def _apply_to_people(draft: Draft, event: ev.Event, when: Moment) -> bool:
    match event:
        case ev.Note():
            draft.said = (*draft.said, Said("note", event.text, when))
        case ev.Bookmark():
            draft.said = (*draft.said, Said("bookmark", event.text, when))
        case ev.ReasonGiven():
            draft.reasons[event.deviation] = Given(event.reason, event.how, event.text, when)
        case ev.Operator():
            draft.posts = (*draft.posts, Post("operator", event.operator, when))
            happen(draft, Happening(("event", "operator")), when)
        case ev.HandOver():
            _hand_over(draft, event, when)
        case ev.HandOverAccepted():
            return _hand_over_accepted(draft, event, when)
        case ev.Resumed():
            _resumed(draft, event, when)
        case ev.Opened() if not draft.digest:
            _opened(draft, event, when)
        case _:
            return False
    return True


# -- readings and counts


def _reading(draft: Draft, event: ev.Read, when: Moment) -> bool:
    if event.reading not in draft.protocol.reading:
        return False
    value = Value(event.reading, event.value, when, event.ref)
    earlier = draft.readings
    if event.ref is not None:
        # A second value for the same tick is the one that stands.
        earlier = tuple([v for v in earlier if v.tick != event.ref or v.reading != event.reading])
    draft.readings = (*earlier, value)
    say_amounts(draft, event)
    happen(draft, Happening(("reading", event.reading), value=event.value), when)
    return True


def _count(draft: Draft, event: ev.CountSaid, when: Moment) -> bool:
    owner = draft.entry(event.ref)
    step = draft.protocol.step.get(owner.step or "") if owner else None
    if step is None or step.count is None:
        return False
    _counted(draft, step, event, when)
    for line, number in event.lines.items():
        had = draft.counts.get(line, CountLine())
        if had.used is None:
            had = replace(had, used=when, unbegun=step.count != "opening")
        first = had.start is None and step.count == "opening"
        if first or had.opened_by == event.ref:
            draft.counts[line] = _first_said(had, number, event.ref, first)
        else:
            draft.counts[line] = _said(had, number, when)
    return True


def _counted(draft: Draft, step: Step, event: ev.CountSaid, when: Moment) -> None:
    state = draft.steps[step.id]
    told = next((t for t in state.ticks if t.seq == event.ref), None)
    if told is None:
        return
    known = dict.fromkeys(event.lines, when) | dict(told.counted)  # a number put right was said before
    said = replace(told, counted=tuple(known.items()))
    draft.put(step.id, replace(state, ticks=tuple(said if t is told else t for t in state.ticks)))


def _first_said(had: CountLine, number: int, tick: int, first: bool) -> CountLine:
    # What was opened before the first count is in its number.
    kept = replace(had, added=0, removed=0) if first else had
    return replace(kept, start=number, opened_by=tick)


def _said(had: CountLine, number: int, when: Moment) -> CountLine:
    told = replace(had, final=number, last=when)
    if had.expected is None or had.expected == number:
        return told
    difference = Difference(when, had.start or 0, had.added, had.removed, number)
    return replace(told, differences=(*had.differences, difference))


def _count_change(draft: Draft, event: ev.CountChanged, when: Moment) -> bool:
    had = draft.counts.get(event.line, CountLine())
    added, removed = max(0, event.delta), max(0, -event.delta)
    draft.counts[event.line] = replace(
        had,
        added=had.added + added,
        removed=had.removed + removed,
        final=None,
        used=had.used or when,
    )
    happen(draft, Happening(("event", "count_changed")), when)
    return True


# -- plans and ends


def _facts(draft: Draft, event: ev.Facts, when: Moment) -> bool:
    if draft.asked:
        draft.changes += tuple(
            Change(k, draft.facts[k], v, when)
            for k, v in event.values.items()
            if k in draft.facts and draft.facts[k] != v
        )
    draft.facts |= event.values
    draft.asked = draft.asked or dict(draft.facts)
    return True


def _stage_closed(draft: Draft, event: ev.StageClosed, when: Moment) -> bool:
    index = draft.protocol.stage_index.get(event.stage)
    if index is None:
        return False
    draft.closed[event.stage] = when
    draft.reached = max(draft.reached, min(index + 1, len(draft.protocol.stages) - 1))
    return True


def _stopped_early(draft: Draft, event: ev.StoppedEarly, when: Moment) -> bool:
    left = draft.end.when if draft.end else when
    draft.end = End(left, "stopped_early", event.reason, when)
    return True


# -- people and trouble


def _hand_over(draft: Draft, event: ev.HandOver, when: Moment) -> None:
    post = Post("circulating", event.incoming, when, counts_confirmed=event.counts_confirmed)
    draft.posts = (*draft.posts, post)
    if not event.counts_confirmed:
        happen(draft, Happening(("event", "handover_unconfirmed")), when)


def _hand_over_accepted(draft: Draft, event: ev.HandOverAccepted, when: Moment) -> bool:
    found = [p for p in draft.posts if p.since.seq == event.ref and p.counts_confirmed is not None]
    draft.posts = tuple(replace(p, accepted=when) if p in found else p for p in draft.posts)
    return bool(found)


def _complicated(draft: Draft, event: ev.Complicated, when: Moment) -> bool:
    draft.troubles = (*draft.troubles, Trouble(when, event.complication))
    _named(draft, event.complication, when)
    return True


def _complication_detail(draft: Draft, event: ev.ComplicationDetail, when: Moment) -> bool:
    trouble = _trouble(draft, event.ref)
    if trouble is None:
        return False
    named = event.complication or trouble.complication
    _put_trouble(draft, trouble, replace(trouble, complication=named, text=event.text or trouble.text))
    if named != trouble.complication:
        _named(draft, named, when)
    return True


def _complication_closed(draft: Draft, event: ev.ComplicationClosed, when: Moment) -> bool:
    trouble = _trouble(draft, event.ref)
    if trouble is None:
        return False
    _put_trouble(draft, trouble, replace(trouble, stop=when))
    return True


def _trouble(draft: Draft, ref: int) -> Trouble | None:
    return next((t for t in draft.troubles if t.start.seq == ref), None)


def _put_trouble(draft: Draft, old: Trouble, new: Trouble) -> None:
    draft.troubles = tuple(new if t is old else t for t in draft.troubles)


def _named(draft: Draft, complication: str | None, when: Moment) -> None:
    if complication is not None:
        happen(draft, Happening(("complication", complication)), when)


# -- the frame of the case


def _opened(draft: Draft, event: ev.Opened, when: Moment) -> None:
    draft.code, draft.digest, draft.program = event.code, event.digest, event.program
    draft.invented = event.invented
    draft.posts = (*draft.posts, Post("circulating", event.role, when))


def _resumed(draft: Draft, event: ev.Resumed, when: Moment) -> None:
    before = max((e for e in draft.log if e.seq < event.seq), key=lambda e: e.seq, default=None)
    start = Moment(before.t + before.late_s, before.seq, before.event.entered_at) if before else when
    draft.gaps = (*draft.gaps, Gap(min(start, when), when, event.torn))


def _paused(draft: Draft, when: Moment) -> bool:
    if not draft.pauses or draft.pauses[-1][1] is not None:
        draft.pauses = (*draft.pauses, (when, None))
    return True


def _continued(draft: Draft, when: Moment) -> bool:
    if draft.pauses and draft.pauses[-1][1] is None:
        draft.pauses = (*draft.pauses[:-1], (draft.pauses[-1][0], when))
    return True
