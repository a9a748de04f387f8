"""Sheets about the day's lists: first starts, turnovers, the parts of a case, use of sessions, booking."""

from __future__ import annotations

from typing import Final

from tracker.audit.answers import theatre_lists
from tracker.audit.answers.form import Audit
from tracker.audit.report import sheet as form
from tracker.audit.report import small
from tracker.audit.report.sheet import Bar, Bars, Grid, Sheet
from tracker.audit.statistics.theatre_times import Turnovers

_RESTS_ON: Final = ("n", "missing", "late")
"""The headings of what a figure rests on."""


def starts(audit: Audit) -> Sheet:
    """How late lists begin."""
    answer = theatre_lists.starts(audit)
    its = (("patient in", answer.result.patient_in), ("T2", answer.result.knife))
    rows = tuple(
        (
            label, *form.lengths(s.delay), small.share(s.over_15, s.delay.n),
            small.within(s.at_least_30, s.over_15, s.delay.n),
        )
        for label, s in its
    )  # fmt: skip
    headings = ("Until", *form.LENGTHS, "over 15 min", "30 min or more")
    drawing = form.boxes("After the planned start", [(label, s.delay) for label, s in its])
    title = "First case of each session, minutes after the planned start"
    reasons = _reasons("Reasons given for a late start", answer.result.reasons)
    return form.sheet(answer, [Grid(title, headings, rows), *reasons], [drawing])


def _reasons(title: str, given: theatre_lists.Reasons) -> list[Grid]:
    """How often each reason was given; nothing where none was. Numbers under five are kept back."""
    rows = tuple((words, form.few(n)) for words, n in given)
    return [Grid(title, ("Reason", "times"), rows)] if rows else []


def gaps(audit: Audit) -> Sheet:
    """How long from one patient to the next."""
    answer = theatre_lists.gaps(audit)
    its: tuple[tuple[str, Turnovers], ...] = (
        ("turnover", answer.result.turnover), ("changeover", answer.result.changeover),
    )  # fmt: skip
    rows = tuple((label, *form.lengths(g.gaps), form.few(g.breaks), form.few(g.overlaps)) for label, g in its)
    headings = ("Gap", *form.LENGTHS, "breaks", "overlaps")
    drawing = form.boxes("Between cases", [(label, g.gaps) for label, g in its])
    reasons = _reasons("Reasons given for a turnover", answer.result.reasons)
    return form.sheet(answer, [Grid("Between cases, minutes", headings, rows), *reasons], [drawing])


def times_in_theatre(audit: Audit) -> Sheet:
    """How the time in theatre divides."""
    answer = theatre_lists.times_in_theatre(audit)
    r = answer.result
    its = (("anaesthetic", r.anaesthetic), ("procedure", r.procedure), ("in theatre", r.in_theatre))
    rows = tuple((label, *form.lengths(summary)) for label, summary in its)
    drawing = form.boxes("Time in theatre", its)
    return form.sheet(
        answer, [Grid("Time in theatre, minutes", ("Part", *form.LENGTHS), rows)], [drawing], key="times"
    )


def use(audit: Audit) -> Sheet:
    """How booked sessions are used."""
    answer = theatre_lists.use(audit)
    u = answer.result
    shares = (
        ("as such", u.uncapped),
        ("within the booked block only", u.capped),
        ("with turnovers", u.adjusted),
    )
    rests_on = (form.few(u.n), form.part(u.incomplete, u.n + u.incomplete), form.part(u.late, u.cases))
    rows = tuple((label, *rests_on, form.percent(share)) for label, share in shares)
    either = tuple(
        (
            label,
            *rests_on,
            small.count(count or 0, u.n),
            form.UNKNOWN if small.is_few(count or 0) else form.minutes(total),
        )
        for label, count, total in (
            ("ran over", u.overrun_sessions, u.overrun_minutes),
            ("ended early", u.early_sessions, u.early_minutes),
        )
    )
    bars = tuple(Bar(label, 100 * share, form.percent(share)) for label, share in shares if share is not None)
    return form.sheet(
        answer,
        [
            Grid("Use of booked time", ("Use", *_RESTS_ON, "share"), rows),
            Grid("Beside it", ("Sessions that", *_RESTS_ON, "sessions", "minutes in all"), either),
            *_called_off(theatre_lists.called_off(audit)),
        ],
        [Bars("Use of booked time", "%", bars)],
    )


def _called_off(told: theatre_lists.CalledOff) -> list[Grid]:
    """Places that were called off, of lists from which a case was begun; nothing without such lists."""
    if not told.lists:
        return []
    row = (form.few(told.lists), form.few(told.places), small.count(told.called_off, told.places))
    whole = Grid(
        "Lists of the day", ("", "lists", "places", "called off"), (("from which a case was begun", *row),)
    )
    return [whole, *_reasons("Reasons given for calling off", told.reasons)]


def booked(audit: Audit) -> Sheet:
    """Whether enough time is booked."""
    answer = theatre_lists.booked(audit)
    b = answer.result
    rests_on = (form.few(b.n), form.part(b.missing, b.n + b.missing), form.part(b.late, b.n))
    rows = (
        ("bias, planned less actual (median)", *rests_on, f"{form.minutes(b.bias)} min"),
        ("within 15 min", *rests_on, small.share(b.within_15, b.n)),
        ("within a tenth", *rests_on, small.share(b.within_tenth, b.n)),
    )
    return form.sheet(answer, [Grid("Planned against actual", ("", *_RESTS_ON, "figure"), rows)])
