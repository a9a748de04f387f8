"""How things go from case to case: a change, a fellow who learns, events that are rare."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from tracker.audit import questions
from tracker.audit.answers.form import Answer, Audit, answer, column
from tracker.audit.answers.lengths import MOST_TO_MODEL, what_is_timed
from tracker.audit.population import Exclusion, Population, rows
from tracker.audit.statistics.charts import D2, Individuals, individuals
from tracker.audit.statistics.cusum import Ewma, TabularCusum, ewma, tabular_cusum
from tracker.audit.statistics.enough import too_few
from tracker.audit.statistics.learning import Learning, learning_slope
from tracker.audit.statistics.rates import FEWEST_GAPS, Gaps, Rate, cases_between, rate
from tracker.core.wording import CODE_WORDS

MOST_CHARTED: Final = 500
BASELINE: Final = 50
"""Cases that set target and spread of the charts that add up (common practice, no source)."""
FEWEST_AFTER: Final = 20
SLACK: Final = 0.5
LIMIT: Final = 5.0
"""The usual slack and limit of a CUSUM that is to see a change of one spread, in spreads; by chance alone one
case in some 470 passes such a limit (Siegmund's approximation, from memory; simulated in the tests)."""
WEIGHT: Final = 0.3


@dataclass(frozen=True, slots=True)
class Course:
    """A chart of consecutive cases, and the code of each charted point in order."""

    chart: Individuals
    codes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shift:
    """Charts that add up, on ln minutes: target and spread of the first cases, and the code of each case."""

    target: float
    spread: float
    sums: TabularCusum
    means: Ewma
    codes: tuple[str, ...]


NO_SHIFT: Final = Shift(0.0, 0.0, tabular_cusum((), 0.0, 0.0, 0.0), ewma((), 0.0, 0.0), ())


@dataclass(frozen=True, slots=True)
class Rare:
    """How often something happened, and how many cases lay between."""

    rate: Rate
    gaps: Gaps


def course(
    audit: Audit, *, stage: str | None = None, step: str | None = None, baseline: int | None = None
) -> Answer[Course]:
    """Whether the length of a stage, a step or the case changed: an individuals chart of the latest cases.

    `baseline` is how many of the first charted cases set the limits, all unless told.
    """
    asked = questions.latest_minutes(audit.asked, MOST_CHARTED, stage, step).to_pyarrow()
    chart = individuals(column(asked, "minutes"), baseline=baseline)
    definition = f"""
        Natural log of the minutes of {what_is_timed(audit, stage, step)}, consecutive cases, at most
        {MOST_CHARTED}; centre is the mean of the baseline, limits are 3 mean moving ranges / 1.128
        either side, and 3.267 mean moving ranges for the range from one case to the next. Signals: a point
        or a range outside, a run longer than round(log2 n + 3), fewer crossings than the 5th percentile of
        chance (Anhoej 2014).
    """
    result = Course(chart, tuple(column(asked, "code")))
    asks = f"Did the length of {what_is_timed(audit, stage, step)} change?"
    return answer(audit, "course", asks, definition, result, chart.refused)


def shift(audit: Audit, *, stage: str | None = None, step: str | None = None) -> Answer[Shift]:
    """Whether the length of a stage, a step or the case changed a little and lastingly: CUSUM and EWMA."""
    asked = questions.latest_minutes(audit.asked, MOST_CHARTED, stage, step).to_pyarrow()
    chart = individuals(column(asked, "minutes"), baseline=BASELINE)
    refused = too_few(chart.n, BASELINE + FEWEST_AFTER, "cases with a length")
    result = NO_SHIFT if refused else _shift(chart, tuple(column(asked, "code")))
    what = what_is_timed(audit, stage, step)
    definition = f"""
        Natural log of the minutes of {what}, consecutive cases, at most {MOST_CHARTED}. The first {BASELINE}
        set the target, their mean, and the spread, their mean moving range / 1.128. CUSUM: what lies beyond
        the target by more than {SLACK:g} spreads is added up on either side, never below 0, and signals
        above {LIMIT:g} spreads. EWMA: each case weighs {WEIGHT:g} against the mean so far; limits are 3 of
        its own spreads (NIST/SEMATECH e-Handbook 6.3.2.3 and 6.3.2.4). Both see a small lasting change
        sooner than single points do.
    """
    return answer(audit, "shift", f"Did the length of {what} shift a little?", definition, result, refused)


def _shift(chart: Individuals, codes: tuple[str, ...]) -> Shift:
    target, spread = chart.centre or 0.0, (chart.mean_range or 0.0) / D2
    sums = tabular_cusum(chart.values, target, SLACK * spread, LIMIT * spread)
    return Shift(target, spread, sums, ewma(chart.values, target, spread, weight=WEIGHT), codes)


def learning(
    audit: Audit, operator: str, *, stage: str | None = None, step: str | None = None
) -> Answer[Learning]:
    """Whether an operator (by role) grows quicker, general anaesthetic and grade C held."""
    mix = questions.case_mix(audit.asked, MOST_TO_MODEL).to_pyarrow()
    wanted = {c for c, o in zip(column(mix, "code"), column(mix, "operator"), strict=True) if o == operator}
    facts = {row["code"]: row for row in mix.select(["code", "general", "pvr_c"]).to_pylist()}
    asked = questions.minutes_of(audit.asked, stage, step).to_pyarrow()
    its = [
        (c, m) for c, m in zip(column(asked, "code"), column(asked, "minutes"), strict=True) if c in wanted
    ]
    terms = {name: _flags(facts, [c for c, _ in its], name) for name in ("general", "pvr_c")}
    varying = {name: values for name, values in terms.items() if len(set(values) - {None}) > 1}
    numbers = [float(n) for n in range(1, len(its) + 1)]
    result = learning_slope([minutes for _, minutes in its], numbers, varying)
    definition = f"""
        Slope of ln minutes of {what_is_timed(audit, stage, step)} on ln case number among the cases that the
        role {audit.label(operator)} began, general anaesthetic and grade C held; several people of one
        role count as one. It describes, and does not say why.
    """
    asks = f"Do cases begun by the role {audit.label(operator)} grow quicker?"
    return answer(audit, "learning", asks, definition, result, result.refused, _begun_by(audit, operator))


def _begun_by(audit: Audit, operator: str) -> Population:
    cases = audit.asked.cases
    its = audit.asked.of(cases.filter(cases.operator == operator))
    (row,) = rows(its.cases.aggregate(n=its.cases.count()))
    others = audit.trust.n - row["n"]
    out = (Exclusion(f"not begun by the role {audit.label(operator)}", others),) if others else ()
    left_out = (*audit.population.exclusions, *out)
    return replace(audit.population, tables=its, n=row["n"], exclusions=left_out)


def _flags(facts: Any, codes: Sequence[str], name: str) -> list[float | None]:
    return [None if facts[code][name] is None else float(facts[code][name]) for code in codes]


_ONE: Final = {"complication": "a complication", "count_discrepancy": "a count that differs"}


def rare(audit: Audit, deviation: str, about: str | None = None) -> Answer[Rare]:
    """How often a deviation happens, as of a complication or a count, and how many cases lie between."""
    asked = questions.deviation_cases(audit.asked, deviation, about).to_pyarrow()
    happened = [bool(value) for value in column(asked, "happened")]
    result = Rare(rate(sum(happened), len(happened)), cases_between(happened))
    what = audit.label(about) if about else _ONE.get(deviation, f"a deviation: {CODE_WORDS[deviation]}")
    definition = f"""
        Cases with {what}, of all cases, Wilson's 95 % interval; cases without it between one and the
        next, in the order they were done, and their mean from {FEWEST_GAPS} such gaps on.
    """
    return answer(audit, "rare", f"How often is there {what}?", definition, result, result.rate.refused)
