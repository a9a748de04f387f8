"""The questions about what became of the eye as expressions, each written once for every engine.

Days count from the operation. A window is what stands for a time such as six months: of its visits the last that says
a thing counts, and of entries of one day the last. A case is due in a window once that has closed by `until`, the last
day that any log or follow-up tells. Only such cases count, whether seen or not: who is due and was not seen is missing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

import ibis
from ibis.expr.types import BooleanValue, Table

from tracker.audit.engine import Tables
from tracker.audit.questions import CUTS

_PER_DAY: Final = 1_000_000
"""More entries than a follow-up can have, so that a day and a number within it make one order."""


@dataclass(frozen=True, slots=True)
class Window:
    """Days after the operation, both ends included, that stand for a time; `until` None is without an end."""

    label: str
    first: int
    until: int | None = None

    @property
    def name(self) -> str:
        """The days in words."""
        return f"day {self.first} to {self.until}" if self.until is not None else f"from day {self.first}"

    def holds(self, days: Any) -> BooleanValue:
        """Whether a day lies in the window."""
        late_enough = days >= self.first
        return late_enough if self.until is None else late_enough & (days <= self.until)


WINDOWS: Final = (
    Window("3 months", 61, 136), Window("6 months", 137, 273), Window("12 months", 274, 456),
)  # fmt: skip
"""Halves of the way to the time before and after 91, 182 and 365 days; common practice, no source."""

LAST: Final = Window("last visit", 1)


@dataclass(frozen=True, slots=True)
class Shares:
    """The share of failures after one operation that a department expects, and the share that it would notice.

    A national registry of retinal detachments reported just over 13 % of failures (Yorston, EuroTimes, 6 July 2018, of
    4,000 first vitrectomies); complex cases lie higher.
    """

    expected: float = 0.14
    noticed: float = 0.28


BANDS: Final = (
    Window("first day", 0, 2), Window("first month", 3, 30), Window("2 months", 31, 60), *WINDOWS,
)  # fmt: skip
LOW, HIGH = 5.0, 25.0
"""Pressures that are low at or below, high above, in mmHg (Silicone Study Report 4, Ophthalmology 1993;100:1629)."""


def last_day(tables: Tables, *, invented: bool) -> date | None:
    """The last day that any log or follow-up of these, or of invented, cases tells; None without cases."""
    cases = tables.cases if invented else tables.cases.filter(~tables.cases.invented)
    visits = tables.visits.semi_join(cases, "code")
    ends = (cases.aggregate(last=cases.day.max()), visits.aggregate(last=visits.day.max()))
    days = [row["last"] for end in ends for row in end.to_pyarrow().to_pylist()]
    return max((day for day in days if day is not None), default=None)


def _due(cases: Table, window: Window, until: date) -> BooleanValue:
    return cases.day <= until - timedelta(days=window.until or window.first)


def _order(visits: Table) -> Any:
    return visits.days * _PER_DAY + visits.seq


def _last(visits: Table, column: str, where: Any) -> Any:
    """The last that the visits of a case say of a thing."""
    return visits[column].argmax(_order(visits), where=where & visits[column].notnull())


def _count(flag: Any) -> Any:
    # Of no case at all an engine gives no sum, rather than nought.
    return flag.fill_null(False).cast("int64").sum().coalesce(0)


def _of_all(cases: Table, each: Table) -> Table:
    """What is told of each case, with a row for those of which nothing is."""
    return cases.left_join(each.rename(its_code="code"), [("code", "its_code")]).drop("its_code")


# -- reattachment


def reattachment(tables: Tables, windows: Sequence[Window], until: date) -> Table:
    """For each window the due cases told of in it, the missing ones, and how many were attached, and how.

    One row; columns `n_0`, `missing_0` and so on, in the order of the windows. `once` is attached without a further
    operation for a detachment told by then, `with_oil` those of them with oil in the eye, `attached` whatever was done;
    `partly` is counted in neither.
    """
    # One pass over the visits for all windows: a pass takes its time with millions of them.
    told = _attached(tables, windows)
    figures: dict[str, Any] = {}
    for n, window in enumerate(windows):
        due, said, at = _due(told, window, until), told[f"attached_{n}"], told[f"at_{n}"]
        yes = due & (said == "yes")
        once = due & _once(told, n)
        figures |= {
            f"n_{n}": _count(due & said.notnull()),
            f"missing_{n}": _count(due & said.isnull()),
            f"once_{n}": _count(once),
            f"with_oil_{n}": _count(once & told.oil & (told.oil_out.isnull() | (told.oil_out > at))),
            f"attached_{n}": _count(yes),
            f"partly_{n}": _count(due & (said == "partly")),
        }
    return told.aggregate(**figures)


def _once(told: Table, n: int) -> BooleanValue:
    """Whether a window finds the retina attached without a further operation for a detachment told by then."""
    return (told[f"attached_{n}"] == "yes") & (told.again.isnull() | (told.again > told[f"at_{n}"]))


def failures(tables: Tables, until: date) -> Table:
    """The due cases of the first window in order of operation, and whether one operation `failed`.

    It did where the window tells of the retina, and not that it is attached after one operation; None is untold.
    """
    told = _attached(tables, WINDOWS[:1])
    due = told.filter(_due(told, WINDOWS[0], until)).order_by("day", "opened_minute", "code")
    return due.select("code", failed=due.attached_0.notnull().ifelse(~_once(due, 0), None))


def _attached(tables: Tables, windows: Sequence[Window]) -> Table:
    """One row a case: what each window says of the retina, on which day, and the days of what came before."""
    visits = tables.visits
    figures: dict[str, Any] = {}
    for n, window in enumerate(windows):
        said = window.holds(visits.days) & visits.attached.isin(["yes", "partly", "no"])
        figures[f"attached_{n}"] = _last(visits, "attached", said)
        figures[f"at_{n}"] = visits.days.max(where=said)
    again = visits.days.min(where=visits.operation == "detachment")
    each = visits.group_by("code").aggregate(again=again, **figures)
    held = _of_all(tables.cases.select("code", "day", "opened_minute"), each)
    oil = oil_days(tables).select(oil_code="code", oil_out="oil_out")
    told = held.left_join(oil, [("code", "oil_code")])
    return told.mutate(oil=told.oil_code.notnull()).drop("oil_code")


# -- oil


def oil_days(tables: Tables) -> Table:
    """One row a case that had oil in the eye, by its tamponade or by a visit.

    `oil_out` is the day on which it was taken out, or was first found out where no day was told; `last_in` the last
    visit that found it in.
    """
    visits = tables.visits
    after = visits.days >= 0
    each = visits.group_by("code").aggregate(
        dated=visits.oil_out_days.min(),
        found_out=visits.days.min(where=after & (visits.oil == "out")),
        last_in=visits.days.max(where=after & (visits.oil == "in")),
    )
    held = _of_all(tables.cases.select("code", "tamponade"), each)
    by_visit = held.dated.notnull() | held.last_in.notnull()
    held = held.filter(held.tamponade.startswith("oil").fill_null(False) | by_visit)
    return held.select(
        "code",
        oil_out=ibis.least(held.dated.coalesce(held.found_out), held.found_out.coalesce(held.dated)),
        last_in="last_in",
    )


def oil_times(tables: Tables) -> Table:
    """For each case that had oil: days until it was out, or was last found in, and whether it was taken out.

    `days` is None where no visit says anything of the oil.
    """
    held = oil_days(tables)
    told = held.select("code", days=held.oil_out.coalesce(held.last_in), out=held.oil_out.notnull())
    return told.order_by("code")


# -- acuity


def acuities(tables: Tables, windows: Sequence[Window], until: date) -> Table:
    """Acuity as written before the operation (`before`) and in each window, and how many cases have these (`n`).

    Columns `after_0`, `due_0` and so on, in the order of the windows. The last readable entry up to the day of the
    operation is that of before. None is where a case has none.
    """
    visits = tables.visits
    readable = visits.logmar.notnull() | visits.off_chart.notnull()
    after = {
        f"after_{n}": _last(visits, "acuity", readable & window.holds(visits.days))
        for n, window in enumerate(windows)
    }
    each = visits.group_by("code").aggregate(
        before=_last(visits, "acuity", readable & (visits.days <= 0)), **after
    )
    told = _of_all(tables.cases.select("code", "day"), each)
    told = told.mutate(**{f"due_{n}": _due(told, window, until) for n, window in enumerate(windows)})
    return told.group_by(["before", *after, *(f"due_{n}" for n in range(len(windows)))]).aggregate(
        n=told.count()
    )


def unreadable(tables: Tables) -> Table:
    """Entries of acuity that cannot become logMAR, as written, and how many of each."""
    visits = tables.visits
    odd = visits.filter(visits.acuity.notnull() & visits.logmar.isnull() & visits.off_chart.isnull())
    return odd.group_by("acuity").aggregate(n=odd.count(), cases=odd.code.nunique())


# -- pressure


def pressures(tables: Tables, windows: Sequence[Window], until: date) -> Table:
    """For each window the due cases with a pressure, the missing ones, quantiles, how many were low or high.

    One row; columns `n_0`, `missing_0` and so on, in the order of the windows.
    """
    visits = tables.visits
    figures: dict[str, Any] = {}
    last = {
        f"pressure_{n}": _last(visits, "pressure", window.holds(visits.days))
        for n, window in enumerate(windows)
    }
    told = _of_all(tables.cases.select("code", "day"), visits.group_by("code").aggregate(**last))
    for n, window in enumerate(windows):
        due, pressure = _due(told, window, until), told[f"pressure_{n}"]
        figures |= {
            f"n_{n}": _count(due & pressure.notnull()),
            f"missing_{n}": _count(due & pressure.isnull()),
            f"low_{n}": _count(due & (pressure <= LOW)),
            f"high_{n}": _count(due & (pressure > HIGH)),
            f"cuts_{n}": due.ifelse(pressure, None).quantile(list(CUTS)),
        }
    return told.aggregate(**figures)


def twice(tables: Tables) -> Table:
    """One row: cases with a pressure on two days or more, and how many were low, or high, at two in a row."""
    visits = tables.visits
    after = visits.filter((visits.days >= 0) & visits.pressure.notnull())
    daily = after.group_by(["code", "days"]).aggregate(pressure=after.pressure.argmax(after.seq))
    window = ibis.window(group_by="code", order_by="days")
    pairs = daily.mutate(earlier=daily.pressure.lag().over(window))
    pairs = pairs.filter(pairs.earlier.notnull())
    each = pairs.group_by("code").aggregate(
        low=((pairs.pressure <= LOW) & (pairs.earlier <= LOW)).any(),
        high=((pairs.pressure > HIGH) & (pairs.earlier > HIGH)).any(),
    )
    return each.aggregate(n=each.count(), low=_count(each.low), high=_count(each.high))


def followed(tables: Tables) -> Table:
    """One row: how many cases have any visit after the operation, and how many such visits there are."""
    after = tables.visits.filter(tables.visits.days >= 0)
    return after.aggregate(cases=after.code.nunique(), visits=after.count())
