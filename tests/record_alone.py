"""A record of a case that nobody has debriefed."""

from __future__ import annotations

from tracker.core.case import Case
from tracker.core.debrief import NO_DEBRIEF
from tracker.core.reviewed import reviewed
from tracker.review.record.build import build_reviewed
from tracker.review.record.structure import Record


def build(
    case: Case, now_t: float, last_hash: str, entries: int, *, notes: bool = True, roles: bool = True
) -> Record:
    """The record of a case as of `now_t`, from a journal of so many lines, the last with this hash."""
    alone = reviewed(case, NO_DEBRIEF, "as debriefed")
    return build_reviewed(alone, now_t, last_hash, entries, notes=notes, roles=roles)
