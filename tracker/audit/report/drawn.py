"""Drawings in plain characters: boxes, bars and a run of cases, as lines of toned text for a screen.

Box: `|` p10 and p90, `[` p25, `]` p75, `O` the median. Bar: `#`, with `(` and `)` where an interval ends.
Run: `*` a case, `X` one beyond the limits, `-` the centre, `.` the limits.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Final

from rich.cells import cell_len

from tracker.audit.report.sheet import Bar, Bars, Box, Boxes, Drawing, Run
from tracker.screen.lines import Line, fit, flow, wrap

LEAST: Final = 12
"""Cells below which there is no drawing, only its figures."""

LEGENDS: Final = {
    Boxes: ("| p10 and p90", "[ p25", "O median", "] p75"),
    Bars: ("# figure", "( ) its interval"),
    Run: ("* case", "X beyond the limits", "- centre", ". limits"),
}
_STEPS: Final = (1, 2, 2.5, 5, 10)


def draw(drawing: Drawing, width: int, height: int) -> list[Line]:
    """A drawing in lines of `width` cells; a run takes `height` lines, the others one a row."""
    head: list[Line] = [((part, "quiet"),) for part in wrap(f"{drawing.title} ({drawing.unit})", width)]
    legend = flow((((words, "quiet"),) for words in LEGENDS[type(drawing)]), width, "")
    match drawing:
        case Boxes():
            body = _boxes(drawing, width)
        case Bars():
            body = _bars(drawing, width)
        case Run():
            body = _run(drawing, width, max(7, height - 3))
    return [*head, *body, *legend]


# -- an axis


def _place(low: float, high: float, cells: int) -> Callable[[float], int]:
    """Where on an axis of so many cells a value lies, from 0."""
    reach = (high - low) or 1.0
    return lambda value: min(cells - 1, max(0, round((value - low) / reach * (cells - 1))))


def _nice(high: float, parts: int = 4) -> float:
    """A round step by which an axis up to `high` has about so many parts."""
    raw = high / parts or 1.0
    power = 10 ** math.floor(math.log10(raw))
    return float(next((s * power for s in _STEPS if s * power >= raw), 10 * power))


def _axis(low: float, high: float, cells: int, indent: int) -> Line:
    place, step = _place(low, high, cells), _nice(high - low)
    line = [" "] * cells
    value = math.ceil(low / step) * step
    while value <= high:
        words = f"{value:g}"
        at = min(cells - len(words), place(value))
        if all(c == " " for c in line[max(0, at - 1) : at + len(words)]):
            line[at : at + len(words)] = words
        value += step
    return ((" " * indent, "plain"), ("".join(line), "quiet"))


@dataclass(frozen=True, slots=True)
class _Parts:
    """Cells for the label, for the drawing, for what is said beside it; `above` where labels have lines of their own."""

    label: int
    cells: int
    beside: int
    above: bool

    @property
    def width(self) -> int:
        """All of them."""
        return self.label + self.cells + self.beside


def _parts(labels: Sequence[str], said: Sequence[str], width: int) -> _Parts:
    beside = max(map(cell_len, said), default=0) + 1
    room = max(10, (width - beside) * 2 // 5)
    above = any(len(wrap(label, room)) > 2 for label in labels)
    label = 2 if above else min(max(map(cell_len, labels), default=0), room) + 1
    return _Parts(label, max(0, width - label - beside), beside, above)


def _row(label: str, drawn: str, said: str, parts: _Parts) -> Iterator[Line]:
    """A row: its label whole, beside what is drawn or above it."""
    if parts.above:
        yield from (((part, "plain"),) for part in wrap(label, parts.width))
    names = ("",) if parts.above else wrap(label, parts.label - 1) or ("",)
    for name, line, words in zip_longest(names, (drawn,), (said,), fillvalue=""):
        yield (
            *fit(((name, "plain"),), parts.label),
            (line.ljust(parts.cells), "live"),
            (words.rjust(parts.beside), "plain"),
        )


def _rows(labels: Sequence[str], drawn: Sequence[str], said: Sequence[str], parts: _Parts) -> list[Line]:
    its = zip(labels, drawn, said, strict=True)
    return [line for label, row, words in its for line in _row(label, row, words, parts)]


# -- boxes


def _boxes(drawing: Boxes, width: int) -> list[Line]:
    labels, said = [r.label for r in drawing.rows], [f"{r.median:,.1f} n {r.n}" for r in drawing.rows]
    parts = _parts(labels, said, width)
    if parts.cells < LEAST:
        return _rows(labels, [""] * len(labels), said, parts)
    high = max(r.p90 for r in drawing.rows)
    low = min(0.0, *(r.p10 for r in drawing.rows))
    place = _place(low, high, parts.cells)
    lines = [_box(r, place, parts.cells) for r in drawing.rows]
    return [*_rows(labels, lines, said, parts), _axis(low, high, parts.cells, parts.label)]


def _box(box: Box, place: Callable[[float], int], cells: int) -> str:
    line = [" "] * cells
    p10, p25, median, p75, p90 = map(place, (box.p10, box.p25, box.median, box.p75, box.p90))
    for start, stop, mark in ((p10, p90, "-"), (p25, p75, "=")):
        line[start : stop + 1] = mark * (stop + 1 - start)
    for at, mark in ((p10, "|"), (p90, "|"), (p25, "["), (p75, "]"), (median, "O")):
        line[at] = mark
    return "".join(line)


# -- bars


def _bars(drawing: Bars, width: int) -> list[Line]:
    rows = drawing.rows
    labels, said = [r.label for r in rows], [r.said for r in rows]
    parts = _parts(labels, said, width)
    if parts.cells < LEAST:
        return _rows(labels, [""] * len(labels), said, parts)
    ends = [v for r in rows for v in (r.value, r.low, r.high, 0.0) if v is not None]
    low, high = min(ends), max(ends)
    place = _place(low, high, parts.cells)
    lines = [_bar(r, place, parts.cells) for r in rows]
    return [*_rows(labels, lines, said, parts), _axis(low, high, parts.cells, parts.label)]


def _bar(bar: Bar, place: Callable[[float], int], cells: int) -> str:
    line = [" "] * cells
    start, stop = sorted((place(0.0), place(bar.value)))
    line[start : stop + 1] = ("#" if bar.value else "|") * (stop + 1 - start)
    if bar.low is not None and bar.high is not None:
        line[place(bar.low)], line[place(bar.high)] = "(", ")"
    return "".join(line)


# -- a run of cases


def _run(drawing: Run, width: int, height: int) -> list[Line]:
    indent = 8
    cells = max(1, width - indent)
    first = max(0, len(drawing.values) - cells)
    values = drawing.values[first:]
    levels = {
        v: mark
        for v, mark in ((drawing.centre, "-"), (drawing.low, "."), (drawing.high, "."))
        if v is not None
    }
    low, high = min(*levels, *values), max(*levels, *values)
    place = _place(low, high, height)
    grid = [[" "] * cells for _ in range(height)]
    for level, mark in levels.items():
        grid[place(level)] = [mark] * cells
    outside = {i - first for i in drawing.outside}
    for i, value in enumerate(values):
        grid[place(value)][i] = "X" if i in outside else "*"
    named = {place(v): _level(v, drawing.unit) for v in levels}
    return [
        ((named.get(i, "").rjust(indent - 1) + " ", "quiet"), ("".join(grid[i]), "live"))
        for i in range(height - 1, -1, -1)
    ]


def _level(value: float, unit: str) -> str:
    return f"{math.exp(value):.0f} min" if unit.startswith("ln") else f"{value:g}"
