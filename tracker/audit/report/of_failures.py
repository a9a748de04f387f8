"""The sheet about failures after one operation, case by case."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from tracker.audit.answers import failures as asked
from tracker.audit.answers.failures import Failures
from tracker.audit.answers.form import Audit
from tracker.audit.outcomes import Shares
from tracker.audit.report import sheet as form
from tracker.audit.report import small
from tracker.audit.report.of_eyes import LOSS
from tracker.audit.report.sheet import FEW, Grid, Run, Sheet

MOST_DRAWN: Final = 500
_USUAL: Final = (
    "These shares stand where a department types none by --failures: a national registry of retinal detachments reported"
    " 13 % in 2018, complex cases lie higher, and a department must type its own."
)


def failures(audit: Audit) -> Sheet:
    """Whether failures after one operation became more frequent."""
    answer = asked.failures(audit)
    found = answer.result
    return form.sheet(
        answer,
        [
            _outcomes(found),
            Grid("Weights and limit", ("", "figure"), tuple(_set_by(found))),
            Grid(
                "Signals by the stated rule", ("", "points signalling", "first at point"), (_signals(found),)
            ),
        ],
        _runs(found),
        _remarks(found),
    )


def _outcomes(found: Failures) -> Grid:
    told = found.rate
    headings = ("Time", "n", "missing", "failures", "expected", "share", "95 % interval")
    failed, *share = small.events(told)
    expected = f"{told.n * found.shares.expected:,.1f}"
    row = (asked.WINDOW.label, form.few(told.n), form.percent(found.missing), failed, expected, *share)
    return Grid("Failures after one operation", headings, (row,))


def _set_by(found: Failures) -> Iterator[tuple[str, str]]:
    yield "p0, the share of failures expected", form.percent(found.shares.expected)
    yield "p1, the share to be noticed", form.percent(found.shares.noticed)
    yield "a failure adds", form.signed(found.weights.failure, 3)
    yield "a success adds", form.signed(found.weights.success, 3)
    yield "limit h", f"{found.limit:g}"
    yield "cases on average until a signal by chance alone, if p0 is true", f"{found.by_chance:,.0f}"
    yield "cases on average until a signal, if p1 is true", f"{found.if_noticed:,.0f}"


def _first_drawn(found: Failures) -> int | None:
    """The place from which the sum is drawn: each of its steps tells an outcome, and so, by subtraction, those before.

    None where failures or successes would be 1 to 4 on either side.
    """
    n, all_failed = found.rate.n, found.rate.events
    for first in range(max(0, n - MOST_DRAWN), n):
        failed = sum(found.failed[first:])
        before = all_failed - failed
        if not any(map(small.is_few, (failed, n - first - failed, before, first - before))):
            return first
    return None


def _signals(found: Failures) -> tuple[str, str, str]:
    places = found.sums.reached
    if _first_drawn(found) is None:
        return "CUSUM above h", form.UNKNOWN, form.UNKNOWN
    return "CUSUM above h", str(len(places)), str(places[0] + 1) if places else form.UNKNOWN


def _runs(found: Failures) -> Iterator[Run]:
    first = _first_drawn(found)
    if first is not None:
        beyond = tuple(place - first for place in found.sums.reached if place >= first)
        title = "CUSUM of failures after one operation, consecutive cases"
        yield Run(title, "sum of weights", found.sums.series[first:], 0.0, None, found.limit, beyond)


def _remarks(found: Failures) -> Iterator[str]:
    first = _first_drawn(found)
    if first is None:
        yield f"Failures, or successes, are {FEW}: a step of the drawing would tell one, so it is left out with its signals."
    elif first:
        yield f"The sum is of all {found.rate.n:,} cases, drawn from point {first + 1:,} on."
    if found.shares == Shares():
        yield _USUAL
    yield LOSS
    yield "A signal asks for a look at those cases and says no more."
