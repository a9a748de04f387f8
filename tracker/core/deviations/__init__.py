"""Where a case differs from its file: a tuple of small rules, each a pure function of the case.

A deviation is a difference, not a fault, and blocks nothing. Its key stays the same while the case goes on,
so that a reason given once stays with it. The same rules serve the live screen and the record; `now_t` only
matters for what is still running.
"""

from __future__ import annotations

from typing import Final

from msgspec.structs import replace

from tracker.core.case import Case
from tracker.core.deviations.found import Deviation, Rule, stage_over
from tracker.core.deviations.of_steps import need_words, needs, repeated, skip_level, skipped
from tracker.core.deviations.of_time import LATE_S, LOW_CONFIDENCE_S, clocks, late_entries, span_times
from tracker.core.deviations.of_values import (
    complications,
    counts,
    in_caution,
    plans_changed,
    reading_of,
    readings_missing,
    readings_outside,
    unmatched,
)

__all__ = [
    "LATE_S", "LOW_CONFIDENCE_S", "ORDER", "RULES", "Deviation", "Rule",
    "deviations", "in_caution", "need_words", "reading_of", "skip_level", "stage_over",
]  # fmt: skip

ORDER: Final[dict[str, int]] = {"safety": 0, "order": 1, "note": 2}

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
    late_entries,
    plans_changed,
    complications,
)


def deviations(case: Case, now_t: float) -> tuple[Deviation, ...]:
    """All deviations as of `now_t`, safety first, then by time; each with its reason if one was given."""
    found = (_reasoned(case, d) for rule in RULES for d in rule(case, now_t))
    return tuple(sorted(found, key=lambda d: (ORDER[d.level], d.when.t, d.when.seq, d.key)))


def _reasoned(case: Case, deviation: Deviation) -> Deviation:
    given = case.reasons.get(deviation.key)
    return replace(deviation, given=given) if given else deviation
