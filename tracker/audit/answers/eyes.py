"""What became of the eye: reattachment, acuity, pressure, and oil in the eye, from follow-up visits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from tracker.audit import outcomes
from tracker.audit.answers.form import Answer, Audit, answer, column, share
from tracker.audit.answers.lengths import summary_of
from tracker.audit.outcomes import BANDS, HIGH, LAST, LOW, WINDOWS, Window
from tracker.audit.population import rows
from tracker.audit.statistics.acuity import AcuityChange, acuity_change
from tracker.audit.statistics.enough import FEWEST, too_few
from tracker.audit.statistics.rates import Rate, rate
from tracker.audit.statistics.summary import Summary
from tracker.audit.statistics.survival import Survival, kaplan_meier
from tracker.core.acuity import Convention

R = TypeVar("R")
_DUE: Final = (
    " Days count from the operation. Only cases whose window had closed by {until}, the last day that any log or"
    " follow-up tells, count; missing is the share of those without an entry in it."
)
_LAST_SAYS: Final = "Of the visits in a window the last that says it counts."


@dataclass(frozen=True, slots=True)
class Followed:
    """How many of the population have any visit after the operation, and how many such visits there are."""

    cases: int
    visits: int


@dataclass(frozen=True, slots=True)
class Attached:
    """The retina in one window: `n` cases told of; `missing` a share from 0 to 1, None of nothing.

    `once` is attached after one operation, `with_oil` those of them with oil in the eye, `attached` attached whatever
    was done, `partly` partly.
    """

    window: Window
    n: int
    missing: float | None
    once: Rate
    with_oil: Rate
    attached: Rate
    partly: Rate


@dataclass(frozen=True, slots=True)
class Reattachment:
    """The windows, with the last visit as the last of them, and how many were followed at all."""

    followed: Followed
    windows: tuple[Attached, ...]


@dataclass(frozen=True, slots=True)
class Acuities:
    """Change of acuity by window; `unreadable` is each entry that cannot be read, as written, with its number."""

    windows: tuple[tuple[Window, AcuityChange], ...]
    unreadable: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Pressed:
    """The pressure in one window, in mmHg: how many were at or below `LOW`, how many above `HIGH`."""

    window: Window
    summary: Summary
    low: Rate
    high: Rate


@dataclass(frozen=True, slots=True)
class Pressures:
    """The windows, and how many eyes were low, or high, at two visits in a row."""

    windows: tuple[Pressed, ...]
    twice_low: Rate
    twice_high: Rate


@dataclass(frozen=True, slots=True)
class Oil:
    """The curve of oil in the eye, in days, and how many cases with oil no visit says anything of it."""

    curve: Survival
    untold: int


def reattachment(audit: Audit) -> Answer[Reattachment]:
    """How often the retina is attached after one operation, and after any."""
    (found,) = rows(outcomes.followed(audit.asked))
    told = _each(audit, (*WINDOWS, LAST), outcomes.reattachment, _attached)
    definition = f"""
        {_names((*WINDOWS, LAST))}. {_LAST_SAYS} Attached after one operation: the whole retina, and no
        further operation for a detachment told by then, with oil in the eye or without. Attached after any: whatever was
        done. Partly attached counts as neither; not seen counts as missing. Wilson's 95 % interval.{_due(audit)}
    """
    asks = "How often is the retina attached after one operation?"
    return _answer(audit, "reattachment", asks, definition, Reattachment(Followed(**found), told), told)


def _attached(window: Window, row: Mapping[str, Any]) -> Attached:
    n = row["n"]
    once, with_oil, attached, partly = (rate(row[k], n) for k in ("once", "with_oil", "attached", "partly"))
    return Attached(window, n, share(row["missing"], n + row["missing"]), once, with_oil, attached, partly)


def acuity(audit: Audit) -> Answer[Acuities]:
    """How acuity changes from before the operation."""
    found = rows(outcomes.acuities(audit.asked, WINDOWS, audit.until)) if audit.until else []
    told = tuple((w, _changed(found, n, audit.convention)) for n, w in enumerate(WINDOWS)) if found else ()
    odd = sorted(rows(outcomes.unreadable(audit.asked)), key=lambda r: (-r["n"], r["acuity"]))
    result = Acuities(told, tuple((row["acuity"], row["n"]) for row in odd))
    definition = f"""
        logMAR in the window less logMAR before, below 0 is better. Before: the last readable entry up to the day of the
        operation. {_names(WINDOWS)}. {_LAST_SAYS} A gain or a loss is 0.3 logMAR, three lines. Quantiles are of type 7
        (Hyndman and Fan 1996). Missing is also who has no readable entry before.{_due(audit)}
    """
    asks = "How does acuity change from before the operation?"
    return _answer(audit, "acuity", asks, definition, result, [change for _, change in told])


def _changed(found: Sequence[Mapping[str, Any]], place: int, convention: Convention) -> AcuityChange:
    due = [row for row in found if row[f"due_{place}"]]
    before, after, counts = ([row[key] for row in due] for key in ("before", f"after_{place}", "n"))
    return acuity_change(before, after, convention, counts=counts)


def pressure(audit: Audit) -> Answer[Pressures]:
    """How the pressure of the eye is after the operation."""
    told = _each(audit, BANDS, outcomes.pressures, _pressed)
    (row,) = rows(outcomes.twice(audit.asked))
    result = Pressures(told, *(rate(row[key], row["n"]) for key in ("low", "high")))
    definition = f"""
        Intra-ocular pressure in mmHg. {_names(BANDS)}. {_LAST_SAYS} Low is {LOW:g} mmHg or less, high is over {HIGH:g}
        mmHg, told of eyes in which it was so on two days in a row on which it was measured (Silicone Study Report 4,
        Ophthalmology 1993;100:1629). Quantiles are of type 7 (Hyndman and Fan 1996).{_due(audit)}
    """
    asks = "How is the pressure of the eye after the operation?"
    return _answer(audit, "pressure", asks, definition, result, [each.summary for each in told])


def _pressed(window: Window, row: Mapping[str, Any]) -> Pressed:
    low, high = (rate(row[key], row["n"]) for key in ("low", "high"))
    return Pressed(window, summary_of({**row, "late": 0}), low, high)


def oil(audit: Audit) -> Answer[Oil]:
    """How long oil stays in the eye."""
    asked = outcomes.oil_times(audit.asked).to_pyarrow()
    told = [
        (float(days), out) for days, out in zip(column(asked, "days"), column(asked, "out"), strict=True)
        if days is not None
    ]  # fmt: skip
    curve = kaplan_meier([days for days, _ in told], [out for _, out in told])
    definition = """
        Days from the operation until oil was taken out, of eyes whose tamponade was oil or in which a visit found it: the
        day that was told, else that of the first visit without oil. An eye with oil still in is followed to the last
        visit that found it there. Kaplan-Meier, 95 % interval by Greenwood's variance on the log-log scale. It takes eyes
        that were lost to be like those that were not.
    """
    asks = "How long does oil stay in the eye?"
    return answer(audit, "oil", asks, definition, Oil(curve, asked.num_rows - len(told)), curve.refused)


# -- what they share


def _each(
    audit: Audit, windows: Sequence[Window], ask: Callable[..., Any], told: Callable[[Window, Any], R]
) -> tuple[R, ...]:
    """What each window comes to; nothing without cases."""
    if audit.until is None:
        return ()
    (row,) = rows(ask(audit.asked, windows, audit.until))
    return tuple(told(window, _of_place(row, place)) for place, window in enumerate(windows))


def _of_place(row: Mapping[str, Any], place: int) -> dict[str, Any]:
    """The columns of one window, by their names without its place."""
    end = f"_{place}"
    return {name.removesuffix(end): value for name, value in row.items() if name.endswith(end)}


def _names(windows: Sequence[Window]) -> str:
    return "; ".join(f"{window.label}: {window.name}" for window in windows)


def _due(audit: Audit) -> str:
    return _DUE.format(until=audit.until.isoformat() if audit.until else "then")


def _answer(audit: Audit, key: str, asks: str, definition: str, result: R, told: Sequence[Any]) -> Answer[R]:
    """An answer that is refused where no window holds enough."""
    most = max((each.n for each in told), default=0)
    return answer(
        audit, key, asks, definition, result, too_few(most, FEWEST, "cases with a visit that tells it")
    )
