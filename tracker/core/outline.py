"""A protocol as lines to read: stages, steps, what comes first and why."""

from __future__ import annotations

from collections.abc import Iterator

from tracker.core.deviations import need_words
from tracker.core.protocol import Protocol, Step
from tracker.core.wording import figure


def outline(protocol: Protocol) -> Iterator[str]:
    """The lines of a protocol, file order; every need with its level and reason."""
    reviewed = protocol.reviewed_by
    yield f"{protocol.title} ({protocol.id}, version {protocol.version})"
    yield f"reviewed by {reviewed}" if reviewed else "not reviewed locally"
    for stage in protocol.stages:
        yield ""
        yield stage.label
        for step in stage.steps:
            yield from _step(protocol, step)
    if protocol.anytime:
        yield ""
        yield "At any time"
        for step in protocol.anytime:
            yield from _step(protocol, step)


def _step(protocol: Protocol, step: Step) -> Iterator[str]:
    minutes = f", {figure(step.minutes[0])} to {figure(step.minutes[1])} min" if step.minutes else ""
    condition = ", only in some cases" if step.when else ""
    kind = step.occurrence.replace("_", " ")
    yield f"  {step.key or ' '}  {step.label} ({step.shape}, {kind}{minutes}{condition})"
    for need in step.needs:
        yield f"       {need.level}: {need_words(protocol, need)}: {need.reason}"
    for again in step.due_again:
        yield f"       due again: {again.reason}"
