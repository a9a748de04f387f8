"""The questions of an audit as expressions, each written once for every engine.

Quantiles are of type 7 (Hyndman and Fan, Am Stat 1996;50:361), which DuckDB calls `quantile_cont` and Spark
`percentile`. Lengths are minutes. A row of lengths says how many there are (`n`), how many should be there
and are not (`missing`), and how many of the n rest on a late entry (`late`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import ibis
from ibis.expr.types import BooleanValue, Table

from tracker.audit.columns import columns
from tracker.audit.engine import Tables
from tracker.audit.statistics.theatre_times import LONGEST_GAP

CUTS: Final = (0.1, 0.25, 0.5, 0.75, 0.9)
"""The quantiles of a row of lengths, in this order in its column `cuts`."""

SAME: Final = 1e-6
"""Minutes of a case that differ by less are the same millisecond."""

NOT_MISSING: Final = ("not_needed", "not_reached")
"""How a step may stand that nobody should have timed."""


@dataclass(frozen=True, slots=True)
class Sessions:
    """When lists are planned to begin, in minutes after midnight, how long each is booked, and the slack.

    A case belongs to the latest session that had begun, or begins within `early` minutes. One that comes after its
    end, and after a break, is on no list, and neither is what follows it: an evening's emergency is no overrun.
    """

    starts: tuple[float, ...] = (510.0,)
    length: float = 480.0
    early: float = 60.0


# -- lengths


def stage_lengths(tables: Tables, by: str | None = None) -> Table:
    """Lengths of each stage, first start to last stop with pauses taken out, parted `by` a fact or column."""
    return _lengths(tables, tables.stages, tables.stages.minutes.isnull(), ["stage"], by)


def step_lengths(tables: Tables, by: str | None = None) -> Table:
    """Lengths of each step that has a start and a stop, all its spans of a case together."""
    return _lengths(tables, _timed_steps(tables), _timed_steps(tables).minutes.isnull(), ["step"], by)


def case_lengths(tables: Tables, by: str | None = None) -> Table:
    """Lengths of whole cases, pauses included."""
    whole = tables.cases.select("code", "minutes", "late").mutate(whole=ibis.literal("case"))
    return _lengths(tables, whole, whole.minutes.isnull(), ["whole"], by)


def _timed_steps(tables: Tables) -> Table:
    steps = tables.steps
    its = steps.filter((steps.shape == "span") & ~steps.status.isin(NOT_MISSING))
    # Begun by a wrong key and struck, it should have been timed only if the case asked for it.
    return its.filter(its.required | (its.status != "struck"))


def _lengths(tables: Tables, its: Table, missing: BooleanValue, about: list[str], by: str | None) -> Table:
    marked = its.mutate(missing=missing).select("code", "minutes", "late", "missing", *about)
    if by is not None:
        marked = marked.inner_join(strata(tables, by), "code")
        about = [*about, "stratum"]
    return marked.group_by(about).aggregate(
        n=marked.minutes.count(),
        missing=marked.missing.cast("int64").sum(),
        late=(marked.late & ~marked.missing).cast("int64").sum(),
        cuts=marked.minutes.quantile(list(CUTS)),
    )


def strata(tables: Tables, by: str) -> Table:
    """For each case (`code`) what it has of a fact, or of a column of words or flags, as text (`stratum`).

    A case without it is in no stratum.
    """
    kinds = {c.name: c.kind for c in columns("cases")}
    its = tables.facts.filter(tables.facts.fact == by).select("code", stratum="text")
    if kinds.get(by) == "flag":
        flag = tables.cases[by]
        its = tables.cases.select("code", stratum=ibis.cases((flag, "yes"), (~flag, "no")))
    elif kinds.get(by) == "text":
        its = tables.cases.select("code", stratum=by)
    return its.filter(its.stratum.notnull())


def minutes_of(tables: Tables, stage: str | None = None, step: str | None = None) -> Table:
    """The length of a stage, a step or the whole case, one row a case of the population, in their order.

    Columns: code, minutes (None where there is none), late, and what places the case in time.
    """
    cases = tables.cases
    ordered = cases.select("code", "day", "opened_minute", case_minutes="minutes", case_late="late")
    if stage is None and step is None:
        told = ordered.rename(minutes="case_minutes", late="case_late")
    else:
        its = tables.stages.filter(tables.stages.stage == stage) if stage else _of_step(tables, step)
        told = ordered.drop("case_minutes", "case_late").left_join(
            its.select("minutes", "late", its_code="code"), ordered.code == its.code
        )
        told = told.drop("its_code")
    return told.order_by("day", "opened_minute", "code")


def latest_minutes(tables: Tables, most: int, stage: str | None = None, step: str | None = None) -> Table:
    """As `minutes_of`, of the latest `most` cases that have a length above nought, in their order."""
    told = minutes_of(tables, stage, step)
    return latest(told.filter(told.minutes > 0), most).order_by("day", "opened_minute", "code")


def _of_step(tables: Tables, step: str | None) -> Table:
    return tables.steps.filter(tables.steps.step == step)


def lengths_by(tables: Tables, of: str, ident: str, by: str) -> Table:
    """The length of a `stage`, a `step` or the `case`, one row a case that has one, with its stratum."""
    its = {"stage": tables.stages, "step": tables.steps, "case": tables.cases}[of]
    if ident:
        its = its.filter(its[of] == ident)
    told = its.filter(its.minutes.notnull()).select("code", "minutes")
    return told.inner_join(strata(tables, by), "code").select("code", "minutes", "stratum").order_by("code")


# -- trust


def completeness(tables: Tables, by: str | None = None) -> Table:
    """How far the logs can be trusted: sums over cases of the figures of each, parted `by` a column."""
    cases = tables.cases.mutate(whole=ibis.literal("all"))
    sums = {c.name: cases[c.name].cast("int64").sum() for c in columns("cases") if c.name.endswith("_n")}
    about = by or "whole"
    return cases.group_by(about).aggregate(n=cases.count(), gap_minutes=cases.gap_minutes.sum(), **sums)


# -- deviations and order


def deviation_counts(tables: Tables) -> Table:
    """Deviations by code, what they are about, how they came about and the reason given."""
    its = tables.deviations
    told = its.mutate(how=its.how.fill_null("none given"), reason=its.reason.fill_null("none given"))
    return told.group_by(["deviation", "level", "about", "how", "reason"]).aggregate(
        n=told.count(), cases=told.code.nunique()
    )


def deviation_cases(tables: Tables, code: str, about: str | None = None) -> Table:
    """For each case of the population, in order, whether it has such a deviation (`happened`)."""
    its = tables.deviations.filter(tables.deviations.deviation == code)
    if about is not None:
        its = its.filter(its.about == about)
    cases = tables.cases
    told = cases.select("code", "day", "opened_minute", happened=cases.code.isin(its.code))
    return told.order_by("day", "opened_minute", "code")


def inversions(tables: Tables, pairs: Sequence[tuple[str, str]]) -> Table:
    """For each pair of steps, sooner and later: cases having both, and those in which the later came first.

    One row; columns `n_0`, `inverted_0` and so on, in the order of the pairs. The first time of a step in a case
    stands for it.
    """
    steps = tables.steps
    place = {step: f"step_{n}" for n, step in enumerate(dict.fromkeys(s for pair in pairs for s in pair))}
    # One pass over the steps: joining them with themselves takes ten times as long and as much memory.
    firsts = steps.group_by("code").aggregate(
        **{name: steps.first_minute.min(where=steps.step == step) for step, name in place.items()}
    )
    told = {}
    for n, (sooner, later) in enumerate(pairs):
        one, other = firsts[place[sooner]], firsts[place[later]]
        told[f"n_{n}"] = (one.notnull() & other.notnull()).cast("int64").sum()
        told[f"inverted_{n}"] = (other < one).cast("int64").sum()
    return firsts.aggregate(**told)


def _firsts(tables: Tables, name: str) -> Table:
    steps = tables.steps.filter(tables.steps.first_minute.notnull())
    return steps.select(
        **{f"{name}_code": steps.code, f"{name}_step": steps.step, f"{name}_minute": steps.first_minute}
    )


def precedence(tables: Tables, most: int) -> Table:
    """For each pair of steps, the cases having both and those in which the first of them came sooner.

    Asked of the latest `most` cases: the order of steps does not need more.
    """
    its = tables.of(latest(tables.cases, most))
    one, other = _firsts(its, "one"), _firsts(its, "other")
    both = one.inner_join(other, [one.one_code == other.other_code, one.one_step < other.other_step])
    return both.group_by(["one_step", "other_step"]).aggregate(
        n=both.count(),
        sooner=(both.one_minute < both.other_minute).cast("int64").sum(),
        later=(both.other_minute < both.one_minute).cast("int64").sum(),
    )


# -- clocks and pairs


def clocks(tables: Tables) -> Table:
    """Runs of each clock: lengths, how many reached the file's figures, and minutes beyond the first."""
    its = _runs(tables)
    first = its.amber.coalesce(its.red)
    marked = its.mutate(
        amber_or_red=(its.reached != "").cast("int64"),
        red_n=(its.reached == "red").cast("int64"),
        beyond=_above_nought(its.minutes - first),
    )
    return marked.group_by("clock").aggregate(
        runs=marked.count(),
        n=marked.minutes.count(),
        missing=marked.minutes.isnull().cast("int64").sum(),
        late=(marked.late & marked.minutes.notnull()).cast("int64").sum(),
        with_limit=marked.amber.coalesce(marked.red).count(where=~marked.unsure),
        reached=marked.amber_or_red.sum(),
        red=marked.red_n.sum(),
        beyond=marked.beyond.sum(),
        with_least=(marked.least.notnull() & marked.minutes.notnull()).cast("int64").sum(),
        short=marked.short.cast("int64").sum(),
        cuts=marked.minutes.quantile(list(CUTS)),
    )


def _runs(tables: Tables) -> Table:
    """Runs of clocks, and whether the entry that started one, or one of the moment it stopped, was `late`."""
    runs, entries = tables.clocks, tables.entries
    late = entries.filter(entries.late & entries.told).select(
        entry_code="code", entry_seq="seq", entry_minute="minute"
    )
    stopped = (runs.start_minute + runs.minutes - late.entry_minute).abs() < SAME
    ends = [runs.code == late.entry_code, (runs.seq == late.entry_seq) | stopped]
    rest_on_late = runs.inner_join(late, ends).select(
        late_code="code", late_clock="clock", late_seq="seq"
    ).distinct()  # fmt: skip
    run = [("code", "late_code"), ("clock", "late_clock"), ("seq", "late_seq")]
    marked = runs.left_join(rest_on_late, run)
    return marked.mutate(late=marked.late_code.notnull())


def _above_nought(value: Any) -> Any:
    return ibis.cases((value > 0, value), (value <= 0, 0.0), else_=0.0)


def unmatched(tables: Tables) -> Table:
    """Pairs that anything went into: in how many cases, how many unmatched, how many of those resolved."""
    its = tables.pairs
    return its.group_by(["pair", "level"]).aggregate(
        n=its.count(),
        unmatched=its.unmatched.cast("int64").sum(),
        resolved=its.resolved.cast("int64").sum(),
    )


# -- lists


def lists(tables: Tables, sessions: Sessions) -> Table:
    """Cases placed on lists: station, day, session, place, and the gap since the one before left.

    `delay` is patient in after the planned start, `knife_delay` T2 after it, `gap` patient in after the T4
    before, `changeover` T1 after the T4 before; minutes. `late` is of the case, `either_late` of it or the one before.
    Ordered by station, day, session and place. A case that was begun from a list of the day is on that list, at
    whatever hour: the list says when it was planned to begin, and what is booked (`booked`).
    """
    cases = _by_list_days(tables.cases)
    arrived = cases.started_minute.coalesce(cases.t1_minute, cases.t2_minute, cases.opened_minute)
    placed = cases.mutate(arrived=arrived)
    number = sum((placed.arrived >= s - sessions.early).cast("int64") for s in sorted(sessions.starts))
    own = placed.list_start_minute.cast("int64") + len(sessions.starts) + 1
    placed = placed.mutate(session=own.coalesce(number))
    placed = placed.filter(placed.session > 0)
    starts = [(placed.session == n, s) for n, s in enumerate(sorted(sessions.starts), start=1)]
    usual = ibis.cases(*starts, else_=None).cast("float64")
    placed = placed.mutate(
        planned_start=placed.list_start_minute.coalesce(usual),
        booked=placed.list_minutes.coalesce(ibis.literal(float(sessions.length))),
    )
    order = ["arrived", "code"]
    window = ibis.window(group_by=["station", "day", "session"], order_by=order)
    told = placed.mutate(
        place=ibis.row_number().over(window) + 1,
        left=placed.t4_minute.lag().over(window),
        either_late=placed.late | placed.late.lag().over(window).fill_null(False),
    )
    told = _on_a_list(told, sessions, order)
    told = told.mutate(
        delay=told.started_minute - told.planned_start,
        knife_delay=told.t2_minute - told.planned_start,
        gap=told.started_minute - told.left,
        changeover=told.t1_minute - told.left,
    )
    return told.select(
        "station", "day", "session", "place", "code", "planned_start", "booked", "started_minute", "t1_minute",
        "t2_minute", "t3_minute", "t4_minute", "delay", "knife_delay", "gap", "changeover", "late", "either_late",
    ).order_by("station", "day", "session", "place")  # fmt: skip


def _by_list_days(cases: Table) -> Table:
    """Cases by the day of their list, where they have one: midnight may have passed since."""
    shift = cases.list_shift.fill_null(0.0)
    minutes = ("opened_minute", "started_minute", "t1_minute", "t2_minute", "t3_minute", "t4_minute")
    return cases.mutate(day=cases.list_day.coalesce(cases.day), **{m: cases[m] + shift for m in minutes})


def said_of_lists(tables: Tables) -> Table:
    """What was said of each list of the day: places, how many called off and why, why it began late."""
    cases = tables.cases.filter(tables.cases.day_list.notnull())
    return cases.select("day_list", "list_places_n", "called_off_n", "called_off", "late_start_reason").distinct(
    ).order_by("day_list")  # fmt: skip


def turnover_reasons(tables: Tables) -> Table:
    """How often each reason was given for the turnover before a case."""
    given = tables.cases.filter(tables.cases.turnover_reason.notnull())
    return given.group_by("turnover_reason").aggregate(n=given.count()).order_by("turnover_reason")


def _on_a_list(placed: Table, sessions: Sessions, order: list[str]) -> Table:
    """The cases but for those after hours and what follows them."""
    ended = placed.arrived >= placed.planned_start + sessions.length
    after_a_break = (placed.arrived - placed.left > LONGEST_GAP).coalesce(placed.place == 1)
    marked = placed.mutate(after_hours=(ended & after_a_break & placed.day_list.isnull()).cast("int64"))
    so_far = ibis.cumulative_window(group_by=["station", "day", "session"], order_by=order)
    marked = marked.mutate(after_hours=marked.after_hours.max().over(so_far))
    return marked.filter(marked.after_hours == 0)


# -- models


def latest(cases: Table, most: int) -> Table:
    """The latest `most` cases."""
    return cases.order_by([cases.day.desc(), cases.opened_minute.desc(), cases.code.desc()]).limit(most)


def case_mix(tables: Tables, most: int) -> Table:
    """What a model of the length of a case draws on: the latest `most` cases, in order."""
    return latest(tables.cases, most).select(
        "code", "day", "opened_minute", "minutes", "planned_minutes", "anaesthetic", "operator", "general",
        "pvr_c", "pvr_hours", "previous_operations", "tamponade", "retinectomy", "cut_hours", "lens_removed",
        "buckle",
    ).order_by("day", "opened_minute", "code")  # fmt: skip


def stage_minutes(tables: Tables, most: int) -> Table:
    """Minutes of each stage of each of the latest `most` cases, with those of the whole case (`total`)."""
    total = latest(tables.cases, most).select("code", total="minutes")
    return (
        tables.stages.select("code", "stage", "minutes").inner_join(total, "code").order_by("code", "stage")
    )
