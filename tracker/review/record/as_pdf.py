"""The record as a few typeset pages to keep: PDF/A-2b for the archive and PDF/UA-1 for every reader, in one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from functools import cache
from importlib.resources import files
from math import ceil
from typing import Any, Final

from tracker.core.text import shown
from tracker.core.timeline import Bar, Lane, Timeline
from tracker.paper.typeset import all_legible, has_all, typeset
from tracker.review.record import drawing
from tracker.review.record.debrief_tables import debrief_tables
from tracker.review.record.structure import Record
from tracker.review.record.tables import Table, numeric, tables

_COLUMNS: Final[Mapping[str, tuple[int, ...]]] = {
    "case": (0, 1),
    "completeness": (1, 0),
    "facts": (0, 1, 1),
    "stages": (3, 0, 0, 0, 0, 0),
    "deviations": (0, 4, 4, 0, 4, 4, 6),
    "unjudged": (3, 0, 3, 5),
    "readings": (0, 4, 4, 4, 3),
    "clocks": (3, 0, 0, 2, 3, 0),
    "pairs": (3, 2, 2, 4, 6),
    "counts": (4, 0, 0, 0, 0, 0, 0),
    "counts_open": (1,),
    "complications": (0, 3, 4, 0, 0),
    "staff": (0, 3, 0, 0, 0, 0, 0),
    "changes": (0, 2, 3, 3),
    "said": (0, 0, 1),
    "interruptions": (2, 0, 0, 0, 3),
    "amendments": (0, 0, 0, 9, 3, 3, 2),
    "debrief": (0, 1),
    "went_well": (1,),
    "to_change": (5, 2, 0, 0),
    "debrief_amendments": (0, 4, 3, 3, 2),
    "provenance": (0, 1),
}
"""The sections on the page, in order, and the shares of width of their columns; 0 is as wide as its words."""

_FRAME: Final = ("case", "completeness", "provenance")
_STEPS_MIN: Final = (1, 2, 5, 10, 15, 20, 30, 60, 120, 180, 240, 360, 720, 1440)
_HOURS: Final = 12
_NARROWEST: Final = 0.0015  # a bar of a few seconds stays in sight


def render(record: Record) -> Mapping[str, bytes]:
    """`CODE.pdf`."""
    data = _page(record)
    return {f"{record.header.case}.pdf": typeset(_template(), data)}


@cache
def _template() -> bytes:
    return files("tracker.review.record").joinpath("templates", "record.typ").read_bytes()


# -- the page as data


def _page(record: Record) -> dict[str, Any]:
    header, found = record.header, {**tables(record), **debrief_tables(record)}
    order = [ident for ident in _COLUMNS if ident in found and ident not in _FRAME]
    data = {
        "title": f"Case {header.case}: timed record" + (" (an invented case)" if header.invented else ""),
        "subtitle": f"{header.title}, protocol version {header.version}, {header.reviewed_by}",
        "case": header.case,
        "program": header.program,
        "caution": record.cautions[0].partition(". Not for")[0] + ".",
        "cautions": record.cautions,
        "sections": {ident: _section(found[ident]) for ident in _COLUMNS if ident in found},
        "order": [ident for ident in order if found[ident].rows],
        "empty": ", ".join(found[ident].title for ident in order if not found[ident].rows),
        "picture": drawing.in_words(record),
        "remarks": list(_remarks(record)),
        **scaled(record.timeline),
    }
    return {**all_legible(data), "day": _day(header.measured_to)}


def _section(table: Table) -> dict[str, Any]:
    return {
        "title": table.title,
        "headings": table.headings,
        "rows": table.rows,
        "numeric": sorted(numeric(table)),
        "columns": _COLUMNS[table.ident],
    }


def _day(stamp: str | None) -> dict[str, int] | None:
    if stamp is None:
        return None
    at = datetime.fromisoformat(stamp)
    names = ("year", "month", "day", "hour", "minute", "second")
    return {name: getattr(at, name) for name in names}


def _remarks(record: Record) -> Iterator[str]:
    yield f"Every step, span and entry ({record.entries}) stands in the other formats of this record."
    if not has_all(record.model_dump_json()):
        yield "Characters that the typeface lacks are written as [U+] and their number."


# -- the drawing


def scaled(timeline: Timeline) -> dict[str, Any]:
    """A timeline as the template draws it: lanes with places from 0 to 1 on the axis, its hours, a legend."""
    if timeline.blank:
        return {"lanes": [], "axis": [], "axis-words": "", "legend": []}
    place = _Place(timeline)
    used = {mark.kind for lane in timeline.lanes for mark in lane.marks}
    lanes = list(timeline.lanes)
    return {
        "lanes": [_lane(place, lane, before) for lane, before in zip(lanes, [None, *lanes], strict=False)],
        "axis": list(_axis(place)),
        "axis-words": _AXIS_WORDS + ("" if len(timeline.anchors) == 1 else _CLOCK_SET),
        "legend": [(kind, words) for kind, words in drawing.MARK_WORDS.items() if kind in used],
    }


_AXIS_WORDS: Final = (
    "Bars run from start to stop, a paler one has no stop logged. On the right: minutes, or how many; for a"
    " stage first start to last stop, pauses out."
)
_CLOCK_SET: Final = (
    " The axis follows the case clock from the first entry; a station's clock was set or moved."
)


class _Place:
    """Where on the axis a case second is, from 0 to 1."""

    def __init__(self, timeline: Timeline) -> None:
        self.timeline = timeline
        self.first_t, self.length_s = timeline.start_t, timeline.stop_t - timeline.start_t

    def __call__(self, t: float) -> float:
        return round((t - self.first_t) / self.length_s, 6)


def _lane(place: _Place, lane: Lane, before: Lane | None) -> dict[str, Any]:
    return {
        "label": shown(lane.label),
        "figure": drawing.figure(lane),
        "part": drawing.part(lane),
        "apart": before is not None and drawing.part(lane) != drawing.part(before),
        "bars": [_bar(place, b) for b in lane.bars],
        "marks": [(place(m.t), m.kind) for m in drawing.marks(lane)],
    }


def _bar(place: _Place, bar: Bar) -> tuple[float, float, bool]:
    start = place(bar.start_t)
    return start, max(place(bar.stop_t), start + _NARROWEST), bar.open


def _axis(place: _Place) -> Iterator[tuple[float, str]]:
    minutes = place.length_s / 60
    step_min = next((m for m in _STEPS_MIN if minutes / m <= _HOURS), 1440 * ceil(minutes / 1440 / _HOURS))
    # The axis runs on from the first entry's clock, whatever a station's clock did later.
    first_t, first_at = place.timeline.anchors[0]
    start = first_at + timedelta(seconds=place.first_t - first_t)
    midnight = start.replace(hour=0, minute=0, second=0, microsecond=0)
    into_s = (start - midnight).total_seconds()
    t = ceil(into_s / (60 * step_min)) * 60 * step_min - into_s
    while t <= place.length_s:
        yield place(place.first_t + t), f"{start + timedelta(seconds=t):%H:%M}"
        t += 60 * step_min
