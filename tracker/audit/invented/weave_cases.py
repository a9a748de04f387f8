"""The rows of `cases` and `facts` of many cases of one pattern."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from tracker.audit import parquet
from tracker.audit.columns import CaseRow
from tracker.audit.invented.casemix import CaseMix, Drawing
from tracker.audit.invented.numbers import Floats, Whole
from tracker.audit.invented.weave import LATE_MS, LOW_CONFIDENCE_MS, Cloth, minutes, spread
from tracker.audit.rows_of_case import (
    DECIDED,
    USUAL_NUMBERS,
    USUAL_WORDS,
    facts_json,
    iso_week,
    number_of,
    text_of,
    usual_facts,
)
from tracker.core import durations

_FOLLOW: Final = {"pvr_c": "pvr_grade", "pvr_hours": "pvr_grade", "general": "anaesthetic"}
_OF_DAY: Final = ("started", "ended", "t1", "t2", "t3", "t4")


@dataclass(frozen=True, slots=True)
class Where:
    """Where and when these cases were: place among all cases, day, opening in ms after midnight, station."""

    cases: NDArray[np.int64]
    days: Sequence[date]
    openings: Whole
    stations: Sequence[str]


def weave_cases(cloth: Cloth, where: Where, mix: CaseMix) -> Any:
    """The rows of `cases`."""
    row = cloth.pattern.rows.cases[0]
    calendar = [day.isocalendar() for day in where.days]
    varied: dict[str, Any] = {
        "site": _texts([code.partition("-")[0] for code in cloth.codes.to_pylist()]),
        "station": _texts(where.stations),
        "day": pa.array(where.days, pa.date32()),
        "week": _texts([iso_week(week) for week in calendar]),
        "weekday": pa.array([week[2] for week in calendar], pa.int64()),
        **_times(cloth, where.openings, row),
        **_lateness(cloth),
        **_facts(cloth, where, mix),
    }
    return spread(cloth, "cases", [row], varied)


def _texts(values: Sequence[str | None]) -> Any:
    return pa.array(values, pa.string())


def opened_minute(openings: Whole) -> Floats:
    """Openings in ms after midnight as minutes of the day, as a fold gives them."""
    whole, ms = openings // 60_000, openings % 60_000
    return whole + (ms // 1000 + (ms % 1000 * 1000) / 1e6) / 60


def _times(cloth: Cloth, openings: Whole, row: CaseRow) -> dict[str, Any]:
    case, opened = cloth.pattern.case, opened_minute(openings)
    ends = [moment.seq - 1 for moment in (case.started, case.end.when if case.end else None) if moment]
    varied: dict[str, Any] = {"opened_minute": opened, "late": cloth.late(ends)}
    for name in _OF_DAY:
        minute = getattr(row, f"{name}_minute")
        if minute is not None:
            column = cloth.pattern.column((minute - row.opened_minute) * 60)
            varied[f"{name}_minute"] = opened + cloth.times.told[:, column] / 1000 / 60
    if case.started and case.end:
        varied["minutes"] = minutes(cloth.net_ms([(case.started.seq - 1, case.end.when.seq - 1)]))
    paused = durations.pauses(case, case.last_t)
    varied["paused_minutes"] = minutes(cloth.net_ms(cloth.pattern.pieces(paused)))
    reopened = cloth.pattern.reopened
    varied["gap_minutes"] = minutes(cloth.net_ms([(n - 1, n) for n in reopened]))
    return varied


def _lateness(cloth: Cloth) -> dict[str, Any]:
    told = [row.told for row in cloth.pattern.rows.entries]
    late = cloth.times.late[:, told]
    return {
        "late_n": (late > LATE_MS).sum(axis=1),
        "low_confidence_n": (late > LOW_CONFIDENCE_MS).sum(axis=1),
        "back_stamped_n": (late != 0).sum(axis=1),
    }


# -- facts


def _facts(cloth: Cloth, where: Where, mix: CaseMix) -> dict[str, Any]:
    protocol = cloth.pattern.case.protocol
    varied: dict[str, Any] = {"facts": _texts([facts_json(mix.facts_of(int(c))) for c in where.cases])}
    sources = {**{name: name for name in (*USUAL_WORDS, *USUAL_NUMBERS)}, **_FOLLOW}
    for column, fact in sources.items():
        if fact in mix.facts:
            varied[column] = _follows(mix.facts[fact], column, fact, where)
    for column, (step, plan) in DECIDED.items():
        if step not in protocol.step and plan in mix.facts:
            varied[column] = _taken(mix.facts[plan], [text_of(v) for v in mix.facts[plan].values], where)
    planned = mix.facts.get(protocol.planned_minutes_fact or "")
    if planned:
        varied["planned_minutes"] = _taken(planned, [number_of(v) for v in planned.values], where)
    return varied


def _follows(drawing: Drawing, column: str, fact: str, where: Where) -> Any:
    return _taken(drawing, [usual_facts({fact: value})[column] for value in drawing.values], where)


def _taken(drawing: Drawing, of_values: Sequence[Any], where: Where) -> Any:
    """For each case what its value of a fact comes to."""
    return pa.array(of_values).take(pa.array(drawing.codes[where.cases]))


def weave_facts(cloth: Cloth, where: Where, mix: CaseMix) -> Any:
    """The rows of `facts`."""
    case = cloth.pattern.case
    done = [s for s in case.protocol.all_steps() if case.state(s.id).done]
    fixed = {change.fact: case.facts[change.fact] for step in done for change in step.sets}
    parts = []
    for fact, drawing in mix.facts.items():
        changed = [fact in fixed and value != fixed[fact] for value in drawing.values]
        columns = [
            cloth.codes,
            pa.array([fact] * cloth.n, pa.string()),
            _taken(drawing, [text_of(v) for v in drawing.values], where),
            _taken(drawing, [number_of(v) for v in drawing.values], where).cast(pa.float64()),
            _taken(drawing, changed, where),
        ]
        parts.append(pa.Table.from_arrays(columns, schema=parquet.schema("facts")))
    return pa.concat_tables(parts) if parts else parquet.schema("facts").empty_table()
