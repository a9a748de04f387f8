"""From raw events to what stands: corrections applied, placed on one case clock, in order.

The case clock counts seconds from the first line. Within one opening of the journal it follows the
monotonic time, so a station clock that is set, or a change to summer time, moves nothing; between two
openings only wall time is known, and a gap is never taken to be negative. Order is by case time, ties by
sequence number.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from tracker.core import events as ev


@dataclass(frozen=True, slots=True)
class Entry:
    """One event as it stands after all corrections.

    `t` is case seconds, `at` the time told for it, `late_s` how long after `t` it was entered.
    """

    event: ev.Event
    t: float
    at: datetime
    late_s: float
    step: str | None = None
    choice: str | None = None

    @property
    def seq(self) -> int:
        """The sequence number of the event."""
        return self.event.seq


@dataclass(frozen=True, slots=True)
class RunBases:
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


def run_bases(events: Iterable[ev.Event]) -> RunBases:
    """The bases of all openings in `events`, given in the order of the file."""
    bases = NO_RUNS
    for event in events:
        bases = bases.after(event)
    return bases


_HANGING = (
    ev.Stop, ev.Chosen, ev.Read, ev.CountSaid, ev.Move, ev.BackStamp,
    ev.ComplicationDetail, ev.ComplicationClosed, ev.HandOverAccepted,
)  # fmt: skip
CORRECTIONS = (ev.Strike, ev.Move, ev.BackStamp, ev.Chosen)
"""Kinds that change what another event means, and so ask for a fold from the start."""


def struck(events: Sequence[ev.Event]) -> frozenset[int]:
    """The sequence numbers that are void: struck, or hanging on something struck.

    A strike that is itself struck strikes nothing, so the last word counts.
    """
    void: set[int] = set()
    for event in reversed(events):
        if isinstance(event, ev.Strike) and event.seq not in void:
            void.add(event.ref)
    for event in events:
        if isinstance(event, _HANGING) and event.ref in void:
            void.add(event.seq)
    return frozenset(void)


@dataclass(frozen=True, slots=True)
class _Corrections:
    step: Mapping[int, str | None]
    shift_s: Mapping[int, float]
    choice: Mapping[int, str | None]


def _corrections(standing: Iterable[ev.Event]) -> _Corrections:
    step: dict[int, str | None] = {}
    shift_s: dict[int, float] = {}
    choice: dict[int, str | None] = {}
    for event in standing:
        match event:
            case ev.Move(ref=ref):
                step[ref] = event.step
            case ev.BackStamp() if event.ref is not None:
                shift_s[event.ref] = shift_s.get(event.ref, 0.0) + event.seconds
            case ev.Chosen(ref=ref):
                choice[ref] = event.choice
    return _Corrections(step, shift_s, choice)


def entry_of(event: ev.Event, bases: RunBases, shift_s: float = 0.0) -> Entry:
    """`event` on the case clock, `shift_s` seconds earlier than it says itself."""
    back_s = (event.entered_at - event.at).total_seconds() + shift_s
    return Entry(
        event=event,
        t=bases.entered_t(event) - back_s,
        at=event.at - timedelta(seconds=shift_s) if shift_s else event.at,
        late_s=back_s,
        step=getattr(event, "step", None),
        choice=getattr(event, "choice", None),
    )


def _corrected(event: ev.Event, bases: RunBases, fix: _Corrections) -> Entry:
    plain = entry_of(event, bases, fix.shift_s.get(event.seq, 0.0))
    # A stop belongs wherever its start was moved to.
    owner = event.ref if isinstance(event, ev.Stop) and event.ref is not None else event.seq
    return replace(
        plain,
        step=fix.step.get(owner, plain.step),
        choice=fix.choice.get(event.seq, plain.choice),
    )


def _not_before(entry: Entry, earliest: Entry) -> Entry:
    if entry.t >= earliest.t:
        return entry
    return replace(entry, t=earliest.t, at=earliest.at, late_s=entry.late_s - (earliest.t - entry.t))


def standing(events: Sequence[ev.Event]) -> tuple[Entry, ...]:
    """What `events` say once all corrections are applied, in order of case time.

    A stop corrected to before its start is held at the start: no span is ever negative.
    """
    void = struck(events)
    left = [e for e in events if e.seq not in void]
    bases, fix = run_bases(events), _corrections(left)
    by_seq: dict[int, Entry] = {}
    for event in left:
        if isinstance(event, CORRECTIONS):
            continue
        entry = _corrected(event, bases, fix)
        if isinstance(event, _HANGING) and event.ref in by_seq:
            entry = _not_before(entry, by_seq[event.ref])
        by_seq[event.seq] = entry
    return tuple(sorted(by_seq.values(), key=lambda e: (e.t, e.seq)))
