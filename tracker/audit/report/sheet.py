"""One question as it is read: its definition, its n, tables of words, and a drawing that says the same.

Everything that is told apart by a number of cases below five is kept back here, once, for every format.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from tracker.audit.answers.form import Answer
from tracker.audit.statistics.enough import FEWEST
from tracker.audit.statistics.rates import Rate
from tracker.audit.statistics.summary import Summary

FEW: Final = f"<{FEWEST}"
"""What stands for a number from 1 to 4."""

SMALL_CELLS: Final = (
    f"Small cells: any number of cases or events from 1 to {FEWEST - 1} is written {FEW}, and nothing is"
    " given of such a group; shares of entries, and what the population leaves out, are given in full."
)
UNKNOWN: Final = "-"
_TOO_FEW: Final = re.compile(rf"(?<=too few: )[1-{FEWEST - 1}](?= )")


@dataclass(frozen=True, slots=True)
class Grid:
    """A table of words: the first `words` columns are text, the others figures."""

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: int = 1


@dataclass(frozen=True, slots=True)
class Box:
    """Five quantiles of a group of n: p10, p25, median, p75, p90."""

    label: str
    n: int
    p10: float
    p25: float
    median: float
    p75: float
    p90: float


@dataclass(frozen=True, slots=True)
class Bar:
    """A figure, the interval about it if it has one, and what stands beside it."""

    label: str
    value: float
    said: str
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Boxes:
    """Boxes along one axis."""

    title: str
    unit: str
    rows: tuple[Box, ...]


@dataclass(frozen=True, slots=True)
class Bars:
    """Bars along one axis, from nought."""

    title: str
    unit: str
    rows: tuple[Bar, ...]


@dataclass(frozen=True, slots=True)
class Run:
    """Consecutive cases with a centre and limits; `outside` are the places of points beyond them, from 0."""

    title: str
    unit: str
    values: tuple[float, ...]
    centre: float
    low: float
    high: float
    outside: tuple[int, ...]


Drawing = Boxes | Bars | Run


@dataclass(frozen=True, slots=True)
class Sheet:
    """One question with what it comes to; `refused` says what is wanting where there is no figure."""

    key: str
    asks: str
    definition: str
    n: int
    missing: float | None
    late: float | None
    refused: str
    grids: tuple[Grid, ...] = ()
    drawings: tuple[Drawing, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def trust(self) -> str:
        """The n of the population, and how far its logs can be trusted."""
        missing, late = (self.missing, self.late) if self.n >= FEWEST else (None, None)
        return (
            f"n {few(self.n)} cases; spans without both ends {percent(missing)};"
            f" entries more than 60 s late {percent(late)}"
        )


def sheet(
    answered: Answer[Any],
    grids: Iterable[Grid] = (),
    drawings: Iterable[Drawing] = (),
    remarks: Iterable[str] = (),
    *,
    key: str = "",
    asks: str = "",
) -> Sheet:
    """An answer as a sheet; where it is refused, its tables and drawings are left away."""
    a, kept = answered, not answered.refused
    return Sheet(
        key or a.key, asks or a.asks, a.definition, a.n, a.missing, a.late, _TOO_FEW.sub(FEW, a.refused),
        tuple(g for g in grids if g.rows) if kept else (),
        tuple(d for d in drawings if len(d.values if isinstance(d, Run) else d.rows)) if kept else (),
        tuple(r for r in remarks if r) if kept else (),
    )  # fmt: skip


# -- words


def few(n: int) -> str:
    """A number of cases or events; from 1 to 4 it is kept back."""
    return FEW if 0 < n < FEWEST else f"{n:,}"


def percent(share: float | None) -> str:
    """A share from 0 to 1 in per cent."""
    return UNKNOWN if share is None else f"{100 * share:.1f} %"


def minutes(value: float | None) -> str:
    """Minutes to a tenth."""
    return UNKNOWN if value is None else f"{value:.1f}"


def number(value: float | None, places: int = 2) -> str:
    """A figure to so many places."""
    return UNKNOWN if value is None else f"{value:.{places}f}"


def part(count: int, n: int) -> str:
    """A count of n as a share: a count of few is still told as one, being of entries and not of cases."""
    return percent(count / n if n else None)


LENGTHS: Final = ("n", "missing", "late", "median", "p25", "p75", "p10", "p90")
"""The headings of a row of lengths."""


def lengths(summary: Summary) -> tuple[str, ...]:
    """A row of lengths under those headings; minutes."""
    s = summary
    shares = (part(s.missing, s.n + s.missing), part(s.late, s.n)) if not s.refused else (UNKNOWN,) * 2
    return (few(s.n), *shares, *(minutes(v) for v in (s.median, s.p25, s.p75, s.p10, s.p90)))


def box(label: str, summary: Summary) -> Box | None:
    """The box of a summary; None where it is refused."""
    s = summary
    if s.refused or None in (s.p10, s.p25, s.median, s.p75, s.p90):
        return None
    return Box(label, s.n, *(float(v or 0.0) for v in (s.p10, s.p25, s.median, s.p75, s.p90)))


def boxes(title: str, rows: Iterable[tuple[str, Summary]]) -> Boxes:
    """The boxes of those that are not refused."""
    return Boxes(title, "min", tuple(b for label, s in rows if (b := box(label, s)) is not None))


def events(rate: Rate) -> tuple[str, str, str]:
    """Events, their share and its interval; of 1 to 4 events only what they are fewer than is told."""
    if rate.refused:
        return few(rate.events) if rate.n >= FEWEST else FEW, UNKNOWN, UNKNOWN
    if 0 < rate.events < FEWEST:
        return FEW, UNKNOWN, UNKNOWN
    return few(rate.events), percent(rate.share), f"{percent(rate.low)} to {percent(rate.high)}"


def share_of(rate: Rate | None, without: str) -> str:
    """Events and their share in one cell; `without` where there is nothing to count."""
    if rate is None:
        return without
    count, share, _ = events(rate)
    return count if share == UNKNOWN else f"{count} ({share})"


def rate_bar(label: str, rate: Rate) -> Bar | None:
    """The bar of a share; None where it is refused or of few events."""
    if rate.refused or rate.share is None or 0 < rate.events < FEWEST:
        return None
    low, high = (None if v is None else 100 * v for v in (rate.low, rate.high))
    return Bar(label, 100 * rate.share, f"{few(rate.events)} of {few(rate.n)}", low, high)


def small(groups: Sequence[int]) -> str:
    """What is said where groups were too small to be shown."""
    hidden = sum(0 < n < FEWEST for n in groups)
    return f"{hidden} with fewer than {FEWEST} are not shown." if hidden else ""
