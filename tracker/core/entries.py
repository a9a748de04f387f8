"""From raw events to what stands: corrections applied, placed on one case clock, in order.

The case clock counts seconds from the first line. Within one opening of the journal it follows the
monotonic time, so a station clock that is set, or a change to summer time, moves nothing; between two
openings only wall time is known, and a gap is never taken to be negative. Order is by case time, ties by
sequence number.

An event points only backwards. A correction that points at nothing it could correct changes nothing and
stays among the entries, where the fold reports it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from tracker.core import events as ev

MOST_BACK_S: Final = 7 * 86_400.0
"""A back-stamp further than a week, either way, is not believed."""


class Entry(Struct, frozen=True, gc=False):
    """One event as it stands after all corrections.

    `t` is case seconds to the millisecond, `at` the time told for it, `late_s` how long after `t` it was
    entered. `spread` is a time that the program chose, so that nothing may be concluded from it.
    """

    event: ev.Event
    t: float
    at: datetime
    late_s: float
    step: str | None = None
    choice: str | None = None
    spread: bool = False

    @property
    def seq(self) -> int:
        """The sequence number of the event."""
        return self.event.seq


class RunBases(Struct, frozen=True, gc=False):
    """For each opening of the journal, the case second at which its monotonic time was nought."""

    base_s: Mapping[int, float]
    last: ev.Event | None = None
    last_t: float = 0.0

    def entered_t(self, event: ev.Event) -> float:
        """The case second at which the key for `event` was pressed."""
        return self.base_s[event.run] + event.elapsed_ms / 1000

    def after(self, event: ev.Event) -> RunBases:
        """The bases once `event` has been read too."""
        base_s = self.base_s
        if event.run not in base_s:
            wall = (event.entered_at - self.last.entered_at).total_seconds() if self.last else 0.0
            base_s = {**base_s, event.run: self.last_t + max(0.0, wall) - event.elapsed_ms / 1000}
        return RunBases(base_s, event, base_s[event.run] + event.elapsed_ms / 1000)


NO_RUNS = RunBases({})


_FRAME = (ev.Opened, ev.Resumed)
_OF_STEPS = (ev.Tick, ev.Start, ev.Stop, ev.NotNeeded, ev.NotLogged)
_MOVABLE = (ev.Tick, ev.Start, ev.NotNeeded, ev.NotLogged)
_HANGING = (
    ev.Stop, ev.Chosen, ev.Read, ev.CountSaid, ev.Move, ev.BackStamp,
    ev.ComplicationDetail, ev.ComplicationClosed, ev.HandOverAccepted,
)  # fmt: skip
CORRECTIONS = (ev.Strike, ev.Move, ev.BackStamp, ev.Chosen)
"""Kinds that change what another event means, and so ask for a fold from the start."""


def _corrects(event: ev.Event, target: ev.Event) -> bool:
    """Whether `event` is a correction that `target` allows; the frame of the record cannot be void."""
    match event:
        case ev.Strike():
            return not isinstance(target, _FRAME)
        case ev.Move():
            return isinstance(target, _MOVABLE)
        case ev.Chosen():
            return isinstance(target, ev.Tick | ev.Start)
        case ev.BackStamp(seconds=seconds):
            return not isinstance(target, (*_FRAME, *CORRECTIONS)) and abs(seconds) <= MOST_BACK_S
    return False


def _targets(events: Iterable[ev.Event]) -> Iterator[tuple[ev.Event, ev.Event | None]]:
    """Each event with the earlier one that it points at."""
    seen: dict[int, ev.Event] = {}
    for event in events:
        yield event, None if event.ref is None else seen.get(event.ref)
        seen[event.seq] = event


class _Corrections(Struct, frozen=True, gc=False):
    """What the corrections in force say: sequence numbers struck, void, consumed; changes by number."""

    void: frozenset[int]
    consumed: frozenset[int]
    step: Mapping[int, str]
    shift_s: Mapping[int, float]
    choice: Mapping[int, str]
    spread: frozenset[int]


def _corrections(events: Sequence[ev.Event]) -> _Corrections:
    pointing = [(e, target) for e, target in _targets(events) if target is not None]
    in_force = [(e, target.seq) for e, target in pointing if _corrects(e, target)]
    struck_now: set[int] = set()
    for event, ref in reversed(in_force):
        if isinstance(event, ev.Strike) and event.seq not in struck_now:
            struck_now.add(ref)
    void = set(struck_now)
    for event, target in pointing:
        if target.seq in void and isinstance(event, _HANGING):
            void.add(event.seq)
    fix = _Corrections(frozenset(void), frozenset(e.seq for e, _ in in_force), {}, {}, {}, frozenset())
    # Those hanging on something struck are kept, so that a strike shows at the step it was moved to.
    return _changed(fix, [(e, ref) for e, ref in in_force if e.seq not in struck_now])


def _changed(fix: _Corrections, changes: Iterable[tuple[ev.Event, int]]) -> _Corrections:
    step: dict[int, str] = {}
    shift_s: dict[int, float] = {}
    choice: dict[int, str] = {}
    spread: dict[int, bool] = {}
    for event, seq in changes:
        match event:
            case ev.Move():
                step[seq] = event.step
            case ev.BackStamp():
                shift_s[seq] = shift_s.get(seq, 0.0) + event.seconds
                if event.spread is not None:
                    spread[seq] = event.spread
            case ev.Chosen():
                choice[seq] = event.choice
    by_program = frozenset(seq for seq, is_spread in spread.items() if is_spread)
    return replace(fix, step=step, shift_s=shift_s, choice=choice, spread=by_program)


def struck(events: Sequence[ev.Event]) -> frozenset[int]:
    """The sequence numbers that are void: struck, or hanging on something struck.

    A strike that is itself struck strikes nothing, so the last word counts.
    """
    return _corrections(events).void


def entry_of(event: ev.Event, bases: RunBases, shift_s: float = 0.0) -> Entry:
    """`event` on the case clock, `shift_s` seconds earlier than it says itself."""
    back_s = (event.entered_at - event.at).total_seconds() + shift_s
    return Entry(
        event=event,
        t=round(bases.entered_t(event) - back_s, 3),
        at=shifted(event.at, -shift_s) if shift_s else event.at,
        late_s=back_s,
        step=event.step if isinstance(event, _OF_STEPS) else None,
        choice=event.choice if isinstance(event, ev.Tick) else None,
    )


def shifted(at: datetime, seconds: float) -> datetime:
    """`at` so many seconds later, in the same offset; `at` itself where the calendar ends."""
    try:
        return at + timedelta(seconds=seconds)
    except OverflowError:
        return at


def hung(entry: Entry, target: Entry) -> Entry:
    """`entry` as it hangs on `target`: not before it, and a stop wherever its start has been moved to."""
    if not isinstance(entry.event, _HANGING):
        return entry
    if isinstance(entry.event, ev.Stop) and isinstance(target.event, ev.Tick | ev.Start):
        entry = replace(entry, step=target.step)
    if entry.t >= target.t:
        return entry
    late_s = entry.late_s - (target.t - entry.t)
    return replace(entry, t=target.t, at=target.at, late_s=late_s, spread=entry.spread or target.spread)


def hangs(event: ev.Event) -> bool:
    """Whether an event means nothing without the one that it points at."""
    return event.ref is not None and isinstance(event, _HANGING)


class Standing(Struct, frozen=True, gc=False):
    """What a file says once corrected: the entries in order, the clock, the steps with a struck tick."""

    entries: tuple[Entry, ...]
    bases: RunBases
    struck_steps: frozenset[str]


def stand(events: Sequence[ev.Event]) -> Standing:
    """Apply the corrections among `events`, given in the order of the file.

    A stop corrected to before its start is held at the start: no span is ever negative.
    """
    fix, bases = _corrections(events), NO_RUNS
    by_seq: dict[int, Entry] = {}
    entries: list[Entry] = []
    for event in events:
        bases = bases.after(event)
        if event.seq in fix.void or event.seq in fix.consumed:
            continue
        entry = _corrected(entry_of(event, bases, fix.shift_s.get(event.seq, 0.0)), fix)
        if event.ref is not None and event.ref in by_seq:
            entry = hung(entry, by_seq[event.ref])
        by_seq[event.seq] = entry
        entries.append(entry)
    entries.sort(key=lambda e: (e.t, e.event.seq))
    ticks = (e for e in events if e.seq in fix.void and isinstance(e, ev.Tick | ev.Start))
    return Standing(tuple(entries), bases, frozenset(fix.step.get(e.seq, e.step) for e in ticks))


def _corrected(entry: Entry, fix: _Corrections) -> Entry:
    seq = entry.event.seq
    if seq in fix.step:
        entry = replace(entry, step=fix.step[seq])
    if seq in fix.choice:
        entry = replace(entry, choice=fix.choice[seq])
    if seq in fix.spread:
        entry = replace(entry, spread=True)
    return entry


def standing(events: Sequence[ev.Event]) -> tuple[Entry, ...]:
    """What `events` say once all corrections are applied, in order of case time."""
    return stand(events).entries
