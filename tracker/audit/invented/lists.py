"""The days of invented cases: lists of two, some with a third late in the evening, in two theatres."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tracker.audit.invented.truth import Truth

Whole = NDArray[np.int64]
FIRST_DAY: Final = date(2024, 1, 1)
"""A Monday."""
SESSION_START: Final = 510.0
"""When lists are planned to begin: 08:30, in minutes after midnight."""
EVENING: Final = (21 * 60.0, 23 * 60.0)
THEATRES: Final = 2
_PER_LIST: Final = 2
_MS: Final = 60_000


@dataclass(frozen=True, slots=True)
class Days:
    """For each case in order: its list, its place on it from 1, and whether it is an evening case."""

    lists: Whole
    places: Whole
    evening: NDArray[np.bool_]

    def day(self, case: int) -> date:
        """The day of a case; lists fill two theatres on each weekday."""
        weekday = int(self.lists[case]) // THEATRES
        return FIRST_DAY + timedelta(days=weekday // 5 * 7 + weekday % 5)

    def theatre(self, case: int) -> str:
        """The station of a case."""
        return f"theatre-{int(self.lists[case]) % THEATRES + 1}"


def draw_days(n: int, truth: Truth, rng: np.random.Generator) -> Days:
    """Put cases on lists, in order."""
    sizes = _PER_LIST + (rng.random(n // _PER_LIST + 1) < truth.evening)
    lists = np.repeat(np.arange(sizes.size), sizes)[:n]
    starts = np.concatenate([[0], np.cumsum(sizes)])[:-1]
    places = np.arange(n) - starts[lists] + 1
    return Days(lists.astype(np.int64), places.astype(np.int64), places > _PER_LIST)


def draw_openings(days: Days, truth: Truth, into: Whole, out: Whole, rng: np.random.Generator) -> Whole:
    """When each journal is opened, in ms after midnight of its day.

    `into` and `out` are when the patient comes in and leaves, in ms after the opening.
    """
    n = days.lists.size
    delay = rng.lognormal(np.log(truth.start_delay[0]), truth.start_delay[1], n)
    gap = rng.lognormal(np.log(truth.turnover[0]), truth.turnover[1], n)
    late = rng.uniform(*EVENING, n)
    openings = np.rint((SESSION_START + delay) * _MS).astype(np.int64) - into
    openings[days.evening] = np.rint(late[days.evening] * _MS).astype(np.int64)
    second = np.flatnonzero(days.places == _PER_LIST)
    after = openings[second - 1] + out[second - 1] + np.rint(gap[second] * _MS).astype(np.int64)
    openings[second] = after - into[second]
    # Nobody opens a journal the evening before: a case that needs longer to come in begins later.
    openings[openings < 0] = 0
    return openings
