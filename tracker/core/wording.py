"""Figures as the screen and the record say them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from functools import lru_cache
from typing import Final

from tracker.core.events import Scalar
from tracker.core.protocol import Protocol, Reading

CAUTIONS: Final = (
    "Record and learning aid. Not a medical device. Not for monitoring, diagnosis, alarm or treatment"
    " decisions. Ranges and limits are typed by your department; local policy and the licensed team decide.",
    "Does not replace the operation note, the safety checklist, the count board, the laser register,"
    " implant or gas traceability records or incident reporting.",
    "Times are when a key was pressed unless marked back-stamped.",
    "Usual ranges describe past cases here, not good practice.",
    "No patient identifiers. Case code only.",
)

CAUTION: Final = "Record and learning aid. Not a medical device."
"""The cautions where there is room for one line."""

CODE_WORDS: Final[Mapping[str, str]] = {
    "skipped": "no tick",
    "out_of_order": "out of the usual order",
    "repeated": "ticked again",
    "prereq_missing": "came before what it needs",
    "over_time": "longer than the file's range",
    "under_time": "shorter than the file's range",
    "clock_over": "clock: figure in your file reached",
    "clock_under": "clock: stopped before the figure in your file",
    "reading_caution": "reading outside the file's limits",
    "reading_missing": "reading not entered",
    "unmatched": "not matched",
    "count_discrepancy": "count differs",
    "count_unsaid": "figures not given",
    "handover_unacknowledged": "not acknowledged",
    "handover_unconfirmed": "counts not confirmed",
    "late_entry": "entered late",
    "plan_changed": "plan changed",
    "complication": "complication",
}

SPREAD: Final = "time spread by the program: not judged"
"""Of whatever hangs on a time that the program chose for one of a late burst."""


def hms(seconds: float) -> str:
    """Seconds as `H:MM:SS`, under an hour as `MM:SS`, begun seconds left off; a minus sign before nought."""
    whole = _whole(abs(seconds))
    sign = "-" if seconds < 0 and whole else ""
    return sign + _hms(whole)


@lru_cache(maxsize=1024)
def _hms(whole: int) -> str:
    h, rest = divmod(whole, 3600)
    m, s = divmod(rest, 60)
    return f"{h}:{m:02d}:{s:02d}" if h else f"{m:02d}:{s:02d}"


def span_words(seconds: float) -> str:
    """A length in words, begun seconds left off: `40 s`, `2 min`, `2 min 30 s`, `1 h 05 min`."""
    whole = _whole(seconds)
    if whole < 60:
        return f"{whole} s"
    m, s = divmod(whole, 60)
    if m >= 60:
        return f"{m // 60} h {m % 60:02d} min"
    return f"{m} min {s:02d} s" if s else f"{m} min"


def _whole(seconds: float) -> int:
    return int(round(seconds, 3))  # to the millisecond first, so that 59.9999999 is a minute


def clock_time(at: datetime) -> str:
    """The time of day of a moment, to the second, in its own offset."""
    return f"{at.hour:02d}:{at.minute:02d}:{at.second:02d}"


def figure(value: float) -> str:
    """A number without a needless fraction."""
    return f"{value:.10g}"


def value_words(reading: Reading, value: Scalar) -> str:
    """A reading's value with its unit, or the label of its choice."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return next((c.label for c in reading.choices if c.id == value), value)
    return f"{figure(value)} {reading.unit}".rstrip()


SIDE_NOT_CHOSEN: Final = "side not chosen"


def side_words(protocol: Protocol, facts: Mapping[str, Scalar]) -> str:
    """Which eye, as "left eye"; or that it is not chosen yet. Empty where the file does not say which fact it is."""
    if protocol.side_fact is None:
        return ""
    fact, value = protocol.fact.get(protocol.side_fact), facts.get(protocol.side_fact)
    if fact is None or value is None:
        return SIDE_NOT_CHOSEN
    chosen, what = fact_words(protocol, fact.id, value), fact.label
    return chosen.lower() if what.lower() in chosen.lower() else f"{chosen} {what}".lower()


def fact_words(protocol: Protocol, fact: str, value: Scalar) -> str:
    """A case fact's value as the screen says it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    known = protocol.fact.get(fact) or protocol.step.get(fact)
    if isinstance(value, str):
        return next((c.label for c in known.choices if c.id == value), value) if known else value
    return f"{figure(value)} {getattr(known, 'unit', '')}".rstrip()
