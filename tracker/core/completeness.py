"""How far a log can be trusted: the figures that stand beside every other figure.

The questions are those that audits of theatre time stamps ask; late means over 60 s and low confidence over
20 min, after the time-stamp study in J Med Syst 2026 (PMC12883500).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from msgspec import Struct

from tracker.core import events as ev
from tracker.core.case import Case, due_marks, in_case
from tracker.core.deviations import LATE_S, LOW_CONFIDENCE_S, reading_of
from tracker.core.entries import struck
from tracker.core.protocol import Step


class Part(Struct, frozen=True, gc=False):
    """`n` of `of`."""

    n: int
    of: int


class Completeness(Struct, frozen=True, gc=False):
    """The figures of one case; `gap_s` is how long its journal was not open, in seconds.

    Required steps count once for a group of alternatives, done when ticked or said not to be needed and not
    due again. Lateness is asked of every entry but those of the frame. `unknown` are entries that mean
    nothing here.
    """

    required_steps: Part
    spans_with_both_ends: Part
    required_readings: Part
    late: Part
    low_confidence: Part
    back_stamped: Part
    not_logged: int
    amendments: int
    gaps: int
    gap_s: float
    unknown: int


def completeness(case: Case) -> Completeness:
    """The figures of a case as it stands."""
    told = [e for e in case.log if is_told(e.event)]
    return Completeness(
        required_steps=_part(_required_done(case)),
        spans_with_both_ends=_part(_spans_closed(case)),
        required_readings=_part(_readings_present(case)),
        late=_part(e.late_s > LATE_S for e in told),
        low_confidence=_part(e.late_s > LOW_CONFIDENCE_S for e in told),
        back_stamped=_part(back_stamped(e.late_s) for e in told),
        not_logged=sum(s.not_logged is not None for s in case.steps.values()),
        amendments=amendments(case),
        gaps=len(case.gaps),
        gap_s=round(sum(g.stop.t - g.start.t for g in case.gaps), 3),
        unknown=len(case.odd),
    )


def is_told(event: ev.Event) -> bool:
    """Whether somebody told something by an entry: all but the frame of the journal."""
    return not isinstance(event, ev.Opened | ev.Resumed)


def back_stamped(late_s: float) -> bool:
    """Whether an entry tells another time than that at which its key was pressed, to the millisecond."""
    return round(late_s, 3) != 0


def required(case: Case, step: Step) -> bool:
    """Whether the file asks for a step in this case as it stands."""
    return step.id in case.protocol.stage_of and step.occurrence != "optional" and in_case(case, step)


def done(case: Case, step: Step) -> bool:
    """Whether a step is ticked or said not to be needed, and not due again."""
    state = case.state(step.id)
    return bool(state.ticks or state.not_needed) and not due_marks(case, step)


def amendments(case: Case) -> int:
    """How many entries correct another: strikes, moves, back-stamps, second choices and second readings.

    Those that point at nothing they could correct are not among them but among the unknown.
    """
    odd = {e.seq for e in case.odd}
    events = [e for e in case.events if e.seq not in odd]
    known = {e.seq for e in events}
    corrected = sum(isinstance(e, ev.Strike | ev.Move | ev.BackStamp) and e.ref in known for e in events)
    return corrected + _replaced(case, events)


def _replaced(case: Case, events: Sequence[ev.Event]) -> int:
    slots = [(slot, event.seq) for event in events if (slot := _slot(event)) is not None]
    if len({slot for slot, _ in slots}) == len(slots):
        return 0
    void, said, replaced = struck(case.events), set(), 0
    for slot, seq in slots:
        replaced += slot in said
        if seq not in void:
            said.add(slot)
    return replaced


def _slot(event: ev.Event) -> tuple[str, int] | None:
    """What an entry says the value of: a reading or the choice of one tick; None if it says neither."""
    match event:
        case ev.Tick() if event.choice is not None:
            return "", event.seq
        case ev.Chosen():
            return "", event.ref
        case ev.Read() if event.ref is not None:
            return event.reading, event.ref
    return None


def _part(answers: Iterable[bool]) -> Part:
    held = list(answers)
    return Part(sum(held), len(held))


def _required_done(case: Case) -> Iterator[bool]:
    groups: dict[str, list[bool]] = {}
    for step in case.protocol.all_steps():
        if required(case, step):
            groups.setdefault(step.group or f"step {step.id}", []).append(done(case, step))
    yield from (all(answers) for answers in groups.values())


def _spans_closed(case: Case) -> Iterator[bool]:
    for step in case.protocol.all_steps():
        if step.shape == "span":
            yield from (tick.stop is not None for tick in case.state(step.id).ticks)


def _readings_present(case: Case) -> Iterator[bool]:
    for step in case.protocol.all_steps():
        for tick in case.state(step.id).ticks:
            for wanted in step.readings:
                if wanted.required:
                    yield reading_of(case, tick, wanted.id) is not None
