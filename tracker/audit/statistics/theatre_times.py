"""The list's own times: the first start, the gaps between cases, the use of the session, the booking.

T1 to T4 and what is made of them are F1000Research 2014;3:197, table 4: anaesthetic (T2 - T1) + (T4 - T3),
procedure T3 - T2, changeover T1 of the next case - T4. T1 is the start of the anaesthetic or block, T2
the first of buckle or ports, T3 the end of drugs, pad and shield, T4 the patient out of theatre. All
times are minutes after the planned start of the session, so an early start is below 0.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise, repeat, zip_longest
from typing import Final

import numpy as np

from tracker.audit.statistics.enough import FEWEST, too_few
from tracker.audit.statistics.summary import Summary, summarise

LONGEST_GAP: Final = 60.0
"""A longer gap is a break: counted, and kept out of the turnover."""


@dataclass(frozen=True, slots=True)
class CaseTimes:
    """When one case came and went; None is a time that was not logged."""

    patient_in: float | None = None
    t1: float | None = None
    t2: float | None = None
    t3: float | None = None
    t4: float | None = None

    @property
    def anaesthetic(self) -> float | None:
        """Give (T2 - T1) + (T4 - T3) in minutes."""
        before, after = _between(self.t1, self.t2), _between(self.t3, self.t4)
        return None if before is None or after is None else before + after

    @property
    def procedure(self) -> float | None:
        """Give T3 - T2 in minutes."""
        return _between(self.t2, self.t3)

    @property
    def in_theatre(self) -> float | None:
        """Give patient in to patient out in minutes."""
        return _between(self.patient_in, self.t4)


@dataclass(frozen=True, slots=True)
class Session:
    """One theatre's booked block of `length` minutes from time 0, its cases in the order they were done.

    `late` of these began or ended by a late entry.
    """

    length: float
    cases: tuple[CaseTimes, ...]
    late: int = 0

    @property
    def gaps(self) -> tuple[float | None, ...]:
        """Give the minutes from each patient out (T4) to the next patient in."""
        return tuple(_between(one.t4, following.patient_in) for one, following in pairwise(self.cases))


@dataclass(frozen=True, slots=True)
class FirstStarts:
    """Delay of first cases in minutes (below 0 is early): shares more than 15, and 30 or more, late."""

    n: int
    refused: str
    delay: Summary
    over_15: float | None = None
    at_least_30: float | None = None


@dataclass(frozen=True, slots=True)
class Turnovers:
    """Gaps between cases of one session. Not in the summary, but counted: `breaks` longer than 60 min,
    `overlaps` where the next came first, and gaps with a time missing (the summary's `missing`).
    """  # noqa: D205

    n: int
    breaks: int
    overlaps: int
    refused: str
    gaps: Summary


@dataclass(frozen=True, slots=True)
class SessionUse:
    """How n sessions were used, all their minutes together; shares of booked minutes, 1 is all of them.

    `uncapped` counts all time with a patient in theatre, `capped` only that within the booked block,
    `adjusted` adds the turnovers of 60 min or less to the uncapped. A share says little alone: it turns
    on stated start times, and an overrunning list looks better. So overrun and early finish stand
    beside it. `incomplete` sessions lacked a time and are left out. Of the `cases` of the n sessions
    `late` began or ended by a late entry.
    """

    n: int
    incomplete: int
    refused: str
    cases: int = 0
    late: int = 0
    uncapped: float | None = None
    capped: float | None = None
    adjusted: float | None = None
    overrun_minutes: float | None = None
    overrun_sessions: int | None = None
    early_minutes: float | None = None
    early_sessions: int | None = None


@dataclass(frozen=True, slots=True)
class Booking:
    """Planned minus actual minutes: the median is the bias, below 0 where too little was booked.

    `within_15` is the share of cases within 15 minutes of the plan, `within_tenth` within 10% of it; `late` of
    the n began or ended by a late entry.
    """

    n: int
    missing: int
    late: int
    refused: str
    bias: float | None = None
    within_15: float | None = None
    within_tenth: float | None = None


def first_starts(
    delays: Sequence[float | None], late: Iterable[bool] = (), *, fewest: int = FEWEST
) -> FirstStarts:
    """Summarise actual minus planned start of first cases, in minutes, and say which are `late` entries.

    Refuses below `fewest`.
    """
    delay = summarise(delays, late, fewest=fewest)
    if delay.refused:
        return FirstStarts(delay.n, delay.refused, delay)
    known = [value for value in delays if value is not None]
    over_15 = sum(value > 15 for value in known) / delay.n
    return FirstStarts(delay.n, "", delay, over_15, sum(value >= 30 for value in known) / delay.n)


def turnovers(found: Sequence[float | None], late: Sequence[bool] = (), *, fewest: int = FEWEST) -> Turnovers:
    """Summarise the gaps between cases that followed each other in a session, in minutes; `late` as of lengths."""
    breaks = sum(gap is not None and gap > LONGEST_GAP for gap in found)
    overlaps = sum(gap is not None and gap < 0 for gap in found)
    kept = [
        (gap, late) for gap, late in zip_longest(found, late, fillvalue=False)
        if gap is None or 0 <= gap <= LONGEST_GAP
    ]  # fmt: skip
    gaps = summarise([gap for gap, _ in kept], [late for _, late in kept], fewest=fewest)
    return Turnovers(gaps.n, breaks, overlaps, gaps.refused, gaps)


def session_use(sessions: Iterable[Session], *, fewest: int = FEWEST) -> SessionUse:
    """Give the use of booked sessions; refuses below `fewest` complete ones.

    Raises ValueError if a session has no length.
    """
    used = [_use(session) for session in sessions]
    rows = [row for row in used if row is not None]
    n, incomplete = len(rows), len(used) - len(rows)
    if refused := too_few(n, fewest, "complete sessions"):
        return SessionUse(n, incomplete, refused)
    booked, inside, capped, gaps, over, early, cases, late = np.array(rows).sum(axis=0).tolist()
    return SessionUse(
        n, incomplete, "", int(cases), int(late), inside / booked, capped / booked, (inside + gaps) / booked,
        over, sum(row[4] > 0 for row in rows), early, sum(row[5] > 0 for row in rows),
    )  # fmt: skip


def booking(
    planned: Sequence[float | None],
    actual: Sequence[float | None],
    late: Iterable[bool] | None = None,
    *,
    fewest: int = FEWEST,
) -> Booking:
    """Compare planned with actual minutes, case by case; refuses below `fewest`. `late` as of lengths.

    Raises ValueError if these differ in length.
    """
    told = repeat(False, len(planned)) if late is None else late
    rows = [row for row in zip(planned, actual, told, strict=True) if None not in row]
    n, missing, late_n = len(rows), len(planned) - len(rows), sum(row[2] for row in rows)
    if refused := too_few(n, fewest):
        return Booking(n, missing, late_n, refused)
    p, a, _ = np.array(rows, dtype=float).T
    off = np.abs(p - a)
    shares = (float((off <= 15).mean()), float((off <= p / 10).mean()))
    return Booking(n, missing, late_n, "", float(np.median(p - a)), *shares)


def _between(start: float | None, end: float | None) -> float | None:
    return None if start is None or end is None else end - start


def _covered(spans: Sequence[tuple[float, float]]) -> float:
    """Measure the union, so that two cases that overlap on a wrong clock are not counted twice."""
    covered, reached = 0.0, float("-inf")
    for into, out in sorted(spans):
        covered += max(0.0, out - max(into, reached))
        reached = max(reached, out)
    return covered


def _use(session: Session) -> tuple[float, ...] | None:
    if session.length <= 0:
        raise ValueError("a session needs a length above 0")
    spans = [
        (case.patient_in, case.t4)
        for case in session.cases
        if case.patient_in is not None and case.t4 is not None
    ]
    if not spans or len(spans) < len(session.cases):
        return None
    inside = _covered(spans)
    capped = _covered([(max(0.0, into), min(out, session.length)) for into, out in spans])
    gaps = sum(gap for gap in session.gaps if gap is not None and 0 <= gap <= LONGEST_GAP)
    left = session.length - max(out for _, out in spans)
    return (
        session.length, inside, capped, gaps, max(0.0, -left), max(0.0, left), len(spans), session.late,
    )  # fmt: skip
