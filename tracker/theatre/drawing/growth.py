"""How large the steps and what runs and is due are drawn: as large as all that has to be told leaves room for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

from msgspec import Struct

from tracker.screen.lines import Line, Size
from tracker.theatre.drawing import calls, steps
from tracker.theatre.drawing.calls import Call, called, in_order, stilled_call
from tracker.theatre.drawing.cells import Cell, filled, in_stacks, spaced, stacked
from tracker.theatre.scene import Due, Running, Scene, StepLine

TALL = 36
"""From so many lines on the list of steps grows."""
LARGE = 9
"""Lines for what runs and is due that a larger list of steps has to leave."""
FEW = 6
"""Lines of steps that are kept before anything else in large letters, where not all steps fit."""


class Grown(Struct, frozen=True, gc=False):
    """The steps, what runs and is due in large letters, and what of these is left to be told quietly."""

    steps: Sequence[Line]
    large: Sequence[Line]
    running: Sequence[Running]
    due: Sequence[Due]


def grown(scene: Scene, size: Size, room: int, steady: int) -> Grown:
    """The steps in the largest list that leaves what runs and is due its room, and that in large letters.

    `room` are the lines there are, `steady` those that do not come and go with what is said of a key.
    """
    listed = (*scene.steps, *scene.beside)
    above = "" if scene.ask else scene.marked.step
    running = [r for r in scene.running if not r.step or r.step != above]
    due = [d for d in scene.due if d.step != above]
    parts = sum(map(bool, (scene.anytime, running, due, scene.open, scene.deviations)))
    space = steady - parts
    if (
        size.height >= TALL
        and size.width >= steps.COLUMN
        and (found := _all_large(listed, running, due, size, space))
    ):
        return found
    if size.height >= TALL and size.width >= 3 * steps.SIGNED:
        lines = steps.signed(listed, size)
        if space - len(lines) >= min(LARGE, calls.height_of(running, due, size)):
            return Grown(lines, *calls.large(running, due, size, space - len(lines)))
    kept = parts if size.height >= TALL else 1
    spare = steady - kept - steps.height_of(listed, size)
    if spare < 0:
        spare = calls.LINE if steady - kept - calls.LINE >= FEW else 0
    large = calls.large(running, due, size, spare)
    return Grown(steps.plain(listed, size, room - len(large[0]) - min(kept, room // 2)), *large)


def _all_large(
    listed: Sequence[StepLine], running: Sequence[Running], due: Sequence[Due], size: Size, room: int
) -> Grown | None:
    """All steps in large letters and under them what else runs and is due; nothing if they do not fit."""
    here, reasons = {s.step for s in listed if not s.marked}, {d.step: d.reason for d in due}
    others = in_order([r for r in running if r.step not in here], [d for d in due if d.step not in here])
    stilled = tuple(map(steps.stilled, listed))
    why = tuple(reasons.get(s.step, "") for s in listed)
    found = _stacked(stilled, why, tuple(stilled_call(call) for _, call in others), size, room)
    if found is None:
        return None
    drawn, told = found
    left = [source for source, _ in others[told:]]
    times = [*(s.time for s in listed), *(call.time for _, call in others)]
    return Grown(filled(drawn, times), (), [r for r in running if r in left], [d for d in due if d in left])


@lru_cache(maxsize=32)
def _stacked(
    listed: tuple[StepLine, ...], reasons: tuple[str, ...], asked: tuple[Call, ...], size: Size, room: int
) -> tuple[Cell, int] | None:
    """Steps and calls as one cell in so many lines, and how many of the calls are in it."""
    for scale, gap, count, why in _tries(asked, size):
        columns = size.width // steps.COLUMN if scale == 1 else 1
        width = size.width // columns
        cells = [
            steps.written(s, reason, width, scale, why=why) for s, reason in zip(listed, reasons, strict=True)
        ]
        cells += [called(call, width, scale, why=why) for call in asked[:count]]
        parted = [spaced(c, gap, width) for c in cells]
        if stacked(parted, columns) <= room and all(c.lines for c in cells):
            return in_stacks(parted, columns, size.width), count
    return None


def _tries(asked: Sequence[Call], size: Size) -> Iterator[tuple[int, int, int, bool]]:
    """Scale, lines between, how many calls, and whether with the reasons: from the largest to the least."""
    every, due = (
        len(asked),
        max((i + 1 for i, call in enumerate(asked) if call.tone in ("red", "amber")), default=0),
    )
    if size.scale > 1:
        yield 2, 1, every, True
    yield 1, 1, every, True
    yield 1, 0, every, True
    if size.width < 2 * steps.COLUMN:
        return  # beside large signs there is room for the reasons
    yield 1, 0, every, False
    yield from ((1, 0, count, False) for count in range(every - 1, due - 1, -1))
