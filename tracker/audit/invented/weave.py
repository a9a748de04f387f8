"""From a pattern and drawn times straight to the rows of every table, without a journal.

What depends on order alone is the pattern's own rows, said again for each case; what depends on time is
worked out for all cases at once. The rows are those that folding the same cases' journals would give.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa
from msgspec import Struct
from numpy.typing import NDArray

from tracker.audit import parquet
from tracker.audit.columns import columns
from tracker.audit.invented.numbers import Floats, Times, Whole
from tracker.audit.invented.pattern import Pattern, Piece
from tracker.core import durations
from tracker.core.case import ClockRun, Tick
from tracker.core.deviations import LATE_S, LOW_CONFIDENCE_S
from tracker.core.durations import Interval

Flags = NDArray[np.bool_]
LATE_MS = LATE_S * 1000
LOW_CONFIDENCE_MS = LOW_CONFIDENCE_S * 1000


@dataclass(frozen=True, slots=True)
class Cloth:
    """A pattern with the times of many cases: what is woven from. `codes` are the case codes."""

    pattern: Pattern
    times: Times
    codes: Any
    operators: Any
    """The role that operates at the start, for each case."""

    @property
    def n(self) -> int:
        """How many cases."""
        return len(self.codes)

    def minute(self, columns: Sequence[int]) -> Floats:
        """When entries (by place from 0) happened, in minutes of the case; cases by entries."""
        return self.times.told[:, list(columns)] / 1000 / 60

    def net_ms(self, pieces: Iterable[Piece]) -> Whole:
        """The length of all pieces together, in ms, for each case."""
        total = np.zeros(self.n, dtype=np.int64)
        for start, stop in pieces:
            total += self.times.told[:, stop] - self.times.told[:, start]
        return total

    def late(self, columns: Sequence[int], limit_ms: float = LATE_MS) -> Flags:
        """For each case, whether any of these entries was made later than that."""
        return np.asarray((self.times.late[:, list(columns)] > limit_ms).any(axis=1))


def minutes(ms: Whole) -> Floats:
    """Whole ms as minutes, as a fold gives them."""
    return ms / 1000 / 60


def spread(cloth: Cloth, table: str, rows: Sequence[Struct], varied: Mapping[str, Any]) -> Any:
    """Rows of the pattern for every case, case by case; `varied` holds what is not the same in each.

    A varied column is an array of cases by rows, or an Arrow array of that many values in that order. Where
    the pattern has nothing, a number stays nothing.
    """
    if not rows:
        return parquet.schema(table).empty_table()
    again = np.tile(np.arange(len(rows)), cloth.n)
    arrays = []
    for column, kind in zip(columns(table), parquet.schema(table).types, strict=True):
        held = [getattr(row, column.name) for row in rows]
        if column.name == "code":
            arrays.append(cloth.codes.take(pa.array(np.repeat(np.arange(cloth.n), len(rows)))))
        elif column.name not in varied:
            arrays.append(pa.array(held, kind).take(pa.array(again)))
        elif isinstance(varied[column.name], pa.Array):
            arrays.append(varied[column.name])
        else:
            absent = np.array([value is None for value in held])[again]
            arrays.append(pa.array(varied[column.name].ravel(), kind, mask=absent))
    return pa.Table.from_arrays(arrays, schema=parquet.schema(table))


def _ends(tick: Tick) -> list[int]:
    return [tick.seq - 1, *([tick.stop.seq - 1] if tick.stop else [])]


def _stacked(varied: Mapping[str, Sequence[Any]]) -> dict[str, Any]:
    """For each column one array of cases by rows, from one array of cases for each row."""
    return {name: np.stack(held, axis=1) for name, held in varied.items() if len(held)}


# -- tables


def weave_stages(cloth: Cloth) -> Any:
    """The rows of `stages`."""
    case, rows = cloth.pattern.case, cloth.pattern.rows.stages
    first, last, net, late = [], [], [], []
    for stage in (s for row in rows for s in case.protocol.stages if s.id == row.stage):
        ticks = [t for s in stage.steps if s.shape == "span" for t in case.state(s.id).ticks]
        ends = [end for t in ticks for end in _ends(t)] or [0]
        whole = durations.stage_interval(case, stage, case.last_t)
        left = durations.without([whole], durations.pauses(case, case.last_t)) if whole else ()
        first.append(cloth.minute([min(ends)])[:, 0])
        last.append(cloth.minute([max(ends)])[:, 0])
        net.append(minutes(cloth.net_ms(cloth.pattern.pieces(left))))
        late.append(cloth.late(ends))
    varied: dict[str, Sequence[Any]] = {
        "first_minute": first,
        "last_minute": last,
        "minutes": net,
        "late": late,
    }
    return spread(cloth, "stages", rows, _stacked(varied))


def weave_steps(cloth: Cloth) -> Any:
    """The rows of `steps`."""
    case, rows = cloth.pattern.case, cloth.pattern.rows.steps
    first, net, late = [], [], []
    for row in rows:
        step = case.protocol.step[row.step]
        ticks = case.state(step.id).ticks
        ends = [end for t in ticks for end in _ends(t)] or [0]
        pieces = cloth.pattern.pieces(durations.step_intervals(case, step, case.last_t))
        first.append(cloth.minute([ends[0]])[:, 0])
        net.append(minutes(cloth.net_ms(pieces)))
        late.append(cloth.late(ends))
    varied: dict[str, Sequence[Any]] = {"first_minute": first, "minutes": net, "late": late}
    return spread(cloth, "steps", rows, _stacked(varied))


def weave_spans(cloth: Cloth) -> Any:
    """The rows of `spans`."""
    rows, case = cloth.pattern.rows.spans, cloth.pattern.case
    ticks = {t.seq: t for state in case.steps.values() for t in state.ticks}
    if not rows:
        return spread(cloth, "spans", rows, {})
    held = [_span(cloth, ticks[row.seq]) for row in rows]
    varied = _stacked({name: [each[name] for each in held] for name in held[0]})
    varied["operator"] = cloth.operators.take(pa.array(np.repeat(np.arange(cloth.n), len(rows))))
    return spread(cloth, "spans", rows, varied)


def _span(cloth: Cloth, tick: Tick) -> dict[str, Any]:
    case, ends = cloth.pattern.case, _ends(tick)
    whole = Interval(tick.start.t, tick.stop.t if tick.stop else tick.start.t)
    paused = durations.intersection([whole], durations.pauses(case, case.last_t))
    paused_ms = cloth.net_ms(cloth.pattern.pieces(paused))
    return {
        "start_minute": cloth.minute([ends[0]])[:, 0],
        "stop_minute": cloth.minute([ends[-1]])[:, 0],
        "minutes": minutes(cloth.net_ms([(ends[0], ends[-1])]) - paused_ms),
        "paused_minutes": minutes(paused_ms),
        "late": cloth.late(ends),
        "low_confidence": cloth.late(ends, LOW_CONFIDENCE_MS),
        "back_stamped": cloth.late(ends, 0),
    }


def weave_entries(cloth: Cloth) -> Any:
    """The rows of `entries`."""
    late = cloth.times.late
    varied = {
        "minute": cloth.minute(range(late.shape[1])),
        "late_s": late / 1000,
        "late": late > LATE_MS,
        "low_confidence": late > LOW_CONFIDENCE_MS,
        "back_stamped": late != 0,
    }
    return spread(cloth, "entries", cloth.pattern.rows.entries, varied)


def weave_readings(cloth: Cloth) -> Any:
    """The rows of `readings`."""
    rows = cloth.pattern.rows.readings
    return spread(cloth, "readings", rows, {"minute": cloth.minute([row.seq - 1 for row in rows])})


def run_ms(cloth: Cloth, run: ClockRun) -> Whole:
    """How long a clock ran, in ms, for each case; without a stop until the patient left or the last entry."""
    stop = run.stop.seq - 1 if run.stop else cloth.pattern.until
    return cloth.net_ms([(run.start.seq - 1, stop)])


def weave_clocks(cloth: Cloth) -> Any:
    """The rows of `clocks`."""
    rows, case = cloth.pattern.rows.clocks, cloth.pattern.case
    if not rows:
        return spread(cloth, "clocks", rows, {})
    held = [_clock(cloth, run) for run in case.clocks]
    varied = _stacked({name: [each[name] for each in held] for name in held[0]})
    varied["reached"] = pa.array(np.array(["", "amber", "red"])[varied["reached"].ravel()], pa.string())
    return spread(cloth, "clocks", rows, varied)


def _clock(cloth: Cloth, run: ClockRun) -> dict[str, Any]:
    clock, ms = cloth.pattern.case.protocol.clock[run.clock], run_ms(cloth, run)

    def reached(limit_s: float | None) -> Flags:
        return np.zeros(cloth.n, dtype=bool) if limit_s is None or run.unsure else ms / 1000 >= limit_s

    known = run.stop is not None and not run.unsure
    return {
        "start_minute": cloth.minute([run.start.seq - 1])[:, 0],
        "minutes": minutes(ms),
        "reached": np.where(reached(clock.red_s), 2, np.where(reached(clock.amber_s), 1, 0)),
        "short": (ms / 1000 < clock.min_s) & known if clock.min_s else np.zeros(cloth.n, dtype=bool),
    }


def weave_pairs(cloth: Cloth) -> Any:
    """The rows of `pairs`."""
    return spread(cloth, "pairs", cloth.pattern.rows.pairs, {})
