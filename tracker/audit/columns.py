"""The tables of an archive, column by column: what each holds, in which unit, and whether it may leave.

One class a table, one field a column, in the order of the file. Minutes of a case (`minute`) count from the
first line of its journal on the case clock, so that no station clock and no summer time bends them; minutes
of the day count from local midnight of the case's day and run on past 1440. Lengths are minutes with pauses
taken out. None means that a thing is not known or does not apply; it is never nought.
"""

from __future__ import annotations

import types
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Annotated, Final, Literal, Union, get_args, get_origin, get_type_hints

from msgspec import Struct

Kind = Literal["text", "whole", "number", "flag", "day"]

_KINDS: Final[Mapping[type, Kind]] = {
    str: "text", int: "whole", float: "number", bool: "flag", date: "day",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Says:
    """What a column says, its unit, and whether it stays inside the department (`private`)."""

    words: str
    unit: str = ""
    private: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """One column as it is written: `optional` where a row may hold nothing."""

    name: str
    kind: Kind
    optional: bool
    says: Says


Code = Annotated[str, Says("case code")]
Seq = Annotated[int, Says("number of the entry in the journal")]
StageId = Annotated[str | None, Says("stage in the file; none for a step of no stage")]
StepId = Annotated[str, Says("step in the file")]
Level = Annotated[str, Says("safety, order or note, as the file has it")]
Late = Annotated[
    bool,
    Says("entered more than 60 s after what it tells, or at a time that the program spread, at either end"),
]
LowConfidence = Annotated[bool, Says("entered more than 20 min after what it tells, at either end")]
BackStamped = Annotated[bool, Says("tells another time than that of its key, at either end")]


def _n(words: str) -> Says:
    return Says(words, "entries")


def _day_minute(words: str) -> Says:
    return Says(words, "min after local midnight of the day")


def _list_minute(words: str) -> Says:
    return Says(words, "min after local midnight of the day of the list")


class CaseRow(Struct, frozen=True, gc=False):
    """One row a case: which, when, how it ended, how far its log can be trusted, and its facts."""

    code: Code
    site: Annotated[str, Says("letters of the site in the case code")]
    station: Annotated[str, Says("station on which the journal was opened", private=True)]
    invented: Annotated[bool, Says("no theatre saw this case")]
    torn: Annotated[bool, Says("the last line was unfinished and is left out")]
    protocol: Annotated[str, Says("id of the protocol file")]
    version: Annotated[str, Says("version of the protocol file")]
    digest: Annotated[str, Says("SHA-256 of the protocol text in the first line")]
    day: Annotated[date, Says("local date on which the journal was opened", private=True)]
    week: Annotated[str, Says("ISO week of that day, as 2026-W11")]
    weekday: Annotated[int, Says("1 Monday to 7 Sunday")]
    opened_minute: Annotated[float, _day_minute("journal opened")]
    started_minute: Annotated[float | None, _day_minute("step that starts the case")]
    ended_minute: Annotated[float | None, _day_minute("end of the case")]
    t1_minute: Annotated[float | None, _day_minute("T1, start of the anaesthetic or block")]
    t2_minute: Annotated[float | None, _day_minute("T2, first of buckle or ports")]
    t3_minute: Annotated[float | None, _day_minute("T3, end of drugs, pad and shield")]
    t4_minute: Annotated[float | None, _day_minute("T4, patient out of theatre")]
    open: Annotated[bool, Says("no end is logged; what runs is measured to the last entry")]
    ending: Annotated[str, Says("usual, stopped_early, or none while open")]
    stop_reason: Annotated[str | None, Says("reason given for stopping early")]
    minutes: Annotated[float | None, Says("start to end of the case, pauses included", "min")]
    late: Annotated[
        bool,
        Says("its start or its end was entered more than 60 s late, or at a time that the program spread"),
    ]
    planned_minutes: Annotated[float | None, Says("planned length, by its list, else as first asked", "min")]
    day_list: Annotated[str | None, Says("list of the day that it was begun from", private=True)]
    list_day: Annotated[date | None, Says("day of that list", private=True)]
    list_shift: Annotated[float | None, Says("midnight of that day before midnight of its own", "min")]
    list_start_minute: Annotated[float | None, _list_minute("planned start of that list")]
    list_minutes: Annotated[float | None, Says("minutes booked for that list", "min")]
    planned_start_minute: Annotated[float | None, _list_minute("planned start of the case")]
    list_places_n: Annotated[int | None, Says("places on that list, called off ones too", "places")]
    called_off_n: Annotated[int | None, Says("of those, called off", "places")]
    called_off: Annotated[str | None, Says("reasons for that, one a place")]
    late_start_reason: Annotated[str | None, Says("reason given for a late start of that list")]
    turnover_reason: Annotated[str | None, Says("reason given for the turnover before it")]
    paused_minutes: Annotated[float, Says("time the operation stood still", "min")]
    entries_n: Annotated[int, _n("lines of the journal")]
    told_n: Annotated[int, _n("entries that stand, but for the frame of the journal")]
    late_n: Annotated[int, _n("of those, entered more than 60 s after what they tell")]
    low_confidence_n: Annotated[int, _n("of those, more than 20 min after")]
    back_stamped_n: Annotated[int, _n("of those, telling another time than that of their key")]
    required_n: Annotated[int, Says("steps the file asks for in this case", "steps")]
    required_done_n: Annotated[int, Says("of those, ticked or said not to be needed", "steps")]
    spans_n: Annotated[int, Says("spans begun", "spans")]
    spans_closed_n: Annotated[int, Says("of those, with both ends", "spans")]
    readings_due_n: Annotated[int, Says("readings the file asks for", "readings")]
    readings_given_n: Annotated[int, Says("of those, entered", "readings")]
    not_logged_n: Annotated[int, Says("steps said to have been done but not logged", "steps")]
    amendments_n: Annotated[int, _n("strikes, moves, back-stamps, second choices and readings")]
    unknown_n: Annotated[int, _n("entries this program could not use")]
    gaps_n: Annotated[int, Says("times the journal was not open", "gaps")]
    gap_minutes: Annotated[float, Says("time the journal was not open", "min")]
    circulating: Annotated[str | None, Says("role that opened the journal")]
    handovers_n: Annotated[int, Says("times the circulating post changed hands", "hand-overs")]
    facts: Annotated[str, Says("all case facts as first asked, as JSON")]
    eye: Annotated[str | None, Says("fact: eye")]
    anaesthetic: Annotated[str | None, Says("fact: anaesthetic, as first asked")]
    lens: Annotated[str | None, Says("fact: lens, as first asked")]
    tamponade_in_situ: Annotated[str | None, Says("fact: tamponade in the eye already")]
    previous_operations: Annotated[float | None, Says("fact: vitreoretinal operations before", "operations")]
    pvr_grade: Annotated[str | None, Says("fact: grade of proliferative vitreoretinopathy")]
    macula: Annotated[str | None, Says("fact: macula on or off")]
    gauge: Annotated[str | None, Says("fact: gauge")]
    operator: Annotated[str | None, Says("fact: operator at the start, by role")]
    list_position: Annotated[float | None, Says("fact: place on the list")]
    pvr_c: Annotated[bool | None, Says("grade C, from the grade")]
    pvr_hours: Annotated[float | None, Says("extent of grade C, both sites added", "clock hours")]
    general: Annotated[bool | None, Says("general anaesthetic planned, from the fact")]
    retinectomy: Annotated[str | None, Says("retinectomy as decided on, else as planned")]
    tamponade: Annotated[str | None, Says("tamponade as decided on, else as planned")]
    cut_hours: Annotated[float | None, Says("largest extent of cut that was entered", "clock hours")]
    lens_removed: Annotated[bool | None, Says("lens removal ticked")]
    buckle: Annotated[bool | None, Says("buckle or peritomy ticked")]


class FactRow(Struct, frozen=True, gc=False):
    """One row a case fact, so that any fact of any file may part or filter the cases."""

    code: Code
    fact: Annotated[str, Says("id of the fact")]
    text: Annotated[str, Says("value as first asked, as text; yes or no for a flag")]
    number: Annotated[float | None, Says("value as a number, in the unit of the file")]
    changed: Annotated[bool, Says("became something else during the case")]


class StageRow(Struct, frozen=True, gc=False):
    """One row a stage whose spans the case asked for or has: from first start to last stop."""

    code: Code
    stage: Annotated[str, Says("stage in the file")]
    spans_n: Annotated[int, Says("spans begun in it", "spans")]
    open: Annotated[bool, Says("a span of it has no stop")]
    first_minute: Annotated[float | None, Says("first start", "min of the case")]
    last_minute: Annotated[float | None, Says("last stop", "min of the case")]
    minutes: Annotated[float | None, Says("first start to last stop; none while open", "min")]
    late: Late


class StepRow(Struct, frozen=True, gc=False):
    """One row a step that the case asked for, or that was ticked or said to be otherwise."""

    code: Code
    stage: StageId
    step: StepId
    shape: Annotated[str, Says("point, span, decision, reading or count")]
    required: Annotated[bool, Says("the file asks for it in this case")]
    status: Annotated[
        str, Says("ticked, not_needed, not_logged, struck, not_reached, or no_tick where its stage is over")
    ]
    ticks_n: Annotated[int, Says("times it was done", "ticks")]
    first_minute: Annotated[float | None, Says("its first tick or start", "min of the case")]
    minutes: Annotated[float | None, Says("all its spans together; none while one is open", "min")]
    open: Annotated[bool, Says("a span of it has no stop")]
    late: Late


class SpanRow(Struct, frozen=True, gc=False):
    """One row a span of a step."""

    code: Code
    seq: Seq
    stage: StageId
    step: StepId
    nth: Annotated[int, Says("which time of that step, from 1")]
    start_minute: Annotated[float, Says("start", "min of the case")]
    stop_minute: Annotated[float | None, Says("stop", "min of the case")]
    minutes: Annotated[float | None, Says("length; none while open", "min")]
    paused_minutes: Annotated[float | None, Says("pauses within", "min")]
    open: Annotated[bool, Says("it has no stop")]
    operator: Annotated[str | None, Says("role that operated at its start")]
    operators_n: Annotated[int, Says("roles that operated during it, each as often as it took over", "roles")]
    expected: Annotated[bool, Says("not a further tick of a step that is done once")]
    late: Late
    low_confidence: LowConfidence
    back_stamped: BackStamped


class EntryRow(Struct, frozen=True, gc=False):
    """One row a line of the journal; no words that anyone wrote."""

    code: Code
    seq: Seq
    run: Annotated[int, Says("which opening of the journal, from 1")]
    kind: Annotated[str, Says("kind of entry")]
    stage: StageId
    step: Annotated[str | None, Says("step it counts for now")]
    choice: Annotated[str | None, Says("choice of a decision")]
    role: Annotated[str, Says("circulating role that made it")]
    minute: Annotated[float, Says("time told", "min of the case")]
    late_s: Annotated[float, Says("entered after the time told", "s")]
    late: Annotated[bool, Says("more than 60 s after")]
    low_confidence: Annotated[bool, Says("more than 20 min after")]
    back_stamped: Annotated[bool, Says("tells another time than that of its key")]
    told: Annotated[bool, Says("stands, and is not of the frame of the journal")]
    struck: Annotated[bool, Says("void: struck, or hanging on something struck")]
    unknown: Annotated[bool, Says("this program could not use it")]


class DeviationRow(Struct, frozen=True, gc=False):
    """One row a difference between the case and its file."""

    code: Code
    seq: Seq
    deviation: Annotated[str, Says("code of the deviation")]
    level: Level
    about: Annotated[str, Says("step, clock, pair, reading, counted line, fact, complication or hand-over")]
    stage: StageId
    key: Annotated[str, Says("key that stays the same within the case")]
    minute: Annotated[float, Says("when it shows", "min of the case")]
    reason: Annotated[str | None, Says("reason given, of the file's list")]
    how: Annotated[str | None, Says("intended, finding_forced, oversight or not_logged")]


class ReadingRow(Struct, frozen=True, gc=False):
    """One row a reading as it stands."""

    code: Code
    seq: Seq
    step: Annotated[str | None, Says("step it was entered for")]
    reading: Annotated[str, Says("reading in the file")]
    minute: Annotated[float, Says("when", "min of the case")]
    text: Annotated[str, Says("value as text")]
    number: Annotated[float | None, Says("value as a number, in the unit beside it")]
    unit: Annotated[str, Says("unit in the file")]
    outside: Annotated[bool, Says("outside the file's caution limits")]


class ClockRow(Struct, frozen=True, gc=False):
    """One row a run of a clock, with the file's figures."""

    code: Code
    seq: Seq
    clock: Annotated[str, Says("clock in the file")]
    level: Level
    start_minute: Annotated[float, Says("start", "min of the case")]
    minutes: Annotated[float | None, Says("how long it ran; none while open or where that is unsure", "min")]
    open: Annotated[bool, Says("it has no stop")]
    unsure: Annotated[
        bool, Says("stopped by something done but not logged, or the program spread a time of it")
    ]
    least: Annotated[float | None, Says("the file's least figure", "min")]
    amber: Annotated[float | None, Says("the file's amber figure", "min")]
    red: Annotated[float | None, Says("the file's red figure", "min")]
    reached: Annotated[str, Says("amber, red or nothing")]
    short: Annotated[bool, Says("stopped before the least figure")]


class PairRow(Struct, frozen=True, gc=False):
    """One row a matched pair that anything went into."""

    code: Code
    pair: Annotated[str, Says("pair in the file")]
    level: Level
    counted: Annotated[bool, Says("numbers are asked for")]
    number_in: Annotated[int | None, Says("in all, in; none where a number was not said", "items")]
    number_out: Annotated[int | None, Says("in all, out; none where a number was not said", "items")]
    unmatched: Annotated[bool, Says("open at the step that the file names, or at the end")]
    resolved: Annotated[bool, Says("unmatched then, and matched by the end of the log")]


class VisitRow(Struct, frozen=True, gc=False):
    """One row a visit after the operation, or before it, as it stands in the follow-up of the case."""

    code: Code
    seq: Annotated[int, Says("number of the entry in the follow-up")]
    day: Annotated[date, Says("date of the visit", private=True)]
    days: Annotated[int, Says("from the day the journal was opened; below 0 before it", "days")]
    role: Annotated[str, Says("role that entered it")]
    attached: Annotated[str | None, Says("retina: yes, partly, no, or unknown where it could not be seen")]
    acuity: Annotated[str | None, Says("acuity as written")]
    logmar: Annotated[
        float | None, Says("acuity on a chart; none off the chart or where unreadable", "logMAR")
    ]
    off_chart: Annotated[str | None, Says("CF, HM, PL or NPL")]
    pressure: Annotated[float | None, Says("intra-ocular pressure", "mmHg")]
    oil: Annotated[str | None, Says("oil in the eye on that day: in or out")]
    oil_out_days: Annotated[int | None, Says("oil taken out, as told at this visit", "days")]
    operation: Annotated[str | None, Says("operated on again since the visit before: detachment or other")]


TABLES: Final[Mapping[str, type[Struct]]] = {
    "cases": CaseRow, "facts": FactRow, "stages": StageRow, "steps": StepRow, "spans": SpanRow,
    "entries": EntryRow, "deviations": DeviationRow, "readings": ReadingRow, "clocks": ClockRow,
    "pairs": PairRow, "visits": VisitRow,
}  # fmt: skip
"""Every table by name, in the order of the guide."""


@cache
def columns(table: str) -> tuple[Column, ...]:
    """The columns of a table, in order.

    Raises:
        KeyError: there is no such table.
    """
    hints = get_type_hints(TABLES[table], include_extras=True)
    return tuple(_column(name, hint) for name, hint in hints.items())


def _column(name: str, hint: object) -> Column:
    held, says = get_args(hint)
    kinds = get_args(held) if get_origin(held) in (Union, types.UnionType) else (held,)
    return Column(name, _KINDS[kinds[0]], type(None) in kinds, says)
