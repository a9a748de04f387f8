"""Which happenings of a case move which clocks, pairs and steps: the protocol's triggers, indexed once.

Beside the triggers stands what else the rules ask of a file again and again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain
from typing import TypeVar

from msgspec import Struct

from tracker.core.events import Scalar
from tracker.core.protocol import Clock, Condition, DueAgain, Pair, Protocol, Trigger

Subject = tuple[str, str]
W = TypeVar("W", bound=Trigger)
P = TypeVar("P")


class Happening(Struct, frozen=True, gc=False):
    """Something a trigger may wait for: a tick, either end of a span, a reading, a complication, an event.

    Without an `edge` both ends of a span are meant: the step was done, nobody knows when.
    """

    subject: Subject
    edge: str | None = None
    choice: str | None = None
    value: Scalar | None = None


def subject_of(trigger: Trigger) -> Subject:
    """What a trigger waits for, as (kind, id)."""
    if trigger.step is not None:
        return "step", trigger.step
    if trigger.reading is not None:
        return "reading", trigger.reading
    if trigger.complication is not None:
        return "complication", trigger.complication
    return "event", trigger.event or ""


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


class Wiring(Struct, frozen=True, gc=False):
    """A protocol's triggers by what they wait for; each with the part of the file that it moves.

    `numbered` are the pairs whose numbers a reading says; `watched` is every subject that some trigger waits
    for; `planned` are the facts that hold a plan or switch a step; `afterwards` are the steps that stand
    behind the one that ends the case; `needed_by` are, for each step, those that need it.
    """

    clock_starts: Mapping[Subject, tuple[tuple[Trigger, Clock], ...]]
    clock_stops: Mapping[Subject, tuple[tuple[Trigger, Clock], ...]]
    pair_opens: Mapping[Subject, tuple[tuple[Trigger, Pair], ...]]
    pair_closes: Mapping[Subject, tuple[tuple[Trigger, Pair], ...]]
    due_again: Mapping[Subject, tuple[tuple[DueAgain, str], ...]]
    numbered: Mapping[str, tuple[str, ...]]
    watched: frozenset[Subject]
    planned: frozenset[str]
    afterwards: frozenset[str]
    needed_by: Mapping[str, tuple[str, ...]]


def fired(index: Mapping[Subject, tuple[tuple[W, P], ...]], happening: Happening) -> Sequence[tuple[W, P]]:
    """The (trigger, part) couples that a happening sets off."""
    waiting = index.get(happening.subject)
    return [couple for couple in waiting if fires(couple[0], happening)] if waiting else ()


def _indexed(couples: Iterable[tuple[W, P]]) -> dict[Subject, tuple[tuple[W, P], ...]]:
    index: dict[Subject, list[tuple[W, P]]] = {}
    for trigger, part in couples:
        index.setdefault(subject_of(trigger), []).append((trigger, part))
    return {subject: tuple(found) for subject, found in index.items()}


def _switches(condition: Condition | None) -> Iterator[str]:
    for test in (*condition.all, *condition.any) if condition else ():
        if test.fact is not None:
            yield test.fact


def _planned(protocol: Protocol) -> Iterator[str]:
    for step in protocol.all_steps():
        yield from _switches(step.when)
        if step.plan_fact is not None:
            yield step.plan_fact


def _afterwards(protocol: Protocol) -> Iterator[str]:
    ended = False
    for stage in protocol.stages:
        for step in stage.steps:
            if ended:
                yield step.id
            ended = ended or step.ends_case


def _needed_by(protocol: Protocol) -> dict[str, tuple[str, ...]]:
    needed: dict[str, dict[str, None]] = {}
    for step in protocol.all_steps():
        for need in step.needs:
            for first in filter(None, (need.step, *need.any_step)):
                needed.setdefault(first, {})[step.id] = None
    return {first: tuple(steps) for first, steps in needed.items()}


def _numbered(protocol: Protocol) -> dict[str, tuple[str, ...]]:
    numbered: dict[str, dict[str, None]] = {}
    for pair in protocol.pairs:
        for trigger in (*pair.opens, *pair.closes):
            if trigger.amount_from is not None:
                numbered.setdefault(trigger.amount_from, {})[pair.id] = None
    return {reading: tuple(pairs) for reading, pairs in numbered.items()}


def wiring(protocol: Protocol) -> Wiring:
    """Index the triggers of a protocol."""
    clock_starts = _indexed((t, c) for c in protocol.clocks for t in c.start)
    clock_stops = _indexed((t, c) for c in protocol.clocks for t in c.stop)
    pair_opens = _indexed((t, p) for p in protocol.pairs for t in p.opens)
    pair_closes = _indexed((t, p) for p in protocol.pairs for t in p.closes)
    due_again = _indexed((t, s.id) for s in protocol.all_steps() for t in s.due_again)
    return Wiring(
        clock_starts=clock_starts,
        clock_stops=clock_stops,
        pair_opens=pair_opens,
        pair_closes=pair_closes,
        due_again=due_again,
        numbered=_numbered(protocol),
        watched=frozenset(chain(clock_starts, clock_stops, pair_opens, pair_closes, due_again)),
        planned=frozenset(_planned(protocol)),
        afterwards=frozenset(_afterwards(protocol)),
        needed_by=_needed_by(protocol),
    )
