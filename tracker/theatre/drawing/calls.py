"""What is marked, what runs and what is due, in letters that are read across the room."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from msgspec import Struct
from msgspec.structs import replace
from rich.cells import cell_len

from tracker.screen.block import behind, block
from tracker.screen.lettering import height as letter_height
from tracker.screen.lines import SHORT, Line, Size, fit, width_of, wrap
from tracker.theatre.drawing.cells import EMPTY, Cell, cell, filled, holes_behind, in_stacks, stacked, still
from tracker.theatre.drawing.steps import COLUMN
from tracker.theatre.scene import Due, Running, Scene

LINE = letter_height(1)
"""Rows of one line of large letters."""
LOW = 30
"""Under so many lines a panel takes the place of the marked step's large letters."""


class Call(Struct, frozen=True, gc=False):
    """Something told large: its label, its time if it runs, why; the word for how it stands is told beside it.

    `step` is its id if it is a step.
    """

    label: str
    time: str
    word: str
    why: str
    tone: str
    step: str = ""


def of_running(run: Running) -> Call:
    """What runs, as it is told large."""
    return Call(run.label, run.time, run.word or "running", "", run.tone, run.step)


def of_due(due: Due) -> Call:
    """What is due after something that happened, as it is told large."""
    return Call(due.label, "", due.word, due.reason, "amber", due.step)


def in_order(running: Sequence[Running], due: Sequence[Due]) -> list[tuple[Running | Due, Call]]:
    """What has reached a figure, what is due, then what else runs."""
    reached = [(r, of_running(r)) for r in running if r.tone in ("red", "amber")]
    others = [(r, of_running(r)) for r in running if r.tone not in ("red", "amber")]
    return [*reached, *((d, of_due(d)) for d in due), *others]


def large(asked: Sequence[Call], size: Size, room: int) -> tuple[Cell, tuple[int, ...]]:
    """As many as fit `room` lines, with the reasons if these fit too, as one cell; and which they are."""
    columns = max(1, size.width // COLUMN)
    width = size.width // columns
    taken: list[int] = []
    cells: list[Cell] = []
    for i, call in enumerate(asked if room >= LINE else ()):
        drawn = called(call, width, 1)
        if not drawn.lines or stacked([*cells, drawn], columns) > room:
            break  # what comes after it matters less, and must not be all that is seen
        taken.append(i)
        cells.append(drawn)
    for i, at in enumerate(taken):
        drawn = called(asked[at], width, 1, why=True) if asked[at].why else EMPTY
        told = [*cells[:i], drawn, *cells[i + 1 :]]
        if drawn.lines and stacked(told, columns) <= room:
            cells = told
    return in_stacks(cells, columns, size.width), tuple(taken)


def height_of(asked: Sequence[Call], size: Size) -> int:
    """How many lines all of them take at least in large letters."""
    columns = max(1, size.width // COLUMN)
    return stacked([called(call, size.width // columns, 1) for call in asked], columns)


def stilled_call(call: Call) -> Call:
    """A call whose time stands still, by which its cell is remembered."""
    return replace(call, time=still(call.time)) if call.time else call


@lru_cache(maxsize=256)
def called(call: Call, width: int, scale: int, *, why: bool = False, mark: bool = False) -> Cell:
    """A call as a cell: nothing if it cannot be drawn in large letters. `why` tells the reason large as well."""
    tone = "large" if mark else call.tone
    pieces = ((f"{call.label}:", tone), (call.why, "plain")) if why and call.why else ((call.label, tone),)
    rows = block(pieces, width - 2, scale)
    if rows and call.time:
        rows = behind(rows, (call.time, tone), width - 2, scale)
    if not rows:
        return EMPTY
    lines = [((" ", "plain"), *row) for row in rows]
    holes = holes_behind(lines, scale) if call.time else ()
    told = f"{call.word}: {call.why}" if call.why and not why else call.word
    _add_word(lines, told, "mark" if mark else call.tone, width, scale)
    return cell(lines, width, holes, scale)


def _add_word(lines: list[Line], word: str, tone: str, width: int, scale: int) -> None:
    """Put a word beside the last line of letters, or under it if it does not fit there."""
    used = width_of(lines[-1])
    if word and used + cell_len(word) + 5 <= width:
        middle = -(letter_height(scale) // 2) - 1
        lines[middle] = (*lines[middle], ("  ", "plain"), (f" {word} ", tone))
    elif word:
        lines += [((" ", "plain"), (f" {part} ", tone)) for part in wrap(word, width - 3)]


def marked(scene: Scene, size: Size, room: int) -> Sequence[Line]:
    """What is asked once more, else the marked step: large if it fits `room` lines, else in plain letters."""
    small = size.height < (LOW if scene.panel else SHORT)
    if scene.ask:
        return _asked(scene.ask, size, small)
    step = scene.marked
    why = next((d.reason for d in scene.due if d.step == step.step), "")
    if not small:
        call = Call(step.label, step.time, step.state if step.time else step.word, why, step.tone)
        still_call = stilled_call(call)
        tries = [(1, 2 * LINE, True)] if why and size.height >= LOW else []
        for scale, most, large_why in (*tries, *((scale, most, False) for scale, most in _scales(size))):
            drawn = called(still_call, size.width, scale, why=large_why, mark=True)
            if 0 < drawn.height <= min(most, room):
                return filled(drawn, (step.time,))
    return _plainly(f" {step.word or 'marked'}  ", f"{step.label}: {why}" if why else step.label, size)


@lru_cache(maxsize=8)
def _scales(size: Size) -> list[tuple[int, int]]:
    """The scales tried for the marked step, each with the most rows: on one line, in small letters on two."""
    one = [(scale, letter_height(scale) + 1) for scale in range(size.scale, 0, -1)]
    return [*one, (1, 2 * letter_height(1) + 1)] if size.height >= 24 else one


@lru_cache(maxsize=8)
def _asked(words: str, size: Size, small: bool) -> tuple[Line, ...]:
    """What is asked once more, on a ground of its own across the screen."""
    rows = () if small else block(((words, "mark"),), size.width - 2, 1)
    if not rows or len(rows) > max(3 * LINE, size.height // 4):
        rows = tuple(((part, "mark"),) for part in wrap(words, size.width - 2))
    return tuple(
        (
            (" ", "mark"),
            *((text, "mark") for text, _ in row),
            (" " * (size.width - 1 - width_of(row)), "mark"),
        )
        for row in rows
    )


def _plainly(word: str, text: str, size: Size) -> list[Line]:
    parts = wrap(text, size.width - cell_len(word) - 1)
    return [
        fit(((" " * cell_len(word) if i else word, "mark"), (p, "live")), size.width)
        for i, p in enumerate(parts)
    ]
