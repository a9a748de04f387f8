"""Toned text in large letters: lines of a screen, not only rows of one text."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import chain

from tracker.screen.lettering import gap, height, large, width, wrapped
from tracker.screen.lines import Line, Piece


@lru_cache(maxsize=256)
def block(pieces: tuple[Piece, ...], room: int, scale: int = 1) -> tuple[Line, ...]:
    """Pieces of text one behind the other in large letters, in lines of at most `room` cells.

    Nothing if a word does not fit, or holds a character that the alphabet has not.
    """
    lines = wrapped(" ".join(text for text, _ in pieces), room, scale)
    toned = _toned(lines, pieces)
    drawn = [tuple(_rows(pieces, scale)) for pieces in toned]
    between: tuple[Line, ...] = () if scale == 1 else ((),)  # from scale 2 on lines would touch
    return tuple(chain.from_iterable((*(between if i else ()), *rows) for i, rows in enumerate(drawn)))


def behind(rows: tuple[Line, ...], piece: Piece, room: int, scale: int) -> tuple[Line, ...]:
    """The rows with one more word behind their last line if it fits there, else under it; nothing if neither does.

    For what changes every second: the rest stays as it was drawn.
    """
    text, tone = piece
    used = sum(len(part) for part, _ in rows[-1]) if rows else room
    drawn: list[Line] = [((row, tone),) for row in large(text, scale)]
    between = gap(scale)
    if used + between + width(text, scale) <= room:
        cut = len(rows) - height(scale)
        last = zip(rows[cut:], drawn, strict=True)
        return (*rows[:cut], *((*row, (" " * between, "plain"), *word) for row, word in last))
    if not rows or width(text, scale) > room:
        return ()
    return (*rows, *drawn) if scale == 1 else (*rows, (), *drawn)


def _toned(lines: tuple[str, ...], pieces: tuple[Piece, ...]) -> Iterator[list[Piece]]:
    """The lines as pieces, each word with the tone of the piece that it came from."""
    tones = (tone for text, tone in pieces for _ in "".join(text.split()))
    for line in lines:
        told: list[Piece] = []
        for word in line.split():
            tone = [next(tones) for _ in word][-1]
            if told and told[-1][1] == tone:
                told[-1] = (f"{told[-1][0]} {word}", tone)
            else:
                told.append((word, tone))
        yield told


def _rows(pieces: list[Piece], scale: int) -> Iterator[Line]:
    """One line of large letters as rows."""
    between = (" " * gap(scale), "plain")
    for row in range(height(scale)):
        parts = [(large(text, scale)[row], tone) for text, tone in pieces]
        yield tuple(p for i, part in enumerate(parts) for p in ((between, part) if i else (part,)))
