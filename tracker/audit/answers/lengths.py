"""How long things take: stages, steps, whole cases; by case facts; what goes with long cases."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from tracker.audit import questions
from tracker.audit.answers.form import Answer, Audit, answer, column
from tracker.audit.population import rows
from tracker.audit.statistics.drivers import (
    NOTHING_VARIES,
    Effects,
    StageShares,
    indicators,
    percent_effects,
    stage_shares,
)
from tracker.audit.statistics.enough import FEWEST, SEED, too_few
from tracker.audit.statistics.summary import (
    FEWEST_TO_COMPARE,
    RESAMPLES,
    MedianDifference,
    Summary,
    median_difference,
)

Of = Literal["stage", "step", "case"]

MOST_TO_RESAMPLE: Final = 20_000
"""In larger groups a resampled interval takes seconds and is narrower than any key can be pressed."""

MOST_TO_MODEL: Final = 20_000
"""The latest so many cases are modelled; more add nothing but time."""

_LENGTHS: Final[Mapping[Of, Any]] = {
    "stage": questions.stage_lengths, "step": questions.step_lengths, "case": questions.case_lengths,
}  # fmt: skip
_COLUMN: Final[Mapping[Of, str]] = {"stage": "stage", "step": "step", "case": "whole"}
_DEFINED: Final[Mapping[Of, str]] = {
    "stage": """Minutes from the first start to the last stop of the spans of a stage, pauses taken out;
        missing where the case asked for such a span and none was logged, or one has no stop.""",
    "step": """Minutes of all spans of a step in a case, pauses taken out; missing where the case asked for
        the step and no span was logged, or one has no stop.""",
    "case": """Minutes from the step that starts the case to its end, pauses included; missing where one of
        the two was not logged.""",
}
_QUANTILES: Final = " Quantiles are of type 7 (Hyndman and Fan 1996)."


@dataclass(frozen=True, slots=True)
class LengthRow:
    """The usual length of a stage, a step or the case, in one stratum if the cases are parted."""

    ident: str
    label: str
    summary: Summary
    stratum: str = ""


@dataclass(frozen=True, slots=True)
class Compared:
    """One stratum against the largest: difference of medians in minutes; None for the largest itself."""

    stratum: str
    summary: Summary
    difference: MedianDifference | None


def lengths(audit: Audit, of: Of, by: str | None = None) -> Answer[tuple[LengthRow, ...]]:
    """How long each stage, each step or the case takes, in the order of the file, parted `by` a case fact."""
    found = {(r[_COLUMN[of]], r.get("stratum", "")): r for r in rows(_LENGTHS[of](audit.asked, by))}
    known = _idents(audit, of)
    strata = sorted({stratum for _, stratum in found}) or [""]
    idents = [*known, *sorted({ident for ident, _ in found} - set(known))]
    told = [
        _row(audit, ident, stratum, found.get((ident, stratum))) for ident in idents for stratum in strata
    ]
    what = "a whole case" if of == "case" else f"each {of}"
    asks = f"How long does {what} take{f', by {by}' if by else ''}?"
    return answer(audit, f"{of}_lengths", asks, _DEFINED[of] + _QUANTILES, tuple(told))


def _idents(audit: Audit, of: Of) -> list[str]:
    protocol = audit.protocol
    if of == "case" or protocol is None:
        return ["case"] if of == "case" else []
    if of == "step":
        return [s.id for s in protocol.all_steps() if s.shape == "span"]
    return [g.id for g in protocol.stages if any(s.shape == "span" for s in g.steps)]


def _row(audit: Audit, ident: str, stratum: str, found: Mapping[str, Any] | None) -> LengthRow:
    label = "whole case" if ident == "case" else audit.label(ident)
    return LengthRow(ident, label, summary_of(found), stratum)


def summary_of(found: Mapping[str, Any] | None, fewest: int = FEWEST) -> Summary:
    """The summary that a row of lengths gives; nothing but its n below `fewest`."""
    if found is None:
        return Summary(0, 0, 0, too_few(0, fewest))
    n, missing, late = found["n"], found["missing"], found["late"]
    if refused := too_few(n, fewest):
        return Summary(n, missing, late, refused)
    p10, p25, median, p75, p90 = found["cuts"]
    return Summary(n, missing, late, "", median, p25, p75, p10, p90)


def compared(
    audit: Audit, by: str, of: Of = "case", ident: str = "", *, seed: int = SEED
) -> Answer[tuple[Compared, ...]]:
    """How the length of a stage, a step or the case differs between the strata of a case fact."""
    asked = questions.lengths_by(audit.asked, of, ident, by).to_pyarrow()
    groups: dict[str, list[float]] = {}
    for stratum, minutes in zip(column(asked, "stratum"), column(asked, "minutes"), strict=True):
        if minutes is not None:
            groups.setdefault(stratum, []).append(minutes)
    found = {
        r["stratum"]: r for r in rows(_LENGTHS[of](audit.asked, by)) if not ident or r[_COLUMN[of]] == ident
    }
    order = sorted(found, key=lambda s: (-found[s]["n"], s))
    told = [
        Compared(s, summary_of(found[s]), _difference(groups, s, order[0], seed) if n else None)
        for n, s in enumerate(order)
    ]
    what = f"the {of} {audit.label(ident)}" if ident else "the whole case"
    definition = f"""
        {_DEFINED[of]} Median of each group less that of the largest, with a 95 % interval from
        {RESAMPLES} resamples (seed {seed}), from {FEWEST_TO_COMPARE} cases in either group on; an association, not a
        cause.{_QUANTILES}
    """
    refused = "" if order else f"no case has {by}"
    return answer(audit, "compared", f"Does {what} differ by {by}?", definition, tuple(told), refused)


def _difference(
    groups: Mapping[str, Sequence[float]], stratum: str, largest: str, seed: int
) -> MedianDifference:
    first, second = groups.get(stratum, ()), groups.get(largest, ())
    if max(len(first), len(second)) > MOST_TO_RESAMPLE:
        first, second = (), ()
    told = median_difference(first, second, seed=seed)
    if len(first) == len(groups.get(stratum, ())):
        return told
    n = len(groups.get(stratum, ())), len(groups.get(largest, ()))
    why = f"no interval for groups of more than {MOST_TO_RESAMPLE} cases; see the medians"
    return replace(told, n_first=n[0], n_second=n[1], refused=why)


# -- what goes with long cases


@dataclass(frozen=True, slots=True)
class Drivers:
    """The effects, and the terms that do not vary among these cases."""

    effects: Effects
    left_out: tuple[str, ...]


def drivers(audit: Audit, *, stage: str | None = None, step: str | None = None) -> Answer[Drivers]:
    """What goes with a longer case, stage or step: a linear model of ln minutes on the case mix."""
    mix = questions.case_mix(audit.asked, MOST_TO_MODEL).to_pyarrow()
    modelled = audit.asked.of(questions.latest(audit.asked.cases, MOST_TO_MODEL))
    asked = questions.minutes_of(modelled, stage, step).to_pyarrow()
    of_case = dict(zip(column(asked, "code"), column(asked, "minutes"), strict=True))
    minutes = [of_case[code] for code in column(mix, "code")]
    terms = _terms(mix)
    varying = {name: values for name, values in terms.items() if len(set(values) - {None}) > 1}
    left_out = tuple(name for name in terms if name not in varying)
    effects = percent_effects(minutes, varying) if varying else Effects(0, mix.num_rows, NOTHING_VARIES)
    what = what_is_timed(audit, stage, step)
    definition = f"""
        Per cent by which the minutes of {what} differ with each term, the others held: least squares on ln
        minutes with a 95 % interval; associations among the cases done here, not causes. No cut is 0 clock
        hours; a cut whose extent nobody entered leaves its case out.
    """
    result = Drivers(effects, left_out)
    asks = f"What goes with more time for {what}?" if stage or step else "What goes with a longer case?"
    return answer(audit, "drivers", asks, definition, result, effects.refused)


def what_is_timed(audit: Audit, stage: str | None, step: str | None) -> str:
    """A stage or a step by its label, or the whole case, in words."""
    ident = stage or step
    return audit.label(ident) if ident else "the whole case"


def _terms(mix: Any) -> dict[str, Sequence[float | None]]:
    flags = {
        "grade C": "pvr_c",
        "general anaesthetic": "general",
        "lens removed": "lens_removed",
        "buckle": "buckle",
    }
    terms: dict[str, Sequence[float | None]] = {name: _numbers(column(mix, c)) for name, c in flags.items()}
    terms["operation before"] = _numbers(column(mix, "previous_operations"))
    terms["clock hour cut"] = [*map(_hours_cut, column(mix, "retinectomy"), column(mix, "cut_hours"))]
    terms["oil left in"] = [
        None if t is None else float(t.startswith("oil")) for t in column(mix, "tamponade")
    ]
    operators = column(mix, "operator")
    if known := [o for o in operators if o is not None]:
        terms |= indicators("operator", operators, max(sorted(set(known)), key=known.count))
    return terms


def _hours_cut(retinectomy: str | None, hours: float | None) -> float | None:
    """Clock hours cut; 0 where no cut was decided on, None where one was and nobody entered its extent."""
    return 0.0 if hours is None and retinectomy in (None, "none") else hours


def _numbers(values: Iterable[Any]) -> list[float | None]:
    return [None if value is None else float(value) for value in values]


def variance(audit: Audit) -> Answer[StageShares]:
    """In which stage the difference between cases lies."""
    asked = questions.stage_minutes(audit.asked, MOST_TO_MODEL).to_pyarrow()
    stages = [s for s in _idents(audit, "stage") if s in set(column(asked, "stage"))]
    result = stage_shares(*_by_stage(asked, stages))
    definition = """
        Covariance of the minutes of each stage with those of the case over the variance of the case;
        the shares sum to 1 with a last one for overlap and what no stage holds. A stage that a case did
        not ask for is 0 minutes; a case with a stage without times is left out.
    """
    asks = "In which stage does the difference between cases lie?"
    return answer(audit, "variance", asks, definition, result, result.refused)


def _by_stage(asked: Any, stages: Sequence[str]) -> tuple[dict[str, list[float | None]], list[float | None]]:
    """Minutes by stage, 0 where a case did not ask for it, and those of the case."""
    held: dict[str, dict[str, float | None]] = {}
    totals: dict[str, float | None] = {}
    names = ("code", "stage", "minutes", "total")
    for code, stage, minutes, total in zip(*(column(asked, name) for name in names), strict=True):
        held.setdefault(code, {})[stage] = minutes
        totals[code] = total
    columns = {stage: [its.get(stage, 0.0) for its in held.values()] for stage in stages}
    return columns, list(totals.values())
