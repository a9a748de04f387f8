"""One question as it is read: its definition, its n, tables of words, and a drawing that says the same.

Everything that is told apart by a number of cases below five is kept back here, once, for every format.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain, repeat
from typing import Any, Final

from tracker.audit.answers.form import Answer
from tracker.audit.statistics.enough import FEWEST, too_few
from tracker.audit.statistics.summary import Summary

FEW: Final = f"<{FEWEST}"
"""What stands for a number from 1 to 4."""

SMALL_CELLS: Final = (
    f"Small cells: any number of cases or events from 1 to {FEWEST - 1} is written {FEW}, where the rest is so"
    f" few all but {FEW}, and a group that would tell it by subtraction {FEWEST}+; nothing more is given of such a"
    " group. Given in full are shares that are missing or late, shares of entries, and what the population"
    " leaves out; a run of cases has one point a case, without code or day."
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
    """Five quantiles of a group of n, as it is told: p10, p25, median, p75, p90."""

    label: str
    n: str
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
    """Consecutive cases with a centre and limits; `outside` are the places of points beyond them, from 0.

    `low` is None where there is a limit on one side only, as of a sum that begins at its centre.
    """

    title: str
    unit: str
    values: tuple[float, ...]
    centre: float
    low: float | None
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
    a = answered
    refused = a.refused or (too_few(a.n, FEWEST) if a.n else "")
    kept = not refused
    return Sheet(
        key or a.key, asks or a.asks, a.definition, a.n, a.missing, a.late, _TOO_FEW.sub(FEW, refused),
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
    return UNKNOWN if value is None else f"{round(value, 1) + 0.0:,.1f}"


def number(value: float | None, places: int = 2) -> str:
    """A figure to so many places."""
    return UNKNOWN if value is None else f"{value:.{places}f}"


def signed(value: float | None, places: int) -> str:
    """A figure with its sign; what rounds to nought is above it."""
    return UNKNOWN if value is None else f"{round(value, places) + 0.0:+.{places}f}"


def part(count: int, n: int) -> str:
    """A count of n as a share: a count of few is still told as one, being of entries and not of cases."""
    return percent(count / n if n else None)


LENGTHS: Final = ("n", "missing", "late", "median", "p25", "p75", "p10", "p90")
"""The headings of a row of lengths."""

OF_LENGTHS: Final = (
    "Missing: the share without a length of those that should have one. Late: the share of n of which a start or"
    " an end was entered more than 60 s late."
)


def lengths(summary: Summary, n: str = "") -> tuple[str, ...]:
    """A row of lengths under those headings; minutes. `n` is said in place of the number, which no share then tells."""
    s, untold = summary, (UNKNOWN,) * 2
    shares = untold if n or s.refused else (part(s.missing, s.n + s.missing), part(s.late, s.n))
    return (n or few(s.n), *shares, *(minutes(v) for v in (s.median, s.p25, s.p75, s.p10, s.p90)))


def box(label: str, summary: Summary, n: str = "") -> Box | None:
    """The box of a summary; None where it is refused. `n` is said in place of the number."""
    s = summary
    if s.refused or None in (s.p10, s.p25, s.median, s.p75, s.p90):
        return None
    return Box(label, n or few(s.n), *(float(v or 0.0) for v in (s.p10, s.p25, s.median, s.p75, s.p90)))


def boxes(title: str, rows: Iterable[tuple[str, Summary]], said: Sequence[str] = ()) -> Boxes:
    """The boxes of those that are not refused; `said` is what stands for the n of each, where it is not empty."""
    its = (box(label, summary, n) for (label, summary), n in zip(rows, chain(said, repeat("")), strict=False))
    return Boxes(title, "minutes", tuple(b for b in its if b is not None))
