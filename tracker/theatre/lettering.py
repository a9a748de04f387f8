"""Letters to be read at three metres: a small pixel alphabet, drawn with half blocks or with full ones.

Every glyph is five pixels high and mostly three wide, our own. At `scale` 1 two pixels share a cell and a
line of text is three rows high; at `scale` 2 a pixel is two cells wide and one row high: five rows.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
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


GLYPHS: Final[Mapping[str, tuple[str, ...]]] = {**_glyphs(), " ": ("..",) * 5}


def drawable(text: str) -> str:
    """`text` as this alphabet has it: capitals, accents taken off; what it has not becomes `?`."""
    plain = unicodedata.normalize("NFKD", text.upper().replace("\N{EN DASH}", "-"))
    letters = (c for c in plain if not unicodedata.combining(c))
    return "".join(c if c in GLYPHS else "?" for c in letters)


def _pixels(text: str) -> list[str]:
    glyphs = [GLYPHS[c] for c in drawable(text)]
    return [".".join(glyph[row] for glyph in glyphs) for row in range(5)]


_HALVES: Final = {("#", "#"): "█", ("#", "."): "▀", (".", "#"): "▄", (".", "."): " "}


def width(text: str, scale: int = 1) -> int:
    """How many cells wide `text` will be."""
    return len(_pixels(text)[0]) * scale if text else 0


def height(scale: int = 1) -> int:
    """How many rows high a line is."""
    return 3 if scale == 1 else 5


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
    return tuple("".join(("█" if p == "#" else " ") * scale for p in row) for row in pixels)


def wrapped(text: str, room: int, scale: int = 1) -> tuple[str, ...]:
    """`text` broken at blanks into lines that fit `room` cells; a longer word is broken where it must be."""
    lines: list[str] = []
    for word in text.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and width(joined, scale) <= room:
            lines[-1] = joined
        else:
            lines.extend(_broken(word, room, scale))
    return tuple(lines)


def _broken(word: str, room: int, scale: int) -> list[str]:
    parts = [""]
    for letter in word:
        if parts[-1] and width(parts[-1] + letter, scale) > room:
            parts.append("")
        parts[-1] += letter
    return parts
