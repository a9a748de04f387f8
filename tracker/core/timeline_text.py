"""A timeline in plain text: one line a lane on a common axis, for terminals and for written records."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from itertools import accumulate
from math import ceil
from typing import Final

from msgspec import Struct

from tracker.core.text import shown
from tracker.core.timeline import Bar, Lane, Timeline
from tracker.core.wording import hms, span_words

NARROWEST: Final = 60
"""A drawing is never narrower than this many cells."""

_FIGURE: Final = 9
_WIDEST_LABEL: Final = 36
_TICK_CELLS: Final = 8
_STEPS_MIN: Final = (1, 2, 5, 10, 15, 20, 30, 60, 120, 180, 240, 360, 720, 1440)
_SINGLE: Final = frozenset({"deviation", "complication", "bookmark"})


class _Pens(Struct, frozen=True, gc=False):
    bar: str
    open: str
    grid: str
    rule: str
    tee: str
    more: str
    marks: Mapping[str, str]


_DRAWN: Final = _Pens("█", "▶", "┊", "─", "┬", "…", {
    "tick": "◆", "safety": "▲", "order": "△", "note": "·", "complication": "●", "bookmark": "★",
})  # fmt: skip
_ASCII: Final = _Pens("=", ">", ":", "-", "+", "~", {
    "tick": "o", "safety": "S", "order": "O", "note": "n", "complication": "X", "bookmark": "*",
})  # fmt: skip
_MARK_WORDS: Final = {
    "tick": "a tick",
    "safety": "deviation, safety",
    "order": "deviation, order",
    "note": "deviation, note",
    "complication": "complication",
    "bookmark": "bookmark",
}
_STRONGEST: Final = ("safety", "order", "note", "complication", "bookmark", "tick")


class _Axis(Struct, frozen=True, gc=False):
    start_t: float
    stop_t: float
    cells: int

    def cell(self, t: float) -> int:
        share = (t - self.start_t) / (self.stop_t - self.start_t)
        return min(self.cells - 1, max(0, int(share * self.cells)))

    def covered(self, bar: Bar) -> range:
        """The cells a bar touches: half-open, but never none."""
        share = (bar.stop_t - self.start_t) / (self.stop_t - self.start_t)
        first = self.cell(bar.start_t)
        return range(first, max(first + 1, min(self.cells, ceil(share * self.cells - 1e-9))))


def text_timeline(drawing: Timeline, width: int, *, ascii_only: bool = False) -> tuple[str, ...]:
    """The lines of a drawing, none wider than `width` cells (at least 60), without trailing blanks."""
    if drawing.blank:
        return ("Nothing on the timeline yet.",)
    width = max(width, NARROWEST)
    pens = _ASCII if ascii_only else _DRAWN
    labels = max(cells(shown(lane.label)) for lane in drawing.lanes)
    left = min(labels, _WIDEST_LABEL, width * 3 // 10)
    axis = _Axis(drawing.start_t, drawing.stop_t, width - left - 1 - _FIGURE)
    ticks = dict(_ticks(drawing, axis))
    lines = [*_packed(_heading(drawing), width), "", *_scale(ticks, axis, left, pens)]
    for n, lane in enumerate(drawing.lanes):
        if n and lane.kind != "stage" and drawing.lanes[n - 1].kind == "stage":
            lines += _scale({}, axis, left, pens, ticks)
        lines.append(_lane(lane, axis, left, pens, ticks))
    lines += ["", *_packed(_legend(drawing, pens), width)]
    plain = (_ascii(line) for line in lines) if ascii_only else lines
    return tuple(line.rstrip() for line in plain)


# -- widths


def cells(text: str) -> int:
    """How many terminal cells `text` takes: wide letters two, combining marks none.

    Source: Unicode Standard Annex 11, East Asian Width; ambiguous letters count one.
    """
    return sum(_cells(c) for c in text)


def _cells(letter: str) -> int:
    if unicodedata.category(letter) in ("Mn", "Me"):
        return 0
    return 2 if unicodedata.east_asian_width(letter) in ("W", "F") else 1


def fitted(text: str, width: int, more: str = "…") -> str:
    """`text` made harmless and exactly `width` cells wide, cut with `more` where it is longer."""
    text = shown(text)
    if cells(text) > width:
        ends = accumulate(map(_cells, text))
        text = text[: sum(end <= width - 1 for end in ends)].rstrip() + more
    return text + " " * (width - cells(text))


def _ascii(line: str) -> str:
    # One question mark a cell keeps the columns where they are.
    return "".join(c if c.isascii() else "?" * _cells(c) for c in line)


def _packed(words: Iterable[str], width: int) -> Iterator[str]:
    line = ""
    for word in words:
        if line and cells(line) + 3 + cells(word) > width:
            yield line
            line = ""
        line = f"{line}   {word}" if line else word
    yield line


# -- the axis


def _heading(drawing: Timeline) -> Iterator[str]:
    start, stop = drawing.at(drawing.start_t), drawing.at(drawing.stop_t)
    length = span_words(drawing.stop_t - drawing.start_t)
    same_zone = start.utcoffset() == stop.utcoffset()
    form = "%Y-%m-%d %H:%M"
    first = start.strftime(form) + ("" if same_zone else f" ({_zone(start)})")
    last = stop.strftime("%H:%M" if start.date() == stop.date() else form)
    yield f"{first} to {last} ({_zone(stop)})"
    yield length


def _zone(at: datetime) -> str:
    return f"UTC{at.isoformat()[-6:]}"


def _ticks(drawing: Timeline, axis: _Axis) -> Iterator[tuple[int, str]]:
    step_s = 60 * _step_minutes(axis)
    start = drawing.at(drawing.start_t)
    midnight = start.replace(hour=0, minute=0, second=0, microsecond=0)
    into_s = (start - midnight) / timedelta(seconds=1)
    t = drawing.start_t + ceil(into_s / step_s) * step_s - into_s
    while t < drawing.stop_t:
        yield axis.cell(t), drawing.at(t).strftime("%H:%M")
        t += step_s


def _step_minutes(axis: _Axis) -> int:
    minutes_a_cell = (axis.stop_t - axis.start_t) / 60 / axis.cells
    least = _TICK_CELLS * minutes_a_cell
    return next((m for m in _STEPS_MIN if m >= least), 1440 * ceil(least / 1440))


def _scale(
    labels: Mapping[int, str], axis: _Axis, left: int, pens: _Pens, tees: Mapping[int, str] | None = None
) -> Iterator[str]:
    if labels:
        yield " " * (left + 1) + _centred(labels, axis.cells)
    rule = (pens.tee if c in (tees or labels) else pens.rule for c in range(axis.cells))
    yield " " * (left + 1) + "".join(rule)


def _centred(labels: Mapping[int, str], width: int) -> str:
    row = ""
    for cell, label in labels.items():
        start = min(max(0, cell - len(label) // 2), width - len(label))
        if start >= len(row):
            row = row.ljust(start) + label + " "
    return row


# -- one lane


def _lane(lane: Lane, axis: _Axis, left: int, pens: _Pens, ticks: Mapping[int, str]) -> str:
    row = [pens.grid if c in ticks else " " for c in range(axis.cells)]
    for bar in lane.bars:
        for cell in axis.covered(bar):
            row[cell] = pens.bar
    for bar in lane.bars:
        if bar.open:
            row[axis.covered(bar)[-1]] = pens.open
    for mark in sorted(lane.marks, key=lambda m: _STRONGEST.index(m.kind), reverse=True):
        row[axis.cell(mark.t)] = pens.marks[mark.kind]
    return f"{fitted(lane.label, left, pens.more)} {''.join(row)}{_figure(lane):>{_FIGURE}}"


def _figure(lane: Lane) -> str:
    if lane.kind in _SINGLE:
        return str(len(lane.marks))
    if lane.seconds is None:
        return ""
    figure = hms(round(lane.seconds))
    return figure if len(figure) < _FIGURE else f"{lane.seconds / 3600:.0f} h"


def _legend(drawing: Timeline, pens: _Pens) -> Iterator[str]:
    bars = [b for lane in drawing.lanes for b in lane.bars]
    used = {m.kind for lane in drawing.lanes for m in lane.marks}
    if bars:
        yield f"{pens.bar} start to stop"
    if any(b.open for b in bars):
        yield f"{pens.open} no stop logged"
    yield from (f"{pens.marks[kind]} {word}" for kind, word in _MARK_WORDS.items() if kind in used)
    if any(lane.seconds is not None for lane in drawing.lanes):
        yield "right: minutes:seconds, or how many"
    if any(lane.kind == "stage" and lane.seconds is not None for lane in drawing.lanes):
        yield "stages: first start to last stop, pauses out"
