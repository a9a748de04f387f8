"""Letters to be read at three metres: a small pixel alphabet, drawn with half blocks or with full ones.

Every glyph is five pixels high and mostly three wide, our own. At `scale` 1 two pixels share a cell and
a line is three rows high; at 2 a pixel is two cells wide and one row high, at 3 four cells and two rows.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import lru_cache
from typing import Final

_ROWS: Final = """
A .#. #.# ### #.# #.#|B ##. #.# ##. #.# ##.|C .## #.. #.. #.. .##|D ##. #.# #.# #.# ##.
E ### #.. ##. #.. ###|F ### #.. ##. #.. #..|G .## #.. #.# #.# .##|H #.# #.# ### #.# #.#
I ### .#. .#. .#. ###|J ..# ..# ..# #.# .#.|K #.# #.# ##. #.# #.#|L #.. #.. #.. #.. ###
M #...# ##.## #.#.# #...# #...#|N #..# ##.# #.## #..# #..#|O .#. #.# #.# #.# .#.
P ##. #.# ##. #.. #..|Q .##. #..# #..# #.## .###|R ##. #.# ##. #.# #.#|S .## #.. .#. ..# ##.
T ### .#. .#. .#. .#.|U #.# #.# #.# #.# ###|V #.# #.# #.# #.# .#.|W #...# #...# #.#.# ##.## #...#
X #.# #.# .#. #.# #.#|Y #.# #.# .#. .#. .#.|Z ### ..# .#. #.. ###
0 ### #.# #.# #.# ###|1 .#. ##. .#. .#. ###|2 ### ..# ### #.. ###|3 ### ..# ### ..# ###
4 #.# #.# ### ..# ..#|5 ### #.. ### ..# ###|6 ### #.. ### #.# ###|7 ### ..# ..# .#. .#.
8 ### #.# ### #.# ###|9 ### #.# ### ..# ###
: . # . # .|. . . . . #|, .. .. .. .# #.|- ... ... ### ... ...|+ ... .#. ### .#. ...|/ ..# ..# .#. #.. #..
( .# #. #. #. .#|) #. .# .# .# #.|' # # . . .|? ### ..# .#. ... .#.|% #.# ..# .#. #.. #.#
= ... ### ... ### ...
"""


def _glyphs() -> dict[str, tuple[str, ...]]:
    cells = (cell for line in _ROWS.strip().splitlines() for cell in line.split("|"))
    return {cell[0]: tuple(cell[2:].split(" ")) for cell in cells}


SIGNS: Final[Mapping[str, str]] = {"start": "\u25b6", "stop": "\u25a0", "tick": "\u2713", "strike": "\u2717"}
"""What was done, as a shape: a span begun, a span ended, a tick, something struck."""
GLYPHS: Final[Mapping[str, tuple[str, ...]]] = {
    **_glyphs(),
    " ": ("..",) * 5,
    SIGNS["start"]: ("#..", "##.", "###", "##.", "#.."),
    SIGNS["stop"]: ("...", "###", "###", "###", "..."),
    SIGNS["tick"]: ("....", "...#", "..#.", "#.#.", ".#.."),
    SIGNS["strike"]: ("#...#", ".#.#.", "..#..", ".#.#.", "#...#"),
}


def drawable(text: str) -> str:
    """`text` as this alphabet has it: capitals, accents taken off; what it has not becomes `?`."""
    plain = unicodedata.normalize("NFKD", text.upper().replace("\N{EN DASH}", "-"))
    letters = (c for c in plain if not unicodedata.combining(c))
    return "".join(c if c in GLYPHS else "?" for c in letters)


@lru_cache(maxsize=256)
def _pixels(text: str) -> list[str]:
    glyphs = [GLYPHS[c] for c in drawable(text)]
    return [".".join(glyph[row] for glyph in glyphs) for row in range(5)]


_HALVES: Final = {("#", "#"): "█", ("#", "."): "▀", (".", "#"): "▄", (".", "."): " "}


def _pixel(scale: int) -> tuple[int, int]:
    """Cells across and rows down of one pixel, above scale 1."""
    return 2 * (scale - 1), scale - 1


def width(text: str, scale: int = 1) -> int:
    """How many cells wide `text` will be."""
    if not text:
        return 0
    pixels = len(_pixels(text)[0])
    return pixels if scale == 1 else pixels * _pixel(scale)[0]


def height(scale: int = 1) -> int:
    """How many rows high a line is."""
    return 3 if scale == 1 else 5 * _pixel(scale)[1]


@lru_cache(maxsize=64)
def large(text: str, scale: int = 1) -> tuple[str, ...]:
    """`text` in large letters, as rows of equal width."""
    if not text:
        return ("",) * height(scale)
    pixels = _pixels(text)
    if scale == 1:
        padded = [*pixels, "." * len(pixels[0])]
        return tuple(
            "".join(_HALVES[pair] for pair in zip(top, bottom, strict=True))
            for top, bottom in zip(padded[::2], padded[1::2], strict=True)
        )
    across, down = _pixel(scale)
    rows = ("".join(("█" if p == "#" else " ") * across for p in row) for row in pixels)
    return tuple(row for row in rows for _ in range(down))


@lru_cache(maxsize=256)
def wrapped(text: str, room: int, scale: int = 1) -> tuple[str, ...]:
    """`text` broken at blanks and hyphens into lines of `room` cells.

    Nothing if a word does not fit, or holds a character that this alphabet has not.
    """
    lines: list[str] = []
    for part in re.findall(r"[^\s-]+-?|-", text):
        if width(part, scale) > room or drawable(part).count("?") > part.count("?"):
            return ()
        joined = part if not lines else lines[-1] + ("" if lines[-1].endswith("-") else " ") + part
        if lines and width(joined, scale) <= room:
            lines[-1] = joined
        else:
            lines.append(part)
    return tuple(lines)
