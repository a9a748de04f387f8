"""Ways round a protocol for the cross-checks, each part with the key path a person would write.

An item with an id goes by that id, one without by its number from 1: `stages.access.steps.ports.needs.2`.
"""

from __future__ import annotations

import typing
from collections.abc import Callable, Iterable, Iterator
from typing import NamedTuple, TypeVar

from tracker.core.protocol import Choice, Clock, Need, Pair, Protocol, Step, Test, Trigger


class Remark(NamedTuple):
    """What a cross-check found: where, what, and how to mend it.

    `hinges` are the ids and list paths that must have come through the reading of the file whole for the
    remark to be true; where one was left out over a finding of its own, the remark is dropped.
    """

    path: str
    what: str
    mend: str
    hinges: tuple[str, ...] = ()


Rule = Callable[[Protocol], Iterator[Remark]]
"""A cross-check: pure, and silent about a protocol it has nothing against."""


class Named(typing.Protocol):
    """Anything with an id."""

    @property
    def id(self) -> str:
        """The id, unique in its list."""


N = TypeVar("N", bound=Named)
T = TypeVar("T")


def named(path: str, items: Iterable[N]) -> Iterator[tuple[str, N]]:
    """The items of a list that go by their ids."""
    return ((f"{path}.{item.id}", item) for item in items)


def numbered(path: str, items: Iterable[T]) -> Iterator[tuple[str, T]]:
    """The items of a list that go by their number from 1."""
    return ((f"{path}.{n}", item) for n, item in enumerate(items, 1))


def each_step(protocol: Protocol) -> Iterator[tuple[str, Step]]:
    """Every step in file order, those of no stage last."""
    for path, stage in named("stages", protocol.stages):
        yield from named(f"{path}.steps", stage.steps)
    yield from named("anytime", protocol.anytime)


def each_need(protocol: Protocol) -> Iterator[tuple[str, Step, Need]]:
    """Every need with the step that has it."""
    for path, step in each_step(protocol):
        for at, need in numbered(f"{path}.needs", step.needs):
            yield at, step, need


def each_trigger(protocol: Protocol) -> Iterator[tuple[str, Clock | Pair | Step, Trigger]]:
    """Every trigger with the clock, pair or step that it moves."""
    for path, clock in named("clocks", protocol.clocks):
        for side, triggers in (("start", clock.start), ("stop", clock.stop)):
            for at, trigger in numbered(f"{path}.{side}", triggers):
                yield at, clock, trigger
    for path, pair in named("pairs", protocol.pairs):
        for side, triggers in (("opens", pair.opens), ("closes", pair.closes)):
            for at, trigger in numbered(f"{path}.{side}", triggers):
                yield at, pair, trigger
    for path, step in each_step(protocol):
        for at, again in numbered(f"{path}.due_again", step.due_again):
            yield at, step, again


def each_test(protocol: Protocol) -> Iterator[tuple[str, Test]]:
    """Every test of every condition."""
    for path, step in each_step(protocol):
        if step.when:
            yield from numbered(f"{path}.when.all", step.when.all)
            yield from numbered(f"{path}.when.any", step.when.any)


def each_choices(protocol: Protocol) -> Iterator[tuple[str, tuple[Choice, ...]]]:
    """Every list of choices: of facts, of readings, of decisions."""
    for group in (named("facts", protocol.facts), named("readings", protocol.readings), each_step(protocol)):
        for path, owner in group:
            yield f"{path}.choices", owner.choices
