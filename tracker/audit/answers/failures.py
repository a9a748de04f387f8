"""Whether failures after one operation became more frequent: a sum over consecutive cases."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from tracker.audit import outcomes
from tracker.audit.answers.form import Answer, Audit, answer, column, share
from tracker.audit.outcomes import WINDOWS, Shares
from tracker.audit.statistics.cusum import (
    LEAST_RUN,
    OutcomeCusum,
    Weights,
    average_run,
    limit_of,
    limit_step,
    outcome_cusum,
    weights,
)
from tracker.audit.statistics.enough import FEWEST, too_few
from tracker.audit.statistics.rates import Rate, rate

WINDOW: Final = WINDOWS[0]


@dataclass(frozen=True, slots=True)
class Failures:
    """Outcomes of consecutive cases: how many failed of those told, the share untold, and their sum with its limit.

    `by_chance` and `if_noticed` are the cases on average until the sum is beyond the limit, where the share expected,
    or the share to be noticed, is true.
    """

    failed: tuple[bool, ...]
    rate: Rate
    missing: float | None
    shares: Shares
    weights: Weights
    limit: float
    by_chance: float
    if_noticed: float
    sums: OutcomeCusum


def failures(audit: Audit) -> Answer[Failures]:
    """Whether failures after one operation became more frequent than expected."""
    told = column(outcomes.failures(audit.asked, audit.until).to_pyarrow(), "failed") if audit.until else ()
    result = _summed(audit.failures, tuple(failed for failed in told if failed is not None), len(told))
    refused = too_few(result.rate.n, FEWEST, "cases with a visit that tells it")
    asks = "Did failures after one operation become more frequent?"
    return answer(audit, "failures", asks, _definition(audit, result), result, refused)


def _summed(shares: Shares, failed: tuple[bool, ...], due: int) -> Failures:
    its = weights(shares.expected, shares.noticed)
    limit = limit_of(its, shares.expected)
    by_chance, if_noticed = (average_run(its, limit, one) for one in (shares.expected, shares.noticed))
    missing = share(due - len(failed), due)
    told = rate(sum(failed), len(failed))
    sums = outcome_cusum(failed, its, limit)
    return Failures(failed, told, missing, shares, its, limit, by_chance, if_noticed, sums)


def _definition(audit: Audit, found: Failures) -> str:
    until = audit.until.isoformat() if audit.until else "then"
    return f"""
        Consecutive cases in order of operation, from {FEWEST} on. A case counts once its {WINDOW.label} ({WINDOW.name}
        after the operation) had closed by {until}, the last day that any log or follow-up tells, and a visit in them
        tells of the retina; missing is the share of those without. Of the visits the last that says it counts. Success:
        the whole retina attached, with oil in the eye or without, and no further operation for a detachment told by
        then; all else that is told is a failure. A failure adds ln(p1/p0), a success ln((1-p1)/(1-p0)), the sum is never
        below 0 (Steiner, Cook, Farewell and Treasure, Biostatistics 2000;1:441, here without the risk of each case), and
        signals above h. p0 is the share of failures expected, p1 the share to be noticed. h is the smallest multiple of
        {limit_step(found.weights):g} at which the sum takes {LEAST_RUN} cases or more on average until chance alone has
        it above h if p0 is true: here h is {found.limit:g}, and the average {found.by_chance:,.0f} cases (Page, Biometrika
        1954;41:100).
    """
