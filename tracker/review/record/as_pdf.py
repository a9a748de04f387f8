"""The record as a few typeset pages to keep: PDF/A-2b for the archive and PDF/UA-1 for every reader, in one.

Only typefaces that the typesetter carries are used, so that the same record gives the same file on every
machine; a character that they lack is written as its number.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from functools import cache
from importlib.resources import files
from math import ceil
from typing import Any, Final

import typst

from tracker.core.text import shown
from tracker.core.timeline import Bar, Lane, Timeline
from tracker.review.record import drawing
from tracker.review.record.debrief_tables import debrief_tables
from tracker.review.record.structure import Record
from tracker.review.record.tables import Table, Usual, numeric, tables

LETTERS: Final = (
    (0x20, 0x7E), (0xA0, 0xAC), (0xAE, 0x2FF), (0x370, 0x377), (0x37A, 0x37F), (0x384, 0x3FF), (0x400, 0x482),
    (0x48A, 0x4FF), (0x5D0, 0x5EA), (0x621, 0x63A), (0x640, 0x64A), (0x660, 0x66D), (0x1E00, 0x1EFF),
    (0x2010, 0x2027), (0x2030, 0x2040), (0x2070, 0x2071), (0x2074, 0x208E), (0x20A0, 0x20C0),
    (0x2100, 0x211E), (0x2190, 0x23FF), (0x2500, 0x25FF), (0xFFFD, 0xFFFD),
)  # fmt: skip
"""Ranges, ends included, that the typesetter's own typefaces cover, bold too; a test holds it to that."""

_COLUMNS: Final[Mapping[str, tuple[int, ...]]] = {
    "case": (0, 1),
    "completeness": (1, 0),
    "facts": (0, 1, 1),
    "stages": (3, 0, 0, 0, 0, 0),
    "deviations": (0, 5, 5, 0, 5, 4, 4),
    "readings": (0, 4, 4, 4, 3),
    "clocks": (3, 0, 0, 2, 3, 0),
    "pairs": (3, 2, 2, 4, 6),
    "counts": (4, 0, 0, 0, 0, 0, 0),
    "complications": (0, 3, 4, 0, 0),
    "staff": (0, 3, 0, 0, 0, 0),
    "changes": (0, 2, 3, 3),
    "said": (0, 0, 1),
    "interruptions": (2, 0, 0, 0, 3),
    "amendments": (0, 0, 2, 7, 3, 3, 2),
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
_LONGEST: Final = 24
_LONG_WORD: Final = re.compile(rf"\S{{{_LONGEST + 1},}}")
_HASH: Final = re.compile(r"[0-9a-f]{64}\)?")


def render(record: Record, usual: Mapping[str, Usual] | None = None) -> Mapping[str, bytes]:
    """`CODE.pdf`; `usual` gives the usual range of a stage by its id."""
    data = _page(record, usual)
    made: bytes = typst.compile(
        _template(), format="pdf", pdf_standards=["a-2b", "ua-1"], ignore_system_fonts=True,
        sys_inputs={"record": json.dumps(data)},
    )  # fmt: skip
    return {f"{record.header.case}.pdf": made}


@cache
def _template() -> bytes:
    return files("tracker.review.record").joinpath("templates", "record.typ").read_bytes()


# -- words


def legible(text: str) -> str:
    """`text` in letters that the typefaces have, any other as `[U+XXXX]`, and no word too long for a line."""
    composed = unicodedata.normalize("NFC", text)
    told = "".join(c if _has(c) else f"[U+{ord(c):04X}]" for c in composed)
    return _LONG_WORD.sub(_breakable, told)


def _breakable(found: re.Match[str]) -> str:
    word = found[0]
    if _HASH.fullmatch(word):  # stands in a wide column, and must be copied whole
        return word
    return "\u200b".join(word[n : n + _LONGEST] for n in range(0, len(word), _LONGEST))


def _has(letter: str) -> bool:
    return any(first <= ord(letter) <= last for first, last in LETTERS)


def _legible(value: Any) -> Any:
    match value:
        case str():
            return legible(value)
        case dict():
            return {key: _legible(held) for key, held in value.items()}
        case list() | tuple():
            return [_legible(held) for held in value]
    return value


# -- the page as data


def _page(record: Record, usual: Mapping[str, Usual] | None) -> dict[str, Any]:
    header, found = record.header, {**tables(record, usual=usual), **debrief_tables(record)}
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
    return {**_legible(data), "day": _day(header.measured_to)}


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
    if not all(map(_has, unicodedata.normalize("NFC", record.model_dump_json()))):
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
