"""Letters to be read at three metres: a small pixel alphabet, drawn with half blocks or with full ones.

Every glyph is five pixels high and mostly three wide, our own; no letter or digit differs from another by less
than two pixels. At `scale` 1 two pixels share a cell and a line is three rows high; at 2 a pixel is two cells wide
and one row high, at 3 four cells and two rows.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Final

from tracker.screen.breaking import units

_ROWS: Final = """
A .#. #.# ### #.# #.#|B ##. #.# ##. #.# ##.|C .## #.. #.. #.. .##|D ##. #.# #.# #.# ##.
E ### #.. ##. #.. ###|F ### #.. ##. #.. #..|G .### #... #.## #..# .###|H #.# #.# ### #.# #.#
I ### .#. .#. .#. ###|J ..# ..# ..# #.# ###|K #..# #.#. ##.. #.#. #..#|L #.. #.. #.. #.. ###
M #...# ##.## #.#.# #...# #...#|N #..# ##.# #.## #..# #..#|O .##. #..# #..# #..# .##.
P ##. #.# ##. #.. #..|Q .##. #..# #..# #.## .###|R ##. #.# ##. #.# #.#|S .## #.. .#. ..# ##.
T ### .#. .#. .#. .#.|U #..# #..# #..# #..# .##.|V #...# #...# .#.#. .#.#. ..#..
W #...# #...# #.#.# ##.## #...#|X #.# #.# .#. #.# #.#|Y #...# .#.#. ..#.. ..#.. ..#..|Z #### ..#. .#.. #... ####
0 ### #.# #.# #.# ###|1 .#. ##. .#. .#. ###|2 ### ..# ### #.. ###|3 ### ..# .## ..# ###
4 #.# #.# ### ..# ..#|5 ### #.. ### ..# ###|6 .## #.. ### #.# ###|7 ### ..# ..# .#. .#.
8 ### #.# .#. #.# ###|9 ### #.# ### ..# ##.
: . # . # .|. . . . . #|, .. .. .. .# #.|- ... ... ### ... ...|+ ... .#. ### .#. ...|/ ..# ..# .#. #.. #..
( .# #. #. #. .#|) #. .# .# .# #.|' # # . . .|? ### ..# .#. ... .#.|% #.# ..# .#. #.. #.#
= ... ### ... ### ...
"""


def _glyphs() -> dict[str, tuple[str, ...]]:
    cells = (cell for line in _ROWS.strip().splitlines() for cell in line.split("|"))
    return {cell[0]: tuple(cell[2:].split(" ")) for cell in cells}


SIGNS: Final[Mapping[str, str]] = {"start": "\u25b6", "stop": "\u25a0", "tick": "\u2713", "strike": "\u2717"}
"""What was done, as a shape: a span begun, a span ended, a tick, something struck."""
STATES: Final[Mapping[str, str]] = {
    "running": SIGNS["start"], "ticked": SIGNS["tick"], "struck": SIGNS["strike"], "due": "\u25a1",
    "due again": "\u271a", "not needed": "-", "not in this case": "-", "done, not logged": "?",
}  # fmt: skip
"""How a step stands, as a shape beside its word; a step without one has not been reached."""
GLYPHS: Final[Mapping[str, tuple[str, ...]]] = {
    **_glyphs(),
    " ": ("..",) * 5,
    SIGNS["start"]: ("#..", "##.", "###", "##.", "#.."),
    SIGNS["stop"]: ("...", "###", "###", "###", "..."),
    SIGNS["tick"]: ("....", "...#", "..#.", "#.#.", ".#.."),
    SIGNS["strike"]: ("#...#", ".#.#.", "..#..", ".#.#.", "#...#"),
    STATES["due"]: ("#####", "#...#", "#...#", "#...#", "#####"),
    STATES["due again"]: ("..#..", "..#..", "#####", "..#..", "..#.."),
}


def drawable(text: str) -> str:
    """`text` as this alphabet has it: capitals, accents taken off; what it has not becomes `?`."""
    capitals = text.upper()
    if capitals.isascii() and all(c in GLYPHS for c in capitals):
        return capitals
    plain = unicodedata.normalize("NFKD", capitals.replace("\N{EN DASH}", "-"))
    letters = (c for c in plain if not unicodedata.combining(c))
    return "".join(c if c in GLYPHS else "?" for c in letters)


_HALVES: Final = {("#", "#"): "█", ("#", "."): "▀", (".", "#"): "▄", (".", "."): " "}


def _pixel(scale: int) -> tuple[int, int]:
    """Cells across and rows down of one pixel; at scale 1 two pixels share a row."""
    return (1, 1) if scale == 1 else (2 * (scale - 1), scale - 1)


def _drawn(glyph: tuple[str, ...], scale: int) -> tuple[str, ...]:
    """The rows of a glyph at a scale."""
    if scale == 1:
        padded = [*glyph, "." * len(glyph[0])]
        pairs = zip(padded[::2], padded[1::2], strict=True)
        return tuple("".join(_HALVES[pair] for pair in zip(*rows, strict=True)) for rows in pairs)
    across, down = _pixel(scale)
    rows = ("".join(("█" if p == "#" else " ") * across for p in row) for row in glyph)
    return tuple(row for row in rows for _ in range(down))


@lru_cache(maxsize=4)
def _alphabet(scale: int) -> Mapping[str, tuple[str, ...]]:
    """Every glyph drawn at a scale: a line is its glyphs side by side, a pixel's width apart."""
    return {letter: _drawn(glyph, scale) for letter, glyph in GLYPHS.items()}


def width(text: str, scale: int = 1) -> int:
    """How many cells wide `text` will be."""
    letters = drawable(text)
    pixels = sum(len(GLYPHS[c][0]) for c in letters) + len(letters) - 1
    return max(0, pixels) * _pixel(scale)[0]


def gap(scale: int = 1) -> int:
    """How many cells lie between two words."""
    return (len(GLYPHS[" "][0]) + 2) * _pixel(scale)[0]


def height(scale: int = 1) -> int:
    """How many rows high a line is."""
    return 3 if scale == 1 else 5 * _pixel(scale)[1]


@lru_cache(maxsize=256)
def large(text: str, scale: int = 1) -> tuple[str, ...]:
    """`text` in large letters, as rows of equal width."""
    alphabet, between = _alphabet(scale), " " * _pixel(scale)[0]
    glyphs = [alphabet[c] for c in drawable(text)]
    return tuple(between.join(glyph[row] for glyph in glyphs) for row in range(height(scale)))


@lru_cache(maxsize=256)
def wrapped(text: str, room: int, scale: int = 1) -> tuple[str, ...]:
    """`text` broken at blanks and hyphens into lines of `room` cells, a figure kept with its unit if it can be.

    Nothing if a word does not fit, or holds a character that this alphabet has not.
    """
    lines: list[str] = []
    for part in _parts(text, room, scale):
        if width(part, scale) > room or drawable(part).count("?") > part.count("?"):
            return ()
        joined = part if not lines else lines[-1] + ("" if lines[-1].endswith("-") else " ") + part
        if lines and width(joined, scale) <= room:
            lines[-1] = joined
        else:
            lines.append(part)
    return tuple(lines)


_PART: Final = re.compile(r"(?:[^\s-]|(?<=\d)-(?=\d))+-?|-")
"""A word, or what stands before a hyphen in it; a hyphen between two digits belongs to a figure."""


def _parts(text: str, room: int, scale: int) -> Iterator[str]:
    """What is not broken unless it is wider than the room: words, and figures with their units."""
    for unit in units(text):
        if " " in unit and width(unit, scale) <= room:
            yield unit
        else:
            yield from _PART.findall(unit)
