"""Words that several formats say about the record itself."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from tracker.review.record.structure import Share

COMPLETENESS_WORDS: Final[Mapping[str, str]] = {
    "required_steps": "required steps ticked or not needed, and not due again",
    "spans_with_both_ends": "spans with both a start and a stop",
    "required_readings": "required readings entered",
    "late": "entries made over 60 s after what they tell",
    "low_confidence": "entries made over 20 min after what they tell, of low confidence",
    "back_stamped": "entries that tell another time than that of the key",
    "not_logged": "steps done without a tick",
    "amendments": "amendments",
    "gaps": "times the log was not open",
    "gap_minutes": "minutes the log was not open",
    "unknown": "entries this program could not use",
}


def percent(share: Share) -> str:
    """A share as `n of m (p %)`."""
    return f"{share.n} of {share.of}" + ("" if share.percent is None else f" ({share.percent:g} %)")
