"""What a deviation came of, as a name: whatever comes of the same is told in one line.

A name holds the number of an entry, so that what happened twice has two names; it stays the same while the
case goes on, however much more comes of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from tracker.core.case import Case, Moment, Tick
from tracker.core.protocol import Pair, Step, Trigger


def missed(case: Case, step: Step, by: Moment | None = None) -> str:
    """That a step was not done since its last tick before `by`; of a choice of steps that none of them was."""
    if step.group and not any(_before(case, other, by) for other in case.protocol.groups[step.group]):
        return f"missed:one_of:{step.group}"
    ticked = _before(case, step.id, by)
    return f"missed:{step.id}:{ticked[-1].seq if ticked else ''}"


def none_of(case: Case, steps: Iterable[Step], by: Moment) -> str:
    """That none of several steps was done since the last tick of any of them."""
    steps = tuple(steps)
    groups = {s.group for s in steps}
    if len(steps) == 1 or (len(groups) == 1 and None not in groups):
        return missed(case, steps[0], by)
    ticked = [t.seq for s in steps for t in _before(case, s.id, by)]
    return f"missed:{'+'.join(s.id for s in steps)}:{max(ticked, default='')}"


def _before(case: Case, step: str, by: Moment | None) -> list[Tick]:
    return [t for t in case.state(step).ticks if by is None or t.start < by]


def running(step: Step, tick: Tick) -> str:
    """That a span was not stopped."""
    return f"running:{step.id}:{tick.seq}"


def unsaid(step: Step, tick: Tick) -> str:
    """That a count was ticked and not said."""
    return f"unsaid:{step.id}:{tick.seq}"


def length(start: Moment, stop: Moment | None) -> tuple[str, ...]:
    """How long it was between two entries; what still runs may stop at different ones."""
    return (f"length:{start.seq}:{stop.seq}",) if stop else ()


def unconfirmed(hand_over: int) -> str:
    """That the counts were not confirmed at a hand-over."""
    return f"unconfirmed:{hand_over}"


def choice(seq: int) -> str:
    """A choice that became another."""
    return f"choice:{seq}"


def reading(seq: int) -> str:
    """A value."""
    return f"reading:{seq}"


def left_in(case: Case, pair: Pair, by: Moment) -> tuple[str, ...]:
    """That a pair was open: what went in last, and the step that should have taken it out, if only one would."""
    went_in = [m.when.seq for m in case.pairs[pair.id].movements if m.sign > 0 and m.when <= by]
    return (f"in:{pair.id}:{went_in[-1] if went_in else ''}", *_mover(case, pair.closes, by))


def not_in(case: Case, pair: Pair, by: Moment) -> tuple[str, ...]:
    """That a pair was not open: what came out last, and the step that should have put it in, if only one would."""
    came_out = [m.when.seq for m in case.pairs[pair.id].movements if m.sign < 0 and m.when <= by]
    return (f"out:{pair.id}:{came_out[-1] if came_out else ''}", *_mover(case, pair.opens, by))


def _mover(case: Case, triggers: Iterable[Trigger], by: Moment) -> Iterator[str]:
    steps = {t.step: t.edge for t in triggers if t.step is not None}
    if len(steps) != 1:
        return
    [(ident, edge)] = steps.items()
    step, ticked = case.protocol.step[ident], _before(case, ident, by)
    ran = [t for t in ticked if t.stop is None or t.stop > by] if step.shape == "span" else []
    if ran and edge == "stop":
        yield running(step, ran[-1])
    else:
        yield missed(case, step, by)
