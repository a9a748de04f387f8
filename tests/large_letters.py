"""Large letters read back from the rows of a screen, as an eye across the room reads them, and how large they are.

The screen is one of 24 inches, 16 to 9, filled by its rows, at three metres. A capital in plain letters is taken to be
0.55 of its cell high: of the common fonts for terminals they are 0.5 to 0.65.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from tracker.screen.lettering import GLYPHS, gap, height, large, width

SCREEN_MM = 24 * 25.4 * 9 / math.hypot(16, 9)
AWAY_MM = 3000
PLAIN_CAPITAL = 0.55
"""How much of the height of its cell a plain capital takes."""
PIXELS = 5
"""How many pixels a large letter is high."""


@dataclass(frozen=True)
class Written:
    """What stands in large letters from a row and a cell on."""

    row: int
    cell: int
    scale: int
    text: str


def arcmin(cells_high: float, rows: int) -> float:
    """The angle at which something so many cells high is seen on a screen of so many rows."""
    return math.degrees(2 * math.atan(cells_high * SCREEN_MM / rows / 2 / AWAY_MM)) * 60


def capital(scale: int, rows: int) -> float:
    """The angle of a large letter."""
    pixel = 0.5 if scale == 1 else scale - 1
    return arcmin(PIXELS * pixel, rows)


def written(screen: Sequence[str], scale: int) -> Iterator[Written]:
    """All that stands in large letters of a scale, from the top, parted where more than a blank lies between."""
    taken: dict[int, int] = {}  # by cell, the first row below what was read there
    for row in range(len(screen) - height(scale) + 1):
        for told in _in_band(screen[row : row + height(scale)], row, scale):
            cells = range(told.cell, told.cell + width(told.text, scale))
            if all(taken.get(cell, 0) <= row for cell in cells):
                taken |= dict.fromkeys(cells, row + height(scale))
                yield told


def columns(screen: Sequence[str], count: int = 1) -> list[str]:
    """What stands in large letters in each of so many columns, from top to bottom, in small letters."""
    told = sorted((w.row, w.cell, w.text) for scale in (1, 2) for w in written(screen, scale))
    wide = len(screen[0]) // count
    return [" ".join(text for _, cell, text in told if cell // wide == n).lower() for n in range(count)]


def _in_band(band: Sequence[str], row: int, scale: int) -> Iterator[Written]:
    text, begun, end = "", 0, 0
    for cell, letter, wide in _letters(band, scale):
        between = cell - end
        if text and between not in (_across(scale), gap(scale)):
            yield from _sure(Written(row, begun, scale, text))
            text = ""
        if not text:
            begun = cell
        text += (" " if text and between == gap(scale) else "") + letter
        end = cell + wide
    yield from _sure(Written(row, begun, scale, text))


def _sure(told: Written) -> Iterator[Written]:
    """One letter or two by themselves may be a frame or a sign."""
    if len(told.text) > 1:
        yield told


def _across(scale: int) -> int:
    return 1 if scale == 1 else 2 * (scale - 1)


def _letters(band: Sequence[str], scale: int) -> Iterator[tuple[int, str, int]]:
    """Every run of columns that is a letter, with where it begins and how wide it is."""
    wide = min(map(len, band))
    columns = ["".join(line[x] for line in band) for x in range(wide)]
    x = 0
    while x < wide:
        end = x
        while end < wide and columns[end].strip():
            end += 1
        if letter := _known(scale).get(tuple(columns[x:end])):
            yield x, letter, end - x
        x = end + 1


@cache
def _known(scale: int) -> dict[tuple[str, ...], str]:
    """Every glyph by its columns."""
    drawn = {letter: large(letter, scale) for letter in GLYPHS if letter != " "}
    return {
        tuple("".join(row[x] for row in rows) for x in range(len(rows[0]))): c for c, rows in drawn.items()
    }
