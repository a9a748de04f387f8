"""The fold: protocol and events make a case. Pure; the same events always make the same case.

`extend` is the quick way for a live screen: one more event on a case already folded. It gives exactly what
`fold` gives, and where an event changes the meaning of earlier ones it simply folds from the start.
"""

from __future__ import annotations

from collections.abc import Sequence

from tracker.core import events as ev
from tracker.core.case import Case, StepState, blank
from tracker.core.entries import CORRECTIONS, Entry, entry_of, hangs, hung, stand
from tracker.core.fold.draft import Draft, moment
from tracker.core.fold.of_case import apply_to_case
from tracker.core.fold.of_steps import apply_to_step
from tracker.core.protocol import Protocol
from tracker.core.wiring import Wiring


def fold(protocol: Protocol, events: Sequence[ev.Event], wires: Wiring | None = None) -> Case:
    """The case that `events`, in the order of the file, make of `protocol`.

    `wires`, if given, are those of this protocol: whoever folds many cases of one makes them once.
    """
    return _folded(blank(protocol, wires), tuple(events))


def extend(case: Case, event: ev.Event) -> Case:
    """The case once `event` has happened too; the same as folding all its events afresh."""
    events, bases = (*case.events, event), case.bases.after(event)
    entry = _as_last(case, entry_of(event, bases))
    if entry is None:
        return _folded(blank(case.protocol, case.wires), events)
    draft = Draft(case)
    _apply(draft, entry)
    return draft.case(events=events, bases=bases)


def _as_last(case: Case, entry: Entry) -> Entry | None:
    """The entry as it stands behind all others; None where it asks for the whole story."""
    if isinstance(entry.event, CORRECTIONS):
        return None
    if hangs(entry.event):
        target = next((e for e in reversed(case.log) if e.event.seq == entry.event.ref), None)
        if target is None:
            return None
        entry = hung(entry, target)
    last = case.log[-1] if case.log else entry
    return entry if (entry.t, entry.event.seq) >= (last.t, last.event.seq) else None


def _folded(empty: Case, events: tuple[ev.Event, ...]) -> Case:
    stood, draft = stand(events), Draft(empty)
    for step in stood.struck_steps & empty.steps.keys():
        draft.put(step, StepState(struck=True))
    for entry in stood.entries:
        _apply(draft, entry)
    return draft.case(events=events, bases=stood.bases)


def _apply(draft: Draft, entry: Entry) -> None:
    if not _meant(draft, entry):
        draft.odd = (*draft.odd, entry)
    draft.log.append(entry)


def _meant(draft: Draft, entry: Entry) -> bool:
    if entry.step is None:
        return apply_to_case(draft, entry.event, moment(entry))
    step = draft.protocol.step.get(entry.step)
    return step is not None and apply_to_step(draft, step, entry, moment(entry))
