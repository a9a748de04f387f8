"""The top of the board, always in the same place: the case, its clock, the side of the eye, the last entry."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from rich.cells import cell_len

from tracker.screen.block import block
from tracker.screen.lettering import height as letter_height
from tracker.screen.lettering import large
from tracker.screen.lettering import width as letter_width
from tracker.screen.lines import SHORT, Line, Size, width_of, wrap
from tracker.theatre.scene import Running, Scene

_BETWEEN: Line = (("  ", "plain"), ("│", "rule"), ("  ", "plain"))
"""What parts the clock, the last entry and the side of the eye, which else would read as one line of words."""
GAP = width_of(_BETWEEN)


def head(scene: Scene, size: Size) -> Line:
    """The case and the time of day; between them what is in red, else who reviewed the file."""
    reds = [r for r in scene.running if r.tone == "red"]
    left = f" {scene.code}  "
    right = f"  {scene.wall} "
    room = size.width - cell_len(left) - cell_len(right)
    if scene.trouble:
        middle, tone = scene.trouble, "red"
    elif reds:
        middle, tone = _in_red(reds, room), "red"
    else:
        middle, tone = f"{scene.review}  {scene.title}", "quiet"
        middle = middle if cell_len(middle) <= room else scene.review
    middle = (wrap(middle, room) or [""])[0]
    return ((left, "plain"), (middle + " " * (room - cell_len(middle)), tone), (right, "plain"))


def _in_red(reds: Sequence[Running], room: int) -> str:
    """The clock in red as long as it fits; else the figure before the label, of which the end may go."""
    first = reds[0]
    more = f" + {len(reds) - 1} more" if len(reds) > 1 else ""
    whole = f"{first.time} {first.label}  {first.word}{more}"
    reached = first.word.partition(" reached")[0]
    return whole if cell_len(whole) <= room else f"{first.time} {reached}{more}: {first.label}"


def clock(scene: Scene, size: Size) -> list[Line]:
    """The case clock, the last entry and the side, large if they fit; under them when that entry was."""
    words = f"{scene.echo} {scene.echo_word}".rstrip()
    told = f"{scene.echo_at}, {scene.ago}: {words}" if scene.echo_at else "nothing entered yet"
    taken = letter_width(scene.clock, size.scale) + GAP + 1
    side = _side(scene.side, size.width - taken - 1, size.scale)
    word: Line = ((f" {scene.clock_word}   ", "quiet"),)
    if size.height < SHORT:
        word = ((f" {scene.clock} {scene.clock_word}   ", "large"),)
    if scene.side and (size.height < SHORT or not side):
        word = (*word, (f" {scene.side} ", "mark"), ("   ", "plain"))
    under = _after(word, told, size)
    if size.height < SHORT:
        return under
    rows = large(scene.clock, size.scale)
    wide = max((cell_len(text) for row in side for text, _ in row), default=0)
    room = size.width - taken - (wide + GAP + 1 if wide else 1)
    echo = _echo(f"{scene.echo_sign} {scene.echo}".strip(), room, size.scale, len(rows))
    return [*_abreast(rows, echo, room, side), *under]


def _abreast(rows: Sequence[str], echo: Sequence[Line], room: int, side: Sequence[Line]) -> list[Line]:
    """Clock, last entry and side in one band; the side keeps to the right edge."""
    blank: Line = ((" " * room, "plain"),)
    return [
        (
            (" " + row, "large"), *_BETWEEN, *(echo[i] if i < len(echo) else blank),
            *((*_BETWEEN, *side[i]) if i < len(side) else ()),
        )
        for i, row in enumerate(rows)
    ]  # fmt: skip


def _after(word: Line, text: str, size: Size) -> list[Line]:
    """A word, and the last entry after it over as many lines as it takes."""
    taken = sum(cell_len(part) for part, _ in word)
    parts = wrap(text, size.width - taken - 1)
    return [(*(((" " * taken, "plain"),) if i else word), (p, "echo")) for i, p in enumerate(parts)]


@lru_cache(maxsize=16)
def _side(side: str, room: int, scale: int) -> tuple[Line, ...]:
    """The side of the eye in large letters, on one line; else in plain ones, as lines equally wide, or nothing."""
    for drawn in range(scale, 0, -1):
        rows = block(((side, "large"),), room, drawn) if side else ()
        if 0 < len(rows) <= letter_height(drawn):
            return rows
    parts = wrap(side, max(8, room // 3))
    fits = 0 < len(parts) <= letter_height(scale) and max(map(cell_len, parts)) + 2 <= room
    wide = max(map(cell_len, parts), default=0)
    return tuple(((f" {p.ljust(wide)} ", "mark"),) for p in parts) if fits else ()


@lru_cache(maxsize=64)
def _echo(text: str, room: int, scale: int, height: int) -> tuple[Line, ...]:
    """What was entered last, after the sign of what was done: large if it fits, else plain if it is whole there."""
    for drawn in range(scale, 0, -1):
        rows = block(((text, "echo"),), room, drawn)
        if 0 < len(rows) <= height:
            return tuple((*row, (" " * (room - sum(len(t) for t, _ in row)), "plain")) for row in rows)
    parts = wrap(text, room)
    if room < 1 or len(parts) > height:
        return ()
    return tuple(((p + " " * (room - cell_len(p)), "echo"),) for p in parts)
