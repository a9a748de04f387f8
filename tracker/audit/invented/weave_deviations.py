"""The deviations of many cases of one pattern: those of order as the core found them, of length anew."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pyarrow as pa

from tracker.audit import parquet
from tracker.audit.columns import DeviationRow
from tracker.audit.invented.numbers import Floats, Whole
from tracker.audit.invented.pattern import OF_LENGTH
from tracker.audit.invented.weave import LATE_MS, Cloth, Flags, run_ms, spread
from tracker.core import durations
from tracker.core.case import ClockRun, running_tick
from tracker.core.deviations import stage_over
from tracker.core.protocol import Step

Found = tuple[DeviationRow, Flags, Floats, Whole]
"""A deviation that some cases have: its row, which cases, the minute in each, the entry in each."""


def weave_deviations(cloth: Cloth) -> Any:
    """The rows of `deviations`."""
    rows = [row for row in cloth.pattern.rows.deviations if row.deviation not in OF_LENGTH]
    columns = [cloth.pattern.column(row.minute * 60) for row in rows]
    of_order = spread(cloth, "deviations", rows, {"minute": cloth.minute(columns)})
    return pa.concat_tables([of_order, _picked(cloth, list(_of_length(cloth)))])


def _picked(cloth: Cloth, found: Sequence[Found]) -> Any:
    """The rows of the cases that have each deviation."""
    if not found:
        return parquet.schema("deviations").empty_table()
    rows, which, minute, seq = zip(*found, strict=True)
    cases, kinds = np.nonzero(np.stack(which, axis=1))
    picked = parquet.batch("deviations", rows).take(pa.array(kinds))
    told = {
        "code": cloth.codes.take(pa.array(cases)),
        "seq": pa.array(np.stack(seq, axis=1)[cases, kinds], pa.int64()),
        "minute": pa.array(np.stack(minute, axis=1)[cases, kinds], pa.float64()),
    }
    return pa.Table.from_arrays(
        [told.get(name, picked[name]) for name in picked.column_names], schema=picked.schema
    )


def _of_length(cloth: Cloth) -> Iterator[Found]:
    case = cloth.pattern.case
    for step in case.protocol.step.values():
        state = case.state(step.id)
        if step.shape == "span" and step.minutes and state.ticks and not running_tick(step, state):
            yield from _against_range(cloth, step, *step.minutes)
    for run in case.clocks:
        yield from _clock(cloth, run)
    yield from _late(cloth)


def _row(cloth: Cloth, code: str, level: str, about: str, key: str) -> DeviationRow:
    stage = cloth.pattern.case.protocol.stage_of.get(about)
    return DeviationRow("", 0, code, level, about, stage, key, 0.0, None, None)


def _same(cloth: Cloth, seq: int) -> Whole:
    return np.full(cloth.n, seq, dtype=np.int64)


def _against_range(cloth: Cloth, step: Step, low: float, high: float) -> Iterator[Found]:
    case, told = cloth.pattern.case, cloth.times.told
    ticks = case.state(step.id).ticks
    pieces = cloth.pattern.pieces(durations.step_intervals(case, step, case.last_t))
    ms = cloth.net_ms(pieces)
    when = _reached(cloth, pieces, round(high * 60_000))
    starts = told[:, [t.seq - 1 for t in ticks]]
    last = np.array([t.seq for t in ticks])[np.maximum((starts <= when[:, None]).sum(axis=1) - 1, 0)]
    over = _row(cloth, "over_time", "note", step.id, f"over_time:{step.id}")
    yield over, ms / 1000 > high * 60, when / 1000 / 60, last
    stop = ticks[-1].stop
    if stop and stage_over(case, step):
        under = _row(cloth, "under_time", "note", step.id, f"under_time:{step.id}")
        minute = cloth.minute([stop.seq - 1])[:, 0]
        yield under, ms / 1000 < low * 60, minute, _same(cloth, stop.seq)


def _reached(cloth: Cloth, pieces: Sequence[tuple[int, int]], limit_ms: int) -> Whole:
    """When a step had run for so long in all, in ms of each case; at its last stop where it never did."""
    told = cloth.times.told
    left, when = np.full(cloth.n, limit_ms, dtype=np.int64), np.zeros(cloth.n, dtype=np.int64)
    for start, stop in pieces:
        length = told[:, stop] - told[:, start]
        when = np.where(left > 0, told[:, start] + np.minimum(left, length), when)
        left = left - length
    return when


def _clock(cloth: Cloth, run: ClockRun) -> Iterator[Found]:
    clock, ms = cloth.pattern.case.protocol.clock[run.clock], run_ms(cloth, run)
    tail = f"{clock.id}:{run.start.seq}"
    if clock.min_s is not None and run.stop and not run.unsure:
        under = _row(cloth, "clock_under", clock.level, clock.id, f"clock_under:{tail}")
        minute = cloth.minute([run.stop.seq - 1])[:, 0]
        yield under, ms / 1000 < clock.min_s, minute, _same(cloth, run.stop.seq)
    limits = [s for s in (clock.amber_s, clock.red_s) if s is not None]
    if limits and not run.unsure:
        over = _row(cloth, "clock_over", clock.level, clock.id, f"clock_over:{tail}")
        when = cloth.times.told[:, run.start.seq - 1] + round(min(limits) * 1000)
        yield over, ms / 1000 >= min(limits), when / 1000 / 60, _same(cloth, run.start.seq)


def _late(cloth: Cloth) -> Iterator[Found]:
    late = cloth.times.late > LATE_MS
    for entry in cloth.pattern.case.log:
        about = entry.step or entry.event.kind
        row = _row(cloth, "late_entry", "note", about, f"late_entry:{entry.seq}")
        yield row, late[:, entry.seq - 1], cloth.minute([entry.seq - 1])[:, 0], _same(cloth, entry.seq)
