"""The review screen as lines: pure, of any size from 80x24 up, every line exactly as wide as the screen.

At the top which case, at the foot the keys; between them lanes on one time axis and everything about the
entry under the cursor. What does not fit is counted, never cut off in silence.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tracker.review.screen.axis import View, ticks
from tracker.review.screen.lanes import Drawing, Item, Row
from tracker.review.screen.picture import Page, laid_out, lane, scale
from tracker.review.screen.telling import Told
from tracker.screen.commands import Command
from tracker.screen.lines import Line, Size, fit, fitted, flow, foot, window, wrap
from tracker.screen.panels import Row as Choice

LEAST_LANES = 3
HINT = 3
"""Lines that what is said of the last key may take."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What the screen shows: the case in words, its lanes, the cursor, the panel, what is to be said."""

    title: str
    status: tuple[str, ...]
    drawn: Drawing
    view: View
    row: int
    item: Item | None
    told: tuple[Told, ...]
    hint: str = ""
    trouble: str = ""
    panel: str = ""
    choices: tuple[Choice, ...] = ()
    entry_key: str = "e"

    @property
    def here(self) -> Row:
        """The lane under the cursor."""
        return self.drawn.rows[self.row]


def draw(scene: Scene, size: Size, commands: tuple[Command, ...]) -> tuple[Line, ...]:
    """The screen, exactly `size.height` lines of `size.width` cells."""
    top, last = _head(scene, size), [*_hint(scene, size), *foot(commands, size)]
    room = max(0, size.height - len(top) - len(last))
    body = _with_panel(scene, size, room) if scene.panel else _with_entry(scene, size, room)
    lines = [*top, *body[:room], *[()] * (room - len(body)), *last]
    return tuple(fit(line, size.width) for line in lines[: size.height])


def _head(scene: Scene, size: Size) -> list[Line]:
    lines: list[Line] = [((f" {part}", "live"),) for part in wrap(scene.title, size.width - 2)[:2]]
    lines += [((f" {part}", "red"),) for part in wrap(scene.trouble, size.width - 2)[:2]]
    status = [((words, "quiet"),) for words in scene.status if words]
    return [*lines, *(((" ", "plain"), *line) for line in flow(status, size.width - 2, "")[:3])]


def _hint(scene: Scene, size: Size) -> list[Line]:
    parts = wrap(scene.hint, size.width - 2)
    if len(parts) > HINT:
        parts = (*parts[: HINT - 1], f"{parts[HINT - 1][: size.width - 4]} …")
    return [((f" {part}", "echo"),) for part in parts]


# -- lanes and what lies under them


def _with_entry(scene: Scene, size: Size, room: int) -> list[Line]:
    told = _wrapped(scene.told, size.width - 2)
    wanted = min(len(scene.drawn.rows), max(LEAST_LANES, room - 3 - len(told)))
    # What is told of an entry may take half of the room, the lanes what it leaves.
    rows = max(wanted, min(len(scene.drawn.rows), (room - 3) // 2)) if room > LEAST_LANES + 3 else LEAST_LANES
    lanes = _lanes(scene, size, rows)
    return [*lanes, _rule(scene, size, rows), *_counted(scene, told, max(0, room - len(lanes) - 1))]


def _with_panel(scene: Scene, size: Size, room: int) -> list[Line]:
    title: list[Line] = [((f" {part}", "live"),) for part in wrap(scene.panel, size.width - 2)]
    drawn, marked = fitted(scene.choices, size.width, room)
    spare = room - 3 - len(title) - len(drawn)
    lanes = _lanes(scene, size, min(len(scene.drawn.rows), spare)) if spare >= LEAST_LANES else []
    left = max(1, room - len(lanes) - len(title))
    first, end = window(len(drawn), marked, left)
    more: list[Line] = [((f" + {len(drawn) - (end - first)} more lines: Up Down", "quiet"),)]
    return [*lanes, *title, *drawn[first:end], *(more if end - first < len(drawn) else [])]


def _wrapped(told: Sequence[Told], width: int) -> list[Line]:
    lines: list[Line] = []
    for words, tone in told:
        inner = "  " if words.startswith("  ") else ""
        parts = wrap(words, width - len(inner))
        lines += [((f" {inner}{part}", tone),) for part in parts]
    return lines


def _counted(scene: Scene, lines: list[Line], room: int) -> list[Line]:
    if len(lines) <= room:
        return lines
    more = f" + {len(lines) - room + 1} more lines: {scene.entry_key} shows them all"
    return [*lines[: max(0, room - 1)], ((more, "key"),)]


def _lanes(scene: Scene, size: Size, room: int) -> list[Line]:
    """The time axis and as many lanes about the cursor's as there is room for."""
    if room < 1:
        return []
    left, cells = laid_out(size.width, scene.drawn.rows)
    page = Page(left, cells, scene.view, _ticks(scene, cells))
    cursor_t = scene.item.start_t if scene.item else None
    lines = scale(page, cursor_t)
    for n in _visible(scene, room):
        lines.append(lane(scene.drawn.rows[n], page, scene.item, here=n == scene.row))
    return lines


def _ticks(scene: Scene, cells: int) -> Mapping[int, str]:
    return dict(ticks(scene.drawn.axis, scene.view, cells))


def _visible(scene: Scene, room: int) -> range:
    count = len(scene.drawn.rows)
    first = min(max(0, scene.row - room // 2), max(0, count - room))
    return range(first, min(count, first + room))


def _rule(scene: Scene, size: Size, room: int) -> Line:
    """The line under the lanes: which of them are in view, and which entry of how many this is."""
    seen, count = _visible(scene, room), len(scene.drawn.rows)
    lanes = f"lanes {seen.start + 1} to {seen.stop} of {count}" if len(seen) < count else f"{count} lanes"
    items = scene.here.items
    place = f"entry {items.index(scene.item) + 1} of {len(items)}" if scene.item else "no entry"
    words = f"── {scene.here.label}: {place}{_in_its_cell(scene, size)} ── {lanes} "
    return ((words, "rule"), ("─" * max(0, size.width - len(words)), "rule"))


def _in_its_cell(scene: Scene, size: Size) -> str:
    """How many more marks of the lane stand in the cell of the one under the cursor, which hides them."""
    item = scene.item
    if item is None or item.shape == "bar":
        return ""
    _, cells = laid_out(size.width, scene.drawn.rows)
    cell = scene.view.cell(item.start_t, cells)
    marks = (i for i in scene.here.items if i.shape != "bar" and i is not item)
    hidden = sum(scene.view.cell(i.start_t, cells) == cell for i in marks)
    return f", {hidden} more in its cell" if hidden else ""
