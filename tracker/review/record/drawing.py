"""What every drawing of a timeline says alike: its parts, its marks and figures, and the picture in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Literal

from tracker.core.timeline import Lane, Mark, MarkKind
from tracker.review.record.plain import tenths
from tracker.review.record.structure import Record

MARK_WORDS: Final[Mapping[MarkKind, str]] = {
    "tick": "a tick",
    "safety": "deviation, safety",
    "order": "deviation, order",
    "note": "deviation, note",
    "complication": "complication",
    "bookmark": "bookmark",
}
"""What each kind of mark is called."""

_COUNTED: Final = frozenset({"deviation", "complication", "bookmark"})
_FAINTEST: Final = ("tick", "bookmark", "complication", "note", "order", "safety")


def part(lane: Lane) -> Literal["stage", "lane", "single"]:
    """Which part of the drawing a lane stands in, `single` for what is counted."""
    if lane.kind in _COUNTED:
        return "single"
    return "stage" if lane.kind == "stage" else "lane"


def figure(lane: Lane) -> str:
    """What stands at the right of a lane: minutes, or how many."""
    if lane.kind in _COUNTED:
        return f"{len(lane.marks)} ×"
    return "" if lane.seconds is None else f"{tenths(round(lane.seconds / 60, 3))} min"


def marks(lane: Lane) -> list[Mark]:
    """The marks of a lane in the order of drawing, so that the weightiest lies on top."""
    return sorted(lane.marks, key=lambda mark: _FAINTEST.index(mark.kind))


def in_words(record: Record) -> str:
    """What the drawing shows, in words, for those who do not see it."""
    drawn = record.timeline
    if drawn.blank:
        return "Timeline: nothing on it."
    told = (f"{s.label} {tenths(s.minutes)} min" for s in record.stages if s.minutes is not None)
    stages = ", ".join(told) or "none with a start and a stop"
    return (
        f"Timeline from {drawn.at(drawn.start_t):%H:%M} to {drawn.at(drawn.stop_t):%H:%M}."
        f" Stages: {stages}. {_many(len(record.deviations), 'deviation')},"
        f" {_many(len(record.complications), 'complication')}."
    )


def _many(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n} {what}s"
