"""Cells: lines of one width, drawn once. What changes every second is a hole in them that the time is put into.

A board is drawn after every key and every second. All that costs is remembered, with every digit of a time as 0; as
digits are equally wide, the time then fits where it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import chain
from typing import Final

from msgspec import Struct

from tracker.screen.lettering import height, large
from tracker.screen.lines import Line, width_of

_ZEROS: Final = str.maketrans("123456789", "000000000")

Hole = tuple[int, int, int, int]
"""A line, the piece of it that holds a time, which row of large letters that is or -1 for plain ones, whose time."""


class Cell(Struct, frozen=True, gc=False):
    """Lines of one width, and where the times go in them."""

    lines: tuple[Line, ...]
    holes: tuple[Hole, ...] = ()

    @property
    def height(self) -> int:
        """How many lines it takes."""
        return len(self.lines)


EMPTY: Final = Cell(())


def still(time: str) -> str:
    """A time with every digit 0: as wide, and the same every second."""
    return time.translate(_ZEROS)


def cell(lines: Iterable[Line], width: int, holes: Iterable[Hole] = ()) -> Cell:
    """The lines made `width` wide."""
    even = tuple((*line, (" " * max(0, width - width_of(line)), "plain")) for line in lines)
    return Cell(even, tuple(holes))


def holes_behind(lines: Sequence[Line], scale: int) -> Iterable[Hole]:
    """The holes of a time that stands at the end of the last line of large letters."""
    rows = height(scale)
    first = len(lines) - rows
    return [(first + row, len(lines[first + row]) - 1, row, 0) for row in range(rows)]


def filled(drawn: Cell, times: Sequence[str], scale: int = 1) -> tuple[Line, ...]:
    """The lines of a cell with the times in its holes."""
    if not drawn.holes:
        return drawn.lines
    lines = list(drawn.lines)
    for at, piece, row, whose in drawn.holes:
        time, line = times[whose], lines[at]
        text, tone = line[piece]
        told = text.replace(still(time), time) if row < 0 else large(time, scale)[row]
        lines[at] = (*line[:piece], (told, tone), *line[piece + 1 :])
    return tuple(lines)


def in_columns(cells: Sequence[Cell], columns: int, total: int) -> Cell:
    """Cells in rows of so many columns as one, its lines `total` wide; each has its own time."""
    width = total // columns
    lines: list[Line] = []
    holes: list[Hole] = []
    for first in range(0, len(cells), columns):
        row = cells[first : first + columns]
        for i in range(max(c.height for c in row)):
            parts = [c.lines[i] if i < c.height else _blank(width) for c in row]
            starts = [sum(map(len, parts[:k])) for k in range(len(parts))]
            holes += [
                (len(lines), starts[k] + piece, n, first + k)
                for k, c in enumerate(row) for at, piece, n, _ in c.holes if at == i
            ]  # fmt: skip
            lines.append((*chain.from_iterable(parts), *_blank(total - width * len(row))))
    return Cell(tuple(lines), tuple(holes))


def _blank(width: int) -> Line:
    return ((" " * width, "plain"),) if width > 0 else ()


def tall(heights: Sequence[int], columns: int) -> int:
    """How many lines cells of these heights take in so many columns."""
    return sum(max(heights[i : i + columns]) for i in range(0, len(heights), columns))
