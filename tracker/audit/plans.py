"""A list that is planned: what its cases rest on, when it may end, and what would change that."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any, Final

from tracker.audit import questions
from tracker.audit.answers.theatre_lists import (
    clock_times,
    delay_from,
    length_among,
    minutes_by_code,
    strata_of,
    turnover_from,
)
from tracker.audit.engine import Tables
from tracker.audit.planned_facts import Facts, NotPlanned, as_recorded
from tracker.audit.planning import (
    ORDER_DRAWS,
    START_ON_TIME,
    Change,
    ListForecast,
    OrderOutlook,
    Orders,
    PlannedCase,
    PlannedList,
    changing_most,
    forecast_list,
    leave_out,
    try_orders,
)
from tracker.audit.population import Filters, population, rows
from tracker.audit.questions import Sessions
from tracker.audit.report.sheet import Grid, minutes, percent
from tracker.audit.statistics.enough import FEWEST
from tracker.audit.statistics.lengths import ENOUGH_TO_RESAMPLE, Length, typed_in
from tracker.core.protocol import Protocol

TYPED_SIGMA: Final = 0.35
"""Spread of the logs of a turnover that was typed in: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A case to be planned: the id of its protocol, the facts that comparable cases must have, and the file.

    Without a file, past cases alone say which facts there are.
    """

    protocol: str
    facts: Facts
    file: Protocol | None = None

    @property
    def words(self) -> str:
        """It in words."""
        facts = ", ".join(f"{fact} {' or '.join(values)}" for fact, values in self.facts.items())
        return f"{self.protocol} ({facts})" if facts else self.protocol


@dataclass(frozen=True, slots=True)
class Plan:
    """A planned list with its forecast; `populations` says what each case was compared with."""

    planned: PlannedList
    forecast: ListForecast
    changes: tuple[Change, ...]
    orders: Orders
    populations: tuple[str, ...]
    remarks: tuple[str, ...]


def plan_list(
    asked: Tables,
    wanted: Sequence[Wanted],
    session: float,
    past_sessions: Sessions,
    *,
    turnover: float | None = None,
    on_time: bool = False,
    seed: int,
) -> Plan:
    """Plan these cases in this order in a session of so many minutes, by past cases on lists of `past_sessions`.

    `turnover` is a typed median in minutes, in place of the past ones; `on_time` leaves a late start out.

    Raises:
        NotPlanned: a protocol, a fact or a value of one that neither a file nor a past case knows.
    """
    _refuse_unknown(asked, wanted)
    alike = {p: population(asked, Filters(protocol=p)) for p in dict.fromkeys(w.protocol for w in wanted)}
    past = {protocol: minutes_by_code(found.tables) for protocol, found in alike.items()}
    everyone = population(asked, Filters(completed=False))
    placed = rows(questions.lists(everyone.tables, past_sessions))
    gaps = _gaps(placed, past, turnover)
    delay = None if on_time else delay_from(placed)
    usable = None if delay is None or delay.refused else delay
    planned = PlannedList(_cases(asked, wanted, past, gaps), session, gaps[wanted[0].protocol], usable)
    return Plan(
        planned,
        forecast_list(planned, seed=seed),
        leave_out(planned, seed=seed),
        try_orders(planned, seed=seed),
        tuple(f"{ident}: {found.sentence}{_no_length(past[ident])}" for ident, found in alike.items()),
        tuple(_remarks(delay, past_sessions, gaps, turnover, invented=everyone.invented)),
    )


def _refuse_unknown(asked: Tables, wanted: Sequence[Wanted]) -> None:
    met = {row["protocol"] for row in rows(asked.cases.select("protocol").distinct())}
    for w in wanted:
        if w.file is None and w.protocol not in met:
            raise NotPlanned(f"There is no protocol {w.protocol} to be read, and no past case of it.")


def _cases(
    asked: Tables,
    wanted: Sequence[Wanted],
    past: Mapping[str, Mapping[str, float | None]],
    gaps: Mapping[str, Length],
) -> tuple[PlannedCase, ...]:
    """The cases of the list; each has a turnover of its own where protocols differ in theirs."""
    strata = {fact: strata_of(asked, fact) for fact in {fact for w in wanted for fact in w.facts}}
    differ = len(set(gaps.values())) > 1
    return tuple(
        PlannedCase(_length(n, w, past[w.protocol], strata), gaps[w.protocol] if differ else None)
        for n, w in enumerate(wanted, start=1)
    )


def _length(
    n: int, w: Wanted, past: Mapping[str, float | None], strata: Mapping[str, Mapping[str, str]]
) -> Length:
    """How long a case may take, called by its place on the list."""
    met = {fact: {text for code, text in strata[fact].items() if code in past} for fact in w.facts}
    facts = as_recorded(w.protocol, w.file, w.facts, met)
    return replace(length_among(w.words, facts, past, strata), label=f"{n} {w.words}")


def _gaps(
    placed: Sequence[Mapping[str, Any]], past: Mapping[str, Mapping[str, float | None]], typed: float | None
) -> Mapping[str, Length]:
    """The turnover before a case of each protocol: from 30 before such cases those, else those before any case."""
    if typed is not None:
        return dict.fromkeys(past, typed_in("turnover", typed, TYPED_SIGMA))
    every = turnover_from(placed)
    own = {p: turnover_from([row for row in placed if row["code"] in codes]) for p, codes in past.items()}
    return {p: replace(gap, label=p) if gap.n >= ENOUGH_TO_RESAMPLE else every for p, gap in own.items()}


def _no_length(past: Mapping[str, float | None]) -> str:
    n = sum(length is None for length in past.values())
    return f"; {n} of them without a length, since patient in or out was not logged" if n else ""


def _remarks(
    delay: Length | None,
    past: Sessions,
    gaps: Mapping[str, Length],
    turnover: float | None,
    *,
    invented: bool,
) -> Iterator[str]:
    if delay is None:
        yield "The list is taken to begin on time."
    elif delay.refused:
        yield f"n too small for a late start ({delay.n} past ones): the list is taken to begin on time."
    else:
        yield f"Late start drawn from {delay.n} past ones, of lists that begin at {clock_times(past)}."
    if turnover is not None:
        spread = f"spread of logs {TYPED_SIGMA} (common practice, no source)"
        yield f"Turnover typed in: median {turnover:g} min, {spread}."
    else:
        yield from dict.fromkeys(_turnover_words(protocol, gap) for protocol, gap in gaps.items())
    if invented:
        yield "No theatre saw the cases that this rests on: they were invented."


def _turnover_words(protocol: str, gap: Length) -> str:
    if gap.refused:
        return f"n too small for a turnover ({gap.n} past ones): give one with --turnover MIN."
    before = f"cases of {protocol}" if gap.label == protocol else "any case"
    return f"Turnovers drawn from {gap.n} past ones before {before}."


# -- as text


def grids(plan: Plan) -> Iterator[Grid]:
    """The plan as tables: its cases, its end, what changes it, its orders."""
    yield Grid(
        "Cases", ("Case", "n", "others", "drawn from", "median"), tuple(map(_case, plan.planned.cases)), 1
    )
    if plan.forecast.refused:
        return
    yield Grid(
        "End of the list, minutes after the planned start", ("", "minutes"), tuple(_ends(plan.forecast))
    )
    done = tuple((c.label, minutes(c.ends_median), minutes(c.ends_p80), percent(c.finished))
                 for c in plan.forecast.cases)  # fmt: skip
    yield Grid("Each case in this order", ("Case", "ends, median", "p80", "over by then"), done)
    if plan.changes:
        yield Grid("What would change it", _CHANGE, tuple(map(_change, plan.changes)))
    if plan.orders.n > 1:
        ends = () if plan.orders.end_unchanged else ("end, median", "P(overrun)")
        yield Grid("Orders", ("Order", "cases over in the session", *ends, ""), tuple(_orders(plan.orders)))


_CHANGE: Final = ("Without", "end, median", "change", "P(overrun)", "change of it")


def _case(case: PlannedCase) -> tuple[str, ...]:
    length = case.length
    median = minutes(length.spread.median) if length.spread else "-"
    basis = length.basis or "n too small"
    return (length.label, str(length.n), str(length.others), basis, median)


def _ends(f: ListForecast) -> Iterator[tuple[str, str]]:
    yield "median", minutes(f.median)
    yield "p80", minutes(f.p80)
    yield "p90", minutes(f.p90)
    yield "sum of medians, for comparison", minutes(f.sum_of_medians)
    yield f"P(after {f.session:g} min)", percent(f.overrun)


def _change(change: Change) -> tuple[str, ...]:
    return (
        _left_out(change), minutes(change.median), f"{change.median_change:+.1f}", percent(change.overrun),
        f"{100 * change.overrun_change:+.1f} points",
    )  # fmt: skip


def _left_out(change: Change) -> str:
    return "a late start" if change.label == START_ON_TIME else change.label


def _orders(orders: Orders) -> Iterator[tuple[str, ...]]:
    for row in orders.rows[:MOST_ORDERS]:
        ends = () if orders.end_unchanged else (minutes(row.median), percent(row.overrun))
        yield (
            _numbers(row),
            f"{row.expected_finished:.2f}",
            *ends,
            "as good as the first" if row.tied else "",
        )


def _numbers(order: OrderOutlook) -> str:
    return " ".join(label.partition(" ")[0] for label in order.labels)


MOST_ORDERS: Final = 6
MOST_NAMED: Final = 3


def notes(plan: Plan) -> Iterator[str]:
    """What the figures rest on."""
    f = plan.forecast
    yield from plan.remarks
    if f.refused:
        yield f"No forecast: {f.refused}."
        return
    yield from _borrowed(plan.planned.cases)
    give = f"; the number of draws leaves {100 * (f.overrun_give or 0.0):.1f} points either way"
    yield f"{f.draws:,} draws, seed {f.seed}{give}."
    yield "Cases are drawn apart; a slow day slows every case on it, so a real p90 lies somewhat later."
    if plan.changes:
        yield _most(plan)
    if plan.orders.n > 1:
        yield _order_words(plan.orders)


def _borrowed(cases: Sequence[PlannedCase]) -> Iterator[str]:
    """Which cases rest on the procedure's others, since hardly any past case has their facts."""
    lengths = [case.length for case in cases if case.length.others and case.length.n < FEWEST]
    if lengths:
        numbers = ", ".join(length.label.partition(" ")[0] for length in lengths)
        yield (
            f"Fewer than {FEWEST} past cases have the facts of {numbers}: the procedure's others speak for it,"
            " whatever their facts."
        )


def _most(plan: Plan) -> str:
    """Which removal changes the list most."""
    most = changing_most(plan.changes, plan.forecast.draws)
    others = [f"any of {len(most) - MOST_NAMED} more"] if len(most) > MOST_NAMED else []
    without = " or ".join([*map(_left_out, most[:MOST_NAMED]), *others])
    until, risk = minutes(most[0].median), percent(most[0].overrun)
    now = f"instead of {minutes(plan.forecast.median)} min and {percent(plan.forecast.overrun)}"
    return f"What changes it most: without {without}, end {until} min (median) and P(overrun) {risk}, {now}."


def _order_words(orders: Orders) -> str:
    every = "All orders were tried" if orders.complete else "The planned order, shortest and longest first"
    ends = _end_words(orders)
    return f"{every}, on {ORDER_DRAWS:,} draws; {ends}. Clinical grounds for an order come first."


def _end_words(orders: Orders) -> str:
    if orders.end_unchanged:
        return "the end of the list is the same whatever the order"
    soonest, *_, latest = sorted(orders.rows, key=lambda row: row.median)
    if latest.median - soonest.median < 1:
        return "the order changes the end of the list by less than a minute"
    ends = f"ends soonest in the order {_numbers(soonest)}, {minutes(soonest.median)} min (median)"
    return f"turnovers differ, so that the list {ends}, and latest in {_numbers(latest)}, {minutes(latest.median)} min"


def as_json(plan: Plan) -> dict[str, Any]:
    """The plan as plain values."""
    told = [
        {"label": c.length.label, "n": c.length.n, "others": c.length.others, "basis": c.length.basis,
         "refused": c.length.refused, "median": c.length.spread.median if c.length.spread else None}
        for c in plan.planned.cases
    ]  # fmt: skip
    return {
        "population": list(plan.populations),
        "remarks": list(notes(plan)),
        "cases": told,
        "forecast": asdict(plan.forecast),
        "changes": [asdict(change) for change in plan.changes],
        "orders": asdict(plan.orders),
    }
