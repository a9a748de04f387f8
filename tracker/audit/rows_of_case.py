"""From one case to its row of the table of cases, and to its facts. Pure."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from tracker.audit.columns import CaseRow, FactRow
from tracker.audit.listed import listed, planned_minutes
from tracker.core import durations
from tracker.core.case import Case, Moment, standing_choice
from tracker.core.completeness import completeness
from tracker.core.day import Day
from tracker.core.deviations import LATE_S
from tracker.core.events import Scalar
from tracker.core.grading import parse_grade

T1: Final = ("block", "ga_start")
T2: Final = ("peritomy_buckle", "ports")
T3: Final = ("drugs_end",)
"""Steps that stand for the times of F1000Research 2014;3:197, table 4; T4 is the step that ends the case."""

GENERAL: Final = ("anaesthetic", "general")
USUAL_WORDS: Final = (
    "eye",
    "anaesthetic",
    "lens",
    "tamponade_in_situ",
    "pvr_grade",
    "macula",
    "gauge",
    "operator",
)
USUAL_NUMBERS: Final = ("previous_operations", "list_position")
DECIDED: Final = {
    "retinectomy": ("rx_decide", "planned_retinectomy"),
    "tamponade": ("tamp_decide", "planned_tamponade"),
}
"""Decision steps by the column that holds their outcome, each with the fact that holds the plan."""
TICKED: Final = {"lens_removed": "lens_out", "buckle": "peritomy_buckle"}
CUT_HOURS: Final = "cut_hours"


def case_row(case: Case, end_t: float, *, torn: bool, on_list: Day | None = None) -> CaseRow:
    """The row of a case, what runs measured to case second `end_t`; `on_list` is the list it was begun from."""
    first, figures, end = case.events[0], completeness(case), case.end
    opened = (first.at.hour * 60 + first.at.minute) + (first.at.second + first.at.microsecond / 1e6) / 60
    day, posts = first.at.date(), [p for p in case.posts if p.post == "circulating"]
    seconds = durations.case_seconds(case, end_t) if end else None
    left = end.when if end and end.left else None
    planned = planned_minutes(case, on_list)
    asked = number_of(case.asked.get(case.protocol.planned_minutes_fact or ""))

    def of_day(moment: Moment | None) -> float | None:
        return None if moment is None else opened + moment.t / 60

    return CaseRow(
        code=case.code,
        site=case.code.partition("-")[0],
        station=str(getattr(first, "station", "")),
        invented=case.invented,
        torn=torn,
        protocol=case.protocol.id,
        version=case.protocol.version,
        digest=case.digest,
        day=day,
        week=iso_week(day.isocalendar()),
        weekday=day.isoweekday(),
        opened_minute=opened,
        started_minute=of_day(case.started),
        ended_minute=of_day(end.when if end else None),
        t1_minute=of_day(_first(case, T1)),
        t2_minute=of_day(_first(case, T2)),
        t3_minute=of_day(_last(case, T3)),
        t4_minute=of_day(left),
        open=end is None,
        ending="none" if end is None else "usual" if end.how == "normal" else end.how,
        stop_reason=end.reason or None if end else None,
        minutes=None if seconds is None else seconds / 60,
        late=_late_ends(case),
        planned_minutes=asked if planned is None else planned,
        **listed(case, on_list)._asdict(),
        paused_minutes=round(durations.measure(durations.pauses(case, end_t)), 3) / 60,
        entries_n=len(case.events),
        told_n=figures.late.of,
        late_n=figures.late.n,
        low_confidence_n=figures.low_confidence.n,
        back_stamped_n=figures.back_stamped.n,
        required_n=figures.required_steps.of,
        required_done_n=figures.required_steps.n,
        spans_n=figures.spans_with_both_ends.of,
        spans_closed_n=figures.spans_with_both_ends.n,
        readings_due_n=figures.required_readings.of,
        readings_given_n=figures.required_readings.n,
        not_logged_n=figures.not_logged,
        amendments_n=figures.amendments,
        unknown_n=figures.unknown,
        gaps_n=figures.gaps,
        gap_minutes=figures.gap_s / 60,
        circulating=posts[0].role if posts else None,
        handovers_n=sum(p.counts_confirmed is not None for p in posts),
        facts=facts_json(case.asked),
        **usual_facts(case.asked),
        **_done(case),
    )


def _late_ends(case: Case) -> bool:
    ends = {m.seq for m in (case.started, case.end.when if case.end else None) if m}
    return any(e.seq in ends and (e.spread or e.late_s > LATE_S) for e in case.log)


def iso_week(calendar: tuple[int, int, int]) -> str:
    """An ISO week as text, from (ISO year, week, weekday)."""
    return f"{calendar[0]}-W{calendar[1]:02d}"


def facts_json(facts: Mapping[str, Scalar]) -> str:
    """Case facts as one line of JSON, keys in order."""
    return json.dumps(dict(facts), sort_keys=True, ensure_ascii=False)


def usual_facts(asked: Mapping[str, Scalar]) -> dict[str, Any]:
    """The columns of the usual facts, and those that follow from them; None for a fact not asked."""
    words = {name: _text(asked.get(name)) for name in USUAL_WORDS}
    numbers = {name: number_of(asked.get(name)) for name in USUAL_NUMBERS}
    grade = parse_grade(words["pvr_grade"] or "")
    hours = [e.hours for e in (grade.posterior, grade.anterior) if e] if grade else []
    return {
        **words,
        **numbers,
        "pvr_c": grade.letter == "C" if grade else None,
        "pvr_hours": float(sum(hours)) if grade else None,
        "general": asked[GENERAL[0]] == GENERAL[1] if GENERAL[0] in asked else None,
    }


def _done(case: Case) -> dict[str, Any]:
    steps = case.protocol.step
    cuts = [v.value for v in case.readings if v.reading == CUT_HOURS]
    return {
        **{column: _decided(case, *about) for column, about in DECIDED.items()},
        **{column: bool(case.steps[s].ticks) if s in steps else None for column, s in TICKED.items()},
        "cut_hours": max((n for c in cuts if (n := number_of(c)) is not None), default=None),
    }


def _decided(case: Case, step: str, plan: str) -> str | None:
    known = case.protocol.step.get(step)
    return standing_choice(case, known) if known else _text(case.asked.get(plan))


def _starts(case: Case, steps: Iterable[str]) -> list[Moment]:
    return [t.start for s in steps for t in case.state(s).ticks]


def _first(case: Case, steps: Iterable[str]) -> Moment | None:
    return min(_starts(case, steps), default=None)


def _last(case: Case, steps: Iterable[str]) -> Moment | None:
    return max(_starts(case, steps), default=None)


def number_of(value: Scalar | None) -> float | None:
    """A value as a number; None for words, flags and nothing."""
    return None if value is None or isinstance(value, bool | str) else float(value)


def _text(value: Scalar | None) -> str | None:
    return None if value is None else text_of(value)


def text_of(value: Scalar) -> str:
    """A value as text: yes or no for a flag, a number without a needless fraction."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else f"{value:.15g}"


def fact_rows(case: Case) -> Iterator[FactRow]:
    """A row for each fact of the case as first asked."""
    for fact, value in case.asked.items():
        yield FactRow(case.code, fact, text_of(value), number_of(value), case.facts.get(fact) != value)
