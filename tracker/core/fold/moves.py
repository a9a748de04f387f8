"""What a happening moves: clocks start and stop, pairs open and close, steps are due again."""

from __future__ import annotations

from math import isfinite

from msgspec.structs import replace

from tracker.core import events as ev
from tracker.core.case import ClockRun, DueMark, Moment, Movement, PairState, standing_choice
from tracker.core.fold.draft import Draft
from tracker.core.protocol import Step, Trigger
from tracker.core.wiring import Happening, fired


def happen(draft: Draft, happening: Happening, when: Moment, tick: int | None = None) -> None:
    """Let `happening` set off its triggers; `tick` is the sequence number of the tick that it belongs to."""
    wires = draft.wires
    if happening.subject not in wires.watched:
        return
    for _, clock in fired(wires.clock_stops, happening):
        _stop_clock(draft, clock.id, when)
    for _, clock in fired(wires.clock_starts, happening):
        _start_clock(draft, clock.id, when)
    _move_pairs(draft, happening, Movement(0, when, tick=tick))
    for again, step in fired(wires.due_again, happening):
        _due_again(draft, step, DueMark(again.reason, when))


def happen_at_step(draft: Draft, step: Step, edges: tuple[str, ...], when: Moment, tick: int) -> None:
    """Let the ends of a tick set off their triggers: a point is both ends of itself."""
    subject = ("step", step.id)
    for edge in edges if subject in draft.wires.watched else ():
        happen(draft, Happening(subject, edge, _choice(draft, step)), when, tick)


def happened_unseen(draft: Draft, step: Step, when: Moment) -> None:
    """A step was done by `when`, nobody knows since when: no clock starts from it and nothing is due again.

    What it moves in or out has moved, and a clock that it stops has stopped.
    """
    happening = Happening(("step", step.id), None, _choice(draft, step))
    for _, clock in fired(draft.wires.clock_stops, happening):
        _stop_clock(draft, clock.id, when, unsure=True)
    _move_pairs(draft, happening, Movement(0, when, tick=when.seq, unsure=True))


def _choice(draft: Draft, step: Step) -> str | None:
    return standing_choice(draft, step) if step.shape == "decision" else None


def _start_clock(draft: Draft, clock: str, when: Moment) -> None:
    if _running(draft, clock) is None:
        draft.clocks.append(ClockRun(clock, when))


def _stop_clock(draft: Draft, clock: str, when: Moment, unsure: bool = False) -> None:
    if (place := _running(draft, clock)) is not None:
        draft.clocks[place] = replace(draft.clocks[place], stop=when, unsure=unsure)


def _running(draft: Draft, clock: str) -> int | None:
    """The place of the run of a clock that has not stopped: its last run or none."""
    for place in range(len(draft.clocks) - 1, -1, -1):
        if draft.clocks[place].clock == clock:
            return place if draft.clocks[place].stop is None else None
    return None


def _move_pairs(draft: Draft, happening: Happening, plain: Movement) -> None:
    for trigger, pair in fired(draft.wires.pair_closes, happening):
        _move(draft, pair.id, _movement(draft, -1, trigger, plain))
    for trigger, pair in fired(draft.wires.pair_opens, happening):
        _move(draft, pair.id, _movement(draft, +1, trigger, plain))


def _movement(draft: Draft, sign: int, trigger: Trigger, plain: Movement) -> Movement:
    amount = trigger.amount
    if trigger.amount_from is not None and plain.tick is not None:
        # A number may be said while the span still runs, before its stop moves the pair.
        said = [v.value for v in draft.readings if (v.tick, v.reading) == (plain.tick, trigger.amount_from)]
        amount = _whole(said[-1]) if said else None
    return replace(plain, sign=sign, amount=amount, amount_from=trigger.amount_from)


def _move(draft: Draft, pair: str, movement: Movement) -> None:
    state = draft.pairs[pair]
    # A second way out of something already out, or a reading repeated while open, moves nothing.
    uncounted = movement.amount is None and movement.amount_from is None
    if not (uncounted and state.open == (movement.sign > 0)):
        draft.pairs[pair] = PairState((*state.movements, movement))


def _due_again(draft: Draft, step: str, mark: DueMark) -> None:
    state = draft.steps[step]
    # A step that is otherwise optional is asked for by its trigger, ticked before or not.
    called = draft.protocol.step[step].occurrence == "optional" and not state.ticks and not state.due_again
    if (state.satisfied or called) and not (state.last and state.last.seq == mark.since.seq):
        draft.put(step, replace(state, satisfied=False, due_again=(*state.due_again, mark)))


def _whole(value: ev.Scalar) -> int | None:
    if isinstance(value, bool | str) or not isfinite(value):
        return None
    return int(value)


def say_amounts(draft: Draft, event: ev.Read) -> None:
    """A number said for a tick is how many that tick moved."""
    if event.ref is None or (amount := _whole(event.value)) is None:
        return
    for pair in draft.wires.numbered.get(event.reading, ()):
        moved = (
            replace(m, amount=amount) if (m.tick, m.amount_from) == (event.ref, event.reading) else m
            for m in draft.pairs[pair].movements
        )
        draft.pairs[pair] = PairState(tuple(moved))
