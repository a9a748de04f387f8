"""The board as lines of text: pure, of any size from 80x24 up, every line exactly as wide as the screen.

What matters from three metres is large and always in the same place: the case clock with the last entry
beside it, the marked step under it. Below are the steps of the stage, then what runs, what is due again,
what is open and the deviations as quiet lines. Words tell everything; what does not fit is counted, not cut.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from functools import lru_cache

from rich.cells import cell_len

from tracker.core.text import shown
from tracker.screen.commands import Command
from tracker.screen.lettering import height as letter_height
from tracker.screen.lettering import large, wrapped
from tracker.screen.lettering import width as letter_width
from tracker.screen.lines import SHORT, Line, Size, fit, fitted, flow, foot, width_of, window, wrap
from tracker.theatre.scene import Running, Scene, StepLine

HINT = 4
"""Lines that what is said of the last key may take."""
LOW = 30
"""Under so many lines a panel takes the place of the marked step's large letters."""

LEAST = 3
"""Lines of a panel that are shown on a screen however small, before what stands above it."""


def draw(scene: Scene, size: Size, commands: tuple[Command, ...]) -> tuple[Line, ...]:
    """The board, exactly `size.height` lines of `size.width` cells."""
    top = [_head(scene, size), *_clock(scene, size), *_marked(scene, size)]
    last = [*_hint(scene, size), *foot(commands, size)]
    top = top[: max(1, size.height - len(last) - (LEAST if scene.panel else 0))]
    room = max(0, size.height - len(top) - len(last))
    body = _panel(scene, size, room) if scene.panel else _body(scene, size, room)
    lines = [*top, *body[:room], *[()] * (size.height - len(top) - len(body) - len(last)), *last]
    return tuple(fit(line, size.width) for line in lines[: size.height])


# -- text that flows


def _told(word: str, texts: tuple[str, ...], tone: str, width: int, most: int) -> tuple[Line, ...]:
    """A word, then texts, each on lines of its own; those over `most` lines are counted."""
    # No more texts than lines can be shown, however many there are, nor are more of them remembered.
    return _first_told(word, texts[: most + 1], len(texts), tone, width, most)


@lru_cache(maxsize=64)
def _first_told(
    word: str, texts: tuple[str, ...], total: int, tone: str, width: int, most: int
) -> tuple[Line, ...]:
    """The first of `total` texts as lines, the others counted."""
    label = f"{word} "
    told = [[((part, tone),) for part in wrap(text, width - len(label))] for text in texts]

    def counted(left_out: int) -> list[Line]:
        parts = told[: max(0, total - left_out)]
        return _counted([p for lines in parts for p in lines], left_out, width)

    fewest = total - len(told)
    left_out = fewest + _least(len(told), lambda n: len(counted(fewest + n)) <= most)
    return tuple(
        ((" " * len(label) if i else label, "quiet"), *line) for i, line in enumerate(counted(left_out))
    )


def _counted(lines: list[Line], more: int, width: int) -> list[Line]:
    """The lines, and how many more there are: behind the last one if it fits, else under it."""
    if not more:
        return lines
    tail = (f"+ {more} more", "quiet")
    if lines and width_of(lines[-1]) + 2 + len(tail[0]) <= width - 10:
        return [*lines[:-1], (*lines[-1], ("  ", "plain"), tail)]
    return [*lines, (tail,)]


# -- the top: always in the same place


def _head(scene: Scene, size: Size) -> Line:
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


def _clock(scene: Scene, size: Size) -> list[Line]:
    """The case clock with the last entry beside it, large if it fits, and under them when that was."""
    words = f"{scene.echo} {scene.echo_word}".rstrip()
    told = f"{scene.echo_at}, {scene.ago}: {words}" if scene.echo_at else "nothing entered yet"
    if size.height < SHORT:
        return _after(f" {scene.clock} {scene.clock_word}   ", told, "large", "echo", size)
    rows = large(scene.clock, size.scale)
    gap = 4
    room = size.width - letter_width(scene.clock, size.scale) - gap - 1
    beside: list[Line] = [*_echo(scene.echo_sign, scene.echo, room, len(rows)), *[()] * len(rows)]
    drawn: list[Line] = [
        ((" " + row, "large"), (" " * gap, "plain"), *side) for row, side in zip(rows, beside, strict=False)
    ]
    return [*drawn, *_after(f" {scene.clock_word}   ", told, "quiet", "echo", size)]


def _after(word: str, text: str, word_tone: str, tone: str, size: Size) -> list[Line]:
    """A word, and a text after it over as many lines as it takes."""
    parts = wrap(text, size.width - cell_len(word) - 1)
    return [((" " * cell_len(word) if i else word, word_tone), (p, tone)) for i, p in enumerate(parts)]


def _echo(sign: str, text: str, room: int, height: int) -> list[Line]:
    """What was entered last, after the sign of what was done: large if it fits."""
    signed = f"{sign} {text}".strip()
    for scale in (3, 2, 1):
        lines = wrapped(signed, room, scale)
        if lines and len(lines) * letter_height(scale) <= height:
            return [((row, "large"),) for line in lines for row in large(line, scale)]
    return [((part, "echo"),) for part in wrap(signed, room)[:height]]


def _marked(scene: Scene, size: Size) -> list[Line]:
    """The marked step: large if it fits, else in plain letters after its state."""
    most = 2 if size.height >= 24 else 1
    sizes = ((scale, wrapped(scene.marked, size.width - 2, scale)) for scale in range(size.scale, 0, -1))
    scale, lines = next(((k, ls) for k, ls in sizes if 0 < len(ls) <= most), (0, ()))
    if not lines or size.height < (LOW if scene.panel else SHORT):
        return _after(f" {scene.marked_word or 'marked'}  ", scene.marked, "mark", "live", size)
    drawn: list[Line] = [((" " + row, "large"),) for line in lines for row in large(line, scale)]
    last_width = letter_width(lines[-1], scale) + 3
    word = scene.marked_word
    if word and last_width + cell_len(word) + 3 <= size.width:
        middle = -(letter_height(scale) // 2) - 1
        drawn[middle] = (*drawn[middle], ("  ", "plain"), (f" {word} ", "mark"))
    elif word:
        drawn.append(((f" {word} ", "mark"),))
    return drawn


# -- the body


def _body(scene: Scene, size: Size, room: int) -> list[Line]:
    rule = _rule(scene, size)
    left = room - len(rule) - (1 if scene.anytime else 0)
    whole = len(_steps(scene.steps, size, left))
    info = _info(scene, size, max(left // 2, left - whole))
    steps = _steps(scene.steps, size, left - len(info))
    anytime = _anytime(scene.anytime, size, room - len(rule) - len(steps) - len(info))
    return [*rule, *steps, *anytime, *info]


@lru_cache(maxsize=16)
def _anytime(steps: tuple[StepLine, ...], size: Size, room: int) -> tuple[Line, ...]:
    """The steps of no stage, side by side; those that were used say so, those with no room are counted."""
    items: list[Line] = [
        ((s.key, "key"), (f" {s.label}", s.tone), (f" {s.word}" if s.tone != "quiet" else "", s.tone))
        for s in steps
    ]
    return tuple(_flow_within("any time", items, size.width - 1, room))


def _flow_within(word: str, items: Sequence[Line], width: int, room: int) -> list[Line]:
    """A word and items side by side in at most `room` lines; those left out are counted."""

    def flowed(left_out: int) -> list[Line]:
        tail: list[Line] = [((f"+ {left_out} more", "quiet"),)] if left_out else []
        told = items[: len(items) - left_out]
        return flow([((word, "quiet"),), *told, *tail], width, " " * (len(word) + 3))

    if not items or room < 1:
        return []
    lines = flowed(_least(len(items), lambda left_out: len(flowed(left_out)) <= room))
    return [((" ", "plain"), *line) for line in lines[:room]]


def _least(most: int, fits: Callable[[int], bool]) -> int:
    """The least number up to `most` that fits, given that what fits goes on to fit; `most` if none does."""
    return bisect_left(range(most), True, key=fits)


def _rule(scene: Scene, size: Size) -> list[Line]:
    """The stage with its time, and when the end is expected: on one line if they fit."""
    time = f"  {scene.stage_time}" if scene.stage_time else ""
    words = f" {scene.stage}{time} "
    finish = f" {scene.finish} " if scene.finish else ""
    room = size.width - cell_len(words) - cell_len(finish) - 4
    if room >= 0:
        return [(("──", "rule"), (words, "live"), ("─" * room, "rule"), (finish, "quiet"), ("──", "rule"))]
    return [((f" {part}", "live"),) for part in wrap(words + finish, size.width - 2)]


def _columns(size: Size) -> int:
    return 2 if size.width < 120 else min(4, size.width // 50)


def _steps(steps: Sequence[StepLine], size: Size, room: int) -> list[Line]:
    """The steps in columns; if there are more than fit, those about the marked one, the others counted."""
    columns = _columns(size)
    width = size.width // columns
    cells = [_step_cell(s, width) for s in steps]
    rows = [_side_by_side(cells[i : i + columns], width) for i in range(0, len(cells), columns)]
    marked = next((i // columns for i, s in enumerate(steps) if s.marked), 0)
    first, last = _around([len(row) for row in rows], marked, room)
    lines = [line for row in rows[first:last] for line in row]
    above, below = first * columns, max(0, len(steps) - last * columns)
    if above or below:
        words = f"  {above} more steps above, {below} below: Up and Down reach them"
        lines.append(((words, "quiet"),))
    return lines


def _side_by_side(cells: Sequence[Sequence[Line]], width: int) -> list[Line]:
    blank: Line = ((" " * width, "plain"),)
    tallest = max(len(cell) for cell in cells)
    return [tuple(p for c in cells for p in (c[i] if i < len(c) else blank)) for i in range(tallest)]


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


@lru_cache(maxsize=256)
def _step_cell(step: StepLine, width: int) -> tuple[Line, ...]:
    """A step's cell: key, label, state; a label that does not fit goes on in a second line."""
    word_room = cell_len(step.word) + 1 if step.word else 0
    room = width - 4 - word_room - 1
    label = " ".join(shown(step.label).split())
    start = wrap(label, max(8, room))[0]
    tone = "mark" if step.marked else step.tone
    pad = " " * max(0, room - cell_len(start))
    first: Line = (
        (" ", "plain"), (step.key, "key"), (">" if step.marked else " ", "key"),
        (start, tone), (pad + " ", "plain"), (step.word, step.tone), (" ", "plain"),
    )  # fmt: skip
    rest: list[Line] = [((f"   {part}", tone),) for part in wrap(label[len(start) :], width - 4)]
    return tuple((*line, (" " * max(0, width - width_of(line)), "plain")) for line in (first, *rest))


def _info(scene: Scene, size: Size, most: int) -> list[Line]:
    """What runs, what is due again, what is open, what differs: in at most `most` lines, the rest counted."""
    width = size.width - 1
    running: list[Line] = [
        ((f"{r.label} ", "plain"), (r.time, r.tone), (f" {r.word}" if r.word else "", r.tone))
        for r in scene.running
    ]
    everything = (
        (f"{scene.due_word:<9}", scene.due, "amber"),
        ("open     ", scene.open, "plain"),
        ("differs  ", scene.deviations[::-1], "quiet"),
    )
    parts = [part for part in everything if part[1]]
    if most < len(parts) + bool(running):
        runs = [] if most < 2 else _flow_within("running", running, width, most - 1)
        counts = [("running", 0 if runs else len(running)), *((w, len(texts)) for w, texts, _ in parts)]
        return [*runs, *_numbers(counts)][: max(0, most)]
    lines = _flow_within("running", running, width, most - len(parts))
    for i, (word, texts, tone) in enumerate(parts):
        told = _told(word, texts, tone, width, max(1, (most - len(lines)) // (len(parts) - i)))
        lines = [*lines, *(((" ", "plain"), *line) for line in told)]
    return lines


def _numbers(counts: Sequence[tuple[str, int]]) -> list[Line]:
    words = ", ".join(f"{count} {word.strip()}" for word, count in counts if count)
    return [((f" {words}", "quiet"),)] if words else []


# -- a panel


def _panel(scene: Scene, size: Size, room: int) -> list[Line]:
    title = [((f" {part}", "live"),) for part in wrap(scene.panel, size.width - 2)]
    left = room - len(title) - 1
    rows, marked = fitted(scene.rows, size.width, left)
    first, last = window(len(rows), marked, left)
    more = len(rows) - last
    tail: list[Line] = (
        [((f"  {first} lines above, {more} below: Up and Down", "quiet"),)] if first or more else []
    )
    return [(("─" * size.width, "rule"),), *title, *rows[first:last], *tail]


# -- the foot


def _hint(scene: Scene, size: Size) -> list[Line]:
    lines: list[Line] = [((f" {part}", "amber"),) for part in wrap(scene.hint, size.width - 2)]
    return lines[:HINT]
