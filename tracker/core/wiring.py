"""Which happenings of a case move which clocks, pairs and steps: the protocol's triggers, indexed once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeVar

from tracker.core.events import Scalar
from tracker.core.protocol import Clock, DueAgain, Pair, Protocol, Trigger

Subject = tuple[str, str]
W = TypeVar("W", bound=Trigger)
P = TypeVar("P")


@dataclass(frozen=True, slots=True)
class Happening:
    """Something a trigger may wait for: a tick, either end of a span, a reading, a complication, an event."""

    subject: Subject
    edge: str | None = None
    choice: str | None = None
    value: Scalar | None = None


def subject_of(trigger: Trigger) -> Subject:
    """What a trigger waits for, as (kind, id)."""
    for kind in ("step", "reading", "complication", "event"):
        if (ident := getattr(trigger, kind)) is not None:
            return kind, ident
    return "none", ""


def fires(trigger: Trigger, happening: Happening) -> bool:
    """Whether a happening of the trigger's subject passes the trigger's own narrowing."""
    if happening.edge is not None and trigger.edge != happening.edge:
        return False
    if trigger.choice and (happening.choice or happening.value) not in trigger.choice:
        return False
    value = happening.value
    if trigger.above is None and trigger.at_most is None:
        return True
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return (trigger.above is None or value > trigger.above) and (
        trigger.at_most is None or value <= trigger.at_most
    )


@dataclass(frozen=True, slots=True)
class Wiring:
    """A protocol's triggers by what they wait for; each with the part of the file that it moves."""

    clock_starts: Mapping[Subject, tuple[tuple[Trigger, Clock], ...]]
    clock_stops: Mapping[Subject, tuple[tuple[Trigger, Clock], ...]]
    pair_opens: Mapping[Subject, tuple[tuple[Trigger, Pair], ...]]
    pair_closes: Mapping[Subject, tuple[tuple[Trigger, Pair], ...]]
    due_again: Mapping[Subject, tuple[tuple[DueAgain, str], ...]]


def fired(index: Mapping[Subject, tuple[tuple[W, P], ...]], happening: Happening) -> Iterator[tuple[W, P]]:
    """The (trigger, part) couples that a happening sets off."""
    for trigger, part in index.get(happening.subject, ()):
        if fires(trigger, happening):
            yield trigger, part


def _indexed(couples: Iterable[tuple[W, P]]) -> dict[Subject, tuple[tuple[W, P], ...]]:
    index: dict[Subject, tuple[tuple[W, P], ...]] = {}
    for trigger, part in couples:
        subject = subject_of(trigger)
        index[subject] = (*index.get(subject, ()), (trigger, part))
    return index


def wiring(protocol: Protocol) -> Wiring:
    """Index the triggers of a protocol."""
    return Wiring(
        clock_starts=_indexed((t, c) for c in protocol.clocks for t in c.start),
        clock_stops=_indexed((t, c) for c in protocol.clocks for t in c.stop),
        pair_opens=_indexed((t, p) for p in protocol.pairs for t in p.opens),
        pair_closes=_indexed((t, p) for p in protocol.pairs for t in p.closes),
        due_again=_indexed((t, s.id) for s in protocol.all_steps() for t in s.due_again),
    )
