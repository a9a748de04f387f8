"""A pattern: one course folded once by the core, so that its times can be redrawn for thousands of cases.

The order of entries is the same in every case of a pattern, and so is all that depends on order alone: which
steps belong to the case, what was left out, what was out of order, what is unmatched. What depends on
lengths is worked out anew from the drawn times.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property
from typing import Final

from tracker.audit.invented.course import BEAT_S, Course, Source, Stroke, events_of, is_entered
from tracker.audit.rows import Rows, rows_of
from tracker.core import durations
from tracker.core import events as ev
from tracker.core.case import Case
from tracker.core.deviations import deviations
from tracker.core.durations import Interval
from tracker.core.fold import fold

DEBRIEF: Final = (6.0, 0.5)
OF_LENGTH: Final = frozenset({"over_time", "under_time", "clock_over", "clock_under", "late_entry"})
"""Deviations that depend on lengths and on lateness, not on order."""

_EXPLAINED: Final = {"skipped": "oversight", "out_of_order": "finding_forced", "prereq_missing": "oversight"}
Piece = tuple[int, int]


@dataclass(frozen=True)
class Pattern:
    """A course, its entries a beat apart, and what the core makes of them.

    `places` are the strokes that are entered; entry number seq is the stroke at `places[seq - 1]`.
    """

    slip: str
    course: Course
    places: tuple[int, ...]
    events: tuple[ev.Event, ...]
    case: Case

    @cached_property
    def rows(self) -> Rows:
        """What the case gives to each table."""
        return rows_of(self.case)

    @property
    def reopened(self) -> tuple[int, ...]:
        """The entries, by place from 0, with which the journal was opened again."""
        return tuple(n for n, e in enumerate(self.events) if isinstance(e, ev.Resumed))

    def column(self, t: float) -> int:
        """The entry, by place from 0, that stands at case second `t`."""
        return self.places.index(round(t / BEAT_S))

    def pieces(self, intervals: Iterable[Interval]) -> tuple[Piece, ...]:
        """Intervals of the case as pairs of entries, by place from 0."""
        return tuple((self.column(i.start), self.column(i.stop)) for i in intervals)

    @property
    def until(self) -> int:
        """The entry, by place from 0, to which what has no stop runs."""
        return self.column(durations.until_t(self.case, self.case.last_t))


def pattern_of(source: Source, course: Course, slip: str = "") -> Pattern:
    """Fold a course, with reasons for what the file finds in its order once a slip made it so."""
    case = _folded(source, course)
    if slip and case.end:
        course = (*course, *_reasons(source, course, case))
        case = _folded(source, course)
    seqs: dict[int, int] = {}
    places: list[int] = []
    for place, stroke in enumerate(course):
        if is_entered(stroke, seqs):
            seqs[stroke.ident] = len(places) + 1
            places.append(place)
    return Pattern(slip, course, tuple(places), case.events, case)


def _folded(source: Source, course: Course) -> Case:
    return fold(source.protocol, _reopenings(events_of(source, course)))


def _reopenings(events: Iterable[ev.Event]) -> list[ev.Event]:
    """The entries with the run and the monotonic time that an opening of the journal begins anew."""
    run, opened, told = 1, None, []
    for event in events:
        if opened is None or isinstance(event, ev.Resumed):
            run, opened = (run if opened is None else run + 1), event.entered_at
        elapsed = (event.entered_at - opened) // timedelta(milliseconds=1)
        told.append(event.model_copy(update={"run": run, "elapsed_ms": elapsed}))
    return told


def _reasons(source: Source, course: Course, case: Case) -> list[Stroke]:
    reasons = {r.id for r in source.protocol.reasons}
    strokes: list[Stroke] = []
    for d in deviations(case, case.last_t):
        how = _EXPLAINED.get(d.code)
        if how and d.given is None:
            reason = "oversight" if how == "oversight" else "finding"
            known = reason if reason in reasons else next(iter(reasons), "other")
            fields: Mapping[str, str] = {"deviation": d.key, "reason": known, "how": how}
            strokes.append(Stroke(2000 + len(course) + len(strokes), ev.ReasonGiven, fields, None, *DEBRIEF))
    return strokes
