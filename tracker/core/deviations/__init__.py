"""Where a case differs from its file: a tuple of small rules, each a pure function of the case.

A deviation is a difference, not a fault, and blocks nothing. Its key stays the same while the case goes on,
so that a reason given once stays with it. The same rules serve the live screen and the record; `now_t` only
matters for what is still running.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from msgspec.structs import replace

from tracker.core.case import Case
from tracker.core.deviations.folding import ORDER, folded
from tracker.core.deviations.found import Deviation, Rule, due_by, stage_over
from tracker.core.deviations.of_counts import OpenCount, counts, counts_unsaid, open_counts
from tracker.core.deviations.of_people import confirmed, hand_overs, hand_overs_of
from tracker.core.deviations.of_steps import need_words, needs, repeated, skip_level, skipped
from tracker.core.deviations.of_time import LATE_S, LOW_CONFIDENCE_S, clocks, late_entries, span_times
from tracker.core.deviations.of_values import (
    complications,
    in_caution,
    plans_changed,
    reading_of,
    readings_missing,
    readings_outside,
    unmatched,
)
from tracker.core.wording import SPREAD

__all__ = [
    "LATE_S", "LOW_CONFIDENCE_S", "ORDER", "RULES", "Deviation", "OpenCount", "Rule", "confirmed",
    "deviations", "due_by", "hand_overs_of", "in_caution", "need_words", "open_counts", "reading_of", "skip_level",
    "stage_over", "unjudged",
]  # fmt: skip

RULES: Final[tuple[Rule, ...]] = (
    skipped,
    needs,
    repeated,
    span_times,
    clocks,
    readings_outside,
    readings_missing,
    unmatched,
    counts,
    counts_unsaid,
    hand_overs,
    late_entries,
    plans_changed,
    complications,
)


def deviations(case: Case, now_t: float) -> tuple[Deviation, ...]:
    """All deviations as of `now_t`, one line a cause, safety first, then by time; each with its reason."""
    return _in_order(folded(case, (d for d in _found(case, now_t) if not d.unsure)))


def unjudged(case: Case, now_t: float) -> tuple[Deviation, ...]:
    """What is not judged because the program chose a time that it hangs on: said, and no deviation."""
    found = (replace(d, found=SPREAD) for d in _found(case, now_t) if d.unsure)
    return tuple(sorted(found, key=lambda d: (d.when, d.key)))


def _found(case: Case, now_t: float) -> Iterator[Deviation]:
    return (d for rule in RULES for d in rule(case, now_t))


def _in_order(found: list[Deviation]) -> tuple[Deviation, ...]:
    return tuple(sorted(found, key=lambda d: (ORDER[d.level], d.when.t, d.when.seq, d.key)))
