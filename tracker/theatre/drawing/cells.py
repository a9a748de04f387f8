"""Cells: lines of one width, drawn once. What changes every second is a hole in them that the time is put into.

A board is drawn after every key and every second. All that costs is remembered, with every digit of a time as 0; as
digits are equally wide, the time then fits where it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import chain, pairwise
from typing import Final

from msgspec import Struct

from tracker.screen.lettering import height, large
from tracker.screen.lines import Line, width_of

_ZEROS: Final = str.maketrans("123456789", "000000000")

Hole = tuple[int, int, int, int]
"""A line, the piece of it that holds a time, which row of large letters that is or -1 for plain ones, whose time."""


class Cell(Struct, frozen=True, gc=False):
    """Lines of one width, and where the times go in them; `scale` is that of its large letters."""

    lines: tuple[Line, ...]
    holes: tuple[Hole, ...] = ()
    scale: int = 1

    @property
    def height(self) -> int:
        """How many lines it takes."""
        return len(self.lines)


EMPTY: Final = Cell(())


def still(time: str) -> str:
    """A time with every digit 0: as wide, and the same every second."""
    return time.translate(_ZEROS)


def cell(lines: Iterable[Line], width: int, holes: Iterable[Hole] = (), scale: int = 1) -> Cell:
    """The lines made `width` wide."""
    even = tuple((*line, (" " * max(0, width - width_of(line)), "plain")) for line in lines)
    return Cell(even, tuple(holes), scale)


def holes_behind(lines: Sequence[Line], scale: int) -> Iterable[Hole]:
    """The holes of a time that stands at the end of the last line of large letters."""
    rows = height(scale)
    first = len(lines) - rows
    return [(first + row, len(lines[first + row]) - 1, row, 0) for row in range(rows)]


def filled(drawn: Cell, times: Sequence[str]) -> tuple[Line, ...]:
    """The lines of a cell with the times in its holes."""
    if not drawn.holes:
        return drawn.lines
    lines = list(drawn.lines)
    for at, piece, row, whose in drawn.holes:
        time, line = times[whose], lines[at]
        text, tone = line[piece]
        told = text.replace(still(time), time) if row < 0 else large(time, drawn.scale)[row]
        lines[at] = (*line[:piece], (told, tone), *line[piece + 1 :])
    return tuple(lines)


def spaced(drawn: Cell, gap: int, width: int) -> Cell:
    """A cell with so many empty lines under it."""
    return Cell((*drawn.lines, *[_blank(width)] * gap), drawn.holes, drawn.scale) if gap else drawn


Place = tuple[int, int]
"""A line of a cell: which cell, which line."""


def in_columns(cells: Sequence[Cell], columns: int, total: int) -> Cell:
    """Cells in rows of so many columns as one, its lines `total` wide; each has its own time."""
    rows: list[list[Place]] = []
    for first in range(0, len(cells), columns):
        there = range(first, min(first + columns, len(cells)))
        rows += [[(c, i) for c in there] for i in range(max(cells[c].height for c in there))]
    return _joined(rows, cells, total // columns, total)


def in_stacks(cells: Sequence[Cell], columns: int, total: int) -> Cell:
    """Cells one under the other in so many columns, in as few lines as they take, as one."""
    stacks = _stacks([c.height for c in cells], columns)
    places = [[(c, i) for c in stack for i in range(cells[c].height)] for stack in stacks]
    rows = [
        [stack[i] if i < len(stack) else (-1, 0) for stack in places]
        for i in range(max(map(len, places), default=0))
    ]
    return _joined(rows, cells, total // columns, total)


def stacked(cells: Sequence[Cell], columns: int) -> int:
    """How many lines cells take one under the other in so many columns."""
    heights = [c.height for c in cells]
    return max(sum(heights[i] for i in stack) for stack in _stacks(heights, columns)) if cells else 0


def _stacks(heights: Sequence[int], columns: int) -> list[range]:
    """The cells of each column, one after the other, so that the tallest column is as low as it can be."""
    most = max((-(-sum(heights) // columns), *heights))
    while len(stacks := _up_to(heights, most)) > columns:
        most += 1
    return stacks


def _up_to(heights: Sequence[int], most: int) -> list[range]:
    """Cells one after the other in columns of at most so many lines."""
    starts, used = [0], 0
    for i, taken in enumerate(heights):
        if used + taken > most:
            starts.append(i)
            used = 0
        used += taken
    return [range(a, b) for a, b in pairwise((*starts, len(heights)))]


def _joined(rows: Sequence[Sequence[Place]], cells: Sequence[Cell], width: int, total: int) -> Cell:
    """Lines of cells side by side, and the holes in them, each of the cell that it was in."""
    lines: list[Line] = []
    holes: list[Hole] = []
    for row in rows:
        parts = [cells[c].lines[i] if c >= 0 and i < cells[c].height else _blank(width) for c, i in row]
        for k, (c, i) in enumerate(row):
            start = sum(map(len, parts[:k]))
            found = cells[c].holes if c >= 0 else ()
            holes += [(len(lines), start + piece, n, c) for at, piece, n, _ in found if at == i]
        lines.append((*chain.from_iterable(parts), *_blank(total - width * len(row))))
    return Cell(tuple(lines), tuple(holes), max((c.scale for c in cells), default=1))


def _blank(width: int) -> Line:
    return ((" " * width, "plain"),) if width > 0 else ()
