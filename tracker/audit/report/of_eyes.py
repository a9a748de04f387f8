"""Sheets about what became of the eye, from follow-up visits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final, NamedTuple

from tracker.audit.answers import eyes
from tracker.audit.answers.eyes import Acuities, Attached, Oil, Pressed
from tracker.audit.answers.form import Audit, share
from tracker.audit.outcomes import HIGH, LOW
from tracker.audit.report import sheet as form
from tracker.audit.report import small
from tracker.audit.report.sheet import Bar, Bars, Box, Boxes, Grid, Sheet
from tracker.audit.statistics.acuity import AcuityChange
from tracker.audit.statistics.enough import FEWEST
from tracker.audit.statistics.rates import Rate
from tracker.core.acuity import FORMULAS, OFF_CHART, Convention

MONTH: Final = 365.25 / 12
MONTHS: Final = (1, 2, 3, 4, 5, 6, 9, 12, 18, 24)
LOSS: Final = "Eyes that were not seen may have done otherwise: read each figure with its missing share."


_MEANS: Final = ("fingers counted", "hand movements", "light seen", "no light seen")


def reattachment(audit: Audit) -> Sheet:
    """How often the retina is attached after one operation, and after any."""
    answer = eyes.reattachment(audit)
    found = answer.result
    bars = tuple(
        b for each in found.windows if (b := small.rate_bar(each.window.label, each.once)) is not None
    )
    headings = ("Time", "n", "missing", "after one operation", "share", "95 % interval")
    beside = ("Time", "after one operation, with oil in", "after any", "partly attached")
    return form.sheet(
        answer,
        [
            Grid("Retina attached", headings, tuple(_attached(each) for each in found.windows)),
            Grid("Beside it", beside, tuple(_beside(each) for each in found.windows)),
        ],
        [Bars("Attached after one operation, with Wilson's interval", "%", bars)],
        [
            f"{form.few(found.followed.cases)} cases have a visit after the operation;"
            f" {form.few(found.followed.visits)} visits in all.",
            LOSS,
        ],
    )


def _attached(each: Attached) -> tuple[str, ...]:
    once = small.events(each.once) if each.n >= FEWEST else (form.UNKNOWN,) * 3
    return (each.window.label, form.few(each.n), _missing(each.missing, each.n), *once)


def _beside(each: Attached) -> tuple[str, ...]:
    once = each.once.events
    # What lies between either and those attached after one operation would tell 1 to 4 by subtraction.
    rates = ((each.with_oil, once), (each.attached, once), (each.partly, each.partly.events))
    return (each.window.label, *(
        form.UNKNOWN if small.is_few(abs(rate.events - beside)) else _within(rate, each.n)
        for rate, beside in rates
    ))  # fmt: skip


def _missing(missing: float | None, n: int) -> str:
    # Beside a number that is kept back the share would tell it.
    return form.UNKNOWN if small.is_few(n) else form.percent(missing)


def _within(rate: Rate, n: int) -> str:
    return small.share_of(rate, form.UNKNOWN) if n >= FEWEST else form.UNKNOWN


# -- acuity


def acuity(audit: Audit) -> Sheet:
    """How acuity changes from before the operation."""
    answer = eyes.acuity(audit)
    told = answer.result.windows
    bars = tuple(
        Bar(window.label, c.median, f"{form.signed(c.median, 2)}, n {form.few(c.n)}", c.p25, c.p75)
        for window, c in told
        if c.median is not None
    )
    headings = (
        "Time", "n", "missing", "off chart", "median", "p25", "p75", "gain", "loss", "0.3 or better",
    )  # fmt: skip
    return form.sheet(
        answer,
        [
            Grid("Change of logMAR", headings, tuple((w.label, *_changed(c)) for w, c in told)),
            conversion(audit.convention),
            Grid("Entries that could not be read", ("As written", "entries"), tuple(_unread(answer.result))),
        ],
        [Bars("Median change of logMAR, with p25 and p75; below 0 is better", "logMAR", bars)],
        [
            f"Source of the table in use: {audit.convention.source}.",
            _left(answer.result),
            LOSS,
        ],
    )


def _changed(c: AcuityChange) -> tuple[str, ...]:
    missing = share(c.missing, c.n + c.missing)
    figures = (form.signed(value, 2) for value in (c.median, c.p25, c.p75))
    shares = (small.share(value, c.n) for value in (c.gained, c.lost, c.reading))
    return (form.few(c.n), _missing(missing, c.n), small.count(c.off_chart, c.n), *figures, *shares)


def conversion(convention: Convention) -> Grid:
    """How acuity as written becomes logMAR: what stands beside every table of acuity."""
    table = (
        (f"{word}, {means}", f"{convention.table[word]:g}", "the table in use")
        for word, means in zip(OFF_CHART, _MEANS, strict=True)
    )
    headings = ("As written", "logMAR", "source")
    return Grid(f"Conversion in use: {convention.name}", headings, (*FORMULAS, *table), words=3)


def _unread(found: Acuities) -> Iterator[tuple[str, str]]:
    return ((entry, form.few(n)) for entry, n in found.unreadable if n >= FEWEST)


def _left(found: Acuities) -> str:
    entries = sum(n for _, n in found.unreadable)
    if not entries:
        return ""
    rare = any(n < FEWEST for _, n in found.unreadable)
    listed = f"; what was written fewer than {FEWEST} times is not listed" if rare else ""
    return f"{form.few(entries)} entries could not be read as acuity and count as missing{listed}."


# -- pressure


def pressure(audit: Audit) -> Sheet:
    """How the pressure of the eye is after the operation."""
    answer = eyes.pressure(audit)
    found = answer.result
    low, high = f"{LOW:g} mmHg or less", f"over {HIGH:g} mmHg"
    headings = ("Time", "n", "missing", "median", "p25", "p75", "p10", "p90", low, high)
    twice = ((low, found.twice_low), (high, found.twice_high))
    rows = tuple((words, form.few(rate.n), *small.events(rate)) for words, rate in twice)
    boxes = tuple(box for each in found.windows if (box := _box(each)) is not None)
    return form.sheet(
        answer,
        [
            Grid("Pressure, mmHg", headings, tuple(_pressed(each) for each in found.windows)),
            Grid("At two visits in a row", ("Pressure", "n", "eyes", "share", "95 % interval"), rows),
        ],
        [Boxes("Pressure", "mmHg", boxes)],
        [LOSS],
    )


def _pressed(each: Pressed) -> tuple[str, ...]:
    summary = each.summary
    n, _missing_share, _late, *figures = form.lengths(summary)
    missing = _missing(share(summary.missing, summary.n + summary.missing), summary.n)
    rates = (_within(rate, each.summary.n) for rate in (each.low, each.high))
    return (each.window.label, n, missing, *figures, *rates)


def _box(each: Pressed) -> Box | None:
    return form.box(each.window.label, each.summary)


# -- oil


def oil(audit: Audit) -> Sheet:
    """How long oil stays in the eye."""
    answer = eyes.oil(audit)
    told = tuple(_months(answer.result))
    rows = tuple((m.after, f"{m.days}", f"{m.at_risk:,}", form.percent(m.still), m.interval) for m in told)
    bars = tuple(map(_bar, told))
    return form.sheet(
        answer,
        [Grid("Oil still in the eye", ("After", "days", "at risk", "oil still in", "95 % interval"), rows)],
        [Bars("Oil still in the eye, with its interval", "%", bars)],
        [
            *_counted(answer.result),
            f"Told at whole months, in whole days, while at least {FEWEST} are at risk after that day and none or at"
            f" least {FEWEST} have left since the one told before: a step of the curve may be one case.",
        ],
    )


def _counted(found: Oil) -> Iterator[str]:
    curve, untold = found.curve, found.untold
    enough = curve.median is not None and curve.events >= FEWEST
    median = f"{curve.median:.0f} days" if enough else "not reached"
    yield f"{form.few(curve.n)} eyes with oil, {small.count(curve.events, curve.n)} had it taken out; median {median}."
    if untold:
        missing = form.percent(share(untold, untold + curve.n))
        yield f"Of {form.few(untold)} more eyes with oil no visit tells of it: missing {missing}."


class _Month(NamedTuple):
    """One row under the curve: still at risk after it, the share with oil in, and its interval once one has left."""

    after: str
    days: int
    at_risk: int
    still: float
    bounds: tuple[float, float] | None

    @property
    def interval(self) -> str:
        return " to ".join(map(form.percent, self.bounds)) if self.bounds else "-"


def _bar(month: _Month) -> Bar:
    bar = Bar(month.after, 100 * month.still, f"{form.percent(month.still)}, at risk {month.at_risk:,}")
    return (
        bar if month.bounds is None else replace(bar, low=100 * month.bounds[0], high=100 * month.bounds[1])
    )


def _months(found: Oil) -> Iterator[_Month]:
    """The months at which enough are at risk, and none or enough have left since the one told before."""
    before = found.curve.n
    for months in MONTHS:
        days = round(months * MONTH)
        (risk,) = found.curve.at_risk([days + 1])
        still, bounds = found.curve.share_at(days), found.curve.interval_at(days)
        if risk >= FEWEST and still is not None and not small.is_few(before - risk):
            before = risk
            yield _Month(f"{months} month{'s' if months > 1 else ''}", days, risk, still, bounds)
