"""How large the steps and what runs and is due are drawn: as large as all that has to be told leaves room for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

from msgspec import Struct

from tracker.screen.lines import Line, Size
from tracker.theatre.drawing import calls, steps
from tracker.theatre.drawing.calls import Call, called, in_order, stilled_call
from tracker.theatre.drawing.cells import EMPTY, Cell, filled, in_stacks, spaced, stacked
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
    asked = in_order(running, due)
    stilled = tuple(stilled_call(call) for _, call in asked)
    plan = _plan(tuple(map(steps.stilled, listed)), stilled, size, room, steady, parts)
    times = [call.time for _, call in asked]
    told = {*plan.taken, *(i for i, (_, call) in enumerate(asked) if call.step in plan.listed)}
    left = [source for i, (source, _) in enumerate(asked) if i not in told]
    return Grown(
        filled(plan.steps, [*(s.time for s in listed[plan.first :]), *(times[i] for i in plan.within)]),
        filled(plan.large, [times[i] for i in plan.below]),
        [r for r in running if r in left],
        [d for d in due if d in left],
    )


class _Plan(Struct, frozen=True, gc=False):
    """What is drawn, without its times: the list from its first step on, and what stands large within or below it.

    `within` and `below` are places of calls; `listed` are steps that the list tells as large.
    """

    steps: Cell
    first: int = 0
    within: tuple[int, ...] = ()
    large: Cell = EMPTY
    below: tuple[int, ...] = ()
    listed: frozenset[str] = frozenset()

    @property
    def taken(self) -> tuple[int, ...]:
        """The places of all calls that are large."""
        return (*self.within, *self.below)


@lru_cache(maxsize=64)
def _plan(
    listed: tuple[StepLine, ...], asked: tuple[Call, ...], size: Size, room: int, steady: int, parts: int
) -> _Plan:
    """How large everything is drawn. Most keys and all seconds leave it as it was, so it is remembered."""
    space = steady - parts
    if (
        size.height >= TALL
        and size.width >= steps.COLUMN
        and (found := _all_large(listed, asked, size, space))
    ):
        return found
    if size.height >= TALL and size.width >= 3 * steps.SIGNED:
        drawn = steps.signed(listed, size)
        if space - drawn.height >= min(LARGE, calls.height_of(asked, size)):
            large, below = calls.large(asked, size, space - drawn.height)
            return _Plan(drawn, large=large, below=below)
    kept = parts if size.height >= TALL else 1
    spare = steady - kept - steps.height_of(listed, size)
    if spare < 0:
        spare = calls.LINE if steady - kept - calls.LINE >= FEW else 0
    large, below = calls.large(asked, size, spare)
    drawn, first = steps.plain(listed, size, room - large.height - min(kept, room // 2))
    return _Plan(drawn, first, (), large, below)


def _all_large(listed: Sequence[StepLine], asked: Sequence[Call], size: Size, room: int) -> _Plan | None:
    """All steps in large letters and under them what else runs and is due; nothing if they do not fit."""
    here = frozenset(s.step for s in listed if not s.marked)
    reasons = {call.step: call.why for call in asked}
    others = [i for i, call in enumerate(asked) if call.step not in here]
    for scale, gap, count, why in _tries([asked[i] for i in others], size):
        columns = size.width // steps.COLUMN if scale == 1 else 1
        width = size.width // columns
        cells = [steps.written(s, reasons.get(s.step, ""), width, scale, why=why) for s in listed]
        cells += [called(asked[i], width, scale, why=why) for i in others[:count]]
        parted = [spaced(c, gap, width) for c in cells]
        if all(c.lines for c in cells) and stacked(parted, columns) <= room:
            drawn = in_stacks(parted, columns, size.width)
            return _Plan(drawn, within=tuple(others[:count]), listed=here)
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
