"""The board as lines of text: pure, of any size from 80x24 up, every line exactly as wide as the screen.

What matters from three metres is large and always in the same place: the case clock with the last entry and the side
of the eye beside it, the marked step under them. Below are the steps of the stage and what else runs and is due, in
large letters as far as there is room, the steps and their keys first. What is open and the deviations are quiet
lines. Words tell everything; what does not fit is counted, not cut.
"""

from __future__ import annotations

from collections.abc import Iterable

from rich.cells import cell_len

from tracker.screen.commands import Command
from tracker.screen.lines import Line, Size, fit, fitted, foot, window, wrap
from tracker.theatre.drawing import steps
from tracker.theatre.drawing.calls import marked
from tracker.theatre.drawing.growth import TALL, grown
from tracker.theatre.drawing.quiet import Quiet
from tracker.theatre.drawing.top import clock, head
from tracker.theatre.scene import Scene

HINT = 4
"""Lines that what is said of the last key may take."""
KEPT = 2
"""Lines of these that a tall board keeps free, so that what is large does not change with what is said."""
LEAST = 3
"""Lines of a panel that are shown on a screen however small, before what stands above it."""


def draw(scene: Scene, size: Size, commands: tuple[Command, ...]) -> tuple[Line, ...]:
    """The board, exactly `size.height` lines of `size.width` cells."""
    top = _even((head(scene, size), *clock(scene, size)), size)
    hint = _hint(scene, size)
    last = _even((*hint, *foot(commands, size)), size)
    top = [*top, *marked(scene, size, size.height - len(top) - len(last) - _least(scene, size))]
    top = top[: max(1, size.height - len(last) - (LEAST if scene.panel else 0))]
    room = max(0, size.height - len(top) - len(last))
    kept = max(0, KEPT - len(hint)) if size.height >= TALL else 0
    body = _panel(scene, size, room) if scene.panel else _body(scene, size, room, room - kept)
    blank = fit((), size.width)
    lines = [*top, *body[:room], *[blank] * (size.height - len(top) - len(body) - len(last)), *last]
    return tuple(lines[: size.height])


def _least(scene: Scene, size: Size) -> int:
    """Lines that the marked step leaves free: on a low screen all steps come before its large letters."""
    if scene.panel or size.height >= TALL:
        return 0
    listed = tuple(map(steps.stilled, (*scene.steps, *scene.beside)))
    return 1 + steps.height_of(listed, size) + bool(scene.ahead)


def _even(lines: Iterable[Line], size: Size) -> list[Line]:
    """Lines as wide as the screen."""
    return [fit(line, size.width) for line in lines]


# -- the body


def _body(scene: Scene, size: Size, room: int, steady: int) -> list[Line]:
    """The body in `room` lines, its large letters in `steady` of them: the steps first, the rest as it fits."""
    rule = _rule(scene, size)
    ahead = steps.in_a_row(f"next {scene.ahead_stage}", scene.ahead, size.width - 1, min(1, room // 6))
    left = room - len(rule) - len(ahead)
    body = grown(scene, size, left, steady - len(rule) - len(ahead))
    left -= len(body.steps) + len(body.large)
    quiet = Quiet(body.running, body.due, scene.open, scene.deviations)
    most = max(min(1, left - 1), left - quiet.least)
    anytime = steps.in_a_row("any time", scene.anytime, size.width - 1, most)
    more = [f"{len(scene.anytime)} any time"] if scene.anytime and not anytime else []
    more += [f"{len(scene.ahead)} next"] if scene.ahead and not ahead else []
    info = quiet.lines(size.width - 1, left - len(anytime), more)
    return [*_even(rule, size), *body.steps, *ahead, *body.large, *anytime, *_even(info, size)]


def _rule(scene: Scene, size: Size) -> list[Line]:
    """The stage with its time, and when the end is expected: on one line if they fit."""
    time = f"  {scene.stage_time}" if scene.stage_time else ""
    words = f" {scene.stage}{time} "
    finish = f" {scene.finish} " if scene.finish else ""
    room = size.width - cell_len(words) - cell_len(finish) - 4
    if room >= 0:
        return [(("──", "rule"), (words, "live"), ("─" * room, "rule"), (finish, "quiet"), ("──", "rule"))]
    return [((f" {part}", "live"),) for part in wrap(words + finish, size.width - 2)]


# -- a panel


def _panel(scene: Scene, size: Size, room: int) -> list[Line]:
    title = [((f" {part}", "live"),) for part in wrap(scene.panel, size.width - 2)]
    left = room - len(title) - 1
    rows, at = fitted(scene.rows, size.width, left)
    first, last = window(len(rows), at, left)
    more = len(rows) - last
    tail: list[Line] = (
        [((f"  {first} lines above, {more} below: Up and Down", "quiet"),)] if first or more else []
    )
    return _even(((("─" * size.width, "rule"),), *title, *rows[first:last], *tail), size)


# -- the foot


def _hint(scene: Scene, size: Size) -> list[Line]:
    lines: list[Line] = [((f" {part}", "amber"),) for part in wrap(scene.hint, size.width - 2)]
    return lines[:HINT]
