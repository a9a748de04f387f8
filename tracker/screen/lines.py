"""Lines of toned text: what a screen is made of. Pure; a line is as wide as it says, whatever is in it."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import chain
from typing import Final

from msgspec import Struct
from rich.cells import cell_len, chop_cells, set_cell_size

from tracker.core.text import shown
from tracker.screen.breaking import units
from tracker.screen.commands import Command, key_words
from tracker.screen.panels import Row

Piece = tuple[str, str]
Line = tuple[Piece, ...]

SHORT = 20
"""Under so many lines a screen keeps to what cannot be left out."""
SCALES = ((3, 300, 90), (2, 180, 54), (1, 0, 0))
"""Scales of the large letters with the width and height from which they are used."""


class Size(Struct, frozen=True, gc=False):
    """The screen in cells; `scale` is that of the large letters."""

    width: int
    height: int

    @property
    def scale(self) -> int:
        """The larger the screen, the larger the letters."""
        return next(s for s, wide, tall in SCALES if self.width >= wide and self.height >= tall)


def page(title: str, texts: Sequence[str], rows: Sequence[Row], foot: str, size: Size) -> tuple[Line, ...]:
    """A page of rows under a title and some quiet text, exactly as large as the screen."""
    width = size.width - 2
    head: list[Line] = [((f" {part}", "live"),) for part in wrap(title, width)]
    quiet: list[Line] = [((f" {part}", "quiet"),) for text in texts for part in wrap(text, width)]
    last: list[Line] = [((f" {part}", "key"),) for part in wrap(foot, width)]
    room = size.height - len(head) - len(last)
    drawn, marked = fitted(rows, size.width, room - len(quiet))
    quiet = quiet if len(quiet) + len(drawn) <= room else quiet[: max(0, room - len(drawn))]
    first, end = window(len(drawn), marked, room - len(quiet))
    body = [*head, *quiet, *drawn[first:end]]
    lines = [*body, *[()] * (size.height - len(body) - len(last)), *last]
    return tuple(fit(line, size.width) for line in lines[: size.height])


_ONE_EACH: Final = re.compile("[ -~\u2500-\u259f]*")
"""Letters of plain English, frames and blocks, each one cell wide."""


def wide(text: str) -> int:
    """How many cells a text takes."""
    return len(text) if _ONE_EACH.fullmatch(text) else cell_len(text)


# Most of a screen is as it was a second ago: what is pure and drawn anew every time is remembered.


@lru_cache(maxsize=512)
def fit(line: Line, width: int) -> Line:
    """A line made exactly `width` cells wide, with nothing in it that a terminal obeys."""
    used, pieces = 0, []
    for text, tone in line:
        clean = shown(text)
        taken, left = wide(clean), width - used
        if taken > left:
            clean, taken = set_cell_size(clean, left), left
        pieces.append((clean, tone))
        used += taken
    return (*pieces, (" " * (width - used), "plain"))


@lru_cache(maxsize=1024)
def wrap(text: str, width: int) -> tuple[str, ...]:
    """Text broken at blanks into lines of at most `width` cells, a figure kept with its unit if it can be."""
    lines: list[str] = []
    width = max(2, width)  # a wide letter takes two cells
    for word in _pieces(text, width):
        if lines and cell_len(lines[-1]) + 1 + cell_len(word) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return tuple(lines)


def _pieces(text: str, width: int) -> Iterator[str]:
    """What goes on a line as it is: a figure with its unit, a word, or as much of a word as a line holds."""
    for unit in units(shown(text)):
        if cell_len(unit) <= width:
            yield unit
        else:
            yield from chain.from_iterable(chop_cells(word, width) for word in unit.split())


def flow(items: Iterable[Line], width: int, indent: str, gap: int = 3) -> list[Line]:
    """Items side by side, `gap` blanks between them, none broken unless it is wider than a line by itself."""
    lines: list[list[Piece]] = []
    used = width
    most = width - cell_len(indent)
    for item in chain.from_iterable(_broken(item, most) for item in items):
        length = width_of(item)
        if used + gap + length > width:
            lines.append([(indent, "quiet")] if lines else [])
            used = cell_len(indent) if len(lines) > 1 else 0
        else:
            lines[-1].append((" " * gap, "plain"))
            used += gap
        lines[-1].extend(item)
        used += length
    return [tuple(line) for line in lines]


def flow_within(word: str, items: Sequence[Line], width: int, room: int) -> list[Line]:
    """A word and items side by side in at most `room` lines; those left out are counted."""

    def flowed(left_out: int) -> list[Line]:
        tail: list[Line] = [((f"+ {left_out} more", "quiet"),)] if left_out else []
        told = items[: len(items) - left_out]
        return flow([((word, "quiet"),), *told, *tail], width, " " * (len(word) + 3))

    if not items or room < 1:
        return []
    lines = flowed(least(len(items), lambda left_out: len(flowed(left_out)) <= room))
    return [((" ", "plain"), *line) for line in lines[:room]]


def least(most: int, fits: Callable[[int], bool]) -> int:
    """The least number up to `most` that fits, given that what fits goes on to fit; `most` if none does."""
    return bisect_left(range(most), True, key=fits)


@lru_cache(maxsize=1024)
def width_of(line: Line) -> int:
    """How many cells a line takes."""
    return sum(wide(text) for text, _ in line)


def _broken(item: Line, width: int) -> list[Line]:
    """An item as it is, or as lines of `width` cells if it is wider."""
    if width_of(item) <= width:
        return [item]
    lines: list[list[Piece]] = [[]]
    for word, tone in ((piece, tone) for text, tone in item for piece in _pieces(text, max(2, width))):
        if lines[-1] and width_of(tuple(lines[-1])) + 1 + cell_len(word) > width:
            lines.append([])
        lines[-1].append((f" {word}" if lines[-1] else word, tone))
    return [tuple(line) for line in lines]


def window(count: int, marked: int, room: int) -> tuple[int, int]:
    """First and last of `count` lines about the marked one that fit `room`, one line kept for the rest."""
    if count <= room:
        return 0, count
    shown_count = max(1, room - 1)
    first = min(max(0, marked - shown_count // 2), count - shown_count)
    return first, first + shown_count


def fitted(rows: Sequence[Row], width: int, room: int) -> tuple[list[Line], int]:
    """The rows as lines in one column, or as few as fit `room`; and the line of the marked row.

    Columns are read down. What fits in none is turned over, and there they are read across: so what comes first is
    seen first, and no part of the middle is left below while what comes after it is seen.
    """
    drawn: list[tuple[list[Line], int]] = []
    for columns in range(1, max(1, width // 38) + 1):
        each = -(-len(rows) // columns) or 1
        drawn.append(_in_columns([rows[i : i + each] for i in range(0, len(rows), each)], width, columns))
        if len(drawn[-1][0]) <= room:
            return drawn[-1]
    shortest = 1 + min(range(len(drawn)), key=lambda i: len(drawn[i][0]))
    return _in_columns([rows[i::shortest] for i in range(shortest)], width, shortest)


def _in_columns(parts: Sequence[Sequence[Row]], width: int, columns: int) -> tuple[list[Line], int]:
    """The rows of each column side by side, and the line of the marked one."""
    wide = width // columns
    indent = max((4, *(cell_len(key_words(r.key)) + 3 for part in parts for r in part)))
    blocks = [[_row(r, wide, indent) for r in part] for part in parts]
    lines: list[Line] = []
    marked = 0
    for i in range(max(map(len, parts), default=0)):
        cells = [block[i] if i < len(block) else [] for block in blocks]
        if any(part[i].marked for part in parts if i < len(part)):
            marked = len(lines)
        for k in range(max((len(c) for c in cells), default=0)):
            pieces = [cell[k] if k < len(cell) else () for cell in cells]
            lines.append(tuple(p for piece in pieces for p in fit(piece, wide)))
    return lines, marked


def _row(row: Row, width: int, indent: int) -> list[Line]:
    tone = "mark" if row.marked else "plain"
    key = key_words(row.key)
    parts = wrap(row.text, width - indent - 2) or [""]
    pointer = ">" if row.marked else " "
    first: Line = ((f" {pointer}{key}".ljust(indent), "key"), (parts[0], tone))
    return [first, *[((" " * indent, "plain"), (p, tone)) for p in parts[1:]]]


@lru_cache(maxsize=16)
def foot(commands: tuple[Command, ...], size: Size) -> tuple[Line, ...]:
    """The commands that have a word for the foot, with their keys."""
    told = [c for c in commands if c.word and (size.height >= SHORT or c.id == "key_sheet")]
    items: list[Line] = [((key_words(c.key), "key"), (f" {c.word}", "quiet")) for c in told]
    return tuple(((" ", "plain"), *line) for line in flow(items, size.width - 2, "", 2))
