"""The list of steps, as large as there is room for.

Written: labels and states in large letters. Signed: the state of each as a large sign beside plain words. Plain: one
line a step. The step that is marked is told large above the list, so it is plain in every list.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from msgspec.structs import replace
from rich.cells import cell_len

from tracker.core.text import shown
from tracker.screen.block import behind, block
from tracker.screen.lettering import STATES, large
from tracker.screen.lettering import height as letter_height
from tracker.screen.lines import Line, Size, fit, flow_within, wrap
from tracker.theatre.drawing.cells import Cell, cell, holes_behind, in_columns, still
from tracker.theatre.scene import StepLine

COLUMN = 95
"""Cells that a column of large letters takes at least."""
SIGNED = 38
"""Cells that a column of steps with large signs takes at least."""
_SIGN = 7
"""Cells of a sign with a blank before and behind it."""


def signed(steps: Sequence[StepLine], size: Size) -> Cell:
    """Each step in three lines or more, its state as a large sign."""
    columns = max(1, size.width // SIGNED)
    return in_columns([_signed(s, size.width // columns) for s in steps], columns, size.width)


def plain(steps: Sequence[StepLine], size: Size, room: int) -> tuple[Cell, int]:
    """The steps in columns, and which is the first: if there are more than fit, those about the marked one."""
    columns = _columns(size)
    cells = [_plain(s, size.width // columns) for s in steps]
    at = next((i // columns for i, s in enumerate(steps) if s.marked), 0)
    first, last = _around(_heights(cells, columns), at, room)
    drawn = in_columns(cells[first * columns : last * columns], columns, size.width)
    above, below = first * columns, max(0, len(steps) - last * columns)
    if above or below:
        words = f"  {above} more steps above, {below} below: Up and Down reach them"
        drawn = Cell((*drawn.lines, fit(((words, "quiet"),), size.width)), drawn.holes)
    return drawn, above


@lru_cache(maxsize=64)
def height_of(steps: tuple[StepLine, ...], size: Size) -> int:
    """How many lines the plain list takes as a whole."""
    columns = _columns(size)
    return sum(_heights([_plain(s, size.width // columns) for s in steps], columns))


def _heights(cells: Sequence[Cell], columns: int) -> list[int]:
    return [max(c.height for c in cells[i : i + columns]) for i in range(0, len(cells), columns)]


def _columns(size: Size) -> int:
    return 2 if size.width < 120 else min(4, size.width // 50)


def _around(heights: Sequence[int], marked: int, room: int) -> tuple[int, int]:
    """First and last row, about the marked one, that fit `room` lines with a line for those left out."""
    if sum(heights) <= room:
        return 0, len(heights)
    first, last = marked, marked + 1
    while True:
        left = room - 1 - sum(heights[first:last])
        if last < len(heights) and heights[last] <= left:
            last += 1
        elif first > 0 and heights[first - 1] <= left:
            first -= 1
        else:
            return first, last


# -- one step


def stilled(step: StepLine) -> StepLine:
    """A step whose time stands still, by which its cell is remembered."""
    if not step.time:
        return step
    time = still(step.time)
    return replace(step, time=time, word=f"{step.state} {time}")


@lru_cache(maxsize=256)
def _plain(step: StepLine, width: int) -> Cell:
    """Key, label, state; a label that does not fit goes on in a second line."""
    word = f"{step.stage} {step.word}".strip() if step.stage else step.word
    room = width - 5 - (cell_len(word) + 1 if word else 0)
    label = " ".join(shown(step.label).split())
    start = wrap(label, max(8, room))[0]
    tone = "mark" if step.marked else step.tone
    pad = " " * max(0, room - cell_len(start))
    first: Line = (
        (" ", "plain"), (step.key, "key"), (">" if step.marked else " ", "key"),
        (start, tone), (pad + " ", "plain"), (word, step.tone), (" ", "plain"),
    )  # fmt: skip
    rest: list[Line] = [(("   ", "plain"), (part, tone)) for part in wrap(label[len(start) :], width - 4)]
    return cell((fit(line, width) for line in (first, *rest)), width, [(0, 5, -1, 0)] if step.time else ())


@lru_cache(maxsize=256)
def _signed(step: StepLine, width: int) -> Cell:
    """The sign of its state at the left; label, then state and stage, beside it."""
    sign = STATES.get(step.state, "")
    rows = large(sign) if sign else ("",) * 3
    tone = "mark" if step.marked else step.tone
    told: list[Line] = [
        ((step.key if i == 0 else " ", "key"), (">" if step.marked and i == 0 else " ", "key"), (part, tone))
        for i, part in enumerate(wrap(step.label, width - _SIGN - 3))
    ]
    words = ", ".join(filter(None, (step.word, step.stage)))
    hole = len(told)
    told += [((f"  {part}", step.tone),) for part in wrap(words, width - _SIGN - 3)]
    lines = (
        (
            (f" {rows[i] if i < len(rows) else ''}".ljust(_SIGN), step.tone),
            *(told[i] if i < len(told) else ()),
        )
        for i in range(max(len(rows), len(told)))
    )
    return cell((fit(line, width) for line in lines), width, [(hole, 1, -1, 0)] if step.time else ())


@lru_cache(maxsize=256)
def written(step: StepLine, reason: str, width: int, scale: int, *, why: bool) -> Cell:
    """Label, state, stage if it is another, all large; plain if it cannot be drawn or is told above.

    The reason is large too if `why`, else plain under them.
    """
    if step.marked:
        return _plain(step, width)
    state = step.state if step.time else step.word
    words = ", ".join(filter(None, (f"{state}: {reason}" if reason and why else state, step.stage)))
    quiet = "quiet" if step.tone in ("done", "quiet") else "plain"
    pieces = ((f"{step.label}:" if words else step.label, step.tone), (words, quiet))
    rows = block(tuple(piece for piece in pieces if piece[0]), width - 6, scale)
    if rows and step.time:
        rows = behind(rows, (step.time, step.tone), width - 6, scale)
    if not rows:
        return _plain(step, width)
    middle = letter_height(scale) // 2
    keys: list[Line] = [((f" {step.key}  " if i == middle else "    ", "key"),) for i in range(len(rows))]
    lines = [(*key, *row) for key, row in zip(keys, rows, strict=True)]
    holes = holes_behind(lines, scale) if step.time else ()
    under = () if why else wrap(reason, width - 6)
    return cell([*lines, *((("    ", "plain"), (part, step.tone)) for part in under)], width, holes, scale)


# -- steps side by side


@lru_cache(maxsize=16)
def in_a_row(word: str, steps: tuple[StepLine, ...], width: int, room: int) -> tuple[Line, ...]:
    """A word and steps side by side; those that were used say so, those with no room are counted."""
    items: list[Line] = [
        ((s.key, "key"), (f" {s.label}", s.tone), (f" {s.word}" if s.tone != "quiet" else "", s.tone))
        for s in steps
    ]
    return tuple(fit(line, width + 1) for line in flow_within(word, items, width, room))
